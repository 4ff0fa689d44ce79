#include "ride_links_usb.h"

#include <limits.h>

#include "app/command.h"

static void on_retrying(void *user, const char *why)
{
    (void)user;
    complain("the receiver on USB: %s (trying again)", why);
}

/* Without the key, a sensor that was asked for is no small thing; one that was only remembered is
 * left out. */
static bool is_without_key(bool is_asked_for)
{
    char path[PATH_MAX] = "the settings file";

    (void)!config_path("rider", path, sizeof path);
    complain("sensors on USB need the network key of their makers, who license it; where you have "
             "it, 'afterset rider usb-network-key 0123456789ABCDEF' keeps it in %s%s",
             path, is_asked_for ? "" : "; the ride goes on without those sensors");
    return is_asked_for;
}

static void set_key(struct usb_receiver_setup *setup, uint64_t key)
{
    for (size_t i = USB_KEY_SIZE; i-- > 0; key >>= 8)
        setup->key[i] = (uint8_t)key;
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
        setup->ids[i].number = sensor->address.usb_number;
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
    if (links->usb_key == 0)
        return !is_without_key(!named->is_remembered);
    set_key(&setup, links->usb_key);
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
