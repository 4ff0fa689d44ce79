/* CSC Measurement, frame after frame, and the cadence that is made of them. */
#include "fuzz.h"
#include "wire/cadence.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct bytes_reader reader = bytes_reader(data, size);
    struct crank crank = {0};
    struct fuzz_pdu pdu;
    uint64_t t_ms = 0;

    while (fuzz_next_pdu(&reader, &pdu)) {
        struct cadence_frame frame;
        int32_t rpm;
        t_ms += pdu.pause_ms;
        if (cadence_decode(pdu.octets, pdu.length, &frame) == RESULT_OK && frame.has_crank &&
            crank_take(&crank, t_ms, frame.crank, &rpm))
            FUZZ_CHECK(rpm >= 0 && rpm <= CRANK_RPM_MAX);
        fuzz_pdu_free(&pdu);
    }
    return 0;
}
