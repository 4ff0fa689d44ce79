#include "ride_links_usb.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "app/command.h"
#include "usb_key.h"

/* Behind the name of the other capture. */
#define USB_CAPTURE_ENDING ".usb.pcap"

static void on_retrying(void *user, const char *why)
{
    (void)user;
    complain("the receiver on USB: %s (trying again)", why);
}

/* The sensor that was asked for, else the first that is remembered; NULL: none is on USB. */
static const struct ride_sensor *want_usb(struct usb_receiver_setup *setup,
                                          const struct ride_options *options,
                                          const char **ret_option)
{
    const struct ride_sensor *named = NULL;

    for (enum sensor_kind i = SENSOR_STRAP; i < SENSOR_KIND_COUNT; i++) {
        const struct ride_sensor *sensor = &options->sensors[i];
        if (sensor->address.kind != LINK_ADDRESS_USB)
            continue;
        setup->is_wanted[i] = true;
        setup->ids[i].number = device_address_usb(&sensor->address.device);
        if (named == NULL || (named->is_remembered && !sensor->is_remembered)) {
            named = sensor;
            *ret_option = ride_sensor_names[i].option;
        }
    }
    return named;
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
        complain("--capture %s: what sensors on USB say is not captured: it takes a file beside it",
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

/* A receiver for what is only remembered may still be plugged in. */
bool ride_links_open_usb(struct ride_links *links, const struct ride_options *options)
{
    struct usb_peer *peer = &links->session->usb;
    struct usb_receiver_setup setup = {0};
    const char *option = NULL;
    const struct ride_sensor *named = want_usb(&setup, options, &option);

    if (named == NULL)
        return true;
    /* One that was only remembered is left out; one that was asked for is no small thing. */
    if (links->usb_key == 0) {
        usb_key_complain(named->is_remembered ? "; the ride goes on without those sensors" : "");
        return named->is_remembered;
    }
    if (links->capture != NULL && !open_capture(links))
        return false;
    usb_key_put(links->usb_key, setup.key);
    peer->setup = setup;
    links->usb.loop = links->session->loop;
    links->usb.retrying = on_retrying;
    links->usb.address = named->address;
    links->usb.user = user_of(links);
    if (named->is_remembered)
        dialer_dial(&links->usb, CALL_LIMIT_MS);
    else if (!ride_links_dial(&links->usb, 0, option, named->name))
        return false;
    peer->link = links->usb_capture != NULL ? capture_tap_over(&links->usb_tap, &links->usb.link)
                                            : &links->usb.link;
    return true;
}

void ride_links_tell_found(const struct ride_links *links, const struct ride_options *options,
                           struct output *output)
{
    for (enum sensor_kind i = SENSOR_STRAP; i < SENSOR_KIND_COUNT; i++) {
        const uint16_t number = links->session->usb.setup.ids[i].number;
        const struct link_address *address = &options->sensors[i].address;
        char line[80];
        if (number == 0 || device_address_usb(&address->device) != 0)
            continue;
        const int length =
            snprintf(line, sizeof line, "That %s was number %u: '%s usb:%u' takes no other.\n",
                     ride_sensor_names[i].word, number, ride_sensor_names[i].option, number);
        output_put(output, line, (size_t)length);
    }
}
