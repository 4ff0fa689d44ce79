/*
 * The attribute channel of a Bluetooth LE link: an L2CAP socket on the fixed channel 4, which any
 * user may open. The kernel listens for the device's advertisements and connects to it.
 */
#ifndef IO_LINK_L2CAP_H
#define IO_LINK_L2CAP_H

#include <stdbool.h>
#include <stdint.h>

#include "base/device.h"
#include "io/loop.h"
#include "port/link.h"

#define LINK_L2CAP_CHANNEL 4 /* of the Attribute Protocol; Bluetooth Core, Vol 3 Part A 2.1 */

/* Begins to connect through the adapter of that address, or, with a type of NONE, whichever is on;
 * the type of the device's address must be known. What is not open after `limit_ms` closes. NULL on
 * failure at once, and *ret_why says why in words for the rider (static). */
struct link *link_l2cap_connect(struct loop *loop, const struct device_address *adapter,
                                const struct device_address *address, uint64_t limit_ms,
                                const struct link_user *user, const char **ret_why);
/* Whether a link that closed before it opened heard nothing from the device: absent, taken by
 * another program, or its address is of the other type. */
bool link_l2cap_heard_nothing(const struct link *link);
/* The address that the kernel knows the device by now: after pairing the one that it keeps, where
 * it was called at one that changes. False: the link is not open. */
bool link_l2cap_peer(const struct link *link, struct device_address *ret);
/* Whether these words, of one of ours that closed, are of a device that is to be paired, and said
 * so or ended the link over it: silence is none of that. */
bool link_l2cap_wants_pairing(const char *why);

/* What the kernel's errors mean and what a rider can do; never NULL. Connecting: ETIMEDOUT stands
 * for a device that was not heard. */
const char *link_l2cap_connect_words(int error);
const char *link_l2cap_lost_words(int error, bool while_securing);

#endif
