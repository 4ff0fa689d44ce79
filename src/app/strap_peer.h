/*
 * The strap at the other end of a link: its readings as events for the ride.
 */
#ifndef APP_STRAP_PEER_H
#define APP_STRAP_PEER_H

#include "io/loop.h"
#include "port/link.h"
#include "ride/event.h"
#include "wire/heart_client.h"

/* Zero it, then set loop, link, on_event and user. A link that is gone may be set again. */
struct strap_peer {
    struct loop *loop;
    struct heart_client client;
    struct link *link;       /* set; NULL: none, or gone. Owned from then on */
    struct gatt_known known; /* of this strap, from an earlier link; may be set */
    bool is_open;
    bool is_ready; /* on this link, or the last */
    const char *failure;
    void (*on_event)(void *user, const struct event *event);
    void *user;
};

struct link_user strap_peer_user(struct strap_peer *peer);
void strap_peer_tick(struct strap_peer *peer);
void strap_peer_close(struct strap_peer *peer);

#endif
