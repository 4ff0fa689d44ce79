/*
 * The parts of a step in a profile one by one, as text: for whoever edits steps by the part.
 *
 * A field is written as profiles have it, without its name: "0:20", "40..55 to 70..80 %cp",
 * "12 kJ", "Stand up". Empty: it is not there.
 */
#ifndef TEXT_PROFILE_FIELD_H
#define TEXT_PROFILE_FIELD_H

#include "base/text.h"
#include "ride/plan.h"
#include "text/lines.h"

enum profile_field {
    PROFILE_FIELD_TIME, /* or repetitions: "8 x 3010" */
    PROFILE_FIELD_POWER,
    PROFILE_FIELD_CADENCE,
    PROFILE_FIELD_HEART,
    PROFILE_FIELD_LEVEL,
    PROFILE_FIELD_EFFORT,
    PROFILE_FIELD_UNTIL,
    PROFILE_FIELD_CUE,
    PROFILE_FIELD_COUNT
};

const char *profile_field_name(enum profile_field field); /* as in profiles; "time" */
/* Whether steps of this kind have it. */
bool profile_field_is_for(enum profile_field field, enum step_kind kind);

/* `item` is a step. */
void profile_field_put(struct text_writer *writer, const struct profile_item *item,
                       enum profile_field field);
/* Takes the field from `text`; an empty one takes it out. RESULT_INVALID: it cannot be read so, or
 * there is more in it than this field; `item` is as it was then, and the fault says why, its column
 * counted in `text` from 1. */
MUST_USE enum result profile_field_set(struct profile_item *item, enum profile_field field,
                                       const char *text, struct text_fault *ret_fault);
/* One small step up (1) or down (-1), a range and a ramp as a whole. RESULT_RANGE: it would leave
 * what may be asked for. RESULT_UNSUPPORTED: it is not there, or no number. */
MUST_USE enum result profile_field_nudge(struct profile_item *item, enum profile_field field,
                                         int32_t by);

#endif
