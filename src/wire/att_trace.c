#include "wire/att_trace.h"

#include <assert.h>
#include <string.h>

#define CHANNEL_ATTRIBUTES 4u
#define L2CAP_HEADER       4u
#define ACL_HEADER         4u

enum event_code { EVENT_DISCONNECTION = 0x05, EVENT_LE = 0x3E };

/* Three spellings of one thing, which begin alike. */
enum le_event {
    LE_CONNECTION = 0x01,
    LE_CONNECTION_ENHANCED = 0x0A,
    LE_CONNECTION_ENHANCED_2 = 0x29
};

enum disconnection { REASON_BY_PEER = 0x13, REASON_BY_HOST = 0x16 }; /* Vol 1 Part F 1.3 */

/* The upper four bits of a data packet's handle tell, in their lower half, which part it is. */
#define HANDLE_MASK    0x0FFFu
#define ACL_PART_SHIFT 12
#define ACL_PART_MASK  3u
enum acl_part { ACL_FIRST = 0, ACL_CONTINUED = 1, ACL_FIRST_FLUSHABLE = 2 };

typedef att_trace_tell_func tell_func;

/* ---- links ---- */

static struct att_trace_link *find_link(struct att_trace *trace, uint16_t adapter, uint16_t handle)
{
    for (size_t i = 0; i < ATT_TRACE_LINKS_MAX; i++) {
        struct att_trace_link *link = &trace->links[i];
        if (link->is_up && link->adapter == adapter && link->handle == handle)
            return link;
    }
    return NULL;
}

static struct att_trace_link *new_link(struct att_trace *trace, uint16_t adapter, uint16_t handle)
{
    for (size_t i = 0; i < ATT_TRACE_LINKS_MAX; i++) {
        struct att_trace_link *link = &trace->links[i];
        if (link->is_up)
            continue;
        link->is_up = true;
        link->adapter = adapter;
        link->handle = handle;
        link->parts[0].wanted = link->parts[1].wanted = 0;
        return link;
    }
    return NULL;
}

static struct att_trace_item item_of(const struct att_trace *trace,
                                     const struct att_trace_link *link,
                                     const struct btsnoop_record *record, enum att_trace_kind kind)
{
    return (struct att_trace_item){.kind = kind,
                                   .slot = (unsigned)(link - trace->links),
                                   .adapter = link->adapter,
                                   .time_us = record->time_us};
}

/* ---- events ---- */

static void take_down(struct att_trace *trace, const struct btsnoop_record *record,
                      struct bytes_reader *reader, tell_func *tell, void *user)
{
    const uint8_t status = bytes_u8(reader);
    const uint16_t handle = bytes_u16(reader);
    const uint8_t reason = bytes_u8(reader);
    struct att_trace_link *link = find_link(trace, record->adapter, handle);

    if (reader->failed || status != 0 || link == NULL)
        return;
    struct att_trace_item item = item_of(trace, link, record, ATT_TRACE_DOWN);
    item.by_peer = reason != REASON_BY_HOST;
    link->is_up = false;
    tell(user, &item);
}

static void take_up(struct att_trace *trace, const struct btsnoop_record *record,
                    struct bytes_reader *reader, tell_func *tell, void *user)
{
    const uint8_t event = bytes_u8(reader);
    const uint8_t status = bytes_u8(reader);
    const uint16_t handle = bytes_u16(reader);
    (void)bytes_u8(reader); /* which side asked for the link */
    const uint8_t type = bytes_u8(reader);
    const uint8_t *octets = bytes_take(reader, ADDRESS_OCTETS);

    if (reader->failed || status != 0 ||
        (event != LE_CONNECTION && event != LE_CONNECTION_ENHANCED &&
         event != LE_CONNECTION_ENHANCED_2))
        return;
    struct att_trace_link *link = find_link(trace, record->adapter, handle);
    if (link != NULL)
        link->is_up = false; /* its end is not among the packets */
    link = new_link(trace, record->adapter, handle);
    if (link == NULL)
        return;
    struct att_trace_item item = item_of(trace, link, record, ATT_TRACE_UP);
    memcpy(item.peer.octets, octets, ADDRESS_OCTETS);
    item.peer.type = (type & 1) == 0 ? ADDRESS_PUBLIC : ADDRESS_RANDOM;
    tell(user, &item);
}

