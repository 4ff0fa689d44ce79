/*
 * An ANT receiver as a client sees it: started anew, given the key of the network, told to listen
 * for one sensor of each kind that is wanted, and for the machine. Octets and time in, octets and
 * events out.
 *
 * Each has a channel of its own, which searches for the types of sensors that measure
 * it, 10 s at a time, or 5 s each in turn where there are two, as long as it takes. A sensor of any
 * number is taken, unless one was asked for; the one that was found is kept to, also when it falls
 * silent and is searched for anew. How fresh readings are is for the ride to judge: a sensor that
 * falls silent is no event. A machine that the receiver has lost is one: what it was told last is
 * not known to stand any more.
 *
 * With the machine one speaks as well (wire/usb_trainer.h): the messages of its channel are handed
 * on, and what is said to it goes to the receiver besides.
 *
 * The order of configuration: ANT Message Protocol and Usage, D00000652 Rev 5.1, section 5.3, and
 * the maker's answer in its technical questions ("to configure a single ANT channel you need to").
 */
#ifndef WIRE_USB_RECEIVER_H
#define WIRE_USB_RECEIVER_H

#include "wire/usb_effort.h"

#define USB_KEY_SIZE 8u

/* A channel has the number of its kind of sensor, and the machine's comes after those. */
enum { USB_CHANNEL_MACHINE = SENSOR_KIND_COUNT, USB_CHANNEL_COUNT };

/* 0 in either: any. */
struct usb_sensor_id {
    uint16_t number;
    uint8_t type; /* enum usb_device_type */
};

struct usb_receiver_setup {
    uint8_t key[USB_KEY_SIZE]; /* of the network */
    bool is_wanted[USB_CHANNEL_COUNT];
    struct usb_sensor_id ids[USB_CHANNEL_COUNT];
};

enum usb_receiver_event_kind {
    USB_RECEIVER_READY,   /* it took the key, and searches */
    USB_RECEIVER_FOUND,   /* channel, id; the number of a sensor is 0 where it is not told */
    USB_RECEIVER_HEART,   /* channel, heart_bpm; may come before FOUND, as EFFORT may */
    USB_RECEIVER_EFFORT,  /* channel, effort */
    USB_RECEIVER_MESSAGE, /* of the machine's channel, after FOUND: frame */
    USB_RECEIVER_LOST,    /* the machine, until there is another MESSAGE */
    USB_RECEIVER_FAILED   /* reason: it is of no use. Close it; nothing follows. */
};

struct usb_receiver_event {
    enum usb_receiver_event_kind kind;
    unsigned channel;
    struct usb_sensor_id id;
    uint16_t heart_bpm;
    struct sensor_effort effort;
    struct usb_frame frame;
    const char *reason; /* words for the rider, static */
};

/* ---- the inside; read it, don't write it ---- */

enum usb_receiver_phase { USB_PHASE_RESET, USB_PHASE_KEY, USB_PHASE_CHANNELS };

/* What a channel is told next, in this order. */
enum usb_channel_step {
    USB_STEP_ASSIGN,
    USB_STEP_ID,
    USB_STEP_PERIOD,
    USB_STEP_FREQUENCY,
    USB_STEP_SEARCH_TIME,
    USB_STEP_OPEN,
    USB_STEP_LISTEN /* nothing: it is open */
};

struct usb_channel {
    enum usb_channel_step step;
    struct usb_sensor_id id; /* what it listens for; the number may still be 0 */
    bool wants_id;           /* to be asked which sensor it heard */
    bool is_found, found_is_due, heart_is_due, effort_is_due;
    bool is_tracked;     /* heard, and not lost since */
    uint64_t heard_t_ms; /* anything of it */
    struct usb_pulse pulse;
    struct usb_effort effort;
    uint16_t heart_bpm;
    struct sensor_effort last_effort;
};

#define USB_MESSAGES_MAX 8u

/* What is handed through. Of more than it has room for the newest is kept. */
struct usb_passage {
    struct usb_frame list[USB_MESSAGES_MAX];
    uint8_t first, count;
    bool lost_is_due;
};

struct usb_receiver {
    struct usb_receiver_setup setup;
    enum usb_receiver_phase phase;
    struct usb_channel channels[USB_CHANNEL_COUNT];
    struct usb_passage passage;
    struct usb_decoder decoder;
    struct usb_frame asked; /* waits for an answer while is_asking */
    bool is_asking, is_unsent;
    uint8_t tries, restarts;
    uint64_t asked_t_ms;
    bool ready_is_due, failure_is_told;
    const char *failure; /* NULL: none */
};

void usb_receiver_start(struct usb_receiver *receiver, const struct usb_receiver_setup *setup,
                        uint64_t t_ms);
/* Octets as they come, split anyhow. */
void usb_receiver_receive(struct usb_receiver *receiver, uint64_t t_ms, const uint8_t *octets,
                          size_t length);
void usb_receiver_tick(struct usb_receiver *receiver, uint64_t t_ms);
/* What is to be sent; its length, or 0. `ret` holds USB_FRAME_MAX. */
size_t usb_receiver_next_octets(struct usb_receiver *receiver, uint8_t *ret);
/* Of readings that nobody took the newest is kept. */
bool usb_receiver_next_event(struct usb_receiver *receiver, struct usb_receiver_event *ret);

#endif
