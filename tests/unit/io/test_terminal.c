/* A terminal without a ride: keys, sizes, frames, and that it is given back. */
#include "io/terminal.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <locale.h>
#include <poll.h>
#include <pty.h>
#include <signal.h>
#include <sys/ioctl.h>
#include <sys/wait.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#define PRESSES_MAX 32u

/* ---- the child, which has the terminal ---- */

static struct loop *loop;
static struct output *output;
static struct terminal *terminal;
static struct terminal_press presses[PRESSES_MAX];
static unsigned press_count, gone;

static void show(const char *text)
{
    (void)canvas_text(terminal_canvas(terminal), 0, 0, STYLE_STRONG, text);
    (void)terminal_show(terminal);
}

static void on_press(void *user, struct terminal_press press)
{
    (void)user;
    if (press.character == 'x')
        loop_stop(loop);
    else if (press_count < PRESSES_MAX)
        presses[press_count++] = press;
}

static void on_redraw(void *user)
{
    char text[32];
    const struct canvas *canvas = terminal_canvas(terminal);
    (void)user;
    (void)snprintf(text, sizeof text, "now %dx%d", canvas->columns, canvas->rows);
    show(text);
}

static void on_gone(void *user)
{
    (void)user;
    gone++;
    loop_stop(loop);
}

static enum result open_terminal(void)
{
    const struct terminal_listener listener = {on_press, on_redraw, on_gone, NULL};

    (void)setlocale(LC_CTYPE, "C.UTF-8");
    loop = loop_new(LOOP_REAL, 1);
    output = output_new(loop, STDOUT_FILENO, NULL, NULL);
    return terminal_open(loop, output, &listener, &terminal);
}

static void close_all(void)
{
    terminal_close(terminal);
    output_put(output, "afterwards\n", 11);
    output_flush(output, 1000);
    output_free(output);
    loop_free(loop);
}

/* 0, or the number of the first press that is not what was expected, from 1. */
static int child_of_keys(void)
{
    static const struct terminal_press expected[] = {
        {TERMINAL_CHARACTER, 'a'}, {TERMINAL_UP, 0},    {TERMINAL_DOWN, 0},
        {TERMINAL_LEFT, 0},        {TERMINAL_RIGHT, 0}, {TERMINAL_ENTER, 0},
        {TERMINAL_BACKSPACE, 0},   {TERMINAL_TAB, 0},   {TERMINAL_CHARACTER, 0xE9},
        {TERMINAL_CHARACTER, '7'}, {TERMINAL_OTHER, 0}, {TERMINAL_CHARACTER, ' '},
    };
    const unsigned count = sizeof expected / sizeof expected[0];

    show("keys");
    loop_run(loop);
    for (unsigned i = 0; i < count && i < press_count; i++)
        if (presses[i].key != expected[i].key || presses[i].character != expected[i].character)
            return (int)i + 1;
    return press_count == count ? 0 : 99;
}

static int child_of_sizes(void)
{
    const struct winsize size = {.ws_col = 100, .ws_row = 30};

    show("sizes");
    if (ioctl(STDIN_FILENO, TIOCSWINSZ, &size) != 0)
        return 1;
    terminal_resized(terminal);
    loop_run(loop);
    return 0;
}

/* What is on the screen already is not said again. */
static int child_of_frames(void)
{
    for (int i = 0; i < 1000; i++)
        show("the same");
    loop_run(loop);
    return 0;
}

static int child_of_hang_up(void)
{
    (void)signal(SIGHUP, SIG_IGN);
    show("hang up");
    loop_run(loop);
    return gone == 1 ? 0 : 1;
}

/* ---- the parent, which is at the other end ---- */

struct seen {
    char text[65536];
    size_t length;
    int status;
};

static bool sees(const struct seen *seen, const char *wanted)
{
    return strstr(seen->text, wanted) != NULL;
}

