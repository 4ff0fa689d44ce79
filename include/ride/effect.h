/*
 * Everything that a ride can want done, in the order in which it is to be done.
 */
#ifndef RIDE_EFFECT_H
#define RIDE_EFFECT_H

#include "ride/event.h"

enum effect_kind {
    EFFECT_COMMAND, /* tell the machine; these come first */
    EFFECT_PHASE,
    EFFECT_STEP,   /* a step of the plan begins */
    EFFECT_SAMPLE, /* a reading that counts towards the block */
    EFFECT_HOLD,   /* the block clock stands, or runs again */
    EFFECT_SHIFT,  /* the rider's own, in per cent of every load */
    EFFECT_CAUTION,
    EFFECT_CUT_OFF,
    EFFECT_SUMMARY, /* last */
    EFFECT_KIND_COUNT
};

enum phase {
    PHASE_CONNECTING, /* no machine yet */
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
    CAUTION_HEART_NEAR,   /* close to the limit */
    CAUTION_STRAP_LOST,   /* heart rate was there and is gone: rest load */
    CAUTION_NO_HEART,     /* nobody watches the heart */
    CAUTION_NO_CONTROL,   /* the bike takes no commands: the rider sets it */
    CAUTION_DOUBTFUL,     /* readings that cannot be true were dropped */
    CAUTION_LOWERED,      /* the target is above a limit and was lowered */
    CAUTION_LOAD_REFUSED, /* the bike refused a load */
    CAUTION_NOT_SAVED,    /* saving fails; kept in memory */
    CAUTION_KEEP_TURNING, /* after stop or cut-off */
    CAUTION_COUNT
};

enum cut_off {
    CUT_OFF_NONE,
    CUT_OFF_HEART,
    CUT_OFF_POWER,
    CUT_OFF_CADENCE,
    CUT_OFF_NO_DATA,
    CUT_OFF_LINK_LOST,
    CUT_OFF_UNANSWERED,
    CUT_OFF_REFUSED,
    CUT_OFF_CONTROL_LOST,
    CUT_OFF_SAFETY_KEY,
    CUT_OFF_TIME,
    CUT_OFF_COUNT
};

enum end { END_NONE, END_DONE, END_STOPPED, END_CUT_OFF };

enum end_reason {
    REASON_NONE,
    REASON_PLAN_DONE,
    REASON_STOP_KEY,
    REASON_LEFT,         /* the terminal or the system ended the program */
    REASON_MACHINE_STOP, /* at its console */
    REASON_HELD_TOO_LONG,
    REASON_NOT_STARTED, /* nobody pedalled */
    REASON_NO_MACHINE,  /* it never became ready */
    REASON_RECOVERED,   /* the program died; this is what the journal knows */
    REASON_CUT_OFF      /* the cut-off says which */
};

struct summary {
    enum end end;
    enum end_reason reason;
    enum cut_off cut_off;
    bool unreleased;      /* the machine has not confirmed that it let go */
    int32_t skipped;      /* steps cut short by key */
    uint32_t duration_ms; /* the block clock, holds left out */
    int64_t work_j;
    int32_t average_power_w, work_power_w; /* while power was known; in the work steps */
    int32_t distance_m;
    int32_t in_range_s, work_s; /* whole seconds of work, and those in range */
    int32_t max_power_w, average_heart_bpm, max_heart_bpm, heart_fall_bpm; /* 0: not known */
    int32_t best_5s_w, best_30s_w, best_60s_w, best_180s_w; /* 0: shorter than that */
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
            enum cut_off cut_off;
        } cut_off;
        struct summary summary;
    };
};

#define EFFECTS_MAX 24u
struct effects {
    size_t count;
    struct effect list[EFFECTS_MAX];
};

#endif
