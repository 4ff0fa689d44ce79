/*
 * The machine at the other end of a link: events for the ride, commands for the machine, whatever
 * is spoken with it.
 */
#ifndef APP_MACHINE_PEER_H
#define APP_MACHINE_PEER_H

#include "guard.h"
#include "io/loop.h"
#include "machine_protocol.h"
#include "port/link.h"

/* Zero it, then set loop, protocol, state, link, on_event and user. A link that is gone may be set
 * again. */
struct machine_peer {
    struct loop *loop;
    const struct machine_protocol *protocol;
    void *state;             /* the protocol's own; borrowed */
    struct link *link;       /* set; NULL: gone. Owned from then on */
    struct guarded *guarded; /* may be set; borrowed */
    bool is_open;
    bool is_on_air; /* may be set */
    bool is_ready;  /* on this link, or on the last until it was lost; false when given up by us */
    bool was_ready; /* on this link or an earlier one */
    bool is_asked;  /* for control, so there may be a load */
    bool may_have_past;          /* may be set: a link may be one that somebody else just had */
    bool has_answered, was_mute; /* a command, on any link; or none, on one that was left */
    const char *failure;         /* words; NULL while fine */
    /* May be set: asked to call a machine that fell silent before it ever was ready. The ride hears
     * nothing of that. */
    void (*call_anew)(void *call_user);
    void *call_user;
    /* t_ms is filled in by the receiver. */
    void (*on_event)(void *user, const struct event *event);
    void *user;
};

/* To be given to whoever opens the link. */
struct link_user machine_peer_user(struct machine_peer *peer);
void machine_peer_tick(struct machine_peer *peer);
void machine_peer_command(struct machine_peer *peer, enum machine_command command, struct load load,
                          bool now);
/* Says a release and a stop on a link that is given up, past whatever is still open on it. Harmless
 * where no load can be on, or no link is open. */
void machine_peer_let_go_unheard(const struct machine_peer *peer);
/* The link is no good any more: closes it, behind a release and a stop that nobody may hear, and
 * tells so, like one that was lost. `why` is static. */
void machine_peer_fail(struct machine_peer *peer, const char *why);
void machine_peer_close(struct machine_peer *peer);

#endif
