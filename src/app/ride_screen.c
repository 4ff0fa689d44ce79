#include "ride_screen.h"

#include "ui/ride_layout.h"
#include "ui/screens.h"

/* No eye reads faster, and a slow line has time between. */
#define FRAME_MS 200u

static void draw(struct ride_screen *screen)
{
    const struct session *session = screen->session;
    struct canvas *canvas;
    struct view view;

    if (screen->terminal == NULL)
        return;
    view_set(&session->ride, &session->facts, &session->hands.shown, &view);
    canvas = terminal_canvas(screen->terminal);
    ride_layout(&view, canvas);
    if (terminal_show(screen->terminal))
        screen->drawn_ms = session_wall_ms();
}

/* ---- of the ride ---- */

static void hello(struct screen *base, const struct ride *ride, const struct ride_facts *facts)
{
    struct ride_screen *screen = base->user;

    (void)ride;
    base->facts = facts;
    screen->plain.facts = facts;
    draw(screen);
}

/* Everything else is drawn at the next moment, with the state it led to. */
static void effect(struct screen *base, const struct ride *ride, const struct effect *effect)
{
    struct ride_screen *screen = base->user;

    if (effect->kind == EFFECT_PHASE && effect->phase.phase == PHASE_ENDED)
        ride_screen_close(screen);
    if (effect->kind == EFFECT_SUMMARY)
        screen->plain.operations->effect(&screen->plain, ride, effect);
}

static void second(struct screen *base, const struct ride *ride)
{
    (void)base;
    (void)ride;
}

static void moment(struct screen *base, const struct ride *ride, const struct screen_hands *hands)
{
    struct ride_screen *screen = base->user;

    (void)ride;
    (void)hands;
    if (session_wall_ms() - screen->drawn_ms >= FRAME_MS)
        draw(screen);
}

/* ---- of the terminal ---- */

static void on_press(void *user, struct terminal_press press)
{
    struct ride_screen *screen = user;
    session_press(screen->session, press.key == TERMINAL_ENTER ? '\n' : press.character);
}

static void on_redraw(void *user)
{
    draw(user);
}

static void on_gone(void *user)
{
    struct ride_screen *screen = user;
    session_key(screen->session, KEY_LEAVE);
}

enum result ride_screen_open(struct ride_screen *screen, struct session *session, struct sink sink)
{
    static const struct screen_operations operations = {hello, effect, second, moment};
    const struct terminal_listener listener = {on_press, on_redraw, on_gone, screen};

    screen->session = session;
    screen_plain(&screen->plain, sink);
    const enum result result =
        terminal_open(session->loop, session->output, &listener, &screen->terminal);
    if (result != RESULT_OK)
        return result;
    session->screen = (struct screen){.operations = &operations, .sink = sink, .user = screen};
    guarded_restore(&session->guarded, terminal_restore_text(screen->terminal));
    return RESULT_OK;
}

void ride_screen_resized(struct ride_screen *screen)
{
    if (screen->terminal != NULL)
        terminal_resized(screen->terminal);
}

void ride_screen_close(struct ride_screen *screen)
{
    if (screen->terminal == NULL)
        return;
    guarded_restore(&screen->session->guarded, NULL);
    terminal_close(screen->terminal);
    screen->terminal = NULL;
}
