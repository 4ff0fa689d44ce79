/*
 * What the pages of one sensor of power or cadence on ANT come to: about one reading a second of
 * the four pages that are sent in it, each the mean since the last, however many were lost.
 *
 * A crank whose sensor speaks and counts nothing new for CRANK_STILL_MS stands still (common
 * practice): power and cadence are 0 then. Until then the last reading holds, with a cadence that
 * falls.
 */
#ifndef WIRE_USB_EFFORT_H
#define WIRE_USB_EFFORT_H

#include "wire/sensor_client.h"
#include "wire/usb_pages.h"

/* A little less than a second, as four pages take 0.98 to 1.00 s. */
#define USB_READING_MS 900u

/* Zero it for each sensor. */
struct usb_effort {
    struct crank crank;
    struct usb_power power;
    struct usb_torque torque;
    bool has_power, has_torque; /* a base to count from */
    uint64_t power_t_ms, torque_t_ms;
    struct sensor_effort now; /* as far as it is known */
    bool is_known, is_told;
    uint64_t moved_t_ms, told_t_ms;
};

/* Whether it is time for a reading, and there is one. Times never go back. */
bool usb_effort_take(struct usb_effort *effort, enum usb_device_type type, uint64_t t_ms,
                     const uint8_t page[USB_PAGE_SIZE], struct sensor_effort *ret);

/* The same of a strap, whose heart beats: a strap that repeats the same beat says nothing. */
struct usb_pulse {
    bool has_base, is_told;
    uint8_t beats; /* up to the last reading */
    uint64_t told_t_ms;
};

bool usb_pulse_take(struct usb_pulse *pulse, uint64_t t_ms, const uint8_t page[USB_PAGE_SIZE],
                    uint16_t *ret_bpm);

#endif
