#include "wire/heart_rate.h"

#include <assert.h>

#include "base/bytes.h"

#define WIDE_VALUE_FLAG      0x01u
#define CONTACT_SEEN_FLAG    0x02u
#define CONTACT_ABILITY_FLAG 0x04u
#define ENERGY_FLAG          0x08u
#define RR_FLAG              0x10u

static enum heart_contact contact_of(uint8_t flags)
{
    if ((flags & CONTACT_ABILITY_FLAG) == 0)
        return HEART_CONTACT_UNKNOWN;
    return (flags & CONTACT_SEEN_FLAG) != 0 ? HEART_CONTACT_GOOD : HEART_CONTACT_NONE;
}

static uint8_t flags_of(enum heart_contact contact)
{
    switch (contact) {
    case HEART_CONTACT_NONE: return CONTACT_ABILITY_FLAG;
    case HEART_CONTACT_GOOD: return CONTACT_ABILITY_FLAG | CONTACT_SEEN_FLAG;
    case HEART_CONTACT_UNKNOWN: break;
    }
    return 0;
}

static void take_intervals(struct bytes_reader *reader, struct heart_rate *heart)
{
    while (bytes_left(reader) >= 2 && heart->rr_count < HEART_RR_MAX)
        heart->rr_1024[heart->rr_count++] = bytes_u16(reader);
}

enum result heart_rate_decode(const uint8_t *value, size_t length, struct heart_rate *ret)
{
    struct bytes_reader reader = bytes_reader(value, length);
    uint8_t flags = bytes_u8(&reader);
    uint16_t heart_bpm = (flags & WIDE_VALUE_FLAG) != 0 ? bytes_u16(&reader) : bytes_u8(&reader);
    if (reader.failed)
        return RESULT_NEED_MORE;

    *ret = (struct heart_rate){.heart_bpm = heart_bpm, .contact = contact_of(flags)};
    if ((flags & ENERGY_FLAG) != 0) {
        ret->energy_kj = bytes_u16(&reader);
        ret->has_energy = !reader.failed;
    }
    if ((flags & RR_FLAG) != 0)
        take_intervals(&reader, ret);
    return RESULT_OK;
}

size_t heart_rate_encode(const struct heart_rate *heart, uint8_t *ret)
{
    struct bytes_writer writer = bytes_writer(ret, HEART_FRAME_MAX);
    bool is_wide = heart->heart_bpm > UINT8_MAX;
    uint8_t flags = flags_of(heart->contact);
    bytes_put_u8(&writer, 0);
    if (is_wide) {
        flags |= WIDE_VALUE_FLAG;
        bytes_put_u16(&writer, heart->heart_bpm);
    } else {
        bytes_put_u8(&writer, (uint8_t)heart->heart_bpm);
    }
    if (heart->has_energy) {
        flags |= ENERGY_FLAG;
        bytes_put_u16(&writer, heart->energy_kj);
    }
    for (size_t i = 0; i < heart->rr_count && writer.capacity - writer.length >= 2; i++) {
        flags |= RR_FLAG;
        bytes_put_u16(&writer, heart->rr_1024[i]);
    }
    ret[0] = flags;
    assert(!writer.failed);
    return writer.length;
}