/* Reads until `wanted` was seen, or to the end when that is NULL. */
static void look(int master, struct seen *seen, const char *wanted)
{
    struct pollfd polled = {.fd = master, .events = POLLIN};

    while ((wanted == NULL || !sees(seen, wanted)) && poll(&polled, 1, 30000) > 0) {
        const ssize_t part =
            read(master, seen->text + seen->length, sizeof seen->text - 1 - seen->length);
        if (part <= 0)
            break;
        seen->length += (size_t)part;
        seen->text[seen->length] = '\0';
    }
    if (wanted != NULL && !sees(seen, wanted))
        fail_msg("'%s' was not drawn", wanted);
}

static pid_t start(int (*child)(void), const char *term, int *ret_master)
{
    const struct winsize size = {.ws_col = 80, .ws_row = 24};
    const pid_t pid = forkpty(ret_master, NULL, NULL, &size);

    assert_true(pid >= 0);
    if (pid > 0)
        return pid;
    (void)setenv("TERM", term, 1);
    if (open_terminal() != RESULT_OK)
        _exit(77);
    const int status = child();
    close_all();
    _exit(status);
}

/* The keys go in when `first` is on the screen; then it is looked at to the end. */
static void run(int (*child)(void), const char *first, const char *keys, struct seen *seen)
{
    int master;
    const pid_t pid = start(child, "xterm-256color", &master);

    memset(seen, 0, sizeof *seen);
    look(master, seen, first);
    assert_int_equal(write(master, keys, strlen(keys)), (ssize_t)strlen(keys));
    look(master, seen, NULL);
    assert_int_equal(waitpid(pid, &seen->status, 0), pid);
    (void)close(master);
    if (!WIFEXITED(seen->status) || WEXITSTATUS(seen->status) != 0)
        fail_msg("status %x of the child", (unsigned)seen->status);
}

/* The sequences are those of xterm in terminfo(5), application and normal mode. */
static void test_keys(void **state)
{
    static struct seen seen;
    (void)state;
    run(child_of_keys, "keys",
        "a\x1BOA\x1BOB\x1BOD\x1BOC\r\x7F\t\xC3\xA9"
        "7\x1BOP x",
        &seen);
    /* Into the other screen, out of it, and then what comes after: xterm's smcup and rmcup. */
    const char *in = strstr(seen.text, "\x1B[?1049h"), *out = strstr(seen.text, "\x1B[?1049l");
    assert_non_null(in);
    assert_non_null(out);
    assert_true(in < out && out < strstr(seen.text, "afterwards\r\n"));
    assert_null(strstr(in + 1, "\x1B[?1049h"));
}

static void test_sizes(void **state)
{
    static struct seen seen;
    (void)state;
    run(child_of_sizes, "now 100x30", "x", &seen);
}

static void test_frames(void **state)
{
    static struct seen seen;
    (void)state;
    run(child_of_frames, "the same", "x", &seen);
    assert_true(seen.length < 1000);
}

static void test_hang_up(void **state)
{
    int master, status;
    static struct seen seen;
    (void)state;
    const pid_t pid = start(child_of_hang_up, "xterm", &master);
    memset(&seen, 0, sizeof seen);
    look(master, &seen, "hang up");
    (void)close(master);
    assert_int_equal(waitpid(pid, &status, 0), pid);
    assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 0);
}

static void test_terminals_that_cannot_be_drawn_on(void **state)
{
    static const char *const terms[] = {"dumb", "no-such-terminal", ""};
    (void)state;
    for (size_t i = 0; i < sizeof terms / sizeof terms[0]; i++) {
        int master, status;
        const pid_t pid = start(child_of_keys, terms[i], &master);
        assert_int_equal(waitpid(pid, &status, 0), pid);
        assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 77);
        (void)close(master);
    }
}

static void test_no_terminal(void **state)
{
    (void)state;
    const int before = dup(STDIN_FILENO);
    assert_non_null(freopen("/dev/null", "r", stdin));
    assert_int_equal(open_terminal(), RESULT_UNSUPPORTED);
    output_free(output);
    loop_free(loop);
    assert_true(dup2(before, STDIN_FILENO) >= 0);
    (void)close(before);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_keys),
        cmocka_unit_test(test_sizes),
        cmocka_unit_test(test_frames),
        cmocka_unit_test(test_hang_up),
        cmocka_unit_test(test_terminals_that_cannot_be_drawn_on),
        cmocka_unit_test(test_no_terminal),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
