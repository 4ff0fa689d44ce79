/*
 * Invented weeks of the past, from Monday 3 November 2025 on: for what shows them.
 */
#ifndef SUPPORT_PAST_H
#define SUPPORT_PAST_H

#include "ui/past.h"

/* The blocks and points may be changed; the next call makes them anew. */
struct past_fixture {
    struct past past;
    struct past_date dates[14];
    struct past_block blocks[16];
    struct past_point points[40];
};

/* Two weeks with nothing in them. */
void past_fixture_empty(struct past_fixture *ret);
/* Six blocks: one on Monday, two on Wednesday, a stopped one, three on the second Tuesday; half a
 * year before them. */
void past_fixture_full(struct past_fixture *ret);

#endif
