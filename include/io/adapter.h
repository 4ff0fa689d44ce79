/*
 * The Bluetooth adapters of this machine, and what keeps one from being used. Needs no privilege.
 */
#ifndef IO_ADAPTER_H
#define IO_ADAPTER_H

#include <stdbool.h>
#include <stdint.h>

#include "base/device.h"
#include "io/usb_list.h"
#include "port/scan.h"

/* SCAN_WORKS, or what is in the way of this one; SCAN_NO_ADAPTER: it is not there. */
enum scan_trouble adapter_check(uint16_t index);
/* Its own address, for links that are to go through it; false when it has none that is fixed. */
bool adapter_address(uint16_t index, struct device_address *ret);

/* The first adapter that is ready for LE, else the first one: SCAN_WORKS, or what is in its way.
 * `*ret_index` is written unless there is none at all (SCAN_NO_BLUETOOTH, SCAN_NO_ADAPTER). */
enum scan_trouble adapter_find(uint16_t *ret_index);

/* SCAN_WORKS: it said its version, which anybody may ask for. SCAN_SILENT: it did not, in 2.5 s;
 * the kernel itself waits for 2 s (HCI_CMD_TIMEOUT of Linux 6.12). SCAN_FAILED: it cannot be asked,
 * as one that is off. */
enum scan_trouble adapter_answers(uint16_t index);
/* Where it is on USB, as io/usb_list.h has it; false when it is elsewhere. */
bool adapter_usb_place(uint16_t index, char ret[USB_PLACE_SIZE]);

#endif
