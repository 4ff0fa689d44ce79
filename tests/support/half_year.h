/*
 * Half a year of an invented rider whose true progress is known, two blocks a week, many times
 * over: how often the verdicts say what. The noise of a block is normal.
 */
#ifndef SUPPORT_HALF_YEAR_H
#define SUPPORT_HALF_YEAR_H

#include <stddef.h>
#include <stdint.h>

#define HALF_YEAR_BLOCKS 52u
/* The first that is judged by the rider's own typical error: two are learning, five tell it. */
#define HALF_YEAR_OWN_ERROR 7u
/* And the first that is judged at all. */
#define HALF_YEAR_JUDGED 3u

struct half_year {
    double error_pct; /* typical error of one block */
    double rise_pct;  /* true progress from each block to the next */
    size_t from, to;  /* blocks whose verdicts count, from 0, without `to` */
};

/* Shares of all verdicts, in per cent. */
struct half_year_verdicts {
    double better_pct, noise_pct, lower_pct;
};

struct half_year_verdicts half_year_ride(const struct half_year *rider, uint32_t seeds);

#endif
