/*
 * A strap, or a sensor of power or cadence, at the other end of a link: its readings as events for
 * the ride.
 */
#ifndef APP_SENSOR_PEER_H
#define APP_SENSOR_PEER_H

#include "io/loop.h"
#include "port/link.h"
#include "ride/event.h"
#include "wire/sensor_client.h"

/* Zero it, then set sensor, loop, link, on_event and user. A link that is gone may be set again. */
struct sensor_peer {
    enum sensor_kind sensor;
    struct loop *loop;
    struct sensor_client client;
    struct link *link;       /* set; NULL: none, or gone. Owned from then on */
    struct gatt_known known; /* of this sensor, from an earlier link; may be set */
    bool is_open;
    bool is_ready; /* as in machine_peer.h */
    const char *failure;
    void (*on_event)(void *user, const struct event *event);
    void *user;
};

struct link_user sensor_peer_user(struct sensor_peer *peer);
void sensor_peer_tick(struct sensor_peer *peer);
void sensor_peer_close(struct sensor_peer *peer);
enum link_source sensor_link_source(enum sensor_kind sensor);

/* For a sensor that is heard through what several share, and that has no link of its own. It is
 * there; what it said; why it is gone. */
void sensor_peer_found(struct sensor_peer *peer);
void sensor_peer_heart(struct sensor_peer *peer, uint16_t heart_bpm, enum heart_contact contact);
void sensor_peer_effort(struct sensor_peer *peer, const struct sensor_effort *effort);
void sensor_peer_fail(struct sensor_peer *peer, const char *why);

#endif
