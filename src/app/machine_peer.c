#include "machine_peer.h"

/* ---- letting go as bare octets ---- */

/* Before a command goes out, and again when the machine's answers change how it is written. */
static void tell_guard(const struct machine_peer *peer)
{
    if (peer->guarded == NULL || !peer->is_asked)
        return;
    struct letting_go pdus = peer->protocol->letting_go(peer->state);
    if (pdus.release.length == 0)
        return; /* it takes no load */
    const int fd = link_descriptor(peer->link, &pdus.way);
    guarded_hold(peer->guarded, fd, &pdus);
}

static bool is_taken(const struct machine_peer *peer)
{
    return peer->guarded != NULL && guarded_is_taken(peer->guarded);
}

/* As app/letting_go.c does it: a machine that hears it lets go, and one that is gone is none the
 * worse. */
void machine_peer_let_go_unheard(const struct machine_peer *peer)
{
    if (!peer->is_open || !peer->is_asked || is_taken(peer))
        return;
    const struct letting_go pdus = peer->protocol->letting_go(peer->state);
    if (pdus.release.length == 0)
        return;
    (void)!link_send(peer->link, pdus.release.octets, pdus.release.length);
    if (pdus.stop.length > 0)
        (void)!link_send(peer->link, pdus.stop.octets, pdus.stop.length);
}

/* ---- news ---- */

static void tell(struct machine_peer *peer, const struct event *event)
{
    peer->on_event(peer->user, event);
}

void machine_peer_fail(struct machine_peer *peer, const char *why)
{
    const struct event down = {.kind = EVENT_LINK, .link = {LINK_MACHINE, false}};

    if (peer->failure == NULL)
        peer->failure = why;
    if (peer->is_open)
        peer->is_ready = false;
    machine_peer_let_go_unheard(peer);
    machine_peer_close(peer);
    tell(peer, &down);
}

static void fail_or_call_anew(struct machine_peer *peer, const char *why, bool may_pass)
{
    if (!may_pass || peer->was_ready || peer->call_anew == NULL) {
        machine_peer_fail(peer, why);
        return;
    }
    peer->failure = why;
    machine_peer_close(peer);
    peer->call_anew(peer->call_user);
}

static void on_news(struct machine_peer *peer, const struct machine_news *news)
{
    if (news->failure != NULL) {
        fail_or_call_anew(peer, news->failure, news->may_pass);
        return;
    }
    if (news->event.kind == EVENT_ANSWER)
        peer->has_answered = true;
    if (news->event.kind == EVENT_MACHINE) {
        peer->was_ready = peer->is_ready = true;
        peer->failure = NULL; /* it is back, if it was lost */
    }
    tell(peer, &news->event);
}

/* ---- octets ---- */

/* That the peer is gone is for the link to tell, which knows why; that the guard has taken it, for
 * the guard. */
static void send_packet(struct machine_peer *peer, const uint8_t *packet, size_t length)
{
    if (is_taken(peer))
        return;
    if (peer->is_open && link_send(peer->link, packet, length) == RESULT_FULL)
        machine_peer_fail(peer, "it does not take what is sent to it");
}

static void pump(struct machine_peer *peer)
{
    uint8_t packet[MACHINE_PACKET_MAX];
    struct machine_news news;

    for (size_t length; (length = peer->protocol->next_packet(peer->state, packet)) > 0;)
        send_packet(peer, packet, length);
    while (peer->is_open && peer->protocol->next_news(peer->state, &news))
        on_news(peer, &news);
}

static void on_received(void *user, const uint8_t *packet, size_t length)
{
    struct machine_peer *peer = user;

    /* After a sleep: what the machine said to the guard is none of ours. */
    if (peer->guarded != NULL)
        guarded_look(peer->guarded);
    if (!peer->is_open)
        return;
    peer->protocol->receive(peer->state, loop_now_ms(peer->loop), packet, length);
    pump(peer);
}

static void on_opened(void *user)
{
    struct machine_peer *peer = user;
    const struct event up = {.kind = EVENT_LINK, .link = {LINK_MACHINE, true}};

    peer->is_open = true;
    peer->is_ready = false;
    tell(peer, &up);
    peer->protocol->start(peer->state, loop_now_ms(peer->loop), peer->was_ready);
    pump(peer);
}

/* A radio may lose a link in its first second; a socket that closes is closed on purpose. */
static void on_closed(void *user, const char *why)
{
    struct machine_peer *peer = user;
    const bool was_open = peer->is_open;

    peer->is_open = false;
    fail_or_call_anew(peer, why, was_open && peer->is_on_air);
}

struct link_user machine_peer_user(struct machine_peer *peer)
{
    return (struct link_user){on_opened, on_received, on_closed, peer};
}

void machine_peer_tick(struct machine_peer *peer)
{
    if (!peer->is_open)
        return;
    peer->protocol->tick(peer->state, loop_now_ms(peer->loop), link_is_securing(peer->link));
    pump(peer);
    tell_guard(peer);
}

void machine_peer_close(struct machine_peer *peer)
{
    if (peer->guarded != NULL)
        guarded_let_go(peer->guarded);
    link_close(peer->link);
    peer->link = NULL;
    peer->is_open = peer->is_asked = false;
}

/* It takes what is asked, tells its readings and never answered a command: one that waits for its
 * last indication to be confirmed, which went to whoever had this link before us, is silent so. The
 * kernel keeps a link for 2 s after its last user. Once: another link has no such past. */
static bool has_past(struct machine_peer *peer)
{
    const bool has =
        peer->may_have_past && peer->is_asked && !peer->has_answered && !peer->was_mute;

    peer->was_mute = peer->was_mute || has;
    return has;
}

void machine_peer_command(struct machine_peer *peer, enum machine_command command, struct load load,
                          bool now)
{
    if (!peer->is_open || command == COMMAND_NONE)
        return;
    if (command == COMMAND_REQUEST_CONTROL && has_past(peer)) {
        machine_peer_fail(peer, "it does not answer what it is asked to do");
        return;
    }
    peer->is_asked = true;
    tell_guard(peer);
    peer->protocol->command(peer->state, loop_now_ms(peer->loop), command, load, now);
    pump(peer);
}
