/* Heart Rate Measurement. */
#include "fuzz.h"
#include "wire/heart_rate.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct heart_rate heart, again;
    uint8_t octets[HEART_FRAME_MAX];
    if (heart_rate_decode(data, size, &heart) != RESULT_OK)
        return 0;
    FUZZ_CHECK((size_t)heart.rr_count * 2 <= size);
    const size_t length = heart_rate_encode(&heart, octets);
    FUZZ_CHECK(length <= sizeof octets);
    FUZZ_CHECK(heart_rate_decode(octets, length, &again) == RESULT_OK);
    FUZZ_CHECK(again.heart_bpm == heart.heart_bpm && again.contact == heart.contact);
    FUZZ_CHECK(again.has_energy == heart.has_energy && again.energy_kj == heart.energy_kj);
    FUZZ_CHECK(again.rr_count <= heart.rr_count);
    for (size_t i = 0; i < again.rr_count; i++)
        FUZZ_CHECK(again.rr_1024[i] == heart.rr_1024[i]);
    return 0;
}
