/*
 * Fitness equipment with control on ANT: what a trainer says beside its power (wire/usb_pages.h),
 * and what it is told. Pages of 8 octets to structs and back.
 *
 * Sources. The pages that are told and the status of a command: the public library openant
 * (devices/fitness_equipment.py); the request for a page: its devices/common.py, and
 * ant_common_page_70 of the public nRF5 SDK 14. General data: the public library ant-plus
 * (fitness-equipment-sensors). Capabilities: the public library libantplus (plus/page.py).
 */
#ifndef WIRE_USB_EQUIPMENT_H
#define WIRE_USB_EQUIPMENT_H

#include "base/result.h"
#include "wire/usb_frame.h"

enum usb_equipment_page {
    USB_PAGE_GENERAL = 0x10,
    USB_PAGE_RESISTANCE = 0x30,
    USB_PAGE_TARGET_POWER = 0x31,
    USB_PAGE_CAPABILITIES = 0x36,
    USB_PAGE_REQUEST = 0x46,
    USB_PAGE_COMMAND_STATUS = 0x47
};

struct usb_general {
    bool is_bike;       /* or a trainer, and not something to run or row on */
    bool has_distance;  /* then: */
    uint8_t distance_m; /* since it was switched on; wraps */
    bool has_heart;     /* measured at the machine, or by a strap that it hears; then: */
    uint8_t heart_bpm;
};

/* RESULT_UNSUPPORTED: another page, here and below. */
MUST_USE enum result usb_general_decode(const uint8_t page[USB_PAGE_SIZE], struct usb_general *ret);

struct usb_capabilities {
    uint16_t resistance_max_n; /* at 100 %; 0: it does not say */
    bool takes_resistance, takes_power, takes_simulation;
};

MUST_USE enum result usb_capabilities_decode(const uint8_t page[USB_PAGE_SIZE],
                                             struct usb_capabilities *ret);

/* A load. Zeroed: none. */
struct usb_command {
    uint8_t page;   /* USB_PAGE_RESISTANCE or USB_PAGE_TARGET_POWER */
    uint16_t value; /* 0.5 % of the most, up to USB_RESISTANCE_MAX; or 0.25 W */
};
#define USB_RESISTANCE_MAX 200u
#define USB_POWER_MAX      16000u /* 4000 W */

/* `ret` holds USB_PAGE_SIZE octets, as below. */
void usb_command_encode(const struct usb_command *command, uint8_t *ret);

enum usb_command_result {
    USB_COMMAND_PASSED = 0,
    USB_COMMAND_FAILED = 1,
    USB_COMMAND_NOT_SUPPORTED = 2,
    USB_COMMAND_REJECTED = 3,
    USB_COMMAND_PENDING = 4,
    USB_COMMAND_NONE = 255 /* none has come yet */
};

/* Of the last command that came, from whomever; a value of 0 of a page that is none of ours. */
struct usb_command_status {
    struct usb_command command;
    uint8_t sequence; /* goes up by one with each command; wraps */
    uint8_t result;   /* enum usb_command_result */
};

MUST_USE enum result usb_command_status_decode(const uint8_t page[USB_PAGE_SIZE],
                                               struct usb_command_status *ret);

/* Asks for a page, to be sent once. */
void usb_request_encode(enum usb_equipment_page wanted, uint8_t *ret);

#endif
