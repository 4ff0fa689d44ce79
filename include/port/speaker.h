/*
 * What lets cues be heard.
 */
#ifndef PORT_SPEAKER_H
#define PORT_SPEAKER_H

#include "ride/cues.h"

struct speaker;

struct speaker_operations {
    /* Begins the cue, which cuts off the one before; CUE_NONE: silence. Never blocks. `t_ms` is the
     * ride's time; `volume_pct` from 0 to 100. */
    void (*play)(struct speaker *speaker, enum cue cue, uint64_t t_ms, int volume_pct);
    /* Lets what sounds come to its end, for at most `wait_ms`; frees. */
    void (*close)(struct speaker *speaker, int wait_ms);
};

struct speaker {
    const struct speaker_operations *operations;
    /* Called once, last in a call or out of the loop, when it cannot go on; it may be closed then.
     * `why` is a few words for the rider. */
    void (*failed)(void *user, const char *why);
    void *user;
};

#endif
