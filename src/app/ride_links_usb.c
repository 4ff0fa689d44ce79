#include "ride_links_usb.h"

#include <stdio.h>

#include "app/command.h"
#include "usb_key.h"

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
    usb_key_put(links->usb_key, setup.key);
    peer->setup = setup;
    links->usb.loop = links->session->loop;
    links->usb.retrying = on_retrying;
    links->usb.address = named->address;
    links->usb.user = usb_peer_user(peer);
    if (named->is_remembered)
        dialer_dial(&links->usb, CALL_LIMIT_MS);
    else if (!ride_links_dial(&links->usb, 0, option, named->name))
        return false;
    peer->link = &links->usb.link;
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
