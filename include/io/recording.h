/*
 * What one peer said in a capture, and what it was asked: a capture taken apart for being played
 * back. Reads those that capture.h writes and those of other programs.
 *
 * The peer is whoever was found to have the wanted characteristic, at the other end of the link or,
 * where the capture was taken at the peer, at this one. Its links are those with the same adapter
 * and address, in the order in which they came up. All other links are left out.
 */
#ifndef IO_RECORDING_H
#define IO_RECORDING_H

#include "wire/att_trace.h"
#include "wire/gatt_server.h"

#define RECORDING_FILE_MAX ((size_t)32 << 20)
#define RECORDING_NONE     SIZE_MAX

struct recording_pdu {
    int64_t time_us;
    const uint8_t *octets;
    uint16_t length;
    bool by_peer;   /* by the end of the link that is not the recording host */
    bool is_answer; /* belongs to an exchange, and is not played by its time */
    size_t link;
};

/* A request, and what came of it; indices of PDUs. */
struct recording_exchange {
    size_t request;
    size_t response; /* RECORDING_NONE: it was not answered */
    /* The indication by which a control point tells what came of a written procedure, or
     * RECORDING_NONE. Fitness Machine Service 1.0.1, 4.16.2.22. */
    size_t outcome;
    bool is_used; /* for whoever plays it */
};

struct recording_link {
    uint16_t adapter;
    struct device_address address;
    int64_t begin_us, end_us;
    bool has_end, was_ended_by_peer; /* as far as the capture tells */
    bool is_chosen;
};

struct recording {
    uint8_t *octets; /* of all PDUs */
    size_t octet_count;
    struct recording_pdu *pdus; /* in the order of the file */
    struct recording_exchange *exchanges;
    struct recording_link *links;
    size_t pdu_count, exchange_count, link_count;
    size_t pdu_room, exchange_room, link_room;
    bool is_at_peer;                                       /* the peer is the recording host */
    size_t next_link;                                      /* for whoever plays it */
    struct gatt_attribute attributes[GATT_ATTRIBUTES_MAX]; /* as far as they were asked for */
    size_t attribute_count;
};

/* Takes apart `file`, which need not stay. On failure NULL, and *ret_why says why in words for the
 * rider (static). */
struct recording *recording_read(const uint8_t *file, size_t length, uint16_t characteristic,
                                 const char **ret_why);
void recording_free(struct recording *recording);

/* Whether the PDU is by the peer that is played. */
bool recording_is_by_peer(const struct recording *recording, const struct recording_pdu *pdu);

#endif
