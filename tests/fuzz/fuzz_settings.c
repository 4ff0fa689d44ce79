/* The rider's file: what was read can be written, and is read the same. */
#include <string.h>

#include "fuzz.h"
#include "text/settings.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct settings settings, back;
    struct text_fault fault = {0};
    char text[SETTINGS_FILE_MAX], again[SETTINGS_FILE_MAX];
    if (settings_read((const char *)data, size, &settings, &fault) != RESULT_OK) {
        FUZZ_CHECK(fault.line > 0 && fault.message[0] != '\0');
        return 0;
    }
    FUZZ_CHECK(settings_write(&settings, text, sizeof text) == RESULT_OK);
    FUZZ_CHECK(settings_read(text, strlen(text), &back, &fault) == RESULT_OK);
    FUZZ_CHECK(settings_write(&back, again, sizeof again) == RESULT_OK);
    FUZZ_CHECK(strcmp(text, again) == 0);
    return 0;
}
