#include "wire/usb_trace.h"

#include <assert.h>
#include <string.h>

#include "wire/usb_frame.h"

#define MAGIC         0xA1B2C3D4u
#define VERSION_MAJOR 2u
#define VERSION_MINOR 4u
#define LINK_TYPE     220u
#define LONGEST       0x40000u /* of a record, as libpcap has it */
#define HEAD_SIZE     64u

/* Of the head of a transfer. */
enum { SUBMIT = 'S', COMPLETE = 'C' };
enum { TRANSFER_BULK = 3, END_IN = 0x80, HAS_DATA = 0, NO_SETUP = '-' };
#define STATUS_UNDER_WAY 0xFFFFFF8Du /* -EINPROGRESS, 115 */

/* There is one receiver in a capture of ours, with one pipe each way. */
enum { OUR_BUS = 1, OUR_DEVICE = 1, OUR_END = 1 };

/* ---- writing ---- */

void usb_trace_put_header(struct bytes_writer *writer)
{
    bytes_put_u32(writer, MAGIC);
    bytes_put_u16(writer, VERSION_MAJOR);
    bytes_put_u16(writer, VERSION_MINOR);
    bytes_put_u32(writer, 0); /* both reserved */
    bytes_put_u32(writer, 0);
    bytes_put_u32(writer, LONGEST);
    bytes_put_u32(writer, LINK_TYPE);
}

static void put_zeros(struct bytes_writer *writer, unsigned words)
{
    for (unsigned i = 0; i < words; i++)
        bytes_put_u32(writer, 0);
}

static void put_head(struct bytes_writer *writer, uint32_t seconds, uint32_t us, bool by_receiver,
                     uint32_t length)
{
    put_zeros(writer, 2); /* which transfer it was */
    bytes_put_u8(writer, by_receiver ? COMPLETE : SUBMIT);
    bytes_put_u8(writer, TRANSFER_BULK);
    bytes_put_u8(writer, by_receiver ? END_IN | OUR_END : OUR_END);
    bytes_put_u8(writer, OUR_DEVICE);
    bytes_put_u16(writer, OUR_BUS);
    bytes_put_u8(writer, NO_SETUP);
    bytes_put_u8(writer, HAS_DATA);
    bytes_put_u32(writer, seconds);
    bytes_put_u32(writer, 0);
    bytes_put_u32(writer, us);
    bytes_put_u32(writer, by_receiver ? 0 : STATUS_UNDER_WAY);
    bytes_put_u32(writer, length);
    bytes_put_u32(writer, length);
    put_zeros(writer, 6); /* setup, interval, frame, flags, descriptors */
}

/* Each message that we send is a transfer; of that with the key what tells how it goes on stays. */
static size_t without_key(const uint8_t *octets, size_t length, uint8_t *ret)
{
    struct usb_frame frame = {.message = USB_SET_KEY};

    if (length < 4 || octets[0] != USB_SYNC || octets[2] != USB_SET_KEY ||
        octets[1] > USB_PAYLOAD_MAX)
        return 0;
    frame.length = octets[1];
    frame.payload[0] = octets[3];
    return usb_frame_encode(&frame, ret);
}

void usb_trace_put(struct bytes_writer *writer, int64_t time_us, bool by_receiver,
                   const uint8_t *octets, size_t length)
{
    const uint32_t seconds = (uint32_t)(time_us / 1000000), us = (uint32_t)(time_us % 1000000);
    uint8_t blank[USB_FRAME_MAX];
    const size_t blanked = by_receiver ? 0 : without_key(octets, length, blank);
    const uint32_t size = (uint32_t)(blanked > 0 ? blanked : length);

    assert(length <= USB_TRACE_DATA_MAX && time_us >= 0);
    bytes_put_u32(writer, seconds);
    bytes_put_u32(writer, us);
    bytes_put_u32(writer, HEAD_SIZE + size);
    bytes_put_u32(writer, HEAD_SIZE + size);
    put_head(writer, seconds, us, by_receiver, size);
    bytes_put(writer, blanked > 0 ? blank : octets, size);
}

/* ---- reading ---- */

enum result usb_trace_open(const uint8_t *data, size_t length, struct usb_trace_reader *ret)
{
    struct bytes_reader bytes = bytes_reader(data, length);
    const uint32_t magic = bytes_u32(&bytes);
    const uint16_t major = bytes_u16(&bytes);

    (void)bytes_take(&bytes, 14);                           /* minor version, reserved, longest */
    const uint32_t link_type = bytes_u32(&bytes) & 0xFFFFu; /* above it of check sequences */
    if (bytes.failed)
        return RESULT_INVALID;
    /* The others that the format has: octets the other way round, and nanoseconds. */
    if (magic == 0xD4C3B2A1u || magic == 0xA1B23C4Du || magic == 0x4D3CB2A1u)
        return RESULT_UNSUPPORTED;
    if (magic != MAGIC)
        return RESULT_INVALID;
    if (major != VERSION_MAJOR || link_type != LINK_TYPE)
        return RESULT_UNSUPPORTED;
    *ret = (struct usb_trace_reader){.bytes = bytes};
    return RESULT_OK;
}

/* What is left of a record, behind its time and its length. */
static void read_transfer(struct usb_trace_reader *reader, struct bytes_reader bytes,
                          struct usb_trace_record *record)
{
    (void)bytes_take(&bytes, 8);
    const uint8_t event = bytes_u8(&bytes);
    const uint8_t transfer = bytes_u8(&bytes);
    const bool is_in = (bytes_u8(&bytes) & END_IN) != 0;
    const uint32_t device = bytes_u24(&bytes) + 1; /* number and bus */
    (void)bytes_u8(&bytes);
    const bool has_data = bytes_u8(&bytes) == HAS_DATA;

    (void)bytes_take(&bytes, HEAD_SIZE - 16);
    record->length = bytes_left(&bytes);
    record->octets = bytes_take(&bytes, record->length);
    record->by_receiver = is_in;
    if (bytes.failed || transfer != TRANSFER_BULK || !has_data || record->length == 0 ||
        event != (is_in ? COMPLETE : SUBMIT))
        return;
    if (reader->device == 0 && record->octets[0] == USB_SYNC)
        reader->device = device;
    record->is_transfer = device == reader->device;
}

enum result usb_trace_next(struct usb_trace_reader *reader, struct usb_trace_record *ret)
{
    struct bytes_reader *bytes = &reader->bytes;
    struct usb_trace_record record = {0};

    if (!bytes->failed && bytes_left(bytes) == 0)
        return RESULT_NOT_FOUND;
    const uint32_t seconds = bytes_u32(bytes);
    const uint32_t us = bytes_u32(bytes);
    const uint32_t length = bytes_u32(bytes);
    (void)bytes_u32(bytes); /* what it was before it was cut */
    const uint8_t *octets = bytes_take(bytes, length);
    if (bytes->failed)
        return RESULT_NEED_MORE;
    if (us >= 1000000)
        return RESULT_INVALID;
    record.time_us = (int64_t)seconds * 1000000 + us;
    read_transfer(reader, bytes_reader(octets, length), &record);
    *ret = record;
    return RESULT_OK;
}
