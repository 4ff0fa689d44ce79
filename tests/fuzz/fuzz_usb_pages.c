/* The pages of a sensor on ANT, and the readings that are made of them. The first octet of each
 * says of which type; what is missing of a page is zero. */
#include <string.h>

#include "fuzz.h"
#include "wire/usb_effort.h"

static const enum usb_device_type types[] = {USB_TYPE_POWER, USB_TYPE_EQUIPMENT,
                                             USB_TYPE_SPEED_CADENCE, USB_TYPE_CADENCE};
#define TYPES (sizeof types / sizeof types[0])

struct talk {
    struct usb_effort efforts[TYPES];
    struct usb_pulse pulse;
    uint64_t told_t_ms[TYPES];
};

static void hear(struct talk *talk, uint64_t t_ms, uint8_t type, const uint8_t *page)
{
    struct sensor_effort told;
    uint16_t bpm;

    if (type == TYPES) {
        FUZZ_CHECK(!usb_pulse_take(&talk->pulse, t_ms, page, &bpm) || bpm > 0);
        return;
    }
    if (!usb_effort_take(&talk->efforts[type], types[type], t_ms, page, &told))
        return;
    FUZZ_CHECK(talk->told_t_ms[type] == 0 || t_ms - talk->told_t_ms[type] >= USB_READING_MS);
    FUZZ_CHECK(told.has_power || told.has_cadence);
    FUZZ_CHECK(told.power_w >= 0);
    FUZZ_CHECK(told.cadence_rpm >= 0 && told.cadence_rpm <= CRANK_RPM_MAX);
    FUZZ_CHECK(!told.has_cadence || told.cadence_rpm > 0 || told.power_w == 0);
    talk->told_t_ms[type] = t_ms;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct bytes_reader reader = bytes_reader(data, size);
    struct talk talk = {0};
    struct fuzz_pdu pdu;
    uint64_t t_ms = 1;

    while (fuzz_next_pdu(&reader, &pdu)) {
        t_ms += pdu.pause_ms;
        if (pdu.length > 0) {
            uint8_t page[USB_PAGE_SIZE] = {0};
            const size_t given = pdu.length - 1;
            memcpy(page, pdu.octets + 1, given < sizeof page ? given : sizeof page);
            hear(&talk, t_ms, pdu.octets[0] % (TYPES + 1), page);
        }
        fuzz_pdu_free(&pdu);
    }
    return 0;
}
