/*
 * Everything that a ride can want done, in the order in which it is to be done.
 */
#ifndef RIDE_EFFECT_H
#define RIDE_EFFECT_H

#include <stddef.h>

#include "ride/event.h"
#include "ride/knob.h"
#include "ride/summary.h"

enum effect_kind {
    EFFECT_COMMAND, /* tell the machine; these come first */
    EFFECT_PHASE,
    EFFECT_STEP,   /* a step of the plan begins */
    EFFECT_SAMPLE, /* a reading that counts towards the block */
    EFFECT_HOLD,   /* the block clock stands, or runs again */
    EFFECT_SHIFT,  /* the rider's own, in per cent of every load */
    EFFECT_CAUTION,
    EFFECT_KNOB, /* to be turned by hand; again while that stands, and once that it is well */
    EFFECT_CUT_OFF,
    EFFECT_SUMMARY, /* last */
    EFFECT_KIND_COUNT
};

enum phase {
    PHASE_CONNECTING, /* no machine yet */
    PHASE_FLOOR,      /* off the bike, with or without a machine */
    PHASE_READY,      /* waits for pedalling */
    PHASE_COUNT_IN,
    PHASE_RIDING,
    PHASE_HELD,    /* load released, block clock stands */
    PHASE_EASY,    /* after stop or cut-off: load released, legs turning */
    PHASE_LEAVING, /* the machine has still to take release and stop */
    PHASE_ENDED,
    PHASE_COUNT
};

enum hold {
    HOLD_NONE,
    HOLD_RIDER,     /* the hold key */
    HOLD_LINK,      /* the link to the machine is lost, or back but silent */
    HOLD_NO_DATA,   /* readings too old to command a load */
    HOLD_CADENCE,   /* the legs could not turn the load */
    HOLD_PAUSED,    /* at the machine's console */
    HOLD_CLOCK_JUMP /* the program or the computer was asleep */
};

enum caution {
    CAUTION_NONE,
    CAUTION_HEART_NEAR,          /* close to the limit */
    CAUTION_STRAP_LOST,          /* heart rate was there and is gone: rest load */
    CAUTION_HEART_FLAT,          /* does not rise as the work does */
    CAUTION_HEART_STAYS,         /* does not fall in rest */
    CAUTION_HEART_FROZEN,        /* one value for minutes while the power changes */
    CAUTION_NO_HEART,            /* nobody watches the heart */
    CAUTION_NO_CONTROL,          /* the bike takes no commands: the rider sets it */
    CAUTION_DOUBTFUL,            /* readings that cannot be true were dropped */
    CAUTION_POWER_FROZEN,        /* one value for a minute while the cadence changes */
    CAUTION_NO_POWER,            /* the legs turn, and the bike tells no power */
    CAUTION_BY_FEEL,             /* nor ever did: the rider's keys set the level */
    CAUTION_TWO_CADENCES,        /* the bike tells twice or half what the sensor does */
    CAUTION_TWO_POWERS,          /* bike and power sensor are far apart */
    CAUTION_POWER_SENSOR_LOST,   /* the bike's own readings count instead */
    CAUTION_CADENCE_SENSOR_LOST, /* likewise, or a power sensor's */
    CAUTION_LOWERED,             /* the target is above a limit and was lowered */
    CAUTION_LOAD_REFUSED,        /* the bike refused a load */
    CAUTION_NOT_SAVED,           /* saving fails; kept in memory */
    CAUTION_BY_EFFORT,           /* medicine slows the heart: its rate is no guide */
    CAUTION_FIRST_BLOCKS,        /* a new rider's: short and easy */
    CAUTION_KEEP_TURNING,        /* after stop or cut-off */
    CAUTION_COUNT
};

struct effect {
    enum effect_kind kind;
    union {
        struct {
            enum machine_command command;
            struct load load;
            bool now; /* before everything that waits */
        } command;
        struct {
            enum phase phase;
        } phase;
        struct {
            int32_t index;
        } step;
        struct telemetry sample;
        struct {
            enum hold hold; /* HOLD_NONE: goes on */
        } hold;
        struct {
            int32_t shift_pct;
        } shift;
        struct {
            enum caution caution;
        } caution;
        struct {
            enum knob_turn turn;
            int32_t by_w;   /* to the middle of the range: positive, more */
            uint32_t in_ms; /* at the end of the step, after so long; 0: now */
            bool has_to;    /* the number on the knob is known: */
            int32_t to;
        } knob;
        struct {
            enum cut_off cut_off;
        } cut_off;
        struct summary summary;
    };
};

/* Above what one event can cause, as `make prove` counts it. */
#define EFFECTS_MAX 56u
struct effects {
    size_t count;
    struct effect list[EFFECTS_MAX];
};

#endif
