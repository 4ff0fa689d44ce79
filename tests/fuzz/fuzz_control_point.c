/* Answers of the Fitness Machine Control Point: what is pending, then the value. */
#include "fuzz.h"
#include "wire/ftms_control_point.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct ftms_response response, again;
    uint8_t octets[FTMS_COMMAND_MAX];
    if (size == 0)
        return 0;
    if (ftms_decode_response(data + 1, size - 1, data[0], &response) != RESULT_OK)
        return 0;
    FUZZ_CHECK(size == 2 ? response.request == data[0] && response.result == data[1]
                         : response.request == data[2]);
    const size_t length = ftms_encode_response(response.request, response.result, octets);
    FUZZ_CHECK(length <= sizeof octets);
    FUZZ_CHECK(ftms_decode_response(octets, length, data[0], &again) == RESULT_OK);
    FUZZ_CHECK(again.request == response.request && again.result == response.result);
    return 0;
}
