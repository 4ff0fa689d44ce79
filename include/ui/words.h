/*
 * What the rider reads: one place for every sentence, so that plain text, screens and --jsonl say
 * the same.
 */
#ifndef UI_WORDS_H
#define UI_WORDS_H

#include <stdbool.h>

#include "body/rider.h"
#include "ride/effect.h"

/* Where a reading stands to what is asked. */
enum stand { STAND_UNKNOWN, STAND_LOW, STAND_IN_RANGE, STAND_HIGH };

/* Whole sentences, never NULL. `by_hand`, here and below: the load is made by the rider's hand. */
const char *words_caution(enum caution caution, bool by_hand);
const char *words_cut_off(enum cut_off cut_off);
/* What became of the load at that cut-off, as far as anybody can know. */
const char *words_load_at(enum cut_off cut_off, bool by_hand);
const char *words_hold(enum hold hold, bool by_hand);
const char *words_reason(enum end_reason reason);
/* "1 step was skipped", "3 steps were skipped"; `ret` holds WORDS_SKIPPED_SIZE octets. */
#define WORDS_SKIPPED_SIZE 40
const char *words_skipped(int32_t skipped, char *ret);
/* "nothing told the power", or nothing where something did. */
const char *words_no_power(const struct summary *summary);
/* How far a power sensor reads from the bike, as in body/two_powers.h: "4.2 % above the bike (+-
 * 0.8)", in whole per cent where the error is 1 or more; and what a sensor that was named did in a
 * ride, that included where it is known (error above 0): "the whole time; reads 4.2 % above the
 * bike (+- 0.8)". `ret` holds WORDS_SENSOR_SIZE.
 */
#define WORDS_SENSOR_SIZE 160
const char *words_difference(int32_t tenths, int32_t error_tenths, char *ret);
/* Of one that is far off the bike, what that means and what to do, to follow it; else "". */
const char *words_far_off(int32_t tenths, int32_t error_tenths);
const char *words_power_sensor(int32_t sensor_pct, int32_t tenths, int32_t error_tenths, char *ret);
/* What a fall of the heart rate in the minute after the work says: see body/heart.h. */
const char *words_heart_fall(int32_t fall_bpm);
/* "down"; "up" where it has risen: a fall below 0, to be told without its sign. */
const char *words_heart_way(int32_t fall_bpm);
/* Where the heart rate limit of a rider comes from, and how far it may be off. */
const char *words_heart_basis(const struct rider *rider);
/* What a phase is called, and what is to be done in it ("" where the plan says it). */
const char *words_phase(enum phase phase);
const char *words_to_do(enum phase phase, bool by_hand);
/* Of the number of seconds that matters in a phase. */
const char *words_countdown(enum phase phase);
const char *words_stand(enum stand stand); /* "" where unknown */
const char *words_skip_again(void);
const char *words_acknowledge(void);
const char *words_sound(bool is_muted);
/* For the name of an end_reason or cut_off, as the store keeps it; the name itself for others. */
const char *words_ending(const char *name);

/* To be read and accepted before the first ride, and the few lines before each one. The number goes
 * up when the text changes in a way that must be read again. */
#define CAUTIONS_VERSION 1
extern const char words_first_cautions[];
extern const char words_each_ride[];
/* After the first blocks, and in the help: the cool-down, and the days that follow. */
extern const char words_after_block[];

#endif
