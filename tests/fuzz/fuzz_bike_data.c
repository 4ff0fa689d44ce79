/* Indoor Bike Data: a row of frames, each a length and its octets, put together to records. */
#include <stdlib.h>
#include <string.h>

#include "fuzz.h"
#include "wire/ftms_bike_data.h"

static void check_way_back(const struct ftms_bike_data *data)
{
    uint8_t octets[FTMS_BIKE_DATA_MAX], again[FTMS_BIKE_DATA_MAX];
    struct ftms_bike_data back;
    const size_t length = ftms_encode_bike_data(data, octets);
    FUZZ_CHECK(length <= sizeof octets);
    FUZZ_CHECK(ftms_decode_bike_data(octets, length, &back) == RESULT_OK);
    FUZZ_CHECK(back.has == data->has && !back.is_short);
    FUZZ_CHECK(ftms_encode_bike_data(&back, again) == length);
    FUZZ_CHECK(memcmp(octets, again, length) == 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct bytes_reader reader = bytes_reader(data, size);
    struct ftms_record record = {0};
    uint32_t had = 0;
    while (bytes_left(&reader) > 0) {
        size_t length = bytes_u8(&reader);
        length = length < bytes_left(&reader) ? length : bytes_left(&reader);
        uint8_t *frame = malloc(length > 0 ? length : 1);
        FUZZ_CHECK(frame != NULL);
        memcpy(frame, bytes_take(&reader, length), length);
        struct ftms_bike_data part, whole;
        const enum result result = ftms_decode_bike_data(frame, length, &part);
        free(frame);
        FUZZ_CHECK((result == RESULT_OK) == (length >= 2));
        if (result != RESULT_OK)
            continue;
        check_way_back(&part);
        had |= part.has;
        const bool is_closed = ftms_record_add(&record, &part, &whole);
        FUZZ_CHECK(is_closed == !part.more_data);
        if (is_closed) {
            FUZZ_CHECK(whole.has == had);
            check_way_back(&whole);
            had = 0;
        }
    }
    return 0;
}
