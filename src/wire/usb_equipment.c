#include "wire/usb_equipment.h"

#include <string.h>

#include "base/bytes.h"

#define RESERVED 0xFFu

/* Of general data, octet 1 and octet 7. */
#define KIND_MASK    0x1Fu
#define KIND_BIKE    21u
#define KIND_TRAINER 25u
#define HEART_MASK   0x03u /* where the heart rate is from; 0: from nowhere */
#define HAS_DISTANCE 0x04u
#define NO_HEART     0xFFu

#define TAKES_RESISTANCE 0x01u
#define TAKES_POWER      0x02u
#define TAKES_SIMULATION 0x04u
#define NO_RESISTANCE    0xFFFFu

#define ONCE         0x01u /* and need not be acknowledged */
#define REQUEST_PAGE 0x01u

static bool begins_with(const uint8_t page[USB_PAGE_SIZE], enum usb_equipment_page number)
{
    return page[0] == number;
}

enum result usb_general_decode(const uint8_t page[USB_PAGE_SIZE], struct usb_general *ret)
{
    const uint8_t kind = page[1] & KIND_MASK, flags = page[7];

    if (!begins_with(page, USB_PAGE_GENERAL))
        return RESULT_UNSUPPORTED;
    *ret = (struct usb_general){
        .is_bike = kind == KIND_BIKE || kind == KIND_TRAINER,
        .has_distance = (flags & HAS_DISTANCE) != 0,
        .distance_m = page[3],
        .has_heart = (flags & HEART_MASK) != 0 && page[6] != NO_HEART && page[6] != 0,
        .heart_bpm = page[6],
    };
    return RESULT_OK;
}

enum result usb_capabilities_decode(const uint8_t page[USB_PAGE_SIZE], struct usb_capabilities *ret)
{
    struct bytes_reader reader = bytes_reader(page + 5, USB_PAGE_SIZE - 5);

    if (!begins_with(page, USB_PAGE_CAPABILITIES))
        return RESULT_UNSUPPORTED;
    const uint16_t most_n = bytes_u16(&reader);
    const uint8_t modes = bytes_u8(&reader);
    *ret = (struct usb_capabilities){
        .resistance_max_n = most_n != NO_RESISTANCE ? most_n : 0,
        .takes_resistance = (modes & TAKES_RESISTANCE) != 0,
        .takes_power = (modes & TAKES_POWER) != 0,
        .takes_simulation = (modes & TAKES_SIMULATION) != 0,
    };
    return RESULT_OK;
}

void usb_command_encode(const struct usb_command *command, uint8_t *ret)
{
    memset(ret, RESERVED, USB_PAGE_SIZE);
    ret[0] = command->page;
    ret[7] = (uint8_t)command->value;
    if (command->page != USB_PAGE_TARGET_POWER)
        return;
    ret[6] = (uint8_t)command->value;
    ret[7] = (uint8_t)(command->value >> 8);
}

enum result usb_command_status_decode(const uint8_t page[USB_PAGE_SIZE],
                                      struct usb_command_status *ret)
{
    if (!begins_with(page, USB_PAGE_COMMAND_STATUS))
        return RESULT_UNSUPPORTED;
    *ret = (struct usb_command_status){
        .command.page = page[1], .sequence = page[2], .result = page[3]};
    if (ret->command.page == USB_PAGE_RESISTANCE)
        ret->command.value = page[7];
    else if (ret->command.page == USB_PAGE_TARGET_POWER)
        ret->command.value = (uint16_t)(page[6] | page[7] << 8);
    return RESULT_OK;
}

void usb_request_encode(enum usb_equipment_page wanted, uint8_t *ret)
{
    memset(ret, RESERVED, USB_PAGE_SIZE);
    ret[0] = USB_PAGE_REQUEST;
    ret[5] = ONCE;
    ret[6] = (uint8_t)wanted;
    ret[7] = REQUEST_PAGE;
}
