/*
 * What a rehearsal came to: a plan ridden beforehand by a model of the rider. Its figures, where
 * it would fail, and how both are shown.
 *
 * Two accounts of the reserve. `asked` is the plan alone: the middle of every power range, kept to
 * the second; it goes below zero where the plan asks for more than W' holds. `slow` is the same by
 * the integral model of body/reserve.h. `ridden` is what the model of the rider did, who needs
 * seconds to reach a power and, as the reserve goes, cannot reach it any more.
 *
 * Pure: no I/O, no clock.
 */
#ifndef UI_REHEARSAL_H
#define UI_REHEARSAL_H

#include "base/text.h"
#include "body/reserve.h"
#include "ride/plan.h"
#include "ride/summary.h"
#include "ui/canvas.h"

#define REHEARSAL_SECONDS_MAX 7200u

/* Mean over one second of the block clock; of those that were not ridden the target alone. */
struct rehearsal_second {
    int16_t power_w;
    int16_t heart_bpm;  /* 0: no reading yet */
    int16_t target_w;   /* the middle of what is asked for; 0: no power is */
    int8_t reserve_pct; /* ridden, at its end, 0 to 100 */
    bool in_work;
};

/* A place in the plan. */
struct rehearsal_place {
    uint32_t at_ms; /* of the block clock */
    size_t step;
};

struct rehearsal_low {
    double left_j;
    struct rehearsal_place place;
};

enum rehearsal_trouble {
    REHEARSAL_FINE,
    REHEARSAL_EMPTY,   /* the plan has asked for all of the reserve */
    REHEARSAL_MISSED,  /* the power stayed below what the step asks for */
    REHEARSAL_LOWERED, /* likewise, because a limit keeps the load down */
    REHEARSAL_LEGS,    /* cadence fell under the load, which was let go */
    REHEARSAL_CUT_OFF  /* summary.cut_off says why */
};

/* What the bike is told, or the rider. */
enum rehearsal_brake { REHEARSAL_WATTS, REHEARSAL_LEVELS, REHEARSAL_BY_HAND };

/* Of a brake that is not told watts. */
struct rehearsal_turns {
    uint32_t count;                  /* how often a hand is to turn it */
    uint32_t least_apart_ms;         /* from one turn to the next */
    int32_t number_w;                /* that one number on the knob makes; 0: it has none */
    uint32_t step_count;             /* steps that want another power than the one before */
    uint32_t short_count;            /* those of which a third is over before it is there */
    struct rehearsal_place short_at; /* the first of them */
};

/* Large: not for the stack. */
struct rehearsal {
    const struct plan *plan; /* borrowed */
    enum rehearsal_brake brake;
    struct rehearsal_turns turns;
    double critical_power_w, w_prime_j;
    int32_t heart_max_bpm, heart_limit_bpm;
    struct summary summary; /* of the plan, without what is ridden out after it */
    struct rehearsal_low asked, slow, ridden;
    uint32_t empty_ms;              /* when the plan has asked for all of it; 0: never */
    enum rehearsal_trouble trouble; /* the first, and where it began */
    struct rehearsal_place trouble_at;
    uint32_t second_count; /* of the whole block; and how many of them were ridden */
    uint32_t ridden_count;
    struct rehearsal_second seconds[REHEARSAL_SECONDS_MAX];
};

/* In per cent of W', below zero where more was asked. */
int32_t rehearsal_percent(const struct rehearsal *rehearsal, const struct rehearsal_low *low);

/* "work 6 of 8, 3:20" */
void rehearsal_put_place(struct text_writer *writer, const struct rehearsal *rehearsal,
                         struct rehearsal_place place);
/* Whether it can be ridden, and if not where and why. No full stop. */
void rehearsal_put_verdict(struct text_writer *writer, const struct rehearsal *rehearsal);
/* The figures, a line each, without the verdict. */
void rehearsal_put(struct text_writer *writer, const struct rehearsal *rehearsal);

/* Power with its targets, and where there is room for them reserve and heart, above one another and
 * over one time axis. Nothing on less than REHEARSAL_COLUMNS_MIN by REHEARSAL_ROWS_MIN. */
#define REHEARSAL_COLUMNS_MIN 30
#define REHEARSAL_ROWS_MIN    5
#define REHEARSAL_ROWS_ALL    12 /* from here on there is room for all three */
void rehearsal_draw(struct canvas *canvas, int column, int row, int columns, int rows,
                    const struct rehearsal *rehearsal);

#endif
