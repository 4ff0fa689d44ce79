/*
 * Octets of a FIT file: a head, then definitions and messages, then a check sum.
 *
 * Source: Flexible and Interoperable Data Transfer (FIT) Protocol, revision 2.x: file header (14
 * octets), normal record header, definition message, base types, CRC. Written little-endian, with
 * normal headers only. Called fit_file, since the room next door fits plans.
 */
#ifndef WIRE_FIT_FILE_H
#define WIRE_FIT_FILE_H

#include "base/bytes.h"

#define FIT_FILE_HEAD_OCTETS 14u

/* The numbers are those of definitions; each has a value that says "not known". */
enum fit_base {
    FIT_ENUM = 0x00,
    FIT_UINT8 = 0x02,
    FIT_UINT16 = 0x84,
    FIT_UINT32 = 0x86,
    FIT_STRING = 0x07
};

struct fit_field {
    uint8_t number; /* in the profile's table of the message */
    enum fit_base base;
    uint8_t octets; /* of a string, with a NUL; 0: as the base says */
};

#define FIT_FIELDS_MAX 24u

struct fit_message {
    uint16_t global; /* its number in the profile */
    uint8_t local;   /* 0 to 15, by which the messages name their definition */
    uint8_t count;   /* FIT_FIELDS_MAX at most */
    const struct fit_field *fields;
};

/* Zeroed: not known. A number too large for its field is not known either. */
struct fit_value {
    bool known;
    uint32_t number;
    const char *text; /* of a string, cut at its size */
};

/* In this order: begin, then define before the first message of each kind, then end, which fills in
 * the head's size and the sums. Does nothing after a failure of the writer, which holds the whole
 * file and nothing before it. */
void fit_file_begin(struct bytes_writer *writer);
void fit_file_define(struct bytes_writer *writer, const struct fit_message *message);
void fit_file_put(struct bytes_writer *writer, const struct fit_message *message,
                  const struct fit_value *values);
void fit_file_end(struct bytes_writer *writer);

/* Goes on from `crc`, which is 0 at first. */
uint16_t fit_file_crc(uint16_t crc, const uint8_t *data, size_t length);

#endif
