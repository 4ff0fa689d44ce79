/*
 * The opening of a GATT client: MTU exchange, services, characteristics, descriptors; and whether
 * what it found is still true.
 */
#ifndef SRC_WIRE_GATT_DISCOVERY_H
#define SRC_WIRE_GATT_DISCOVERY_H

#include "base/bytes.h"
#include "wire/gatt_client_layout.h"

bool gatt_discovery_is_under_way(const struct gatt_client *client);

/* Tables that were found are to be confirmed by the hash: for when no request is outstanding. */
void gatt_discovery_check(struct gatt_client *client);

/* Writes the request of the phase under way and gives the first handle asked for (0: none). */
uint16_t gatt_discovery_put_request(const struct gatt_client *client, struct bytes_writer *writer);

/* Takes the response to that request, after its opcode, and moves on: to the next request, or to
 * GATT_PHASE_READY. RESULT_INVALID when the response breaks the format or leads nowhere. */
MUST_USE enum result gatt_discovery_take(struct gatt_client *client, struct bytes_reader reader);

/* Takes an Error Response instead. RESULT_REFUSED when there can be no discovery, or what was
 * discovered cannot be confirmed. */
MUST_USE enum result gatt_discovery_take_error(struct gatt_client *client, uint8_t error);

#endif
