/*
 * An ANT receiver on USB: the octets of its two bulk pipes. What it sends comes as chunks that are
 * split anywhere; what is sent goes out in order, each send a transfer of its own.
 *
 * libusb lists, claims and transfers; its descriptors are in the loop. A pipe that stalls or breaks
 * off is set going again, a few times in a row at most. A receiver that was pulled out closes the
 * link; opening another one is how it comes back.
 */
#ifndef IO_LINK_USB_H
#define IO_LINK_USB_H

#include "io/loop.h"
#include "port/link.h"

#define LINK_USB_SEND_MAX  64u /* octets of one send; longer ones are RESULT_RANGE */
#define LINK_USB_QUEUE_MAX 16u /* sends that wait for the receiver; more are RESULT_FULL */

/* Takes the receiver at `place` (io/usb_list.h), or, with NULL, the first that nobody else has, in
 * the order of usb_list(). A kernel driver that has it gives it up until the link is closed. On
 * failure NULL, and *ret_why says why in words for the rider (static). */
struct link *link_usb_open(struct loop *loop, const char *place, const struct link_user *user,
                           const char **ret_why);

#endif
