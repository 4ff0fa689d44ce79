/*
 * What a plan asks of the legs, as one number.
 */
#ifndef APP_ASKED_H
#define APP_ASKED_H

#include "ride/plan.h"
#include "ui/verdict.h"

struct asked {
    enum verdict_unit unit;
    uint32_t value; /* mean of the middles of its work steps, by their time; 0: none */
};

/* `lowered_pct` is what all targets were lowered by, and is taken off again. */
struct asked asked_of(const struct plan *plan, uint32_t lowered_pct);

#endif
