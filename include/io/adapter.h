/*
 * The Bluetooth adapters of this machine, and what keeps one from being used. Needs no privilege.
 */
#ifndef IO_ADAPTER_H
#define IO_ADAPTER_H

#include <stdint.h>

#include "port/scan.h"

/* The first adapter that is ready for LE, else the first one: SCAN_WORKS, or what is in its way.
 * `*ret_index` is written unless there is none at all (SCAN_NO_BLUETOOTH, SCAN_NO_ADAPTER). */
enum scan_trouble adapter_find(uint16_t *ret_index);

#endif
