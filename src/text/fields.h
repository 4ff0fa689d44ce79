/*
 * Structs as "name=value" words, by table: one description serves writing and reading.
 */
#ifndef TEXT_FIELDS_H
#define TEXT_FIELDS_H

#include "base/result.h"
#include "base/text.h"
#include "ride/names.h"

enum field_type {
    FIELD_BOOL,
    FIELD_U16,
    FIELD_U32,
    FIELD_I32,
    FIELD_I64,
    FIELD_ENUM,
    FIELD_TENTHS, /* a double, to one decimal */
    FIELD_RANGE   /* struct target_range, "low..high", left out when not set */
};

struct field {
    const char *name;
    size_t offset;
    enum field_type type;
    const struct names *names; /* FIELD_ENUM */
};

struct fields {
    size_t count;
    const struct field *list;
};

/* Puts " name=value" for each field that is not zero. */
void fields_put(struct text_writer *writer, const struct fields *fields, const void *base);

/* Reads words up to the end of `text` into the struct at `base`, which the caller has zeroed.
 * RESULT_INVALID and the place of the word at fault in `*ret_at`. */
MUST_USE enum result fields_read(const struct fields *fields, const char *text, size_t length,
                                 void *base, size_t *ret_at);

#endif
