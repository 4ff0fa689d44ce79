/*
 * Cues on the sound device that ALSA calls "default": that of PulseAudio or PipeWire where one of
 * these runs.
 */
#ifndef IO_SPEAKER_ALSA_H
#define IO_SPEAKER_ALSA_H

#include "base/result.h"
#include "io/loop.h"
#include "port/speaker.h"

/* RESULT_IO: `*ret_why`, which lasts, says in a few words why there is no sound. Between two cues
 * the device stands still and wakes nobody up. */
MUST_USE enum result speaker_alsa_open(struct loop *loop, struct speaker **ret,
                                       const char **ret_why);

#endif
