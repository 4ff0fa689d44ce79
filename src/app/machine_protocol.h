/*
 * What is spoken with a machine, as its peer sees it (app/machine_peer.h): packets, time and
 * commands in, packets and news for the ride out. One for each way a machine may be spoken with.
 */
#ifndef APP_MACHINE_PROTOCOL_H
#define APP_MACHINE_PROTOCOL_H

#include "letting_go.h"
#include "ride/event.h"

#define MACHINE_PACKET_MAX 517u /* octets: an attribute PDU, which is the longest */

struct machine_news {
    struct event event;  /* EVENT_MACHINE: it is ready; its readings, answers and reports */
    const char *failure; /* in place of an event: why it is of no use any more; static words */
    bool may_pass;       /* the failure: on another link it may be over */
};

/* `state` is the protocol's own and lasts over links: zeroed before the first of them. */
struct machine_protocol {
    /* A link stands. `was_ready`: with the same machine, on an earlier one. */
    void (*start)(void *state, uint64_t t_ms, bool was_ready);
    void (*receive)(void *state, uint64_t t_ms, const uint8_t *packet, size_t length);
    /* `is_securing`: see port/link.h. */
    void (*tick)(void *state, uint64_t t_ms, bool is_securing);
    /* What cannot be said now stays unanswered, which the ride notices. */
    void (*command)(void *state, uint64_t t_ms, enum machine_command command, struct load load,
                    bool now);
    size_t (*next_packet)(void *state, uint8_t *ret); /* its length, or 0 */
    bool (*next_news)(void *state, struct machine_news *ret);
    /* What lets go of the load now, for a process that knows nothing of the machine. Lengths of 0:
     * there is nothing that would. */
    struct letting_go (*letting_go)(const void *state);
};

#endif
