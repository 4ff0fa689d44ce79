/* The file of remembered devices: what was read can be written, and is read the same. */
#include <string.h>

#include "fuzz.h"
#include "text/devices.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct devices devices, back;
    struct text_fault fault = {0};
    char text[DEVICES_FILE_MAX], again[DEVICES_FILE_MAX];
    if (devices_read((const char *)data, size, &devices, &fault) != RESULT_OK) {
        FUZZ_CHECK(fault.line > 0 && fault.message[0] != '\0');
        return 0;
    }
    FUZZ_CHECK(devices_write(&devices, text, sizeof text) == RESULT_OK);
    FUZZ_CHECK(devices_read(text, strlen(text), &back, &fault) == RESULT_OK);
    FUZZ_CHECK(devices_write(&back, again, sizeof again) == RESULT_OK);
    FUZZ_CHECK(strcmp(text, again) == 0);
    for (size_t i = 0; i < DEVICE_KIND_COUNT; i++)
        FUZZ_CHECK(device_address_is(&devices.list[i].address, &back.list[i].address));
    return 0;
}
