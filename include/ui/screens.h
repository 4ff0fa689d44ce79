/*
 * The ways to show a ride. Each needs only a sink and no other memory than its own struct.
 */
#ifndef UI_SCREENS_H
#define UI_SCREENS_H

#include "port/screen.h"

/* A line for everything that happens and one a second besides: fit for a log and a screen reader.
 */
void screen_plain(struct screen *screen, struct sink sink);
/* A JSON object a line, each with "event" and "t_ms". */
void screen_jsonl(struct screen *screen, struct sink sink);

#endif
