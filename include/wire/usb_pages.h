/*
 * What sensors say on ANT: pages of 8 octets, four times a second, heard or lost. Octets to
 * structs.
 *
 * Sources. Device types, periods, the frequency, and the fields and units of heart rate, power,
 * torque, speed and cadence: the public documentation of the ANT profiles in the nRF5 SDK 14
 * (ant_hrm, ant_bpwr, ant_bsc). The places of the fields within a page, and fitness equipment: the
 * public library openant (devices/heart_rate.py and its neighbours).
 *
 * Octet 0 is the number of the page. Sensors of heart rate and cadence had none at first: they
 * flip the highest bit of it every fourth page once they have (forum of the protocol's owner, "page
 * change toggle"). What is read of those two stands in octets that all their pages share, so
 * neither number nor bit matters here.
 */
#ifndef WIRE_USB_PAGES_H
#define WIRE_USB_PAGES_H

#include "base/result.h"
#include "wire/crank.h"
#include "wire/usb_frame.h"

#define USB_FREQUENCY_MHZ 57u /* above 2400: every profile below */

enum usb_device_type {
    USB_TYPE_POWER = 11,
    USB_TYPE_EQUIPMENT = 17,
    USB_TYPE_HEART = 120,
    USB_TYPE_SPEED_CADENCE = 121,
    USB_TYPE_CADENCE = 122
};

/* How often it sends, in 1/32768 s. 0: no type of ours. */
uint16_t usb_type_period(uint8_t type);

struct usb_heart {
    uint16_t beat_t_1024; /* of the last beat, 1/1024 s; wraps */
    uint8_t beats;        /* wraps */
    uint8_t heart_bpm;    /* 0: it cannot tell */
};

void usb_heart_decode(const uint8_t page[USB_PAGE_SIZE], struct usb_heart *ret);

/* The turns of a crank, from either type of sensor of cadence. */
void usb_cadence_decode(enum usb_device_type type, const uint8_t page[USB_PAGE_SIZE],
                        struct crank_count *ret);

/* What it takes to tell the mean power since an earlier page, however many were lost between. */
struct usb_power {
    uint8_t events;   /* how often it measured; wraps */
    uint16_t sum_w;   /* of all it measured; wraps */
    uint16_t power_w; /* the last */
    bool has_power, has_sum;
    bool has_cadence;
    uint8_t cadence_rpm;
};

/* Power alone, of a sensor of power (page 10 hex), or of a trainer (19) or a bike (15), which has
 * no sum. RESULT_UNSUPPORTED: another page, of which nothing is wanted. */
MUST_USE enum result usb_power_decode(enum usb_device_type type, const uint8_t page[USB_PAGE_SIZE],
                                      struct usb_power *ret);

struct usb_torque {
    uint8_t events;
    uint8_t turns;        /* of wheel or crank; wraps */
    uint16_t period_2048; /* all of them together, 1/2048 s; wraps */
    uint16_t torque_32;   /* summed up once an event, 1/32 Nm; wraps */
    bool is_crank;
    bool has_cadence;
    uint8_t cadence_rpm;
};

/* Torque at the wheel (page 11 hex) or the crank (12). RESULT_UNSUPPORTED: another page. */
MUST_USE enum result usb_torque_decode(const uint8_t page[USB_PAGE_SIZE], struct usb_torque *ret);

#endif
