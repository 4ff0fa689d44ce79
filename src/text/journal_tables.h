/*
 * What the lines of a journal have: the fields of each kind of event and effect, of steps and of
 * the rider. A new field at zero is not written, so older journals read as they are.
 */
#ifndef TEXT_JOURNAL_TABLES_H
#define TEXT_JOURNAL_TABLES_H

#include "fields.h"
#include "ride/effect.h"

extern const struct fields journal_rider, journal_brake, journal_knob, journal_step;
extern const struct fields journal_events[EVENT_KIND_COUNT]; /* without t_ms */
extern const struct fields journal_effects[EFFECT_KIND_COUNT];

#endif
