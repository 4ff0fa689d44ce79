#include "wire/btsnoop.h"

#include <assert.h>
#include <string.h>

/* Microseconds from the year 0, which the format counts from, to 1970. */
#define EPOCH_US 0x00DCDDB30F2F8000

#define VERSION 1u

enum datalink { DATALINK_HCI = 1001, DATALINK_UART = 1002, DATALINK_MONITOR = 2001 };

/* In the flags of the first two datalinks. */
enum { FLAG_RECEIVED = 1u, FLAG_NO_DATA = 2u };

/* The octet before a packet of DATALINK_UART. */
enum uart_kind { UART_ACL = 2, UART_EVENT = 4 };

/* The low half of the flags of DATALINK_MONITOR; the high half is the adapter. */
enum monitor_opcode { MONITOR_EVENT = 3, MONITOR_ACL_SENT = 4, MONITOR_ACL_RECEIVED = 5 };

static const uint8_t magic[8] = "btsnoop";

/* ---- reading ---- */

static uint32_t take_be32(struct bytes_reader *reader)
{
    const uint8_t *octets = bytes_take(reader, 4);

    return octets == NULL ? 0
                          : (uint32_t)octets[0] << 24 | (uint32_t)octets[1] << 16 |
                                (uint32_t)octets[2] << 8 | octets[3];
}

enum result btsnoop_open(const uint8_t *data, size_t length, struct btsnoop_reader *ret)
{
    struct bytes_reader bytes = bytes_reader(data, length);
    const uint8_t *found = bytes_take(&bytes, sizeof magic);
    const uint32_t version = take_be32(&bytes);
    const uint32_t datalink = take_be32(&bytes);

    if (bytes.failed || memcmp(found, magic, sizeof magic) != 0)
        return RESULT_INVALID;
    if (version != VERSION ||
        (datalink != DATALINK_HCI && datalink != DATALINK_UART && datalink != DATALINK_MONITOR))
        return RESULT_UNSUPPORTED;
    *ret = (struct btsnoop_reader){bytes, datalink};
    return RESULT_OK;
}

static void read_hci(struct btsnoop_record *record, uint32_t flags)
{
    record->is_received = (flags & FLAG_RECEIVED) != 0;
    if ((flags & FLAG_NO_DATA) == 0)
        record->kind = BTSNOOP_ACL;
    else if (record->is_received)
        record->kind = BTSNOOP_EVENT;
}

static void read_uart(struct btsnoop_record *record, uint32_t flags)
{
    record->is_received = (flags & FLAG_RECEIVED) != 0;
    if (record->length == 0)
        return;
    if (record->packet[0] == UART_ACL)
        record->kind = BTSNOOP_ACL;
    else if (record->packet[0] == UART_EVENT)
        record->kind = BTSNOOP_EVENT;
    record->packet++;
    record->length--;
}

static void read_monitor(struct btsnoop_record *record, uint32_t flags)
{
    const uint32_t opcode = flags & 0xFFFFu;

    record->adapter = (uint16_t)(flags >> 16);
    record->is_received = opcode != MONITOR_ACL_SENT;
    if (opcode == MONITOR_EVENT)
        record->kind = BTSNOOP_EVENT;
    else if (opcode == MONITOR_ACL_SENT || opcode == MONITOR_ACL_RECEIVED)
        record->kind = BTSNOOP_ACL;
}

enum result btsnoop_next(struct btsnoop_reader *reader, struct btsnoop_record *ret)
{
    struct btsnoop_record record = {0};

    if (!reader->bytes.failed && bytes_left(&reader->bytes) == 0)
        return RESULT_NOT_FOUND;
    const uint32_t original = take_be32(&reader->bytes);
    record.length = take_be32(&reader->bytes);
    const uint32_t flags = take_be32(&reader->bytes);
    (void)take_be32(&reader->bytes); /* how many were lost before it */
    const uint64_t high = take_be32(&reader->bytes);
    record.time_us = (int64_t)(high << 32 | take_be32(&reader->bytes));
    record.packet = bytes_take(&reader->bytes, record.length);
    if (reader->bytes.failed)
        return RESULT_NEED_MORE;
    /* What would overflow is no time of our days either. */
    record.time_us = record.time_us < EPOCH_US ? 0 : record.time_us - EPOCH_US;
    if (reader->datalink == DATALINK_HCI)
        read_hci(&record, flags);
    else if (reader->datalink == DATALINK_UART)
        read_uart(&record, flags);
    else
        read_monitor(&record, flags);
    if (original > record.length + (reader->datalink == DATALINK_UART))
        record.kind = BTSNOOP_OTHER;
    *ret = record;
    return RESULT_OK;
}

/* ---- writing ---- */

static void put_be32(struct bytes_writer *writer, uint32_t value)
{
    for (unsigned i = 0; i < 4; i++)
        bytes_put_u8(writer, (uint8_t)(value >> (24 - 8 * i)));
}

void btsnoop_put_header(struct bytes_writer *writer)
{
    bytes_put(writer, magic, sizeof magic);
    put_be32(writer, VERSION);
    put_be32(writer, DATALINK_UART);
}

void btsnoop_put(struct bytes_writer *writer, const struct btsnoop_record *record)
{
    const bool is_acl = record->kind == BTSNOOP_ACL;
    const uint32_t length = (uint32_t)record->length + 1;
    const uint64_t time_us = (uint64_t)(record->time_us + EPOCH_US);

    assert(record->kind != BTSNOOP_OTHER);
    put_be32(writer, length);
    put_be32(writer, length);
    put_be32(writer, (record->is_received ? FLAG_RECEIVED : 0) | (is_acl ? 0 : FLAG_NO_DATA));
    put_be32(writer, 0);
    put_be32(writer, (uint32_t)(time_us >> 32));
    put_be32(writer, (uint32_t)time_us);
    bytes_put_u8(writer, is_acl ? UART_ACL : UART_EVENT);
    bytes_put(writer, record->packet, record->length);
}
