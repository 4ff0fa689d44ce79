/*
 * The guard of a ride: a small process, the parent of the one that rides, that has a descriptor of
 * the link too and waits for signs of life. When the ride dies or stands still with something on
 * the brake, the guard writes the release, and the stop where there is one, on the same link and
 * ends it. A socket they share; a receiver on USB the guard takes from the ride.
 *
 * Dead: it then gives the terminal back, says what happened, and ends with EXIT_FAILED.
 * Standing still: the ride is kept from waking up in the middle of it, and is not killed, because a
 * computer that is only busy must not end a block. A ride that wakes up finds its link closed, and
 * comes back to a load on the way it comes back from any lost link: control asked for anew, up the
 * ramp, with fresh readings. One that does not wake up within GUARD_WAKE_MS is killed.
 *
 * Where the load is made by the rider's hand, or was left on by a link that was lost, there is
 * nothing that the guard could release, but a screen that stands still tells nobody to ease it:
 * such a ride is ended after the same time, and the rider told.
 *
 * The guard allocates nothing, and knows only the octets that it is to send.
 */
#ifndef APP_GUARD_H
#define APP_GUARD_H

#include <stdatomic.h>

#include "guard_order.h"
#include "io/loop.h"

#define GUARD_WAKE_MS 10000u

/* The ride's end. Zeroed: there is no guard, and the calls do nothing. */
struct guarded {
    bool is_guarded;
    int channel;
    atomic_uint *taken; /* see guard_order.h */
    struct guard_order order;
    uint32_t links; /* so far */
    int fd;         /* of the link, borrowed */
    bool has_fd_to_tell;
    uint64_t told_ms; /* of the system's clock */
    struct loop *loop;
    int watch;
    void (*on_note)(void *user, const struct guard_note *note);
    void (*on_alone)(void *user);
    void *user;
};

/* Divides the process. In the one that rides: true, with `ret` set up. In the guard: false, after
 * the ride has ended, with the status to end with; also when the system allows no guard, which is
 * complained of. Call it before anything is open. `rate` as for loop_new(). */
bool guard_start(double rate, struct guarded *ret, int *ret_status);

/* `on_note`: see struct guard_note. `on_alone`: the guard is gone. */
void guarded_listen(struct guarded *guarded, struct loop *loop,
                    void (*on_note)(void *user, const struct guard_note *note),
                    void (*on_alone)(void *user), void *user);
/* Hears at once what the guard has to say, where that must come before something else. */
void guarded_look(struct guarded *guarded);
/* A sign of life; to be given every 250 ms of the loop's time. */
void guarded_beat(struct guarded *guarded);
/* From now on something may be on the brake at the other end of `fd`. Again when the octets change;
 * told at once. */
void guarded_hold(struct guarded *guarded, int fd, const struct letting_go *letting_go);
/* Nothing is on it any more, or the link is gone. Before the link is closed: where the guard has
 * taken it, waits until it is done, LETTING_GO_MAX_MS at most. */
void guarded_let_go(struct guarded *guarded);
/* The guard is letting go on this link, or has: nothing more is to be written to it. */
bool guarded_is_taken(const struct guarded *guarded);
/* Whether a load may be on the brake of whatever was or is at the other end; told with the next
 * message. */
void guarded_leave_on(struct guarded *guarded, bool is_left_on);
/* Whether the load is made by the rider's hand; told at once. */
void guarded_by_hand(struct guarded *guarded, bool is_by_hand);
void guarded_name(struct guarded *guarded, int64_t ride_id);
/* What to write to the terminal before it is left to others; NULL: it is as it was. */
void guarded_restore(struct guarded *guarded, const char *text);
void guarded_close(struct guarded *guarded);

#endif
