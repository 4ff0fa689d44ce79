/*
 * The attribute traffic within what a host and its Bluetooth LE controller say to each other: which
 * links come up and go down, and the PDUs on them, put together again where they travelled in
 * parts. Both ways: out of captured packets, and into them.
 *
 * Source: Bluetooth Core, Vol 4 Part E 5.4.2 (ACL data), 7.7.5 and 7.7.65 (events); Vol 3 Part A
 * 3.1 (L2CAP), 2.1 (fixed channel 4).
 */
#ifndef WIRE_ATT_TRACE_H
#define WIRE_ATT_TRACE_H

#include "base/device.h"
#include "wire/btsnoop.h"

/* More at a time than any host of ours has; what is on a further one is left out. */
#define ATT_TRACE_LINKS_MAX 16u
/* Longer than any PDU that a peer may send; longer ones are left out. */
#define ATT_TRACE_PDU_MAX 2048u

enum att_trace_kind { ATT_TRACE_UP, ATT_TRACE_DOWN, ATT_TRACE_PDU };

struct att_trace_item {
    enum att_trace_kind kind;
    unsigned slot;              /* below ATT_TRACE_LINKS_MAX, of this link alone while it is up */
    uint16_t adapter;           /* as the records have it */
    struct device_address peer; /* UP; the type NONE where the packets do not say */
    bool by_peer; /* DOWN: the peer, or the air, ended it. PDU: it comes from the peer */
    int64_t time_us;
    const uint8_t *pdu; /* PDU; valid until the next call */
    size_t length;
};

/* One direction of a link. */
struct att_trace_part {
    size_t length, wanted; /* wanted 0: nothing is begun */
    uint8_t octets[ATT_TRACE_PDU_MAX];
};

/* Zero it. A link whose beginning is not among the packets comes up with its first PDU. */
struct att_trace {
    struct att_trace_link {
        bool is_up;
        uint16_t adapter, handle;
        struct att_trace_part parts[2];
    } links[ATT_TRACE_LINKS_MAX];
};

/* Calls `tell` for what is in the record: nothing, one or two things. */
typedef void att_trace_tell_func(void *user, const struct att_trace_item *item);
void att_trace_read(struct att_trace *trace, const struct btsnoop_record *record,
                    att_trace_tell_func *tell, void *user);

/* Octets of the longest record below. */
#define ATT_TRACE_RECORD_MAX (BTSNOOP_RECORD_OCTETS + 9u + ATT_TRACE_PDU_MAX)

/* Records for a link of that handle. */
void att_trace_put_up(struct bytes_writer *writer, int64_t time_us, uint16_t handle,
                      const struct device_address *peer);
void att_trace_put_down(struct bytes_writer *writer, int64_t time_us, uint16_t handle,
                        bool by_peer);
/* At most ATT_TRACE_PDU_MAX octets. */
void att_trace_put_pdu(struct bytes_writer *writer, int64_t time_us, uint16_t handle, bool by_peer,
                       const uint8_t *pdu, size_t length);

#endif
