/* Octets and text in and out, with any numbers, lengths and capacities.
 * Eva: -eva-precision 4 -eva-auto-loop-unroll 80 -eva-slevel-function text_line_octets:500 */
#include <string.h>

#include "base/bytes.h"
#include "base/device.h"
#include "base/result.h"
#include "base/text.h"
#include "unknown.h"

enum { ROOM = 64, CALLS_MAX = 12 };

static uint8_t octets[ROOM];
static char text[ROOM], line[ROOM];

static void read_octets(void)
{
    struct bytes_reader reader = bytes_reader(octets, any_size(sizeof octets));

    for (int i = any_int(0, CALLS_MAX); i > 0; i--)
        switch (any_int(0, 7)) {
        case 0: bytes_u8(&reader); break;
        case 1: bytes_u16(&reader); break;
        case 2: bytes_u24(&reader); break;
        case 3: bytes_u32(&reader); break;
        case 4: bytes_s8(&reader); break;
        case 5: bytes_s16(&reader); break;
        case 6: bytes_take(&reader, any_size(SIZE_MAX)); break;
        default: bytes_left(&reader); break;
        }
}

static void write_octets(void)
{
    uint8_t given[ROOM], room[ROOM];
    struct bytes_writer writer = bytes_writer(room, any_size(sizeof room));
    struct bytes_reader reader = bytes_reader(given, any_size(sizeof given));

    MAKE_UNKNOWN(given);
    for (int i = any_int(0, CALLS_MAX); i > 0; i--)
        switch (any_int(0, 6)) {
        case 0: bytes_put_u8(&writer, (uint8_t)any_int(0, UINT8_MAX)); break;
        case 1: bytes_put_u16(&writer, (uint16_t)any_int(0, UINT16_MAX)); break;
        case 2: bytes_put_u24(&writer, any_u32()); break;
        case 3: bytes_put_u32(&writer, any_u32()); break;
        case 4: bytes_put_s16(&writer, (int16_t)any_int(INT16_MIN, INT16_MAX)); break;
        case 5: bytes_put(&writer, given, any_size(sizeof given)); break;
        default: bytes_put_rest(&writer, &reader); break;
        }
}

static void write_text(void)
{
    char room[ROOM];
    struct text_writer writer = text_writer(room, any_size(sizeof room));
    struct device_address address;

    MAKE_UNKNOWN(address);
    for (int i = any_int(0, CALLS_MAX); i > 0; i--)
        switch (any_int(0, 8)) {
        case 0: text_put(&writer, text); break;
        case 1: text_put_part(&writer, text, any_size(sizeof text)); break;
        case 2: text_put_char(&writer, (char)any_int(CHAR_MIN, CHAR_MAX)); break;
        case 3: text_put_unsigned(&writer, any_u64()); break;
        case 4: text_put_signed(&writer, any_i64()); break;
        case 5: text_put_padded(&writer, any_u64(), (unsigned)any_int(0, 20)); break;
        case 6: text_put_fixed(&writer, any_i64(), (unsigned)any_int(0, 18)); break;
        case 7: text_put_time(&writer, any_u64()); break;
        default: device_address_put(&writer, &address); break;
        }
}

int main(void)
{
    struct device_address one, other;

    MAKE_UNKNOWN(octets);
    MAKE_UNKNOWN(text);
    text[ROOM - 1] = '\0';
    MAKE_UNKNOWN(line);
    line[ROOM - 1] = '\0';
    MAKE_UNKNOWN(one);
    MAKE_UNKNOWN(other);
    read_octets();
    write_octets();
    write_text();
    text_line_octets(line, any_size(SIZE_MAX));
    (void)device_address_read(text, any_size(sizeof text), &one);
    (void)device_address_read_usb(text, any_size(sizeof text), &one);
    device_address_is(&one, &other);
    device_address_changes(&one);
    device_kind_name((enum device_kind)any_u32());
    address_type_name((enum address_type)any_u32());
    result_text((enum result)any_u32());
    return 0;
}
