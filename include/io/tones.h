/*
 * Cues as samples: each can be worked out of its place alone, so they are made as they are needed.
 */
#ifndef IO_TONES_H
#define IO_TONES_H

#include <stddef.h>

#include "ride/cues.h"

/* In samples. */
size_t tones_length(enum cue cue, uint32_t rate_hz);

/* `count` samples from the one at `from`; silence behind the end. `volume_pct` from 0 to 100 goes
 * with loudness. Edges are rounded, so that nothing clicks or startles. */
void tones_render(enum cue cue, uint32_t rate_hz, int volume_pct, size_t from, size_t count,
                  int16_t *ret);

#endif
