/*
 * What a machine, a strap and sensors of ours say of themselves in the air: advertising structures,
 * each a length, a type and data. The kernel puts the flags before them.
 *
 * Source: Supplement to the Bluetooth Core Specification, part A; Fitness Machine Service 1.0.1,
 * section 3.
 */
#ifndef WIRE_PERIPHERAL_DATA_H
#define WIRE_PERIPHERAL_DATA_H

#include <stddef.h>
#include <stdint.h>

#define PERIPHERAL_DATA_MAX 31u /* octets that one report holds */

/* The services of what it offers (1 << enum device_kind), and that a machine is a bike which is
 * free. Gives the length. */
size_t peripheral_data_encode(uint32_t offers, uint8_t ret[PERIPHERAL_DATA_MAX]);
/* The name, cut to what there is room for. */
size_t peripheral_response_encode(const char *name, uint8_t ret[PERIPHERAL_DATA_MAX]);

#endif
