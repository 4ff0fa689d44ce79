#include "wire/cadence.h"

#include <assert.h>

#include "base/bytes.h"

/* The same bits in a measurement and in the feature. */
enum { WHEEL_FLAG = 1u << 0, CRANK_FLAG = 1u << 1 };

enum { WHEEL_OCTETS = 6 };

enum result cadence_decode(const uint8_t *value, size_t length, struct cadence_frame *ret)
{
    struct bytes_reader reader = bytes_reader(value, length);
    struct cadence_frame frame = {0};
    const uint8_t flags = bytes_u8(&reader);

    if ((flags & WHEEL_FLAG) != 0)
        (void)bytes_take(&reader, WHEEL_OCTETS);
    frame.has_crank = (flags & CRANK_FLAG) != 0;
    if (frame.has_crank) {
        frame.crank.turns = bytes_u16(&reader);
        frame.crank.t_1024 = bytes_u16(&reader);
    }
    if (reader.failed)
        return RESULT_NEED_MORE;
    *ret = frame;
    return RESULT_OK;
}

enum result cadence_feature_decode(const uint8_t *value, size_t length, bool *ret_counts_crank)
{
    struct bytes_reader reader = bytes_reader(value, length);
    const uint16_t features = bytes_u16(&reader);

    if (reader.failed)
        return RESULT_NEED_MORE;
    *ret_counts_crank = (features & CRANK_FLAG) != 0;
    return RESULT_OK;
}

size_t cadence_encode(struct crank_count crank, uint8_t *ret)
{
    struct bytes_writer writer = bytes_writer(ret, CADENCE_FRAME_MAX);

    bytes_put_u8(&writer, CRANK_FLAG);
    bytes_put_u16(&writer, crank.turns);
    bytes_put_u16(&writer, crank.t_1024);
    assert(!writer.failed);
    return writer.length;
}
