#include "base/bytes.h"

#include <string.h>

/* The contracts below are for `make prove`. They do not ask that `at` and `length` lie within their
 * bounds: what would leave them is a failure. The assertions say once more what the conditions
 * before them say, for the other of two numbers. */
/*@ predicate sound_reader(struct bytes_reader *reader) =
        \valid(reader) && \valid_read(reader->data + (0 .. reader->length - 1)) &&
        \separated(reader, reader->data + (0 .. reader->length - 1));
    predicate sound_writer(struct bytes_writer *writer) =
        \valid(writer) && \valid(writer->data + (0 .. writer->capacity - 1)) &&
        \separated(writer, writer->data + (0 .. writer->capacity - 1));
    predicate read_within(struct bytes_reader *reader) =
        reader->failed || reader->at <= reader->length;
    predicate put_within(struct bytes_writer *writer) =
        writer->failed || writer->length <= writer->capacity;
    predicate put_or_kept{Before, After}(struct bytes_writer *writer) =
        (\at(writer->length, After) <= \at(writer->capacity, After) ||
         \at(writer->length, After) == \at(writer->length, Before)) &&
        (\at(writer->failed, After) == \at(writer->failed, Before) ||
         \at(writer->failed, After) == 1);
    predicate apart(struct bytes_writer *writer, struct bytes_reader *reader) =
        \separated(reader, writer, writer->data + (0 .. writer->capacity - 1)) &&
        \separated(reader->data + (0 .. reader->length - 1), writer,
                   writer->data + (0 .. writer->capacity - 1));
*/

struct bytes_reader bytes_reader(const uint8_t *data, size_t length)
{
    return (struct bytes_reader){.data = data, .length = length};
}

/*@ requires \valid_read(reader);
    assigns \nothing;
    ensures \result <= reader->length;
    ensures reader->at <= reader->length ==> \result <= reader->length - reader->at;
*/
size_t bytes_left(const struct bytes_reader *reader)
{
    return reader->failed || reader->at > reader->length ? 0 : reader->length - reader->at;
}

/*@ requires sound_reader(reader);
    assigns reader->at, reader->failed;
    ensures sound_reader(reader) && read_within(reader);
    ensures \result == \null || \valid_read(\result + (0 .. count - 1));
    ensures \old(reader->failed) ==> \result == \null && reader->failed;
*/
const uint8_t *bytes_take(struct bytes_reader *reader, size_t count)
{
    if (reader->failed || reader->at > reader->length || count > reader->length - reader->at) {
        reader->failed = true;
        reader->at = SIZE_MAX; /* beyond every end */
        return NULL;
    }
    /*@ assert reader->at <= reader->length - count; */
    const uint8_t *taken = reader->data + reader->at;
    reader->at += count;
    return taken;
}

/*@ requires sound_reader(reader) && count <= 4;
    assigns reader->at, reader->failed;
    ensures sound_reader(reader) && read_within(reader);
*/
static uint32_t take_unsigned(struct bytes_reader *reader, size_t count)
{
    const uint8_t *taken = bytes_take(reader, count);
    uint32_t value = 0;
    if (taken == NULL)
        return 0;
    /*@ loop invariant 0 <= i <= count;
        loop assigns i, value;
        loop variant count - i;
    */
    for (size_t i = 0; i < count; i++)
        value |= (uint32_t)taken[i] << (8 * i);
    return value;
}

/*@ requires sound_reader(reader);
    assigns reader->at, reader->failed;
    ensures sound_reader(reader) && read_within(reader);
*/
uint8_t bytes_u8(struct bytes_reader *reader)
{
    return (uint8_t)take_unsigned(reader, 1);
}

/*@ requires sound_reader(reader);
    assigns reader->at, reader->failed;
    ensures sound_reader(reader) && read_within(reader);
*/
uint16_t bytes_u16(struct bytes_reader *reader)
{
    return (uint16_t)take_unsigned(reader, 2);
}

/*@ requires sound_reader(reader);
    assigns reader->at, reader->failed;
    ensures sound_reader(reader) && read_within(reader);
*/
uint32_t bytes_u24(struct bytes_reader *reader)
{
    return take_unsigned(reader, 3);
}

/*@ requires sound_reader(reader);
    assigns reader->at, reader->failed;
    ensures sound_reader(reader) && read_within(reader);
*/
uint32_t bytes_u32(struct bytes_reader *reader)
{
    return take_unsigned(reader, 4);
}

/*@ requires sound_reader(reader);
    assigns reader->at, reader->failed;
    ensures sound_reader(reader) && read_within(reader);
*/
int8_t bytes_s8(struct bytes_reader *reader)
{
    return (int8_t)bytes_u8(reader);
}

