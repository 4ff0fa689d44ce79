/*
 * A rehearsal on stdout.
 */
#ifndef APP_REHEARSAL_OUTPUT_H
#define APP_REHEARSAL_OUTPUT_H

#include "ride/fit.h"
#include "ui/rehearsal.h"

/* What was rehearsed for whom. */
struct rehearsal_head {
    const struct profile *profile;
    const struct fit *fit;
    const struct rider *known; /* as the settings have it, and the mark */
    const char *from; /* where critical power and W' come from; NULL: settings, or assumed */
};

/* That, the figures, the chart: 80 columns. */
void rehearsal_print(const struct rehearsal *rehearsal, const struct rehearsal_head *head);

/* A table of them: with what differs in front, the length, or `target_pct` where that is not 0. */
void rehearsal_print_heading(const char *title, bool by_length);
void rehearsal_print_row(const struct rehearsal *rehearsal, int32_t target_pct);

/* One object in a line of its own. False: out of memory. */
bool rehearsal_print_json(const struct rehearsal *rehearsal, const struct fit *fit,
                          int32_t target_pct, bool has_seconds);

#endif
