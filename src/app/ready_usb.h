/*
 * What afterset ready says of USB: receivers for ANT sensors, and Bluetooth adapters, one of which
 * may be reset.
 */
#ifndef APP_READY_USB_H
#define APP_READY_USB_H

#include <stdbool.h>
#include <stdint.h>

#include "ready_lines.h"

/* And whether sensors can be heard through them; a key of 0: there is none. `is_wanted`: a sensor
 * on USB is remembered. */
void ready_tell_receivers(struct ready_lines *lines, uint64_t network_key, bool is_wanted);
/* What keeps adapters on USB from being used, beyond what the kernel's Bluetooth says of them. */
void ready_tell_adapters(struct ready_lines *lines, bool has_bluetooth);
/* An adapter that does not answer; where a person sits at a terminal, he is asked whether it is to
 * be reset. */
void ready_tell_silent(struct ready_lines *lines, uint16_t index);
/* Resets the adapters on USB, asked or not. False, with a complaint: none was reset. */
bool ready_reset_adapters(void);

#endif
