/*
 * The machine at the other end of a link: decoded events for the ride, commands for the machine.
 */
#ifndef APP_MACHINE_PEER_H
#define APP_MACHINE_PEER_H

#include "guard.h"
#include "io/loop.h"
#include "port/link.h"
#include "ride/event.h"
#include "wire/ftms_client.h"

/* Zero it, then set loop, link, on_event and user. A link that is gone may be set again. */
struct machine_peer {
    struct loop *loop;
    struct ftms_client client;
    struct link *link;       /* set; NULL: gone. Owned from then on */
    struct guarded *guarded; /* may be set; borrowed */
    struct machine machine;
    struct ftms_range power_w, level_tenths;
    struct load last_load; /* what was commanded, and the number it became */
    uint8_t last_opcode;
    int16_t last_value;
    struct gatt_known known; /* of this machine, from an earlier link; may be set */
    bool is_open;
    bool is_on_air; /* may be set */
    bool is_ready;  /* on this link, or on the last until it was lost; false when given up by us */
    bool was_ready; /* on this link or an earlier one */
    unsigned stuck_step, skipped_steps; /* subscriptions without an answer: the last, twice */
    bool is_asked;                      /* for control, so there may be a load */
    const char *failure;                /* words; NULL while fine */
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
/* The link is no good any more: closes it, behind a release and a stop that nobody may hear, and
 * tells so, like one that was lost. `why` is static. */
void machine_peer_fail(struct machine_peer *peer, const char *why);
void machine_peer_close(struct machine_peer *peer);

#endif
