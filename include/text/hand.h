/*
 * Blocks that the rider wrote down by hand, one by one or as a table.
 *
 * A table is comma-separated (RFC 4180): first a line with the names of its columns, in any order,
 * then a line a block. A value with a comma in it stands in double quotes; one that is empty was
 * not written down. Lines that are empty or begin with `#` are passed over.
 */
#ifndef TEXT_HAND_H
#define TEXT_HAND_H

#include "ride/plan.h"
#include "text/lines.h"

#define HAND_BIKE_MAX  127u /* octets of UTF-8 */
#define HAND_NOTE_MAX  240u
#define HAND_VALUE_MAX 300u /* octets of any value in a table, more than each may have */

#define HAND_DURATION_MIN_S 60u
#define HAND_DURATION_MAX_S 10800u

/* In local time; without a time of day, noon. */
struct hand_date {
    bool set;
    uint16_t year;
    uint8_t month, day, hour, minute;
};

/* Zeroed: nothing written down. What is 0 or empty was not, but for the effort. */
struct hand_block {
    struct hand_date date;
    uint32_t duration_s; /* as long as the work was counted */
    uint32_t work_j, power_w, distance_m, calories_kcal, heart_bpm;
    uint32_t feel; /* 1 to 5 */
    bool has_effort;
    uint32_t effort; /* 0 to 10 */
    bool is_fresh;
    char profile[PLAN_TITLE_MAX + 1]; /* its title */
    char bike[HAND_BIKE_MAX + 1];
    char note[HAND_NOTE_MAX + 1];
};

enum hand_field {
    HAND_DATE,
    HAND_LENGTH,
    HAND_WORK,
    HAND_POWER,
    HAND_DISTANCE,
    HAND_CALORIES,
    HAND_HEART,
    HAND_PROFILE,
    HAND_BIKE,
    HAND_AFTER,
    HAND_FEEL,
    HAND_EFFORT,
    HAND_NOTE,
    HAND_FIELD_COUNT
};

/* Its column in a table: "date", "length", "work_kj", … */
const char *hand_field_name(enum hand_field field);

/* RESULT_INVALID, and what was expected instead of the word. */
MUST_USE enum result hand_take(struct hand_block *block, enum hand_field field,
                               struct text_word word, struct text_fault *ret_fault);

/* RESULT_INVALID, with the place given: no date, no length, neither work nor power, or work and
 * power that are not of this length. Work out of power and length, or power out of work, is then
 * filled in. */
MUST_USE enum result hand_finish(struct hand_block *block, struct text_word place,
                                 struct text_fault *ret_fault);

/* Look into it no further. `text` must outlive it. */
struct hand_table {
    struct text_lines lines;
    size_t column_count;
    enum hand_field columns[HAND_FIELD_COUNT];
};

/* RESULT_INVALID: no text, or a line of names that is none. */
MUST_USE enum result hand_table_open(const char *text, size_t length, struct hand_table *ret,
                                     struct text_fault *ret_fault);
/* The next block, finished, and its line. RESULT_NOT_FOUND: there is no further one. */
MUST_USE enum result hand_table_next(struct hand_table *table, struct hand_block *ret,
                                     uint32_t *ret_line, struct text_fault *ret_fault);

#endif
