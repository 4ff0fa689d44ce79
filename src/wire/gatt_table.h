/*
 * What a table of attributes answers to a request, without any state of the link. The server uses
 * it with its table, the client with an empty one.
 */
#ifndef SRC_WIRE_GATT_TABLE_H
#define SRC_WIRE_GATT_TABLE_H

#include "base/bytes.h"
#include "wire/gatt_server.h"

struct gatt_table {
    const struct gatt_attribute *attributes; /* borrowed, sorted by handle */
    size_t count;
    /* What reading a client-config attribute gives, by index; NULL when there is none. */
    const uint8_t (*client_configs)[2];
};

/* Writes the response, or the Error Response, to a request of any kind but the MTU exchange. The
 * writer is empty and has the MTU's octets of room. A Write Request
 * meets no attribute: take those for the table before. */
void gatt_table_answer(const struct gatt_table *table, const uint8_t *pdu, size_t length,
                       struct bytes_writer *writer);

/* NULL when there is none of that handle. */
const struct gatt_attribute *gatt_table_find(const struct gatt_table *table, uint16_t handle);

/* Of a service, an include or a characteristic. */
bool gatt_is_declaration(const struct att_uuid *type);

void gatt_put_error(struct bytes_writer *writer, uint8_t request, uint16_t handle,
                    enum att_error error);

/* Answers the peer's MTU exchange and sets `mtu` to what both sides can take. */
void gatt_answer_mtu(const uint8_t *pdu, size_t length, uint16_t receive_mtu, uint16_t *mtu,
                     struct bytes_writer *writer);

/* The MTU both sides can take, from what the peer says it receives; never below the default. */
uint16_t gatt_agreed_mtu(uint16_t receive_mtu, uint16_t peer_mtu);

#endif
