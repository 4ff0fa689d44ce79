#include "page.h"

#include <unistd.h>

#include "io/terminal.h"
#include "keys.h"

#define LAST_OUTPUT_MS 500

struct run {
    const struct page *page;
    struct loop *loop;
    struct terminal *terminal;
    enum page_end end;
};

static void draw(void *user)
{
    struct run *run = user;

    run->page->draw(run->page->user, terminal_canvas(run->terminal));
    (void)terminal_show(run->terminal);
}

static struct press press_of(struct terminal_press press)
{
    static const enum press_kind kinds[] = {
        [TERMINAL_CHARACTER] = PRESS_CHARACTER,
        [TERMINAL_ENTER] = PRESS_ENTER,
        [TERMINAL_BACKSPACE] = PRESS_BACKSPACE,
        [TERMINAL_ESCAPE] = PRESS_ESCAPE,
        [TERMINAL_UP] = PRESS_UP,
        [TERMINAL_DOWN] = PRESS_DOWN,
        [TERMINAL_LEFT] = PRESS_LEFT,
        [TERMINAL_RIGHT] = PRESS_RIGHT,
        [TERMINAL_OTHER] = PRESS_OTHER,
    };
    return (struct press){kinds[press.key], press.character};
}

static void on_press(void *user, struct terminal_press press)
{
    struct run *run = user;

    if (run->page->press(run->page->user, press_of(press)))
        loop_stop(run->loop);
    else
        draw(run);
}

static void leave(void *user)
{
    struct run *run = user;

    run->end = PAGE_LEFT;
    loop_stop(run->loop);
}

/* Nothing is on the brake here, so a hold and a stop are the same as leaving. */
static void on_signal(void *user, enum ride_key key)
{
    (void)key;
    leave(user);
}

static void on_resize(void *user)
{
    struct run *run = user;
    terminal_resized(run->terminal);
}

static void show(struct run *run, struct output *output)
{
    const struct terminal_listener listener = {on_press, draw, leave, run};
    struct keys *keys = keys_open(run->loop, on_signal, run);

    if (keys != NULL && terminal_open(run->loop, output, &listener, &run->terminal) == RESULT_OK) {
        run->end = PAGE_DONE;
        keys_on_resize(keys, on_resize, run);
        draw(run);
        if (run->page->begin != NULL)
            run->page->begin(run->page->user, run->loop, (struct page_again){draw, run});
        loop_run(run->loop);
        if (run->page->end != NULL)
            run->page->end(run->page->user);
        terminal_close(run->terminal);
    }
    keys_close(keys);
}

static void on_output_ended(void *user, int error)
{
    (void)error; /* whoever looked at the page sees no more of it, whatever the reason */
    leave(user);
}

enum page_end page_run(const struct page *page)
{
    struct run run = {.page = page, .end = PAGE_UNUSABLE};

    run.loop = loop_new(LOOP_REAL, 1.0);
    if (run.loop == NULL)
        return run.end;
    struct output *output = output_new(run.loop, STDOUT_FILENO, on_output_ended, &run);
    if (output != NULL)
        show(&run, output);
    output_flush(output, LAST_OUTPUT_MS);
    output_free(output);
    loop_free(run.loop);
    return run.end;
}
