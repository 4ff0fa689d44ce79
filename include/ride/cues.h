/*
 * What a ride lets be heard: which cue begins now, and when the next one falls due.
 *
 * A function of the ride, its effects and the time. What belongs to an edge of a step sounds at the
 * edge or not at all; what only has to be known waits for a gap, so that no two sound at once.
 * Sounds differ in pitch and in rhythm, as Patterson and Mayfield ask (Auditory warning sounds in
 * the work environment, Phil. Trans. R. Soc. B 327, 1990).
 */
#ifndef RIDE_CUES_H
#define RIDE_CUES_H

#include "ride/ride.h"

enum cue {
    CUE_NONE,
    CUE_BEAT,    /* a second of a repetition off the bike */
    CUE_LOWER,   /* lowering begins */
    CUE_LIFT,    /* lifting begins */
    CUE_RANGE,   /* out of the range of a work step for more than 3 s; again while that lasts */
    CUE_KNOB_UP, /* the brake is to be turned up by hand; again every KNOB_AGAIN_MS */
    CUE_KNOB_DOWN,
    CUE_MARK,    /* all that the mark did is done */
    CUE_COUNT,   /* 3, 2 and 1 s before a work step, before the block, each hold off the bike, and
                    where a brake is to be turned by hand */
    CUE_RESUMED, /* the block clock runs again */
    CUE_EASE,    /* a work step is over */
    CUE_WORK,    /* a work step begins, or the block */
    CUE_HELD,    /* load off, the block clock stands */
    CUE_END,     /* the block is over */
    CUE_CAUTION,
    CUE_CUT_OFF,
    CUE_KIND_COUNT
};

/* A note glides from one pitch to the other; mostly they are the same. */
struct cue_note {
    uint16_t at_ms, length_ms; /* from the beginning of the cue */
    uint16_t from_hz, to_hz;
};

#define CUE_NOTES_MAX 10u
/* In the order of time; they do not overlap. CUE_NONE has no notes. */
struct cue_score {
    size_t count;
    struct cue_note notes[CUE_NOTES_MAX];
};

const struct cue_score *cue_score(enum cue cue);
/* Until the end of the last note. */
uint32_t cue_length_ms(enum cue cue);
/* "count", and what it says in a few words: for lists. */
const char *cue_name(enum cue cue);
const char *cue_meaning(enum cue cue);

#define CUES_NEVER UINT64_MAX

/* Zeroed: before the ride. */
struct cues {
    enum cue sounding; /* until this, the pause behind it included: */
    uint64_t until_t_ms;
    uint32_t wanted;       /* a bit a cue */
    uint64_t caution_t_ms; /* since when one waits */
    uint64_t counted_t_ms; /* the edge that is counted down to */
    uint32_t counts_left;
    uint64_t beat_t_ms; /* the last second of a repetition that was counted */
    bool on_floor;
    uint64_t settled_t_ms; /* before that nobody can be in range */
    enum cue out;          /* what tells of being out of range, while one is; said next: */
    uint64_t range_t_ms;
    uint64_t knob_t_ms; /* not before this of a knob */
    bool is_over;
};

/* The ride has passed its mark (ride/mark.h), of which the ride itself does not know. */
void cues_pass_mark(struct cues *cues);

/* With each event, and at the time that was returned: the cue that begins at `t_ms`, which cuts off
 * what sounds. `effects` are those of the event, or NULL; `t_ms` is not before the last event.
 * `ret_next_t_ms`: when to ask again though nothing happens, or CUES_NEVER. */
enum cue cues_step(struct cues *cues, const struct ride *ride, const struct effects *effects,
                   uint64_t t_ms, uint64_t *ret_next_t_ms);

#endif
