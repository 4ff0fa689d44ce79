#include "wire/fit_file.h"

#include <assert.h>
#include <string.h>

#define PROTOCOL_VERSION           0x20 /* 2.0 */
#define PROFILE_VERSION            2187 /* 21.87: the tables that the messages were taken from */
#define SIZE_AT                    4u
#define IS_DEFINITION              0x40
#define LITTLE_ENDIAN_ARCHITECTURE 0
#define LOCAL_MAX                  15u

/* The reflected polynomial 0x8005, from 0 on: known as CRC-16/ARC. */
uint16_t fit_file_crc(uint16_t crc, const uint8_t *data, size_t length)
{
    for (size_t i = 0; i < length; i++) {
        crc ^= data[i];
        for (unsigned bit = 0; bit < 8; bit++)
            crc = (uint16_t)((crc & 1u) != 0 ? crc >> 1 ^ 0xA001u : crc >> 1);
    }
    return crc;
}

void fit_file_begin(struct bytes_writer *writer)
{
    static const uint8_t mark[] = {'.', 'F', 'I', 'T'};

    bytes_put_u8(writer, FIT_FILE_HEAD_OCTETS);
    bytes_put_u8(writer, PROTOCOL_VERSION);
    bytes_put_u16(writer, PROFILE_VERSION);
    bytes_put_u32(writer, 0); /* the size, filled in at the end as the sum is */
    bytes_put(writer, mark, sizeof mark);
    bytes_put_u16(writer, 0);
}

static uint8_t octets_of(const struct fit_field *field)
{
    switch (field->base) {
    case FIT_ENUM:
    case FIT_UINT8: return 1;
    case FIT_UINT16: return 2;
    case FIT_UINT32: return 4;
    case FIT_STRING: return field->octets;
    }
    return 0;
}

void fit_file_define(struct bytes_writer *writer, const struct fit_message *message)
{
    assert(message->local <= LOCAL_MAX && message->count <= FIT_FIELDS_MAX);
    bytes_put_u8(writer, (uint8_t)(IS_DEFINITION | message->local));
    bytes_put_u8(writer, 0); /* reserved */
    bytes_put_u8(writer, LITTLE_ENDIAN_ARCHITECTURE);
    bytes_put_u16(writer, message->global);
    bytes_put_u8(writer, message->count);
    for (size_t i = 0; i < message->count; i++) {
        bytes_put_u8(writer, message->fields[i].number);
        bytes_put_u8(writer, octets_of(&message->fields[i]));
        bytes_put_u8(writer, (uint8_t)message->fields[i].base);
    }
}

static void put_text(struct bytes_writer *writer, const char *text, uint8_t octets)
{
    size_t length = text != NULL ? strlen(text) : 0;

    if (length > octets - 1u)
        length = octets - 1u;
    bytes_put(writer, (const uint8_t *)text, length);
    for (size_t i = length; i < octets; i++)
        bytes_put_u8(writer, 0);
}

static uint32_t held(const struct fit_value *value, uint32_t unknown)
{
    return value->known && value->number < unknown ? value->number : unknown;
}

void fit_file_put(struct bytes_writer *writer, const struct fit_message *message,
                  const struct fit_value *values)
{
    bytes_put_u8(writer, message->local);
    for (size_t i = 0; i < message->count; i++) {
        const struct fit_value *value = &values[i];
        switch (message->fields[i].base) {
        case FIT_ENUM:
        case FIT_UINT8: bytes_put_u8(writer, (uint8_t)held(value, UINT8_MAX)); break;
        case FIT_UINT16: bytes_put_u16(writer, (uint16_t)held(value, UINT16_MAX)); break;
        case FIT_UINT32: bytes_put_u32(writer, held(value, UINT32_MAX)); break;
        case FIT_STRING: put_text(writer, value->text, message->fields[i].octets); break;
        }
    }
}

void fit_file_end(struct bytes_writer *writer)
{
    if (writer->failed)
        return;
    struct bytes_writer head = bytes_writer(writer->data, FIT_FILE_HEAD_OCTETS);
    head.length = SIZE_AT;
    bytes_put_u32(&head, (uint32_t)(writer->length - FIT_FILE_HEAD_OCTETS));
    head.length = FIT_FILE_HEAD_OCTETS - 2;
    bytes_put_u16(&head, fit_file_crc(0, writer->data, FIT_FILE_HEAD_OCTETS - 2));
    bytes_put_u16(writer, fit_file_crc(0, writer->data, writer->length));
}
