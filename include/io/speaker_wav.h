/*
 * Cues in a WAV file, each at the ride's own time: for tests, and to hear a ride afterwards.
 */
#ifndef IO_SPEAKER_WAV_H
#define IO_SPEAKER_WAV_H

#include "base/result.h"
#include "port/speaker.h"

#define SPEAKER_WAV_RATE_HZ 16000u

/* Makes the file, or empties it. The time 0 of the ride is its beginning, and it ends with the last
 * cue; after each cue it is whole. RESULT_IO with errno: it cannot be written. */
MUST_USE enum result speaker_wav_open(const char *path, struct speaker **ret);

#endif
