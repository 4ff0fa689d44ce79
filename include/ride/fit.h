/*
 * A profile fitted to the day: how long, and how the legs feel.
 *
 * The rule. Length: the rounds that bend, `rounds fit` or else the profile's one outermost set, get
 * as many as come closest to the wanted length, the fewer where two are as close, within what the
 * profile and this program allow; what stands in the rounds, and so the order and ratio of work and
 * rest, stays. So the length misses what was wanted by half a round at most, and at the ends of the
 * range by what is left there. Steps that may end sooner count with the longest time they may take.
 * Feel: with bad legs every power, level and amount of work is asked for 6 % lower, with poor ones
 * 3 %, else as written (common practice). Load: by so much more or less than that besides, as the
 * rider wishes.
 *
 * The first blocks. A rider who is new to this gets the fewest rounds that make a block, whatever
 * length the profile or the rider asks for, and targets 20 % lower; a profile that cannot be made
 * so short is refused. Muscle breakdown after group cycling befalls beginners: 42 of 46 published
 * cases came from a first class (Brogan et al. 2017, Am J Med). How many blocks, how short and how
 * easy is our own choice. ride/limits.h caps the loads of such a rider besides, which no profile
 * reaches.
 */
#ifndef RIDE_FIT_H
#define RIDE_FIT_H

#include "base/text.h"
#include "ride/plan.h"

#define FIRST_BLOCKS        3u
#define FIRST_LENGTH_MAX_MS 240000u

#define FEEL_MAX 5u /* 1 bad, 2 poor, 3 as usual, 4 good, 5 very good */

#define FIT_LOAD_MAX_PCT 50 /* either way; beyond it is another profile */

/* Zeroed: as the profile is written. */
struct fit_wish {
    uint32_t length_ms; /* 0: not said */
    uint32_t feel;      /* 0: not said */
    int32_t load_pct;   /* targets so much higher; below 0 lower. Nothing to a first block */
    bool is_first;      /* one of the first blocks of a new rider */
};

/* By so much are targets lowered for legs that feel so; 0 to 6. */
int32_t fit_legs_pct(uint32_t feel);

/* Which lengths a profile can have: base + rounds x round, for rounds from low to high. */
struct fit_span {
    size_t item; /* of the rounds that bend */
    uint32_t base_ms, round_ms;
    uint16_t rounds, low, high; /* as written; what is allowed */
};

/* What became of a profile. */
struct fit {
    uint32_t length_ms;
    uint32_t length_min_ms, length_max_ms; /* what the profile allows */
    uint16_t rounds;                       /* of those that bend; 0: there are none */
    int32_t lower_pct;                     /* by so much all targets were lowered */
    int32_t load_pct;                      /* and then raised */
    bool is_first;
};

/* RESULT_INVALID: see profile_measure(). RESULT_UNSUPPORTED: no rounds, or more than one set of
 * outermost rounds and none of them `fits`, so none is the one to bend. RESULT_RANGE: no number of
 * rounds makes a length that is allowed. */
MUST_USE enum result fit_span(const struct profile *profile, struct fit_span *ret);
uint32_t fit_length_ms(const struct fit_span *span, uint16_t rounds);
/* How many rounds come closest. */
uint16_t fit_rounds(const struct fit_span *span, uint32_t length_ms);
/* How many a first block has: the fewest that make a block, also where the profile asks for more,
 * and no more than are written. */
uint16_t fit_first_rounds(const struct fit_span *span);

/* Gives `rounds fit` as many as come closest to the middle of the profile's lengths: what it is
 * without a wish. To be called when steps or lengths of such a profile were changed; profile_read()
 * has done it. Without such rounds nothing happens. Errors: those of fit_span(). */
MUST_USE enum result profile_settle(struct profile *profile);

/* `profile` may be `*ret`. Without a wanted length every sound profile fits. Errors: those of
 * fit_span() for a wanted length; RESULT_RANGE also for one outside of the profile's own range, and
 * for a first block that is too long and does not bend. */
MUST_USE enum result profile_fit(const struct profile *profile, const struct fit_wish *wish,
                                 struct profile *ret, struct fit *ret_fit);

/* Lowers a power range, or all of a plan, to `max_w`, 0 or more; each keeps a tenth of that as its
 * width. */
void target_cap_power(struct target_range *range, int32_t max_w);
void plan_cap_power(struct plan *plan, int32_t max_w);

/* "4:00 of 3:00..7:00, 8 rounds, targets 3 % down" */
void fit_put(struct text_writer *writer, const struct fit *fit);
/* Why a profile cannot be fitted to a wish, for a result of profile_fit(). */
const char *fit_problem(const struct fit_wish *wish, enum result result);

#endif
