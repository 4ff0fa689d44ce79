/* Captures: every record of every file; every record to the reader of links and PDUs in any state
 * that it can be in, and that it is in such a state again; and the records that we write.
 * Eva: -eva-precision 1 -eva-plevel 100000 -eva-split-return full
 * Eva: -eva-use-spec bytes_put_rest */
#include "unknown.h"
#include "wire/att_trace.h"

enum { FILE_MAX = 4096, PACKET_MAX = 4096 };

static struct att_trace trace;
static uint8_t octets[FILE_MAX];

/* A record touches one link at most: that of its adapter and handle, or the first that is down.
 * Here that is `touched`, in any state that each call keeps; the others are up, on adapters that no
 * record is of. So Eva knows where it writes. */
static void any_trace(unsigned touched)
{
    for (unsigned i = 0; i < ATT_TRACE_LINKS_MAX; i++) {
        trace.links[i].is_up = true;
        trace.links[i].adapter = UINT16_MAX;
    }
    struct att_trace_link *link = &trace.links[touched];
    link->is_up = any_bool();
    link->adapter = (uint16_t)any_int(0, UINT16_MAX);
    link->handle = (uint16_t)any_int(0, UINT16_MAX);
    for (unsigned side = 0; side < 2; side++) {
        link->parts[side].wanted = any_size(ATT_TRACE_PDU_MAX);
        link->parts[side].length = any_size(ATT_TRACE_PDU_MAX);
        MAKE_UNKNOWN(link->parts[side].octets);
    }
}

static void look(void)
{
    for (unsigned i = 0; i < ATT_TRACE_LINKS_MAX; i++)
        for (unsigned side = 0; side < 2; side++) {
            /*@ assert trace.links[i].parts[side].wanted <= ATT_TRACE_PDU_MAX; */
            /*@ assert trace.links[i].parts[side].length <= ATT_TRACE_PDU_MAX; */
        }
}

static void told(void *user, const struct att_trace_item *item)
{
    uint8_t pdu[ATT_TRACE_PDU_MAX];

    (void)user;
    /*@ assert item->slot < ATT_TRACE_LINKS_MAX; */
    for (size_t i = 0; item->kind == ATT_TRACE_PDU && i < item->length; i++)
        pdu[0] = item->pdu[i];
}

static int64_t any_time_us(void)
{
    return Frama_C_long_interval(0, INT64_MAX / 2);
}

static void read_record(bool is_received)
{
    const struct btsnoop_record record = {.kind = (enum btsnoop_kind)any_int(0, BTSNOOP_ACL),
                                          .adapter = (uint16_t)any_int(0, UINT16_MAX - 1),
                                          .is_received = is_received,
                                          .time_us = any_time_us(),
                                          .packet = octets,
                                          .length = any_size(PACKET_MAX)};

    att_trace_read(&trace, &record, told, NULL);
}

static void read_link(void)
{
    const unsigned touched = (unsigned)any_int(0, ATT_TRACE_LINKS_MAX - 1);
    const bool is_received = any_bool();

    /*@ split touched; */
    any_trace(touched);
    /*@ split is_received; */
    read_record(is_received);
    look();
}

static void read_file(void)
{
    struct btsnoop_reader reader;
    struct btsnoop_record record;

    if (btsnoop_open(octets, any_size(sizeof octets), &reader) != RESULT_OK)
        return;
    while (btsnoop_next(&reader, &record) == RESULT_OK) {
        /*@ assert \valid_read(record.packet + (0 .. record.length - 1)); */
    }
}

static void write_file(void)
{
    uint8_t record[ATT_TRACE_RECORD_MAX];
    struct bytes_writer writer = bytes_writer(record, sizeof record);
    const uint16_t handle = (uint16_t)any_int(0, UINT16_MAX);
    const int64_t time_us = any_time_us();
    struct device_address peer;

    MAKE_UNKNOWN(peer);
    switch (any_int(0, 3)) {
    case 0: btsnoop_put_header(&writer); break;
    case 1: att_trace_put_up(&writer, time_us, handle, &peer); break;
    case 2: att_trace_put_down(&writer, time_us, handle, any_bool()); break;
    default:
        att_trace_put_pdu(&writer, time_us, handle, any_bool(), octets,
                          any_size(ATT_TRACE_PDU_MAX));
        break;
    }
}

int main(void)
{
    MAKE_UNKNOWN(octets);
    read_file();
    read_link();
    write_file();
    return 0;
}
