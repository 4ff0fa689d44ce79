/*
 * What the links over sockets that keep packets apart have in common, whatever the family.
 */
#ifndef LINK_PACKETS_H
#define LINK_PACKETS_H

#include <stdbool.h>

#include "io/loop.h"
#include "port/link.h"
#include "wire/att.h"

struct link_packets;

struct packet_family {
    const char *(*opening_words)(int error);
    const char *(*lost_words)(const struct link_packets *packets);
    bool (*secure)(int fd); /* false and errno; NULL: cannot */
    bool (*is_secure)(int fd);
};

#define LINK_HELD_MAX 4u

struct link_packets {
    struct link link; /* first: the port's handle */
    const struct packet_family *family;
    struct loop *loop;
    struct link_user user;
    int fd, watch, timer; /* 0: none; the timer limits opening, paces securing */
    int secure_timer;     /* limits that; 0: none */
    int error;            /* why it did not open, or was lost; 0: an orderly end */
    bool is_open, is_securing, has_received;
    bool in_callback, is_closed; /* closed within a callback: freed behind it */
    /* Sent while encryption is under way. */
    struct held_pdu {
        size_t length;
        uint8_t octets[ATT_MTU_MAX];
    } held[LINK_HELD_MAX];
    size_t held_count;
};

/* Over a descriptor that is connected or connecting; takes it over, and closes it when it cannot
 * (NULL). Opening ends with ETIMEDOUT after `limit_ms`; 0: never. */
struct link *link_packets_new(struct loop *loop, int fd, const struct packet_family *family,
                              uint64_t limit_ms, const struct link_user *user);

#endif
