/*
 * What the parts of the report share: text on its way out, and the drawings.
 */
#ifndef UI_REPORT_OUT_H
#define UI_REPORT_OUT_H

#include "port/screen.h"
#include "ui/chart.h"
#include "ui/past.h"

/* As it is: for markup and numbers, never for text that somebody else gave. 400 octets at most. */
void report_put(struct sink sink, const char *format, ...) __attribute__((format(printf, 2, 3)));
/* Somebody's text: escaped, control characters left out, in a <bdi>. */
void report_text(struct sink sink, const char *text);

void report_draw_trend(struct sink sink, const struct past_trend *trend);
void report_draw_chart(struct sink sink, const struct chart *chart);

#endif
