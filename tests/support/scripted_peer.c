#include "support/scripted_peer.h"

#include <stdio.h>
#include <string.h>

#include "support/octets.h"
#include "wire/att.h"
#include "wire/gatt.h"

static uint16_t u16_at(const uint8_t *octets)
{
    return (uint16_t)(octets[0] | octets[1] << 8);
}

static size_t count_of(const struct scripted_peer *peer)
{
    size_t count = 0;
    while (count < SCRIPTED_MAX && peer->characteristics[count].number != 0)
        count++;
    return count;
}

static uint16_t declaration_of(const struct scripted_peer *peer, size_t index)
{
    return (uint16_t)(2 + 3 * index + peer->moved);
}

/* Of the characteristic that the handle of a value or configuration belongs to. */
static size_t index_of(const struct scripted_peer *peer, uint16_t handle)
{
    const size_t index = (size_t)(handle - 2 - peer->moved) / 3;
    return index < SCRIPTED_MAX ? index : SCRIPTED_MAX - 1;
}

static bool has_config(const struct scripted_characteristic *characteristic)
{
    return (characteristic->properties & (GATT_NOTIFY | GATT_INDICATE)) != 0;
}

uint16_t scripted_value_handle(const struct scripted_peer *peer, uint16_t number)
{
    for (size_t i = 0; i < count_of(peer); i++)
        if (peer->characteristics[i].number == number)
            return (uint16_t)(declaration_of(peer, i) + 1);
    return 0;
}

static void note(struct scripted_peer *peer, uint16_t number, const char *mark,
                 const uint8_t *octets, size_t length)
{
    size_t at = strlen(peer->log);
    at += (size_t)snprintf(peer->log + at, sizeof peer->log - at, "%04X%s", number, mark);
    for (size_t i = 0; i < length && at < sizeof peer->log; i++)
        at += (size_t)snprintf(peer->log + at, sizeof peer->log - at, i == 0 ? "%02X" : " %02X",
                               octets[i]);
    if (at < sizeof peer->log)
        (void)snprintf(peer->log + at, sizeof peer->log - at, "|");
}

static size_t put(uint8_t *ret, const char *text)
{
    return octets_from_text(text, ret, 64);
}

static size_t put_error(const uint8_t *pdu, uint8_t error, uint8_t *ret)
{
    const uint8_t octets[] = {ATT_ERROR_RESPONSE, pdu[0], pdu[1], pdu[2], error};
    memcpy(ret, octets, sizeof octets);
    return sizeof octets;
}

static size_t answer_services(const struct scripted_peer *peer, const uint8_t *pdu, uint8_t *ret)
{
    uint16_t last = (uint16_t)(1 + 3 * count_of(peer) + peer->moved);
    if (u16_at(pdu + 1) > 1)
        return put_error(pdu, ATT_ATTRIBUTE_NOT_FOUND, ret);
    const uint8_t octets[] = {
        ATT_READ_BY_GROUP_TYPE_RESPONSE, 6, 1, 0, (uint8_t)last, 0, (uint8_t)peer->service,
        (uint8_t)(peer->service >> 8)};
    memcpy(ret, octets, sizeof octets);
    return sizeof octets;
}

static size_t answer_characteristics(const struct scripted_peer *peer, const uint8_t *pdu,
                                     uint8_t *ret)
{
    for (size_t i = 0; i < count_of(peer); i++) {
        const struct scripted_characteristic *found = &peer->characteristics[i];
        uint8_t declaration = (uint8_t)declaration_of(peer, i);
        if (declaration < u16_at(pdu + 1))
            continue;
        const uint8_t octets[] = {ATT_READ_BY_TYPE_RESPONSE,
                                  7,
                                  declaration,
                                  0,
                                  found->properties,
                                  (uint8_t)(declaration + 1),
                                  0,
                                  (uint8_t)found->number,
                                  (uint8_t)(found->number >> 8)};
        memcpy(ret, octets, sizeof octets);
        return sizeof octets;
    }
    return put_error(pdu, ATT_ATTRIBUTE_NOT_FOUND, ret);
}

