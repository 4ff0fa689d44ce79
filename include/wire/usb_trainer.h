/*
 * A bike or trainer that is heard and told through one channel of an ANT receiver: asks what it is
 * able to do, hands on what it measures, tells it loads and hears how each went. Messages of that
 * channel and time in, messages and events out, each message whole and as octets
 * (wire/usb_frame.h); used like wire/ftms_client.h.
 *
 * One page is in the air at a time, as a channel has room for no more. A newer load takes the place
 * of one that waits, and goes out as soon as the one in the air is through. One that was not heard
 * is said again for as long as it is the newest: how long that may take is for the ride to judge.
 *
 * What answers a load is the trainer's status of its last command, asked for once the load was
 * acknowledged, where it names that very load. A trainer that acknowledges each request for it and
 * never tells it is taken by its acknowledgement of the load, and asked once after each all the
 * same: what it told may have been lost. A release waits for a status each time: once it passes for
 * taken, nobody says it any more.
 *
 * Source of what a channel does with a page to be acknowledged: ANT Message Protocol and Usage,
 * D00000652 Rev 5.1, sections 5 and 9.5 (from memory).
 */
#ifndef WIRE_USB_TRAINER_H
#define WIRE_USB_TRAINER_H

#include "wire/usb_equipment.h"
#include "wire/usb_pages.h"

enum usb_trainer_event_kind {
    USB_TRAINER_READY,  /* able; DATA may come before */
    USB_TRAINER_DATA,   /* data: what one page tells of it */
    USB_TRAINER_ANSWER, /* command, is_taken */
    USB_TRAINER_FAILED  /* reason: it is of no use. Close it; nothing follows. */
};

struct usb_trainer_data {
    bool has_power, has_cadence, has_distance, has_heart;
    int32_t power_w, cadence_rpm, heart_bpm;
    int32_t distance_m; /* since this link began */
};

struct usb_trainer_event {
    enum usb_trainer_event_kind kind;
    struct usb_capabilities able;
    struct usb_trainer_data data;
    struct usb_command command;
    bool is_taken;
    const char *reason; /* words for the rider, static */
};

/* ---- the inside; read it, don't write it ---- */

#define USB_TRAINER_EVENTS_MAX 8u

enum usb_flight { USB_FLIES_NOTHING, USB_FLIES_LOAD, USB_FLIES_STATUS_REQUEST, USB_FLIES_REQUEST };

struct usb_trainer {
    uint8_t channel;
    enum usb_flight flight; /* what is in the air, or about to be */
    bool is_unsent;
    uint64_t flight_until_ms; /* told nothing by then, it failed */
    /* What is still to be told, of how pages went: those before the one in the air, and its copies,
     * each said again. Told of one of these, it was heard. */
    uint8_t ends_before, ends_of_it;
    enum usb_flight last_flight; /* which it is, in the air or no longer */
    struct usb_command last_flown;
    uint64_t flown_t_ms;
    struct usb_command sent; /* the load in the air, or the one that waits for its status */
    struct usb_command next; /* page 0: none */
    bool waits_for_status;   /* `sent` was acknowledged */
    uint8_t requests;        /* for the page that is waited for now, acknowledged */
    uint64_t request_t_ms;   /* of the last of them */
    bool tells_status, tells_no_status;
    bool asks_all_the_same;         /* for its status, once, after a load that was taken without */
    bool has_answered, is_counting; /* its sequence was seen to move */
    uint8_t sequence;               /* of what it answered last */
    bool is_able_known, is_ready, is_bike, is_failed;
    struct usb_capabilities able;
    bool has_distance;
    uint8_t distance_at;
    int32_t distance_m;
    struct usb_trainer_event events[USB_TRAINER_EVENTS_MAX];
    uint8_t first_event, event_count;
    uint32_t lost_events; /* for which there was no room, as the caller did not drain */
};

/* On a link on which it was just heard. */
void usb_trainer_start(struct usb_trainer *trainer, uint8_t channel, uint64_t t_ms);
/* A message of its channel; what it does not know it passes over. */
void usb_trainer_receive(struct usb_trainer *trainer, uint64_t t_ms, const uint8_t *octets,
                         size_t length);
void usb_trainer_tick(struct usb_trainer *trainer, uint64_t t_ms);
void usb_trainer_command(struct usb_trainer *trainer, uint64_t t_ms,
                         const struct usb_command *command);
/* What is to be sent; its length, or 0. `ret` holds USB_FRAME_MAX. */
size_t usb_trainer_next_octets(struct usb_trainer *trainer, uint8_t *ret);
bool usb_trainer_next_event(struct usb_trainer *trainer, struct usb_trainer_event *ret);

/* The same of a load, for a process that is to send it if we cannot. */
size_t usb_trainer_encode(const struct usb_trainer *trainer, const struct usb_command *command,
                          uint8_t *ret);

#endif
