#include "wire/att.h"

#include <string.h>

enum att_kind att_kind(uint8_t opcode)
{
    if ((opcode & ATT_COMMAND_FLAG) != 0)
        return ATT_KIND_COMMAND;
    switch (opcode) {
    case ATT_ERROR_RESPONSE:
    case ATT_MTU_RESPONSE:
    case ATT_FIND_INFORMATION_RESPONSE:
    case ATT_FIND_BY_TYPE_VALUE_RESPONSE:
    case ATT_READ_BY_TYPE_RESPONSE:
    case ATT_READ_RESPONSE:
    case ATT_READ_BLOB_RESPONSE:
    case ATT_READ_MULTIPLE_RESPONSE:
    case ATT_READ_BY_GROUP_TYPE_RESPONSE:
    case ATT_WRITE_RESPONSE:
    case ATT_PREPARE_WRITE_RESPONSE:
    case ATT_EXECUTE_WRITE_RESPONSE:
    case ATT_READ_MULTIPLE_VARIABLE_RESPONSE: return ATT_KIND_RESPONSE;
    case ATT_NOTIFICATION:
    case ATT_MULTIPLE_NOTIFICATION: return ATT_KIND_NOTIFICATION;
    case ATT_INDICATION: return ATT_KIND_INDICATION;
    case ATT_CONFIRMATION: return ATT_KIND_CONFIRMATION;
    default: return ATT_KIND_REQUEST;
    }
}

/* The Bluetooth Base UUID as it travels; an assigned number stands in octets 12 and 13. */
static const uint8_t base_uuid[16] = {0xFB, 0x34, 0x9B, 0x5F, 0x80, 0x00, 0x00, 0x80,
                                      0x00, 0x10, 0x00, 0x00, 0x00, 0x00, 0x00, 0x00};

static bool is_on_base(const uint8_t *octets)
{
    return memcmp(octets, base_uuid, 12) == 0 && octets[14] == 0 && octets[15] == 0;
}

struct att_uuid att_uuid_take(struct bytes_reader *reader, size_t length)
{
    struct att_uuid uuid = {.is_full = false};
    if (length == 2) {
        uuid.assigned = bytes_u16(reader);
        return uuid;
    }
    const uint8_t *octets = length == 16 ? bytes_take(reader, sizeof uuid.full) : NULL;
    if (octets == NULL) {
        reader->failed = true;
    } else if (is_on_base(octets)) {
        uuid.assigned = (uint16_t)(octets[12] | (octets[13] << 8));
    } else {
        uuid.is_full = true;
        memcpy(uuid.full, octets, sizeof uuid.full);
    }
    return uuid;
}

bool att_uuid_equal(const struct att_uuid *one, const struct att_uuid *other)
{
    if (one->is_full != other->is_full)
        return false;
    if (one->is_full)
        return memcmp(one->full, other->full, sizeof one->full) == 0;
    return one->assigned == other->assigned;
}

bool att_uuid_is(const struct att_uuid *uuid, uint16_t assigned)
{
    return !uuid->is_full && uuid->assigned == assigned;
}

bool att_error_wants_pairing(uint8_t error)
{
    return error == ATT_INSUFFICIENT_AUTHENTICATION || error == ATT_INSUFFICIENT_ENCRYPTION ||
           error == ATT_ENCRYPTION_KEY_SIZE;
}
