/*
 * The links of a ride: to the bike, which may be the virtual one in this process, and to the strap
 * and the sensors, some of which may share a receiver on USB.
 */
#ifndef APP_RIDE_LINKS_H
#define APP_RIDE_LINKS_H

#include "io/capture.h"
#include "io/dialer.h"
#include "io/virtual_bike_serve.h"
#include "ride_options.h"
#include "session.h"

/* Zero it. It must not move, and outlives the session's use of the links. */
struct ride_links {
    struct dialer bike, sensors[SENSOR_KIND_COUNT], usb;
    uint64_t usb_key;                      /* set where it is known; see text/settings.h */
    struct capture *capture, *usb_capture; /* NULL: nothing is captured */
    struct capture_tap bike_tap, sensor_taps[SENSOR_KIND_COUNT], usb_tap;
    const char *capture_path;
    char *usb_capture_path;  /* owned */
    struct session *session; /* borrowed */
    struct virtual_bike_host *host;
    bool bike_is_ours; /* virtual, here or in another process of this program, or recorded */
};

/* Opens what answers at once: the virtual bike, and sockets. Each complains and gives false when
 * the ride cannot begin. */
bool ride_links_open(struct ride_links *links, const struct ride_options *options,
                     struct session *session);
/* Begins to call Bluetooth devices, once nothing keeps the rider waiting any more. */
bool ride_links_call(struct ride_links *links, const struct ride_options *options);
void ride_links_close(struct ride_links *links);

#endif
