/*
 * How a ride ended, and what it came to.
 */
#ifndef RIDE_SUMMARY_H
#define RIDE_SUMMARY_H

#include <stdbool.h>
#include <stdint.h>

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
    REASON_CUT_OFF,     /* the cut-off says which */
    REASON_UNGUARDED    /* the process that would have let go in our place was gone */
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
    int32_t max_power_w, average_heart_bpm, max_heart_bpm; /* 0: no readings */
    int32_t heart_fall_bpm; /* in the minute after the last work; below 0 it rose; 0: not known */
    int32_t best_5s_w, best_30s_w, best_60s_w, best_180s_w; /* 0: shorter than that */
    /* Of the power, by a sensor beside the machine; and how far that reads above the machine, in
     * tenths of a per cent, with half of the 95 % interval (body/two_powers.h; 0: not known). */
    int32_t sensor_pct, difference_tenths, difference_error_tenths;
};

#endif
