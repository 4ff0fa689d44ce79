#include "ride_links_again.h"

#include "ride_links_usb.h"

/* No longer than a ride waits for a link that it has lost. */
#define CALL_AGAIN_LIMIT_MS 60000u

struct link *ride_links_tapped(struct capture_tap *tap, struct link *link)
{
    return tap->capture == NULL ? link : capture_tap_over(tap, link);
}

/* What is lost, to be called again. */
struct lost {
    struct dialer *dialer;
    struct capture_tap *tap;
    struct link **link;
    bool was_ready;
    const char *failure;
};

static struct lost lost_machine(struct ride_links *links)
{
    struct machine_peer *machine = &links->session->machine;

    return (struct lost){&links->bike, &links->bike_tap, &machine->link, machine->is_ready,
                         machine->failure};
}

static struct lost lost_sensor(struct ride_links *links, enum sensor_kind kind)
{
    struct sensor_peer *peer = &links->session->sensors[kind];

    return (struct lost){&links->sensors[kind], &links->sensor_taps[kind], &peer->link,
                         peer->is_ready, peer->failure};
}

static struct lost lost_usb(struct ride_links *links)
{
    struct usb_peer *peer = &links->session->usb;

    return (struct lost){&links->usb, &links->usb_tap, &peer->link, peer->is_ready, peer->failure};
}

static struct lost lost_of(struct ride_links *links, enum link_source source)
{
    const struct usb_receiver_setup *usb = &links->session->usb.setup;

    for (enum sensor_kind i = SENSOR_STRAP; i < SENSOR_KIND_COUNT; i++)
        if (sensor_link_source(i) == source)
            return usb->is_wanted[i] ? lost_usb(links) : lost_sensor(links, i);
    return usb->is_wanted[USB_CHANNEL_MACHINE] ? lost_usb(links) : lost_machine(links);
}

static void dial_again(const struct lost *lost, enum link_source source)
{
    /* A receiver is lost once, however much was heard through it, or not at all. The bike is called
     * as long as the ride waits for it: the rider may pair it meanwhile. */
    if (lost->dialer->address.kind == LINK_ADDRESS_NONE || *lost->link != NULL ||
        (source != LINK_MACHINE && dialer_is_refused(lost->dialer)))
        return;
    *lost->link = ride_links_tapped(lost->tap, &lost->dialer->link);
    lost->dialer->retrying = NULL; /* that it is lost and called is on the screen */
    if (lost->was_ready)
        dialer_dial(lost->dialer, CALL_AGAIN_LIMIT_MS);
    else
        dialer_dial_later(lost->dialer, CALL_AGAIN_LIMIT_MS, lost->failure);
}

static void call_again(void *user, enum link_source source)
{
    struct ride_links *links = user;
    const struct lost lost = lost_of(links, source);

    dial_again(&lost, source);
    if (source == LINK_MACHINE)
        ride_links_call_bike_on_usb(links);
}

/* How long in all is for the ride to judge, which waits for its machine. */
static void call_bike_anew(void *user)
{
    struct ride_links *links = user;
    struct machine_peer *machine = &links->session->machine;

    machine->link = ride_links_tapped(&links->bike_tap, &links->bike.link);
    if (dialer_is_refused(&links->bike))
        machine_peer_fail(machine, machine->failure);
    else
        dialer_dial_later(&links->bike, CALL_LIMIT_MS, machine->failure);
}

static void call_usb_bike_anew(void *user)
{
    call_again(user, LINK_MACHINE);
}

/* What is spoken with it goes by the way to it, as does what becomes of it. */
static void set_up_machine(struct ride_links *links, const struct ride_options *options,
                           struct machine_peer *machine)
{
    const enum link_address_kind kind = options->bike_address.kind;
    const bool is_usb = kind == LINK_ADDRESS_USB;

    machine->protocol = is_usb ? &machine_trainer : &machine_ftms;
    machine->state = is_usb ? (void *)&links->session->trainer : (void *)&links->session->ftms;
    if (is_usb)
        machine->call_anew = call_usb_bike_anew;
    else if (kind == LINK_ADDRESS_UNIX || kind == LINK_ADDRESS_BLUETOOTH)
        machine->call_anew = call_bike_anew;
    machine->call_user = links;
    machine->is_on_air = is_usb || kind == LINK_ADDRESS_BLUETOOTH;
    machine->may_have_past = kind == LINK_ADDRESS_BLUETOOTH;
}

void ride_links_set_up_calls(struct ride_links *links, const struct ride_options *options)
{
    links->session->call_again = call_again;
    links->session->call_again_user = links;
    set_up_machine(links, options, &links->session->machine);
}