/*@ requires sound_reader(reader);
    assigns reader->at, reader->failed;
    ensures sound_reader(reader) && read_within(reader);
*/
int16_t bytes_s16(struct bytes_reader *reader)
{
    return (int16_t)bytes_u16(reader);
}

struct bytes_writer bytes_writer(uint8_t *data, size_t capacity)
{
    return (struct bytes_writer){.data = data, .capacity = capacity};
}

/*@ requires sound_writer(writer) && \valid_read(data + (0 .. count - 1));
    requires \separated(data + (0 .. count - 1), writer, writer->data + (0 .. writer->capacity -
   1)); assigns writer->length, writer->failed, writer->data[0 .. writer->capacity - 1]; ensures
   sound_writer(writer); ensures writer->length >= \old(writer->length);
    ensures put_within(writer) && put_or_kept{Old, Here}(writer);
*/
void bytes_put(struct bytes_writer *writer, const uint8_t *data, size_t count)
{
    if (writer->failed || writer->length > writer->capacity ||
        count > writer->capacity - writer->length) {
        writer->failed = true;
        return;
    }
    /*@ assert writer->length <= writer->capacity - count; */
    /*@ split writer->length; */
    if (count > 0)
        memcpy(writer->data + writer->length, data, count);
    writer->length += count;
    /*@ assert writer->length <= writer->capacity; */
    /*@ merge writer->length; */
}

/*@ requires sound_writer(writer) && apart(writer, reader);
    requires \valid_read(reader) && \valid_read(reader->data + (0 .. reader->length - 1));
    assigns writer->length, writer->failed, writer->data[0 .. writer->capacity - 1];
    ensures sound_writer(writer);
    ensures \old(put_within(writer)) ==> put_within(writer);
    ensures put_or_kept{Old, Here}(writer);
*/
void bytes_put_rest(struct bytes_writer *writer, const struct bytes_reader *reader)
{
    if (!reader->failed && reader->at < reader->length)
        bytes_put(writer, reader->data + reader->at, reader->length - reader->at);
}

/*@ requires sound_writer(writer) && count <= 4;
    assigns writer->length, writer->failed, writer->data[0 .. writer->capacity - 1];
    ensures sound_writer(writer) && put_within(writer) && put_or_kept{Old, Here}(writer);
*/
static void put_unsigned(struct bytes_writer *writer, uint32_t value, size_t count)
{
    uint8_t octets[4];
    /*@ loop invariant 0 <= i <= count;
        loop assigns i, octets[0 .. 3];
        loop variant count - i;
    */
    for (size_t i = 0; i < count; i++)
        octets[i] = (uint8_t)(value >> (8 * i));
    bytes_put(writer, octets, count);
}

/*@ requires sound_writer(writer);
    assigns writer->length, writer->failed, writer->data[0 .. writer->capacity - 1];
    ensures sound_writer(writer) && put_within(writer) && put_or_kept{Old, Here}(writer);
*/
void bytes_put_u8(struct bytes_writer *writer, uint8_t value)
{
    put_unsigned(writer, value, 1);
}

/*@ requires sound_writer(writer);
    assigns writer->length, writer->failed, writer->data[0 .. writer->capacity - 1];
    ensures sound_writer(writer) && put_within(writer) && put_or_kept{Old, Here}(writer);
*/
void bytes_put_u16(struct bytes_writer *writer, uint16_t value)
{
    put_unsigned(writer, value, 2);
}

/*@ requires sound_writer(writer);
    assigns writer->length, writer->failed, writer->data[0 .. writer->capacity - 1];
    ensures sound_writer(writer) && put_within(writer) && put_or_kept{Old, Here}(writer);
*/
void bytes_put_u24(struct bytes_writer *writer, uint32_t value)
{
    put_unsigned(writer, value, 3);
}

/*@ requires sound_writer(writer);
    assigns writer->length, writer->failed, writer->data[0 .. writer->capacity - 1];
    ensures sound_writer(writer) && put_within(writer) && put_or_kept{Old, Here}(writer);
*/
void bytes_put_u32(struct bytes_writer *writer, uint32_t value)
{
    put_unsigned(writer, value, 4);
}

/*@ requires sound_writer(writer);
    assigns writer->length, writer->failed, writer->data[0 .. writer->capacity - 1];
    ensures sound_writer(writer) && put_within(writer) && put_or_kept{Old, Here}(writer);
*/
void bytes_put_s16(struct bytes_writer *writer, int16_t value)
{
    put_unsigned(writer, (uint16_t)value, 2);
}
