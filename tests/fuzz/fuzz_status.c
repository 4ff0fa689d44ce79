/* What else a fitness machine says in one value: status, training status, feature, ranges. The
 * first octet says which. */
#include "fuzz.h"
#include "wire/ftms.h"

static void read_training(const uint8_t *value, size_t length)
{
    struct ftms_training_status training;
    if (ftms_decode_training_status(value, length, &training) != RESULT_OK)
        return;
    if (training.text == NULL)
        return;
    const uint8_t *text = (const uint8_t *)training.text;
    FUZZ_CHECK(text >= value && training.text_length <= (size_t)(value + length - text));
}

static void read_range(uint16_t characteristic, const uint8_t *value, size_t length)
{
    struct ftms_range range;
    if (ftms_decode_range(characteristic, value, length, &range) == RESULT_OK)
        FUZZ_CHECK(range.minimum < range.maximum);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct ftms_status status;
    struct ftms_feature feature;
    if (size == 0)
        return 0;
    const uint8_t *value = data + 1;
    const size_t length = size - 1;
    switch (data[0]) {
    case 0:
        if (ftms_decode_status(value, length, &status) == RESULT_OK)
            FUZZ_CHECK(status.opcode == value[0]);
        break;
    case 1: read_training(value, length); break;
    case 2:
        FUZZ_CHECK((ftms_decode_feature(value, length, &feature) == RESULT_OK) == (length >= 8));
        break;
    case 3: read_range(FTMS_POWER_RANGE, value, length); break;
    default: read_range(FTMS_RESISTANCE_RANGE, value, length); break;
    }
    return 0;
}
