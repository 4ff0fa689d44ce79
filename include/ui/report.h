/*
 * A page for people who would rather look than read: some weeks, the trend, one block, as one HTML
 * file with its drawings in it.
 *
 * Well-formed as XML too. It needs no script and fetches nothing, which its own policy forbids
 * besides; reads on a telephone, on paper, light and dark; no meaning hangs on colour alone. Texts
 * that riders and devices gave are hostile: escaped, and kept from turning round what stands beside
 * them.
 */
#ifndef UI_REPORT_H
#define UI_REPORT_H

#include "port/screen.h"
#include "port/store.h"
#include "ui/chart.h"
#include "ui/past.h"

/* Texts are borrowed and may be empty, not NULL. */
struct report_block {
    const struct store_ride *ride;
    const char *started, *end; /* when, and how it ended */
    const char *against[4];    /* what it came to against those before, in sentences */
    struct chart chart;        /* no seconds: there is nothing to draw, and `trouble` says why */
    const struct chart_step *steps;
    size_t step_count;
    const char *trouble;
};

struct report {
    const struct past *past;
    const struct report_block *block; /* NULL: there is none */
    struct past_date made;
};

void report_write(const struct report *report, struct sink sink);

#endif
