/*
 * Release and stop as bare octets, for a process that knows nothing of the machine.
 */
#ifndef LETTING_GO_H
#define LETTING_GO_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "port/link.h"
#include "wire/att.h"

/* One write to the control point, or one message to a receiver. */
struct letting_go_pdu {
    uint8_t length; /* 0: there is none */
    uint8_t octets[ATT_MTU_DEFAULT];
};

enum letting_go_kind {
    LETTING_GO_FTMS,   /* a fitness machine, at the other end of a socket */
    LETTING_GO_TRAINER /* one that an ANT receiver speaks with, on USB or at a socket; has no stop
                        */
};

/* Compared as octets, so there is none between its parts. */
struct letting_go {
    struct link_way way;
    uint16_t kind; /* enum letting_go_kind */
    struct letting_go_pdu release, stop;
};

/* The longest that letting_go() takes, with a machine that answers nothing, on a busy computer. */
#define LETTING_GO_MAX_MS 2000u

/* Sends both over the descriptor of a link, and reads what comes back: where others have the link
 * too, it is taken from them and ends for them. Whether the machine accepted the release. Allocates
 * nothing. */
bool letting_go(int fd, const struct letting_go *it);

#endif
