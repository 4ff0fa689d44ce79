/*
 * The cues of a ride, from its effects to the speakers.
 */
#ifndef APP_SOUND_H
#define APP_SOUND_H

#include "io/loop.h"
#include "port/screen.h"
#include "port/speaker.h"

#define SOUND_VOLUME_PCT 70 /* where the rider has said nothing */

struct sound_setup {
    bool is_aloud; /* on the sound device, or on the bell where that does not work */
    bool is_muted; /* at first */
    uint32_t volume_pct;
    struct sink bell; /* ends at a terminal; put is NULL where there is none */
    const char *file; /* also into this WAV file, or NULL; muted or not, and at full volume */
};

/* Zeroed: nothing is to be heard. */
struct sound {
    struct loop *loop;
    struct sound_setup setup;
    bool is_muted;
    struct speaker *aloud, *file;
    const struct ride *ride;
    struct cues cues;
    int timer;
    bool is_open;
    bool is_wanted;                            /* it was not muted all the time */
    char device_trouble[64], file_trouble[64]; /* not said yet: see sound_close() */
};

/* False: the file cannot be written, which was complained of. That there is no sound device is
 * complained of, unless it is muted, and no failure. What `setup` points to is borrowed; `sound`
 * must not move. */
bool sound_open(struct sound *sound, struct loop *loop, const struct sound_setup *setup);
/* With each event of the ride, after what it caused has been done. */
void sound_step(struct sound *sound, const struct ride *ride, const struct effects *effects);
void sound_play(struct sound *sound, enum cue cue);
/* The mark is passed; to be heard from the next step on. */
void sound_pass_mark(struct sound *sound);
/* Silent at once, or to be heard from the next cue on. */
void sound_set_mute(struct sound *sound, bool is_muted);
/* Lets the last cue come to its end, for at most `wait_ms`. Complains of what failed meanwhile,
 * which during the ride would lie across the screen; not of a device that nobody wanted to hear. */
void sound_close(struct sound *sound, int wait_ms);

#endif
