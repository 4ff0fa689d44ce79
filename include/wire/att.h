/*
 * The Attribute Protocol: numbers and limits shared by client and server.
 *
 * Source: Bluetooth Core, Vol 3 Part F, as repeated in BlueZ src/shared/att-types.h and in
 * Wireshark's value tables. One packet of the transport is one PDU; integers are little-endian.
 */
#ifndef WIRE_ATT_H
#define WIRE_ATT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/bytes.h"

#define ATT_MTU_DEFAULT 23u
#define ATT_MTU_MAX     517u /* a value has at most 512 octets */
/* Longer than any PDU we agree to: a peer that ignores the MTU is seen, not cut (see gatt_*). */
#define ATT_PDU_BUFFER 672u
#define ATT_VALUE_MAX  512u
/* No answer within this time and the bearer carries no more traffic. Vol 3 Part F 3.3.3. */
#define ATT_TRANSACTION_TIMEOUT_MS 30000u

enum att_opcode {
    ATT_ERROR_RESPONSE = 0x01,
    ATT_MTU_REQUEST = 0x02,
    ATT_MTU_RESPONSE = 0x03,
    ATT_FIND_INFORMATION_REQUEST = 0x04,
    ATT_FIND_INFORMATION_RESPONSE = 0x05,
    ATT_FIND_BY_TYPE_VALUE_REQUEST = 0x06,
    ATT_FIND_BY_TYPE_VALUE_RESPONSE = 0x07,
    ATT_READ_BY_TYPE_REQUEST = 0x08,
    ATT_READ_BY_TYPE_RESPONSE = 0x09,
    ATT_READ_REQUEST = 0x0A,
    ATT_READ_RESPONSE = 0x0B,
    ATT_READ_BLOB_REQUEST = 0x0C,
    ATT_READ_BLOB_RESPONSE = 0x0D,
    ATT_READ_MULTIPLE_REQUEST = 0x0E,
    ATT_READ_MULTIPLE_RESPONSE = 0x0F,
    ATT_READ_BY_GROUP_TYPE_REQUEST = 0x10,
    ATT_READ_BY_GROUP_TYPE_RESPONSE = 0x11,
    ATT_WRITE_REQUEST = 0x12,
    ATT_WRITE_RESPONSE = 0x13,
    ATT_PREPARE_WRITE_REQUEST = 0x16,
    ATT_PREPARE_WRITE_RESPONSE = 0x17,
    ATT_EXECUTE_WRITE_REQUEST = 0x18,
    ATT_EXECUTE_WRITE_RESPONSE = 0x19,
    ATT_NOTIFICATION = 0x1B,
    ATT_INDICATION = 0x1D,
    ATT_CONFIRMATION = 0x1E,
    ATT_READ_MULTIPLE_VARIABLE_RESPONSE = 0x21,
    ATT_MULTIPLE_NOTIFICATION = 0x23,
    ATT_WRITE_COMMAND = 0x52,
    ATT_SIGNED_WRITE_COMMAND = 0xD2
};

#define ATT_COMMAND_FLAG 0x40u /* set in an opcode: never answered */

enum att_kind {
    ATT_KIND_REQUEST, /* and whatever is unknown: the sender may be waiting for an answer */
    ATT_KIND_RESPONSE,
    ATT_KIND_COMMAND,
    ATT_KIND_NOTIFICATION,
    ATT_KIND_INDICATION,
    ATT_KIND_CONFIRMATION
};

enum att_kind att_kind(uint8_t opcode);

/* The error code of an Error Response; 0 stands for "no error". */
enum att_error {
    ATT_OK = 0x00,
    ATT_INVALID_HANDLE = 0x01,
    ATT_READ_NOT_PERMITTED = 0x02,
    ATT_WRITE_NOT_PERMITTED = 0x03,
    ATT_INVALID_PDU = 0x04,
    ATT_INSUFFICIENT_AUTHENTICATION = 0x05,
    ATT_REQUEST_NOT_SUPPORTED = 0x06,
    ATT_INVALID_OFFSET = 0x07,
    ATT_INSUFFICIENT_AUTHORIZATION = 0x08,
    ATT_PREPARE_QUEUE_FULL = 0x09,
    ATT_ATTRIBUTE_NOT_FOUND = 0x0A,
    ATT_ATTRIBUTE_NOT_LONG = 0x0B,
    ATT_ENCRYPTION_KEY_SIZE = 0x0C,
    ATT_INVALID_VALUE_LENGTH = 0x0D,
    ATT_UNLIKELY_ERROR = 0x0E,
    ATT_INSUFFICIENT_ENCRYPTION = 0x0F,
    ATT_UNSUPPORTED_GROUP_TYPE = 0x10,
    ATT_INSUFFICIENT_RESOURCES = 0x11,
    ATT_DATABASE_OUT_OF_SYNC = 0x12,
    ATT_VALUE_NOT_ALLOWED = 0x13,
    ATT_APPLICATION_ERROR = 0x80, /* to 0x9F: the service says what it means */
    ATT_CCCD_IMPROPERLY_CONFIGURED = 0xFD,
    ATT_PROCEDURE_IN_PROGRESS = 0xFE,
    ATT_OUT_OF_RANGE = 0xFF
};

/* A 16-bit UUID assigned by the Bluetooth SIG, or a full one, octets as they travel. */
struct att_uuid {
    bool is_full;
    uint16_t assigned; /* when not full */
    uint8_t full[16];  /* when full, little-endian */
};

/* From 2 or 16 octets as they travel; of any other length there is none, which is a failure of the
 * reader. A full one that only spells out an assigned one (on the Bluetooth Base UUID) becomes the
 * assigned one, so that both spellings compare equal. */
struct att_uuid att_uuid_take(struct bytes_reader *reader, size_t length);
bool att_uuid_equal(const struct att_uuid *one, const struct att_uuid *other);
bool att_uuid_is(const struct att_uuid *uuid, uint16_t assigned);

/* Of an Error Response: the request would do over a link that is encrypted, or better so. */
bool att_error_wants_pairing(uint8_t error);

#endif
