/*
 * What the rider reads: one place for every sentence, so that plain text, screens and --jsonl say
 * the same.
 */
#ifndef UI_WORDS_H
#define UI_WORDS_H

#include "ride/effect.h"

/* Whole sentences, never NULL. */
const char *words_caution(enum caution caution);
const char *words_cut_off(enum cut_off cut_off);
/* What became of the load at that cut-off, as far as anybody can know. */
const char *words_load_at(enum cut_off cut_off);
const char *words_hold(enum hold hold);
const char *words_reason(enum end_reason reason);
/* What a fall of the heart rate in the minute after the work says: see body/heart.h. */
const char *words_heart_fall(int32_t fall_bpm);
/* For the name of an end_reason or cut_off, as the store keeps it; the name itself for others. */
const char *words_ending(const char *name);

/* To be read and accepted before the first ride, and the few lines before each one. The number goes
 * up when the text changes in a way that must be read again. */
#define CAUTIONS_VERSION 1
extern const char words_first_cautions[];
extern const char words_each_ride[];

#endif
