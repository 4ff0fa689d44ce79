/*
 * Turning a brake by hand, on a bike that takes no command: which way, how far, and when.
 *
 * What is said goes by means, stands until the newest readings are well inside the range, and is
 * not said again before a longer mean is outside it once more. A brake and a sensor may take some
 * seconds to show a turn: once half of the way is done nothing is said until the rest has come
 * through. Slow legs are told to turn faster and never to turn the knob up: a tired rider would be
 * chased into a stall. Nothing is said shortly before the end of a step, where the next turn is
 * announced.
 */
#ifndef RIDE_KNOB_H
#define RIDE_KNOB_H

#include "ride/brake_curve.h"
#include "ride/step.h"

/* The highest number on any knob: per cent. */
#define KNOB_TOP_MAX 100

/* Where a knob stands, by the number on it. Zeroed: not known. */
struct knob_place {
    bool is_known;
    int32_t position;
    int32_t top; /* the scale it is on: its greatest number, as far as is known */
};

/* What was known on one scale when a number beyond it was told: a slip, if it is soon put right. */
struct knob_scale {
    int32_t top; /* 0: nothing was known */
    uint64_t t_ms;
    struct brake_model brake;
};
#define KNOB_SLIP_MS 30000u

/* Levels by the rider's keys, as numbers of a knob. */
struct felt {
    int32_t easy;         /* of all that is not work */
    uint64_t raised_t_ms; /* by a key, this or that of work */
};

enum knob_turn { KNOB_LEAVE, KNOB_UP, KNOB_DOWN, KNOB_FASTER, KNOB_SLOWER, KNOB_TURN_COUNT };

/* Standing advice is told again after so long. */
#define KNOB_AGAIN_MS 8000u
/* The last part of a step, or a third of a short one, is for the next turn. */
#define KNOB_AHEAD_MS 5000u

#define KNOB_BINS   16u
#define KNOB_BIN_MS 500u

/* Readings of half a second. */
struct knob_bin {
    uint64_t slot; /* t_ms / KNOB_BIN_MS */
    int32_t count, power_sum_w;
    int32_t cadence_count, cadence_sum_rpm;
};

/* What is asked at this moment. Ranges that are not set ask for nothing. */
struct knob_asked {
    struct target_range power_w, cadence_rpm;
    bool wants_more;  /* less power than the range is a fault too: not so in a rest */
    bool may_rise;    /* nothing is against more of a load */
    int32_t number_w; /* what one number on the knob makes here; 0: it has none, or not known */
    uint32_t step_ms, left_ms;
};

/* Zeroed: nothing is known, nothing said. */
struct knob {
    struct knob_bin bins[KNOB_BINS]; /* a ring by slot */
    enum knob_turn turn;             /* the standing advice */
    int32_t off_w;                   /* to the middle of the range, now: positive, more */
    uint64_t told_t_ms;              /* last; 0: nothing yet */
    int32_t power_then_w;            /* the power when it was told */
    uint64_t settled_t_ms;           /* nothing is said before this: a turn comes through */
    enum knob_turn announced;        /* for the end of this step */
    enum knob_turn due;              /* as announced, and the hand is at it until settled_t_ms */
    struct knob_place place;
    bool is_told;    /* by the rider, and no turn was asked for since: it teaches */
    bool is_assumed; /* nobody told it: it was left there, or turned as was asked */
    bool has_to;     /* the turn that is asked for leads to this number: */
    int32_t to;
    bool is_fresh;   /* older readings are of another step */
    bool is_met;     /* the range was ridden in since it was asked for */
    bool is_nearest; /* it was not, and no number on the knob is nearer */
};

#define KNOB_NO_CADENCE (-1)
/* A reading of the power; cadence_rpm 0 where the legs are still, KNOB_NO_CADENCE where it is not
 * known. */
void knob_reading(struct knob *knob, uint64_t t_ms, int32_t power_w, int32_t cadence_rpm);
/* It was turned there, and it takes a while until that is seen. */
void knob_put(struct knob *knob, uint64_t t_ms, int32_t position);
/* The scale of a knob with such a number on it, `top` the one it was on before; 0: none. Scales are
 * 1 to 10, 25 and 100. */
int32_t knob_top_for(int32_t position, int32_t top);
/* Nothing is asked any more. */
void knob_begin(struct knob *knob);
/* Something else is asked from now on: of a hand that turns, where that was announced. */
void knob_begin_step(struct knob *knob, uint64_t t_ms);
/* With each event of a ride: true when there is something to tell, that it is well now included. */
bool knob_step(struct knob *knob, uint64_t t_ms, const struct knob_asked *asked);

/* How long before the end of a step of that duration the next turn is announced. */
uint32_t knob_ahead_ms(uint32_t duration_ms);
/* Which way to turn from one range to the next; KNOB_LEAVE where either is not set. */
enum knob_turn knob_between(const struct target_range *now_w, const struct target_range *next_w);

#endif
