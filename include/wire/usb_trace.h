/*
 * Captures of what a computer and an ANT receiver on USB say to each other: a pcap file of bulk
 * transfers, as Linux's usbmon gives them, for Wireshark and tcpdump to read.
 *
 * Source: the file, draft-ietf-opsawg-pcap (version 2.4, microseconds); link type 220,
 * LINKTYPE_USB_LINUX_MMAPPED of www.tcpdump.org/linktypes.html; the 64 octets before the data,
 * Linux Documentation/usb/usbmon.rst, struct usbmon_packet. All numbers little-endian, as on the
 * machines that we run on.
 */
#ifndef WIRE_USB_TRACE_H
#define WIRE_USB_TRACE_H

#include <stdbool.h>

#include "base/bytes.h"
#include "base/result.h"

#define USB_TRACE_HEADER_OCTETS 24u
#define USB_TRACE_DATA_MAX      512u /* of one transfer of ours */
#define USB_TRACE_RECORD_MAX    (16u + 64u + USB_TRACE_DATA_MAX)
#define USB_TRACE_LEAST_OCTETS  (16u + 64u + 1u) /* of a transfer */

void usb_trace_put_header(struct bytes_writer *writer);
/* A transfer of at most USB_TRACE_DATA_MAX octets. The key of the network is not written: its
 * message goes out whole in a transfer of its own, and zeros stand in its place. */
void usb_trace_put(struct bytes_writer *writer, int64_t time_us, bool by_receiver,
                   const uint8_t *octets, size_t length);

struct usb_trace_record {
    bool is_transfer; /* of bulk, with data; of the first device that sent or got a message */
    bool by_receiver;
    int64_t time_us;       /* since 1970 */
    const uint8_t *octets; /* borrowed */
    size_t length;
};

struct usb_trace_reader {
    struct bytes_reader bytes;
    uint32_t device; /* bus and number, 0: none yet */
};

/* RESULT_INVALID: no pcap file. RESULT_UNSUPPORTED: of another order of octets, resolution or link
 * type. `data` is borrowed. */
MUST_USE enum result usb_trace_open(const uint8_t *data, size_t length,
                                    struct usb_trace_reader *ret);
/* RESULT_NOT_FOUND at the end, RESULT_NEED_MORE where the file ends within a record,
 * RESULT_INVALID for a record that is none. */
MUST_USE enum result usb_trace_next(struct usb_trace_reader *reader, struct usb_trace_record *ret);

#endif
