/* A table of blocks written down by hand: what is taken keeps to its limits, a fault has a place.
 */
#include <string.h>

#include "fuzz.h"
#include "text/hand.h"

static void check_block(const struct hand_block *block)
{
    FUZZ_CHECK(block->date.set && block->date.month >= 1 && block->date.month <= 12);
    FUZZ_CHECK(block->date.day >= 1 && block->date.day <= 31 && block->date.hour <= 23);
    FUZZ_CHECK(block->duration_s >= HAND_DURATION_MIN_S &&
               block->duration_s <= HAND_DURATION_MAX_S);
    FUZZ_CHECK(block->work_j > 0 && block->work_j / block->duration_s <= 2500);
    FUZZ_CHECK(block->power_w <= 2500 && block->feel <= 5 && block->effort <= 10);
    FUZZ_CHECK(memchr(block->profile, '\0', sizeof block->profile) != NULL);
    FUZZ_CHECK(memchr(block->bike, '\0', sizeof block->bike) != NULL);
    FUZZ_CHECK(memchr(block->note, '\0', sizeof block->note) != NULL);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct hand_table table;
    struct hand_block block;
    struct text_fault fault = {0};
    uint32_t line = 0, before = 0;
    enum result result = hand_table_open((const char *)data, size, &table, &fault);

    while (result == RESULT_OK) {
        result = hand_table_next(&table, &block, &line, &fault);
        if (result != RESULT_OK)
            break;
        check_block(&block);
        FUZZ_CHECK(line > before);
        before = line;
    }
    if (result != RESULT_NOT_FOUND)
        FUZZ_CHECK(fault.line > before && fault.column > 0 && fault.message[0] != '\0');
    return 0;
}
