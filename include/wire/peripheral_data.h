/*
 * What a machine and a strap of ours say of themselves in the air: advertising structures, each a
 * length, a type and data. The kernel puts the flags before them.
 *
 * Source: Supplement to the Bluetooth Core Specification, part A; Fitness Machine Service 1.0.1,
 * section 3.
 */
#ifndef WIRE_PERIPHERAL_DATA_H
#define WIRE_PERIPHERAL_DATA_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define PERIPHERAL_DATA_MAX 31u /* octets that one report holds */

/* The services, and that the machine is a bike which is free. Gives the length. */
size_t peripheral_data_encode(bool is_machine, bool is_strap, uint8_t ret[PERIPHERAL_DATA_MAX]);
/* The name, cut to what there is room for. */
size_t peripheral_response_encode(const char *name, uint8_t ret[PERIPHERAL_DATA_MAX]);

#endif
