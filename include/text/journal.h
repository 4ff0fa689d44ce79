/*
 * The journal of a ride: its setup, then every event and every effect, a line each.
 *
 *   afterset-journal 1
 *   title 20/10 x 8
 *   rider mass_kg=75.0 age_years=40 critical_power_w=200
 *   recovery
 *   step kind=work duration_ms=20000 power_w=230..250 round=1 rounds=8
 *   cue Stay seated
 *   > 1250 data has=7 power_w=203 cadence_rpm=90 distance_m=41
 *   < command command=load kind=power value=210
 *
 * `>` is an event with its t_ms, `<` an effect of the event above it. A field at zero is left out.
 * "strap", "recovery", "watched", "knob" and "brake" are lines of setups that have them: see struct
 * ride_setup. "brake" stands for holds_power, its numbers for what was known of the brake; "cue" is
 * of the step above it.
 * Feeding the events of a journal to a ride with its setup must give its effects again, to the
 * letter.
 */
#ifndef TEXT_JOURNAL_H
#define TEXT_JOURNAL_H

#include "base/text.h"
#include "ride/ride.h"
#include "text/lines.h"

#define JOURNAL_VERSION  1u
#define JOURNAL_LINE_MAX 512u /* octets with the newline; every line written is shorter */

void journal_put_setup(struct text_writer *writer, const struct ride_setup *setup);
void journal_put_event(struct text_writer *writer, const struct event *event);
void journal_put_effect(struct text_writer *writer, const struct effect *effect);

struct journal_reader {
    const char *text;  /* borrowed */
    size_t length, at; /* whole lines only: what stands behind the last newline is left out */
    uint32_t line;     /* of what was read last, from 1 */
    uint64_t t_ms;     /* of the event read last */
};

struct journal_reader journal_reader(const char *text, size_t length);

/* To be called first. RESULT_UNSUPPORTED for another version. */
MUST_USE enum result journal_read_setup(struct journal_reader *reader, struct ride_setup *ret,
                                        struct text_fault *ret_fault);
/* RESULT_NOT_FOUND at the end. */
MUST_USE enum result journal_read_event(struct journal_reader *reader, struct event *ret,
                                        struct text_fault *ret_fault);
/* The next line when it is an effect, as written, newline included: its length, else 0. */
size_t journal_read_effect(struct journal_reader *reader, const char **ret);

#endif
