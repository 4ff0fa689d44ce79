#include "wire/ftms.h"

#include "base/bytes.h"

#define TRAINING_TEXT_FLAG     0x01u
#define TRAINING_EXTENDED_FLAG 0x02u

enum result ftms_decode_feature(const uint8_t *value, size_t length, struct ftms_feature *ret)
{
    struct bytes_reader reader = bytes_reader(value, length);
    struct ftms_feature feature = {.machine = bytes_u32(&reader), .target = bytes_u32(&reader)};
    if (reader.failed)
        return RESULT_NEED_MORE;
    *ret = feature;
    return RESULT_OK;
}

static struct ftms_range take_octets(struct bytes_reader *reader)
{
    struct ftms_range range = {0};
    range.minimum = bytes_u8(reader);
    range.maximum = bytes_u8(reader);
    range.increment = bytes_u8(reader);
    return range;
}

static struct ftms_range take_unsigned(struct bytes_reader *reader)
{
    struct ftms_range range = {0};
    range.minimum = bytes_u16(reader);
    range.maximum = bytes_u16(reader);
    range.increment = bytes_u16(reader);
    return range;
}

static struct ftms_range take_signed(struct bytes_reader *reader)
{
    struct ftms_range range = {0};
    range.minimum = bytes_s16(reader);
    range.maximum = bytes_s16(reader);
    range.increment = bytes_u16(reader);
    return range;
}

unsigned ftms_resistance_octets(size_t range_length)
{
    return range_length >= 3 && range_length < 6 ? 1 : 2;
}

enum result ftms_decode_range(uint16_t characteristic, const uint8_t *value, size_t length,
                              struct ftms_range *ret)
{
    struct bytes_reader reader = bytes_reader(value, length);
    struct ftms_range range;
    switch (characteristic) {
    case FTMS_SPEED_RANGE: range = take_unsigned(&reader); break;
    case FTMS_INCLINATION_RANGE:
    case FTMS_POWER_RANGE: range = take_signed(&reader); break;
    case FTMS_RESISTANCE_RANGE:
        range = ftms_resistance_octets(length) == 1 ? take_octets(&reader) : take_signed(&reader);
        break;
    case FTMS_HEART_RATE_RANGE: range = take_octets(&reader); break;
    default: return RESULT_UNSUPPORTED;
    }
    if (reader.failed)
        return RESULT_NEED_MORE;
    if (range.minimum >= range.maximum)
        return RESULT_RANGE;
    if (range.increment == 0)
        range.increment = 1;
    *ret = range;
    return RESULT_OK;
}

/* The number an event carries. Resistance is one octet in 1.0 and two in 1.0.1 (erratum 10194). */
static int32_t take_parameter(struct bytes_reader *reader, uint8_t opcode)
{
    switch (opcode) {
    case FTMS_STATUS_STOPPED_BY_USER: return bytes_u8(reader);
    case FTMS_STATUS_POWER_CHANGED: return bytes_s16(reader);
    case FTMS_STATUS_RESISTANCE_CHANGED:
        return bytes_left(reader) == 1 ? bytes_u8(reader) : bytes_s16(reader);
    default: reader->failed = true; return 0;
    }
}

enum result ftms_decode_status(const uint8_t *value, size_t length, struct ftms_status *ret)
{
    struct bytes_reader reader = bytes_reader(value, length);
    struct ftms_status status = {.opcode = bytes_u8(&reader)};
    if (reader.failed)
        return RESULT_NEED_MORE;
    status.parameter = take_parameter(&reader, status.opcode);
    status.has_parameter = !reader.failed;
    *ret = status;
    return RESULT_OK;
}

enum result ftms_decode_training_status(const uint8_t *value, size_t length,
                                        struct ftms_training_status *ret)
{
    struct bytes_reader reader = bytes_reader(value, length);
    uint8_t flags = bytes_u8(&reader);
    struct ftms_training_status training = {
        .status = bytes_u8(&reader),
        .is_longer = (flags & TRAINING_EXTENDED_FLAG) != 0,
    };
    if (reader.failed)
        return RESULT_NEED_MORE;
    if ((flags & TRAINING_TEXT_FLAG) != 0 && bytes_left(&reader) > 0) {
        training.text_length = bytes_left(&reader);
        training.text = (const char *)bytes_take(&reader, training.text_length);
    }
    *ret = training;
    return RESULT_OK;
}
