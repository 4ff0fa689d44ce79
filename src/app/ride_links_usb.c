#include "ride_links_usb.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "app/command.h"
#include "io/usb_replay.h"
#include "ride_links_again.h"
#include "ui/wrap.h"
#include "usb_key.h"

/* As long as one over the air that was of no use is let be (io/dialer.c). */
#define USELESS_PAUSE_MS 3000u

/* Behind the name of the other capture. */
#define USB_CAPTURE_ENDING ".usb.pcap"

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

/* ---- captures ---- */

static void on_capture_ended(void *user, int error)
{
    const struct ride_links *links = user;
    complain("%s: the capture ends here: %s; the ride goes on without it", links->usb_capture_path,
             strerror(error));
}

/* btsnoop has no room for USB: it goes to a file beside that of the attributes. */
static bool open_capture(struct ride_links *links)
{
    if (!capture_is_file(links->capture)) {
        complain("--capture %s: what is said on USB is not captured: it takes a file beside it",
                 links->capture_path);
        return true;
    }
    if (asprintf(&links->usb_capture_path, "%s" USB_CAPTURE_ENDING, links->capture_path) < 0) {
        links->usb_capture_path = NULL;
        complain("out of memory");
        return false;
    }
    links->usb_capture = capture_new(links->session->loop, links->usb_capture_path, CAPTURE_USB,
                                     on_capture_ended, links);
    if (links->usb_capture == NULL)
        complain("--capture %s: %s: %s%s", links->capture_path, links->usb_capture_path,
                 strerror(errno), errno == EEXIST ? "; choose another name" : "");
    return links->usb_capture != NULL;
}

/* For the peer of the receiver, or the tap before it. */
static struct link_user user_of(struct ride_links *links)
{
    struct capture_tap *tap = &links->usb_tap;

    if (links->usb_capture == NULL)
        return usb_peer_user(&links->session->usb);
    tap->capture = links->usb_capture;
    tap->user = usb_peer_user(&links->session->usb);
    return capture_tap_user(tap);
}

/* ---- opening ---- */

/* What a trainer was told then has its answers at times that are of that ride alone. */
static bool is_recorded_bike(const struct link_address *address)
{
    return address->kind == LINK_ADDRESS_USB && address->path != NULL &&
           usb_replay_is_file(address->path);
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
    if (is_recorded_bike(&options->bike_address)) {
        complain("--bike %s: sensors can be heard again from a capture of USB, a bike cannot be "
                 "ridden again; over Bluetooth it can",
                 options->bike);
        return false;
    }
    if (links->capture != NULL && !open_capture(links))
        return false;
    usb_key_put(links->usb_key, setup.key);
    peer->setup = setup;
    links->usb.loop = session->loop;
    links->usb.retrying = on_retrying;
    links->usb.address = *wanted.address;
    links->usb.user = user_of(links);
    if (!dial(links, options, &wanted))
        return false;
    peer->link = ride_links_tapped(&links->usb_tap, &links->usb.link);
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
    wrap_put(output_sink(output), line, (size_t)length, 0);
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