static void take_event(struct att_trace *trace, const struct btsnoop_record *record,
                       tell_func *tell, void *user)
{
    struct bytes_reader reader = bytes_reader(record->packet, record->length);
    const uint8_t code = bytes_u8(&reader);

    (void)bytes_u8(&reader); /* the length, which the record tells as well */
    if (code == EVENT_DISCONNECTION)
        take_down(trace, record, &reader, tell, user);
    else if (code == EVENT_LE)
        take_up(trace, record, &reader, tell, user);
}

/* ---- data ---- */

static void tell_pdu(const struct att_trace *trace, const struct att_trace_link *link,
                     const struct btsnoop_record *record, struct bytes_reader pdu, tell_func *tell,
                     void *user)
{
    struct att_trace_item item = item_of(trace, link, record, ATT_TRACE_PDU);

    item.by_peer = record->is_received;
    item.length = bytes_left(&pdu);
    item.pdu = bytes_take(&pdu, item.length);
    if (item.length > 0)
        tell(user, &item);
}

/* The link that the beginning of a packet is on: a new one where none was seen to come up. Other
 * channels than that of attributes do not count, so neither do links of classic Bluetooth. */
static struct att_trace_link *link_of(struct att_trace *trace, const struct btsnoop_record *record,
                                      uint16_t handle, bool is_attributes, tell_func *tell,
                                      void *user)
{
    struct att_trace_link *link = find_link(trace, record->adapter, handle);

    if (link != NULL || !is_attributes)
        return link;
    link = new_link(trace, record->adapter, handle);
    if (link != NULL) {
        const struct att_trace_item up = item_of(trace, link, record, ATT_TRACE_UP);
        tell(user, &up);
    }
    return link;
}

/* Tells a PDU once it is whole; what is longer than was announced is given up. */
static void add_to_pdu(struct att_trace *trace, struct att_trace_link *link,
                       const struct btsnoop_record *record, struct bytes_reader data,
                       tell_func *tell, void *user)
{
    struct att_trace_part *part = &link->parts[record->is_received];
    struct bytes_writer pdu = {part->octets, part->wanted, part->length, false};

    if (part->wanted == 0)
        return;
    bytes_put_rest(&pdu, &data);
    part->length = pdu.length;
    if (!pdu.failed && pdu.length < part->wanted)
        return;
    part->wanted = 0;
    if (!pdu.failed)
        tell_pdu(trace, link, record, bytes_reader(part->octets, part->length), tell, user);
}

static void begin_pdu(struct att_trace *trace, const struct btsnoop_record *record, uint16_t handle,
                      struct bytes_reader data, tell_func *tell, void *user)
{
    const size_t length = bytes_u16(&data);
    const bool is_attributes = bytes_u16(&data) == CHANNEL_ATTRIBUTES && !data.failed;
    struct att_trace_link *link = link_of(trace, record, handle, is_attributes, tell, user);

    if (link == NULL)
        return;
    struct att_trace_part *part = &link->parts[record->is_received];
    part->wanted = is_attributes && length <= ATT_TRACE_PDU_MAX ? length : 0;
    part->length = 0;
    add_to_pdu(trace, link, record, data, tell, user);
}

static void go_on_with_pdu(struct att_trace *trace, const struct btsnoop_record *record,
                           uint16_t handle, struct bytes_reader data, tell_func *tell, void *user)
{
    struct att_trace_link *link = find_link(trace, record->adapter, handle);

    if (link != NULL)
        add_to_pdu(trace, link, record, data, tell, user);
}

