/*
 * Cues on the bell of a terminal: it has one pitch, so the rhythm tells them apart.
 */
#ifndef IO_SPEAKER_BELL_H
#define IO_SPEAKER_BELL_H

#include "io/loop.h"
#include "port/screen.h"
#include "port/speaker.h"

/* `sink` ends at a terminal. NULL when out of memory. */
struct speaker *speaker_bell_new(struct loop *loop, struct sink sink);

#endif
