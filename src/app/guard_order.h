/*
 * What passes between a ride and its guard, over a pair of sockets that keep packets apart.
 *
 * Each message of the ride is a sign of life and says all that the guard is to know, so one that
 * finds no room is made good by the next. The descriptor of the link goes with the first message
 * that names it.
 *
 * One word lies in memory that both have: the number of the link that the guard has taken to let go
 * of. Written before the release is, and looked at before the ride writes anything, it keeps a ride
 * that was stopped, and that anybody may wake up at any moment, from writing behind the release. A
 * packet could not: nobody knows when it is read.
 */
#ifndef GUARD_ORDER_H
#define GUARD_ORDER_H

#include "letting_go.h"

#define GUARD_RESTORE_MAX 256u

struct guard_order {
    uint32_t link; /* counts the links that had something to let go of; 0: there is none now */
    struct letting_go letting_go;
    int64_t ride_id;      /* 0: it is not recorded */
    uint32_t patience_ms; /* without a sign of life */
    bool is_left_on;      /* nothing has confirmed that the load is off */
    bool is_by_hand;      /* the load is made by the rider's hand, and eased by it alone */
    char restore[GUARD_RESTORE_MAX]; /* what gives the terminal back; empty: nothing to give */
};

/* To a ride that stood still: what was done meanwhile. The link is closed. */
struct guard_note {
    uint32_t link;
    bool is_confirmed;
};

#endif
