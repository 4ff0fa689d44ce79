#include "wire/cycling_power.h"

#include <assert.h>

#include "base/bytes.h"

enum {
    BALANCE_FLAG = 1u << 0, /* bit 1 says of which pedal */
    TORQUE_FLAG = 1u << 2,  /* bit 3 says where */
    WHEEL_FLAG = 1u << 4,
    CRANK_FLAG = 1u << 5
};

enum { BALANCE_OCTETS = 1, TORQUE_OCTETS = 2, WHEEL_OCTETS = 6 };

/* Behind the crank come only fields that nobody here reads. */
static size_t octets_before_crank(uint16_t flags)
{
    return ((flags & BALANCE_FLAG) != 0 ? BALANCE_OCTETS : 0u) +
           ((flags & TORQUE_FLAG) != 0 ? TORQUE_OCTETS : 0u) +
           ((flags & WHEEL_FLAG) != 0 ? WHEEL_OCTETS : 0u);
}

enum result cycling_power_decode(const uint8_t *value, size_t length, struct cycling_power *ret)
{
    struct bytes_reader reader = bytes_reader(value, length);
    const uint16_t flags = bytes_u16(&reader);
    const int16_t power_w = bytes_s16(&reader);
    if (reader.failed)
        return RESULT_NEED_MORE;

    *ret = (struct cycling_power){.power_w = power_w};
    if ((flags & CRANK_FLAG) == 0)
        return RESULT_OK;
    (void)bytes_take(&reader, octets_before_crank(flags));
    const uint16_t turns = bytes_u16(&reader);
    const uint16_t t_1024 = bytes_u16(&reader);
    if (reader.failed)
        return RESULT_OK;
    ret->has_crank = true;
    ret->crank = (struct crank_count){turns, t_1024};
    return RESULT_OK;
}

size_t cycling_power_encode(const struct cycling_power *power, uint8_t *ret)
{
    struct bytes_writer writer = bytes_writer(ret, CYCLING_POWER_FRAME_MAX);

    bytes_put_u16(&writer, power->has_crank ? CRANK_FLAG : 0);
    bytes_put_s16(&writer, power->power_w);
    if (power->has_crank) {
        bytes_put_u16(&writer, power->crank.turns);
        bytes_put_u16(&writer, power->crank.t_1024);
    }
    assert(!writer.failed);
    return writer.length;
}
