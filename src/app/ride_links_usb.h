/*
 * The part of a ride's links that goes over a receiver on USB, and what it shares with the rest.
 */
#ifndef APP_RIDE_LINKS_USB_H
#define APP_RIDE_LINKS_USB_H

#include "ride_links.h"

/* Shorter than the ride itself waits for its machine, so that there are words for the end. */
#define CALL_LIMIT_MS 50000u

/* Complains and gives false when the ride cannot begin; nothing to do where nothing is on USB. */
bool ride_links_open_usb(struct ride_links *links, const struct ride_options *options);
/* The bike that was lost, where it is on USB: listened for again, at once where it was of use. Its
 * receiver is for ride_links to dial. */
void ride_links_call_bike_on_usb(struct ride_links *links);

/* Which ones were taken where any would have done, after a ride. */
void ride_links_tell_found(const struct ride_links *links, const struct ride_options *options,
                           struct output *output);

/* Complains and gives false when it fails at once. */
bool ride_links_dial(struct dialer *dialer, uint64_t limit_ms, const char *option,
                     const char *name);

#endif