static size_t answer_descriptors(const struct scripted_peer *peer, const uint8_t *pdu, uint8_t *ret)
{
    uint16_t first = u16_at(pdu + 1);
    size_t index = index_of(peer, first);
    if (first != declaration_of(peer, index) + 2 || index >= count_of(peer) ||
        !has_config(&peer->characteristics[index]))
        return put_error(pdu, ATT_ATTRIBUTE_NOT_FOUND, ret);
    const uint8_t octets[] = {ATT_FIND_INFORMATION_RESPONSE, 1, (uint8_t)first, 0, 0x02, 0x29};
    memcpy(ret, octets, sizeof octets);
    return sizeof octets;
}

static size_t answer_read(struct scripted_peer *peer, const uint8_t *pdu, uint8_t *ret)
{
    const struct scripted_characteristic *found =
        &peer->characteristics[index_of(peer, u16_at(pdu + 1))];
    note(peer, found->number, "?", NULL, 0);
    if (found->value == NULL)
        return put_error(pdu, ATT_READ_NOT_PERMITTED, ret);
    ret[0] = ATT_READ_RESPONSE;
    return 1 + octets_from_text(found->value, ret + 1, 63);
}

static uint8_t config_answer(struct scripted_characteristic *found)
{
    if (found->config_errors == 0)
        return ATT_OK;
    found->config_errors--;
    return found->config_error;
}

static size_t answer_write(struct scripted_peer *peer, const uint8_t *pdu, size_t length,
                           uint8_t *ret)
{
    uint16_t handle = u16_at(pdu + 1);
    struct scripted_characteristic *found = &peer->characteristics[index_of(peer, handle)];
    bool is_config = handle == declaration_of(peer, index_of(peer, handle)) + 2;
    uint8_t error = ATT_OK;
    note(peer, found->number, is_config ? "c=" : "=", pdu + 3, length - 3);
    if (is_config) {
        error = config_answer(found);
    } else {
        if (peer->is_silent)
            return 0;
        if (peer->write_error < SCRIPTED_MAX)
            error = peer->write_errors[peer->write_error++];
    }
    return error == ATT_OK ? put(ret, "13") : put_error(pdu, error, ret);
}

static size_t answer_hash(const struct scripted_peer *peer, const uint8_t *pdu, uint8_t *ret)
{
    if (peer->hash == NULL)
        return put_error(pdu, ATT_ATTRIBUTE_NOT_FOUND, ret);
    return put(ret, "09 12 F0 00") + octets_from_text(peer->hash, ret + 4, 60);
}

static size_t answer_by_type(const struct scripted_peer *peer, const uint8_t *pdu, uint8_t *ret)
{
    return u16_at(pdu + 5) == GATT_DATABASE_HASH ? answer_hash(peer, pdu, ret)
                                                 : answer_characteristics(peer, pdu, ret);
}

size_t scripted_peer_answer(struct scripted_peer *peer, const uint8_t *pdu, size_t length,
                            uint8_t *ret)
{
    peer->openings += pdu[0] < ATT_READ_REQUEST || pdu[0] == ATT_READ_BY_GROUP_TYPE_REQUEST;
    switch (pdu[0]) {
    case ATT_MTU_REQUEST: return put(ret, "03 17 00");
    case ATT_READ_BY_GROUP_TYPE_REQUEST: return answer_services(peer, pdu, ret);
    case ATT_READ_BY_TYPE_REQUEST: return answer_by_type(peer, pdu, ret);
    case ATT_FIND_INFORMATION_REQUEST: return answer_descriptors(peer, pdu, ret);
    case ATT_READ_REQUEST: return answer_read(peer, pdu, ret);
    case ATT_WRITE_REQUEST: return answer_write(peer, pdu, length, ret);
    case ATT_WRITE_COMMAND:
        note(peer, peer->characteristics[index_of(peer, u16_at(pdu + 1))].number, "!", pdu + 3,
             length - 3);
        return 0;
    case ATT_CONFIRMATION: strcat(peer->log, "confirmed|"); return 0;
    default: return 0;
    }
}
