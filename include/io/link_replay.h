/*
 * A link to a recorded peer: it answers as it did, and says what it said of itself when it said it.
 *
 * A request gets the answer that was recorded for it, after the same time, in the order in which it
 * was asked; a write that was never made that way gets the answer to one of the same kind (handle
 * and first octet), a request that was never made one from what is known of the peer's attributes.
 * What the peer said unasked comes at its time after the first write, which is where clients
 * subscribe. Where the recorded link ended by the peer this one does; else, soon after the last
 * thing that was said.
 */
#ifndef IO_LINK_REPLAY_H
#define IO_LINK_REPLAY_H

#include "io/loop.h"
#include "io/recording.h"
#include "port/link.h"

/* Opens the next of the recorded links; one at a time. `recording` is borrowed. On failure NULL,
 * and *ret_why says why in words for the rider (static). */
struct link *link_replay_open(struct loop *loop, struct recording *recording,
                              const struct link_user *user, const char **ret_why);

#endif
