/*
 * A Bluetooth adapter as a peripheral: on, advertising, and listening on the attribute channel.
 *
 * Beside the system's Bluetooth service it must be opened after that has started: of two programs
 * that listen on the attribute channel, the kernel gives a link to the later one.
 *
 * A link from a central ends the advertising; it begins again when the link is gone.
 */
#ifndef IO_PERIPHERAL_H
#define IO_PERIPHERAL_H

#include <stdbool.h>
#include <stdint.h>

#include "io/loop.h"

struct peripheral;

struct peripheral_setup {
    uint16_t index;   /* of the adapter: the N of hciN */
    uint32_t offers;  /* 1 << enum device_kind */
    const char *name; /* borrowed while open */
};

/* Needs CAP_NET_ADMIN. Switches the adapter on and leaves it so. *ret_fd listens, does not block,
 * and is the caller's. On failure NULL, and *ret_why says why (static). */
struct peripheral *peripheral_open(struct loop *loop, const struct peripheral_setup *setup,
                                   int *ret_fd, const char **ret_why);
/* Ends the advertising. NULL is fine. */
void peripheral_close(struct peripheral *peripheral);

#endif
