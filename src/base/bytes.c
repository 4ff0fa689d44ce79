#include "base/bytes.h"

#include <string.h>

struct bytes_reader bytes_reader(const uint8_t *data, size_t length)
{
    return (struct bytes_reader){.data = data, .length = length};
}

size_t bytes_left(const struct bytes_reader *reader)
{
    return reader->failed ? 0 : reader->length - reader->at;
}

const uint8_t *bytes_take(struct bytes_reader *reader, size_t count)
{
    if (reader->failed || reader->length - reader->at < count) {
        reader->failed = true;
        return NULL;
    }
    const uint8_t *taken = reader->data + reader->at;
    reader->at += count;
    return taken;
}

static uint32_t take_unsigned(struct bytes_reader *reader, size_t count)
{
    const uint8_t *taken = bytes_take(reader, count);
    uint32_t value = 0;
    if (taken == NULL)
        return 0;
    for (size_t i = 0; i < count; i++)
        value |= (uint32_t)taken[i] << (8 * i);
    return value;
}

uint8_t bytes_u8(struct bytes_reader *reader)
{
    return (uint8_t)take_unsigned(reader, 1);
}

uint16_t bytes_u16(struct bytes_reader *reader)
{
    return (uint16_t)take_unsigned(reader, 2);
}

uint32_t bytes_u24(struct bytes_reader *reader)
{
    return take_unsigned(reader, 3);
}

uint32_t bytes_u32(struct bytes_reader *reader)
{
    return take_unsigned(reader, 4);
}

int8_t bytes_s8(struct bytes_reader *reader)
{
    return (int8_t)bytes_u8(reader);
}

int16_t bytes_s16(struct bytes_reader *reader)
{
    return (int16_t)bytes_u16(reader);
}

struct bytes_writer bytes_writer(uint8_t *data, size_t capacity)
{
    return (struct bytes_writer){.data = data, .capacity = capacity};
}

void bytes_put(struct bytes_writer *writer, const uint8_t *data, size_t count)
{
    if (writer->failed || writer->capacity - writer->length < count) {
        writer->failed = true;
        return;
    }
    if (count > 0)
        memcpy(writer->data + writer->length, data, count);
    writer->length += count;
}

static void put_unsigned(struct bytes_writer *writer, uint32_t value, size_t count)
{
    uint8_t octets[4];
    for (size_t i = 0; i < count; i++)
        octets[i] = (uint8_t)(value >> (8 * i));
    bytes_put(writer, octets, count);
}

void bytes_put_u8(struct bytes_writer *writer, uint8_t value)
{
    put_unsigned(writer, value, 1);
}

void bytes_put_u16(struct bytes_writer *writer, uint16_t value)
{
    put_unsigned(writer, value, 2);
}

void bytes_put_u24(struct bytes_writer *writer, uint32_t value)
{
    put_unsigned(writer, value, 3);
}

void bytes_put_u32(struct bytes_writer *writer, uint32_t value)
{
    put_unsigned(writer, value, 4);
}

void bytes_put_s16(struct bytes_writer *writer, int16_t value)
{
    put_unsigned(writer, (uint16_t)value, 2);
}
