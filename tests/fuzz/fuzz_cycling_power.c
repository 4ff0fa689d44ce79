/* Cycling Power Measurement. */
#include "fuzz.h"
#include "wire/cycling_power.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct cycling_power power, again;
    uint8_t octets[CYCLING_POWER_FRAME_MAX];
    if (cycling_power_decode(data, size, &power) != RESULT_OK)
        return 0;
    const size_t length = cycling_power_encode(&power, octets);
    FUZZ_CHECK(length <= sizeof octets && length <= size);
    FUZZ_CHECK(cycling_power_decode(octets, length, &again) == RESULT_OK);
    FUZZ_CHECK(again.power_w == power.power_w && again.has_crank == power.has_crank);
    FUZZ_CHECK(again.crank.turns == power.crank.turns);
    FUZZ_CHECK(again.crank.t_1024 == power.crank.t_1024);
    return 0;
}