static void take_data(struct att_trace *trace, const struct btsnoop_record *record, tell_func *tell,
                      void *user)
{
    struct bytes_reader reader = bytes_reader(record->packet, record->length);
    const uint16_t head = bytes_u16(&reader);
    const size_t length = bytes_u16(&reader);
    const uint16_t handle = head & HANDLE_MASK;

    if (reader.failed || bytes_left(&reader) != length)
        return;
    if ((head >> ACL_PART_SHIFT & ACL_PART_MASK) == ACL_CONTINUED)
        go_on_with_pdu(trace, record, handle, reader, tell, user);
    else
        begin_pdu(trace, record, handle, reader, tell, user);
}

void att_trace_read(struct att_trace *trace, const struct btsnoop_record *record,
                    att_trace_tell_func *tell, void *user)
{
    if (record->kind == BTSNOOP_EVENT)
        take_event(trace, record, tell, user);
    else if (record->kind == BTSNOOP_ACL)
        take_data(trace, record, tell, user);
}

/* ---- writing ---- */

static void put_record(struct bytes_writer *writer, int64_t time_us, enum btsnoop_kind kind,
                       bool is_received, const struct bytes_writer *packet)
{
    const struct btsnoop_record record = {.kind = kind,
                                          .is_received = is_received,
                                          .time_us = time_us,
                                          .packet = packet->data,
                                          .length = packet->length};

    assert(!packet->failed);
    btsnoop_put(writer, &record);
}

/* What a reader looks for: the handle and the peer. Role and timing are those of any central. */
void att_trace_put_up(struct bytes_writer *writer, int64_t time_us, uint16_t handle,
                      const struct device_address *peer)
{
    uint8_t octets[2 + 19];
    struct bytes_writer event = bytes_writer(octets, sizeof octets);

    bytes_put_u8(&event, EVENT_LE);
    bytes_put_u8(&event, 19);
    bytes_put_u8(&event, LE_CONNECTION);
    bytes_put_u8(&event, 0); /* success */
    bytes_put_u16(&event, handle);
    bytes_put_u8(&event, 0); /* we are the central */
    bytes_put_u8(&event, peer->type == ADDRESS_RANDOM);
    bytes_put(&event, peer->octets, ADDRESS_OCTETS);
    bytes_put_u16(&event, 24);  /* interval: 30 ms */
    bytes_put_u16(&event, 0);   /* latency */
    bytes_put_u16(&event, 400); /* supervision: 4 s */
    bytes_put_u8(&event, 0);    /* accuracy of the clock */
    put_record(writer, time_us, BTSNOOP_EVENT, true, &event);
}

void att_trace_put_down(struct bytes_writer *writer, int64_t time_us, uint16_t handle, bool by_peer)
{
    uint8_t octets[2 + 4];
    struct bytes_writer event = bytes_writer(octets, sizeof octets);

    bytes_put_u8(&event, EVENT_DISCONNECTION);
    bytes_put_u8(&event, 4);
    bytes_put_u8(&event, 0);
    bytes_put_u16(&event, handle);
    bytes_put_u8(&event, by_peer ? REASON_BY_PEER : REASON_BY_HOST);
    put_record(writer, time_us, BTSNOOP_EVENT, true, &event);
}

void att_trace_put_pdu(struct bytes_writer *writer, int64_t time_us, uint16_t handle, bool by_peer,
                       const uint8_t *pdu, size_t length)
{
    uint8_t octets[ACL_HEADER + L2CAP_HEADER + ATT_TRACE_PDU_MAX];
    struct bytes_writer data = bytes_writer(octets, sizeof octets);
    const unsigned part = by_peer ? ACL_FIRST_FLUSHABLE : ACL_FIRST;

    assert(length <= ATT_TRACE_PDU_MAX);
    bytes_put_u16(&data, (uint16_t)(handle | part << ACL_PART_SHIFT));
    bytes_put_u16(&data, (uint16_t)(L2CAP_HEADER + length));
    bytes_put_u16(&data, (uint16_t)length);
    bytes_put_u16(&data, CHANNEL_ATTRIBUTES);
    bytes_put(&data, pdu, length);
    put_record(writer, time_us, BTSNOOP_ACL, by_peer, &data);
}
