/*
 * A link to a recorded receiver on USB: it sends what it sent, after what was sent to it.
 *
 * What it sent comes at its time after the message before it that is sent again: the first in the
 * capture of the same kind and channel, with the key or without. One that nobody sends within a
 * second is passed over; what is sent beyond the recorded messages is ignored. Behind the last
 * transfer it is silent.
 */
#ifndef IO_USB_REPLAY_H
#define IO_USB_REPLAY_H

#include "io/loop.h"
#include "port/link.h"

#define USB_REPLAY_FILE_MAX ((size_t)32 << 20)

/* Of the pcap file at `path` (wire/usb_trace.h), which is read whole. On failure NULL, and *ret_why
 * says why in words for the rider (static). */
struct link *usb_replay_open(struct loop *loop, const char *path, const struct link_user *user,
                             const char **ret_why);

/* Whether there is a file at `path` to play, and no socket. */
bool usb_replay_is_file(const char *path);

#endif
