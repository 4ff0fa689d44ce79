#include <assert.h>

#include "ride/cues.h"

/* Pitches of 200 to 1000 Hz: with their harmonics they come out of small loudspeakers and through
 * fans and music (IEC 60601-1-8 asks for a fundamental of 150 to 1000 Hz and four harmonics from
 * 300 to 4000 Hz). Faster, higher and more often sounds more urgent (Haas and Edworthy, Designing
 * urgency into auditory warnings using pitch, speed and loudness, 1996). The tunes are our own. */
static const struct cue_score scores[CUE_KIND_COUNT] = {
    [CUE_BEAT] = {1, {{0, 100, 440, 440}}},
    [CUE_LOWER] = {1, {{0, 260, 660, 330}}},
    [CUE_LIFT] = {1, {{0, 300, 330, 660}}},
    [CUE_RANGE] = {2, {{0, 200, 220, 220}, {300, 200, 220, 220}}},
    [CUE_KNOB_UP] = {2, {{0, 140, 262, 262}, {180, 240, 523, 523}}},
    [CUE_KNOB_DOWN] = {2, {{0, 240, 523, 523}, {280, 140, 262, 262}}},
    [CUE_MARK] =
        {4, {{0, 100, 659, 659}, {140, 100, 831, 831}, {280, 100, 659, 659}, {420, 260, 831, 831}}},
    [CUE_COUNT] = {1, {{0, 120, 587, 587}}},
    [CUE_RESUMED] = {2, {{0, 180, 370, 370}, {240, 320, 494, 494}}},
    [CUE_EASE] = {1, {{0, 500, 784, 392}}},
    [CUE_WORK] = {1, {{0, 700, 988, 988}}},
    [CUE_HELD] = {2, {{0, 320, 494, 494}, {380, 180, 370, 370}}},
    [CUE_END] = {3, {{0, 200, 523, 523}, {250, 200, 659, 659}, {500, 500, 784, 784}}},
    [CUE_CAUTION] = {6,
                     {{0, 100, 740, 740},
                      {180, 100, 740, 740},
                      {360, 100, 740, 740},
                      {700, 100, 740, 740},
                      {880, 100, 740, 740},
                      {1060, 100, 740, 740}}},
    [CUE_CUT_OFF] = {10,
                     {{0, 100, 880, 880},
                      {150, 100, 622, 622},
                      {300, 100, 880, 880},
                      {550, 100, 622, 622},
                      {700, 100, 880, 880},
                      {1050, 100, 880, 880},
                      {1200, 100, 622, 622},
                      {1350, 100, 880, 880},
                      {1600, 100, 622, 622},
                      {1750, 100, 880, 880}}},
};

static const struct {
    const char *name, *meaning;
} words[CUE_KIND_COUNT] = {
    [CUE_NONE] = {"none", "nothing"},
    [CUE_BEAT] = {"beat", "off the bike: a second of a repetition"},
    [CUE_LOWER] = {"lower", "off the bike: lowering begins"},
    [CUE_LIFT] = {"lift", "off the bike: lifting begins"},
    [CUE_RANGE] = {"range", "out of the target range in work; again every 4 s"},
    [CUE_KNOB_UP] = {"knob-up", "brake by hand: turn it up; again every 8 s"},
    [CUE_KNOB_DOWN] = {"knob-down", "brake by hand: ease it; again every 8 s"},
    [CUE_MARK] = {"mark", "all that the mark did is done"},
    [CUE_COUNT] = {"count", "3, 2 and 1 s before work, a turn by hand, or the end of a hold"},
    [CUE_RESUMED] = {"resumed", "the block goes on"},
    [CUE_EASE] = {"ease", "work is over for now"},
    [CUE_WORK] = {"work", "work begins"},
    [CUE_HELD] = {"held", "load off, the block clock stands"},
    [CUE_END] = {"end", "the block is over"},
    [CUE_CAUTION] = {"caution", "look at the screen"},
    [CUE_CUT_OFF] = {"cut-off", "load off for good; look at the screen"},
};

const struct cue_score *cue_score(enum cue cue)
{
    assert((unsigned)cue < CUE_KIND_COUNT);
    return &scores[cue];
}

uint32_t cue_length_ms(enum cue cue)
{
    const struct cue_score *score = cue_score(cue);
    const struct cue_note *last = &score->notes[score->count > 0 ? score->count - 1 : 0];

    return (uint32_t)last->at_ms + last->length_ms;
}

const char *cue_name(enum cue cue)
{
    assert((unsigned)cue < CUE_KIND_COUNT);
    return words[cue].name;
}

const char *cue_meaning(enum cue cue)
{
    assert((unsigned)cue < CUE_KIND_COUNT);
    return words[cue].meaning;
}
