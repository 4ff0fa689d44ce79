/*
 * Captures of what a host and its Bluetooth controller say to each other, in the btsnoop format:
 * as btmon and phones write them, and as Wireshark and btmon read them.
 *
 * Source: the file and its records, BlueZ src/shared/btsnoop.c and doc/btsnoop.txt; the packets,
 * Bluetooth Core, Vol 4 Part E 5.4 and Part A 2. The file's own numbers are big-endian.
 */
#ifndef WIRE_BTSNOOP_H
#define WIRE_BTSNOOP_H

#include <stdbool.h>

#include "base/bytes.h"
#include "base/result.h"

#define BTSNOOP_HEADER_OCTETS 16u
#define BTSNOOP_RECORD_OCTETS 24u /* before the packet */

enum btsnoop_kind {
    BTSNOOP_OTHER, /* a command, sound, a note; a packet that was not kept whole */
    BTSNOOP_EVENT,
    BTSNOOP_ACL
};

struct btsnoop_record {
    enum btsnoop_kind kind;
    uint16_t adapter;      /* 0 where the file does not tell them apart */
    bool is_received;      /* from the controller */
    int64_t time_us;       /* since 1970 */
    const uint8_t *packet; /* without the octet that tells its kind; borrowed */
    size_t length;
};

struct btsnoop_reader {
    struct bytes_reader bytes;
    uint32_t datalink;
};

/* RESULT_INVALID: not such a file. RESULT_UNSUPPORTED: of a version or datalink that is none of
 * 1001 (packets), 1002 (with an octet before each) and 2001 (of a monitor). `data` is borrowed. */
MUST_USE enum result btsnoop_open(const uint8_t *data, size_t length, struct btsnoop_reader *ret);
/* RESULT_NOT_FOUND at the end, RESULT_NEED_MORE where the file ends within a record. */
MUST_USE enum result btsnoop_next(struct btsnoop_reader *reader, struct btsnoop_record *ret);

/* We write datalink 1002. */
void btsnoop_put_header(struct bytes_writer *writer);
/* `kind` is not BTSNOOP_OTHER; the adapter is not written. */
void btsnoop_put(struct bytes_writer *writer, const struct btsnoop_record *record);

#endif
