#include "wire/ftms_control_point.h"

#include "base/bytes.h"

enum result ftms_decode_response(const uint8_t *value, size_t length, uint8_t pending,
                                 struct ftms_response *ret)
{
    if (length == 0 || (length == 1 && value[0] == FTMS_RESPONSE_CODE))
        return RESULT_NEED_MORE;
    if (length == 1) {
        *ret = (struct ftms_response){.request = pending, .result = value[0]};
        return RESULT_OK;
    }
    if (value[0] != FTMS_RESPONSE_CODE)
        return RESULT_INVALID;
    uint8_t result = length > 2 ? value[2] : FTMS_OPERATION_FAILED;
    *ret = (struct ftms_response){.request = value[1], .result = result};
    return RESULT_OK;
}

size_t ftms_encode_plain(uint8_t opcode, uint8_t *ret)
{
    ret[0] = opcode;
    return 1;
}

size_t ftms_encode_stop(bool pause, uint8_t *ret)
{
    ret[0] = FTMS_STOP_OR_PAUSE;
    ret[1] = pause ? FTMS_PAUSE : FTMS_STOP;
    return 2;
}

size_t ftms_encode_power(int16_t power_w, uint8_t *ret)
{
    struct bytes_writer writer = bytes_writer(ret, FTMS_COMMAND_MAX);
    bytes_put_u8(&writer, FTMS_SET_POWER);
    bytes_put_s16(&writer, power_w);
    return writer.length;
}

static uint8_t clip_to_octet(int16_t value)
{
    if (value < 0)
        return 0;
    return value > UINT8_MAX ? UINT8_MAX : (uint8_t)value;
}

size_t ftms_encode_resistance(int16_t level_tenths, unsigned octets, uint8_t *ret)
{
    struct bytes_writer writer = bytes_writer(ret, FTMS_COMMAND_MAX);
    bytes_put_u8(&writer, FTMS_SET_RESISTANCE);
    if (octets == 1)
        bytes_put_u8(&writer, clip_to_octet(level_tenths));
    else
        bytes_put_s16(&writer, level_tenths);
    return writer.length;
}

size_t ftms_encode_response(uint8_t request, uint8_t result, uint8_t *ret)
{
    ret[0] = FTMS_RESPONSE_CODE;
    ret[1] = request;
    ret[2] = result;
    return 3;
}
