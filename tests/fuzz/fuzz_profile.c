/* Profile files. One that is taken makes a plan for every rider with a critical power, and is given
 * back as it came. */
#include <string.h>

#include "fuzz.h"
#include "text/profile.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct profile profile;
    static struct plan plan;
    struct text_fault fault = {0};
    if (profile_read((const char *)data, size, &profile, &fault) != RESULT_OK) {
        FUZZ_CHECK(fault.line > 0 && fault.column > 0 && fault.message[0] != '\0');
        return 0;
    }
    if (size <= PROFILE_FILE_MAX) {
        static char written[PROFILE_FILE_MAX + 1];
        struct text_writer writer = text_writer(written, sizeof written);
        FUZZ_CHECK(profile_write(&profile, (const char *)data, size, &writer) == RESULT_OK);
        FUZZ_CHECK(writer.length == size && memcmp(written, data, size) == 0);
    }
    const struct rider rider = {.critical_power_w = 200};
    FUZZ_CHECK(profile_plan(&profile, &rider, &plan) == RESULT_OK);
    FUZZ_CHECK(plan.step_count > 0 && plan.step_count <= PLAN_STEPS_MAX);
    FUZZ_CHECK(plan_work_ms(&plan) > 0 && plan_work_ms(&plan) <= plan_length_ms(&plan));
    FUZZ_CHECK(plan_length_ms(&plan) <= plan_duration_ms(&plan));
    return 0;
}
