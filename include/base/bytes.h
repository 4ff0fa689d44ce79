/*
 * Bounded reading and writing of little-endian bytes.
 *
 * Both keep a sticky failure: after a read or write past the end every further one gives zero or
 * does nothing, and `failed` stays set. So a decoder reads all its fields and asks once at the end.
 */
#ifndef BASE_BYTES_H
#define BASE_BYTES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct bytes_reader {
    const uint8_t *data; /* borrowed */
    size_t length;
    size_t at;
    bool failed;
};

struct bytes_reader bytes_reader(const uint8_t *data, size_t length);
size_t bytes_left(const struct bytes_reader *reader); /* 0 after a failure */
uint8_t bytes_u8(struct bytes_reader *reader);
uint16_t bytes_u16(struct bytes_reader *reader);
uint32_t bytes_u24(struct bytes_reader *reader);
uint32_t bytes_u32(struct bytes_reader *reader);
int8_t bytes_s8(struct bytes_reader *reader);
int16_t bytes_s16(struct bytes_reader *reader);
/* The next `count` bytes, or NULL with a failure when there are not so many. */
const uint8_t *bytes_take(struct bytes_reader *reader, size_t count);

struct bytes_writer {
    uint8_t *data; /* borrowed */
    size_t capacity;
    size_t length;
    bool failed;
};

struct bytes_writer bytes_writer(uint8_t *data, size_t capacity);
void bytes_put_u8(struct bytes_writer *writer, uint8_t value);
void bytes_put_u16(struct bytes_writer *writer, uint16_t value);
void bytes_put_u24(struct bytes_writer *writer, uint32_t value); /* the low 24 bits */
void bytes_put_u32(struct bytes_writer *writer, uint32_t value);
void bytes_put_s16(struct bytes_writer *writer, int16_t value);
void bytes_put(struct bytes_writer *writer, const uint8_t *data, size_t count);
/* All that the reader has left, which stays there; after its failure nothing. */
void bytes_put_rest(struct bytes_writer *writer, const struct bytes_reader *reader);

#endif
