/* Reports of what is in the air: a length and a report, then the next of the same device. */
#include <stdlib.h>
#include <string.h>

#include "base/device.h"
#include "fuzz.h"
#include "text/devices.h"
#include "text/utf8.h"
#include "wire/advertisement.h"

static void check_name(const struct advertisement *known)
{
    char name[DEVICE_NAME_SIZE];
    FUZZ_CHECK(known->name_length <= ADVERTISEMENT_NAME_MAX);
    device_name_from(known->name, known->name_length, name);
    const size_t length = strlen(name);
    FUZZ_CHECK(length < sizeof name);
    for (size_t at = 0; at < length;) {
        const size_t octets = utf8_character(name + at, length - at);
        FUZZ_CHECK(octets > 0);
        at += octets;
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct bytes_reader reader = bytes_reader(data, size);
    struct advertisement known = {0};
    while (bytes_left(&reader) > 0) {
        size_t length = bytes_u8(&reader);
        length = length < bytes_left(&reader) ? length : bytes_left(&reader);
        uint8_t *report = malloc(length > 0 ? length : 1);
        FUZZ_CHECK(report != NULL);
        memcpy(report, bytes_take(&reader, length), length);
        const uint32_t offered = known.offers;
        advertisement_read(&known, report, length);
        free(report);
        FUZZ_CHECK((known.offers & offered) == offered); /* nothing is forgotten */
        check_name(&known);
    }
    return 0;
}
