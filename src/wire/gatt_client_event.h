/*
 * The event queue of a GATT client, seen from inside.
 */
#ifndef SRC_WIRE_GATT_CLIENT_EVENT_H
#define SRC_WIRE_GATT_CLIENT_EVENT_H

#include "base/bytes.h"
#include "wire/gatt_client.h"

/* Keeps a copy of the value, of ATT_VALUE_MAX octets at most. There must be room. Gives the slot,
 * for what only some events say. */
struct gatt_event_slot *gatt_client_tell(struct gatt_client *client, enum gatt_event_kind kind,
                                         uint16_t handle, uint8_t error, struct bytes_reader value);

#endif
