#include "usb_scan.h"

#include "usb_key.h"

#define TICK_MS 250u

static void stop(struct usb_scan *scan, const char *why)
{
    usb_scan_end(scan);
    scan->problem = why;
}

static void report(struct usb_scan *scan, unsigned channel, uint16_t number)
{
    static const enum device_kind kinds[USB_CHANNEL_COUNT] = {
        [SENSOR_STRAP] = DEVICE_STRAP,
        [SENSOR_POWER] = DEVICE_POWER,
        [SENSOR_CADENCE] = DEVICE_CADENCE,
        [USB_CHANNEL_MACHINE] = DEVICE_MACHINE,
    };
    const struct sighting sighting = {
        .address = {{(uint8_t)number, (uint8_t)(number >> 8)}, ADDRESS_USB},
        .offers = 1u << kinds[channel],
    };

    scan->seen(scan->user, &sighting);
}

static void send(struct usb_scan *scan, const uint8_t *octets, size_t length)
{
    if (scan->is_open && link_send(&scan->dialer.link, octets, length) == RESULT_FULL)
        stop(scan, "the receiver does not take what is sent to it");
}

static void pump_receiver(struct usb_scan *scan)
{
    uint8_t octets[USB_FRAME_MAX];
    struct usb_receiver_event event;

    for (size_t length; (length = usb_receiver_next_octets(&scan->receiver, octets)) > 0;)
        send(scan, octets, length);
    while (scan->is_open && usb_receiver_next_event(&scan->receiver, &event)) {
        if (event.kind == USB_RECEIVER_FOUND)
            report(scan, event.channel, event.id.number);
        else if (event.kind == USB_RECEIVER_FAILED)
            stop(scan, event.reason);
    }
}

/* Others are about too: what it is nobody says who is not of a kind of ours. */
static void heard(struct usb_scan *scan, struct usb_sensor_id id)
{
    switch (id.type) {
    case USB_TYPE_HEART: report(scan, SENSOR_STRAP, id.number); return;
    case USB_TYPE_POWER: report(scan, SENSOR_POWER, id.number); return;
    case USB_TYPE_EQUIPMENT: report(scan, USB_CHANNEL_MACHINE, id.number); return;
    case USB_TYPE_SPEED_CADENCE:
    case USB_TYPE_CADENCE: report(scan, SENSOR_CADENCE, id.number); return;
    default: return;
    }
}

static void pump_listener(struct usb_scan *scan)
{
    uint8_t octets[USB_FRAME_MAX];
    struct usb_listener_event event;

    for (size_t length; (length = usb_listener_next_octets(&scan->listener, octets)) > 0;)
        send(scan, octets, length);
    while (scan->is_open && usb_listener_next_event(&scan->listener, &event)) {
        switch (event.kind) {
        case USB_LISTENER_HEARD: heard(scan, event.id); break;
        case USB_LISTENER_UNABLE:
            scan->hears_all = false;
            usb_receiver_start(&scan->receiver, &scan->setup, loop_now_ms(scan->loop));
            break;
        case USB_LISTENER_FAILED: stop(scan, event.reason); break;
        }
    }
}

static void pump(struct usb_scan *scan)
{
    if (scan->hears_all)
        pump_listener(scan);
    if (!scan->hears_all)
        pump_receiver(scan);
}

static void on_tick(void *user)
{
    struct usb_scan *scan = user;

    scan->timer = loop_set_timer(scan->loop, loop_now_ms(scan->loop) + TICK_MS, on_tick, scan);
    if (scan->hears_all)
        usb_listener_tick(&scan->listener, loop_now_ms(scan->loop));
    else
        usb_receiver_tick(&scan->receiver, loop_now_ms(scan->loop));
    pump(scan);
}

static void on_opened(void *user)
{
    struct usb_scan *scan = user;

    scan->is_open = true;
    if (scan->hears_all)
        usb_listener_start(&scan->listener, scan->setup.key, loop_now_ms(scan->loop));
    else
        usb_receiver_start(&scan->receiver, &scan->setup, loop_now_ms(scan->loop));
    on_tick(scan);
}

static void on_received(void *user, const uint8_t *octets, size_t length)
{
    struct usb_scan *scan = user;

    if (scan->hears_all)
        usb_listener_receive(&scan->listener, loop_now_ms(scan->loop), octets, length);
    else
        usb_receiver_receive(&scan->receiver, loop_now_ms(scan->loop), octets, length);
    pump(scan);
}

static void on_closed(void *user, const char *why)
{
    stop(user, why);
}

static bool wants_any(const struct usb_receiver_setup *setup)
{
    bool wants = false;

    for (unsigned channel = 0; channel < USB_CHANNEL_COUNT; channel++)
        wants = wants || setup->is_wanted[channel];
    return wants;
}

/* A trainer is the machine then, and no sensor of power beside it. */
static void want_all(struct usb_receiver_setup *setup)
{
    for (unsigned channel = 0; channel < USB_CHANNEL_COUNT; channel++)
        setup->is_wanted[channel] = true;
    setup->ids[SENSOR_POWER].type = USB_TYPE_POWER;
}

bool usb_scan_begin(struct usb_scan *scan, const struct link_address *receiver, uint64_t key)
{
    scan->hears_all = !wants_any(&scan->setup);
    if (scan->hears_all)
        want_all(&scan->setup);
    usb_key_put(key, scan->setup.key);
    scan->dialer = (struct dialer){.loop = scan->loop,
                                   .address = *receiver,
                                   .user = {on_opened, on_received, on_closed, scan}};
    dialer_dial(&scan->dialer, 0);
    scan->problem = dialer_problem(&scan->dialer);
    if (scan->problem != NULL)
        usb_scan_end(scan);
    return scan->problem == NULL;
}

void usb_scan_end(struct usb_scan *scan)
{
    dialer_hang_up(&scan->dialer);
    if (scan->timer != 0)
        loop_cancel_timer(scan->loop, scan->timer);
    scan->timer = 0;
    scan->is_open = false;
}

const char *usb_scan_problem(const struct usb_scan *scan)
{
    return scan->problem;
}
