#include "ride_links_usb.h"

#include <stdio.h>

#include "app/command.h"
#include "usb_key.h"

/* As long as one over the air that was of no use is let be (io/dialer.c). */
#define USELESS_PAUSE_MS 3000u

static void on_retrying(void *user, const char *why)
{
    (void)user;
    complain("the receiver on USB: %s (trying again)", why);
}

struct wanted {
    const struct link_address *address; /* NULL: nothing is on USB */
    const char *option, *name;
    bool is_remembered; /* and could be done without */
};

static void want(struct usb_receiver_setup *setup, unsigned channel,
                 const struct link_address *address)
{
    setup->is_wanted[channel] = true;
    setup->ids[channel].number = device_address_usb(&address->device);
}

/* What was asked for, the bike first, else what is remembered. */
static struct wanted want_usb(struct usb_receiver_setup *setup, const struct ride_options *options)
{
    struct wanted wanted = {.is_remembered = true};

    for (enum sensor_kind i = SENSOR_STRAP; i < SENSOR_KIND_COUNT; i++) {
        const struct ride_sensor *sensor = &options->sensors[i];
        if (sensor->address.kind != LINK_ADDRESS_USB)
            continue;
        want(setup, i, &sensor->address);
        if (wanted.address == NULL || (wanted.is_remembered && !sensor->is_remembered))
            wanted = (struct wanted){&sensor->address, ride_sensor_names[i].option, sensor->name,
                                     sensor->is_remembered};
    }
    if (options->bike_address.kind == LINK_ADDRESS_USB) {
        want(setup, USB_CHANNEL_MACHINE, &options->bike_address);
        wanted = (struct wanted){&options->bike_address, "--bike", options->bike, false};
    }
    return wanted;
}

/* A receiver for what is only remembered may still be plugged in; so may that of a remembered bike,
 * which is waited for. */
static bool dial(struct ride_links *links, const struct ride_options *options,
                 const struct wanted *wanted)
{
    const bool is_kept_bike = options->bike == options->bike_text;

    if (!wanted->is_remembered && !(wanted->address == &options->bike_address && is_kept_bike))
        return ride_links_dial(&links->usb, 0, wanted->option, wanted->name);
    dialer_dial(&links->usb, CALL_LIMIT_MS);
    return true;
}

bool ride_links_open_usb(struct ride_links *links, const struct ride_options *options)
{
    struct session *session = links->session;
    struct usb_peer *peer = &session->usb;
    struct usb_receiver_setup setup = {0};
    const struct wanted wanted = want_usb(&setup, options);

    if (wanted.address == NULL)
        return true;
    /* One that was only remembered is left out; one that was asked for is no small thing. */
    if (links->usb_key == 0) {
        usb_key_complain(wanted.is_remembered ? "; the ride goes on without those sensors" : "");
        return wanted.is_remembered;
    }
    usb_key_put(links->usb_key, setup.key);
    peer->setup = setup;
    links->usb.loop = session->loop;
    links->usb.retrying = on_retrying;
    links->usb.address = *wanted.address;
    links->usb.user = usb_peer_user(peer);
    if (!dial(links, options, &wanted))
        return false;
    peer->link = &links->usb.link;
    if (setup.is_wanted[USB_CHANNEL_MACHINE])
        session->machine.link = usb_peer_call_machine(peer, 0);
    return true;
}

void ride_links_call_bike_on_usb(struct ride_links *links)
{
    struct session *session = links->session;

    if (session->usb.setup.is_wanted[USB_CHANNEL_MACHINE])
        session->machine.link =
            usb_peer_call_machine(&session->usb, session->machine.is_ready ? 0 : USELESS_PAUSE_MS);
}

static void tell_found(struct output *output, const char *word, const char *option, uint16_t number,
                       const struct link_address *asked)
{
    char line[80];

    if (number == 0 || device_address_usb(&asked->device) != 0)
        return;
    const int length =
        snprintf(line, sizeof line, "That %s was number %u: '%s usb:%u' takes no other.\n", word,
                 number, option, number);
    output_put(output, line, (size_t)length);
}

void ride_links_tell_found(const struct ride_links *links, const struct ride_options *options,
                           struct output *output)
{
    const struct usb_sensor_id *ids = links->session->usb.setup.ids;

    tell_found(output, "bike", "--bike", ids[USB_CHANNEL_MACHINE].number, &options->bike_address);
    for (enum sensor_kind i = SENSOR_STRAP; i < SENSOR_KIND_COUNT; i++)
        tell_found(output, ride_sensor_names[i].word, ride_sensor_names[i].option, ids[i].number,
                   &options->sensors[i].address);
}
