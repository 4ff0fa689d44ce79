/*
 * What a ride shows at this moment: numbers and words, not where they stand.
 *
 * A function of the ride, the facts and what the rider's hands did to the screen; no clock, no I/O.
 */
#ifndef UI_VIEW_H
#define UI_VIEW_H

#include "port/screen.h"
#include "ui/words.h"

struct view_reading {
    bool known; /* and fresh */
    int32_t value;
    struct target_range range;
    enum stand stand;
};

#define VIEW_LINE_MAX     100u /* octets, the NUL included */
#define VIEW_CAUTIONS_MAX 4u
#define VIEW_KEYS_MAX     6u
/* How long a caution is shown when no key wakes it away. */
#define VIEW_CAUTION_MS 20000u
/* Readings that come late are told of from here; all bikes send oftener. */
#define VIEW_LATE_MS 2000u

struct view_line {
    char text[VIEW_LINE_MAX];
};

struct view_key {
    const char *key, *does;
};

struct view {
    enum phase phase;
    const struct plan *plan; /* of the ride */
    uint32_t plan_at_ms;     /* how far into the plan, skipped parts included */
    uint32_t plan_ms;
    uint32_t block_ms; /* the block clock */
    uint32_t whole_ms; /* it, and what is left of the plan; 0: nothing of that comes any more */
    struct view_line heading, advice, next, target, trouble, so_far;
    struct view_line sources; /* whose readings are shown, while that is not as the rider asked */
    struct view_line
        aside; /* the heart's recovery while it counts, or how the mark or a sensor does */
    struct view_reading power_w, cadence_rpm, heart_bpm;
    /* In the largest digits: the power; where nothing measures it the cadence; off the bike the
     * repetition. An empty unit: nothing. */
    struct view_reading large;
    const char *large_unit;
    bool by_cadence; /* which is what is judged, since no power is asked for, or none measured */
    int32_t heart_limit_bpm;
    struct view_line knob; /* how to turn a brake by hand, now or at the edge that comes */
    bool by_hand;          /* no program takes the load off */
    bool counts_down;      /* a number of seconds matters now, and what it is called */
    uint32_t countdown_s;
    const char *countdown_of;
    enum cut_off cut_off; /* not acknowledged yet */
    uint32_t caution_count;
    enum caution cautions[VIEW_CAUTIONS_MAX]; /* not woken away; the gravest first */
    bool asks_to_skip, is_muted;
    uint32_t key_count;
    struct view_key keys[VIEW_KEYS_MAX]; /* stop is the first */
};

void view_set(const struct ride *ride, const struct ride_facts *facts,
              const struct screen_hands *hands, struct view *ret);

/* STAND_UNKNOWN where nothing is known or nothing is asked. */
enum stand stand_of(bool known, int32_t value, const struct target_range *range);
/* What comes after that step: "then rest 3 of 8 0:10, 60..100 W", and ", knob to 3" where a brake
 * turned by hand has a number for it. */
struct view_line view_after(const struct ride *ride, size_t step);
/* "0:20", or "1:00 at most, until 12.0 kJ". */
struct view_line view_duration(const struct plan_step *step);
/* "3.4 kJ left", "until 120 bpm", or nothing: what ends the step of a ride besides its time. */
struct view_line view_left(const struct ride *ride);
/* "repetition 3 of 8: lower 2 of 3 s", or nothing where none are done. */
struct view_line view_repetition(const struct ride *ride);
/* "Turn the knob up: 40 W more." or "In 3 s: ease the knob."; nothing where nothing is to be done,
 * or the brake is not turned by hand. */
struct view_line view_knob(const struct ride *ride);
/* What to do about a bike that is ready and tells nothing, or nothing: some tell nothing before the
 * pedals turn. */
struct view_line view_silence(const struct ride *ride);
/* Who stands in for a sensor that the rider named and that is not heard: "bike", "power sensor";
 * NULL where the reading is as asked, or there is none. */
struct view_sources {
    const char *power, *cadence, *heart;
};
struct view_sources view_sources(const struct ride *ride, const struct ride_facts *facts);
/* "Sensor silent. Power: the bike's.", or nothing. */
struct view_line view_sources_line(const struct view_sources *sources);
/* "work 3 of 8". */
struct view_line view_step(const struct plan_step *step);
/* "about 62 % +- 11", or "full", for a reserve that is known: the differential model, see
 * body/reserve.h. */
struct view_line view_reserve(const struct reserve_run *run);

#endif
