/*
 * A file that the traffic of links is written to as it happens, and the tap that goes between a
 * link and its user: attribute PDUs in the btsnoop format, or the octets of a receiver on USB as a
 * pcap file (wire/usb_trace.h).
 *
 * What is written holds what the two sides said, and no address: each link has an invented one. Of
 * sensors behind a receiver it holds the numbers by which they are known, and not the key of their
 * network. The writing is left to the loop, so that nothing that is sent waits for it.
 */
#ifndef IO_CAPTURE_H
#define IO_CAPTURE_H

#include "io/output.h"
#include "port/link.h"

struct capture;

enum capture_kind { CAPTURE_ATTRIBUTES, CAPTURE_USB };

/* Creates the file, for the owner's eyes; pipes and the like are taken as they are. `path` is
 * borrowed. NULL with errno on failure, EEXIST for a file that is there already. `ended` as for an
 * output: what comes after it is not written. */
struct capture *capture_new(struct loop *loop, const char *path, enum capture_kind kind,
                            output_ended_func *ended, void *user);
/* It is a file, which another may stand beside; no pipe. */
bool capture_is_file(const struct capture *capture);
/* Writes what is left; takes a new file away again when no link came up. NULL is fine. */
void capture_free(struct capture *capture);

/* Zero it, set what is marked. It must not move, and outlives the link below. */
struct capture_tap {
    struct link link;        /* for the user to send on; closing it keeps the tap */
    struct capture *capture; /* set */
    struct link *below;      /* set, whenever a link is opened; owned by the tap from then on */
    unsigned number;         /* set: tells the links in a capture apart, from 0 */
    struct link_user user;   /* set */

    /* inside */
    bool is_up;
};

/* To be given to whoever opens the link below. */
struct link_user capture_tap_user(struct capture_tap *tap);
/* The link as its user has it, over `below`. NULL for NULL. */
struct link *capture_tap_over(struct capture_tap *tap, struct link *below);

#endif
