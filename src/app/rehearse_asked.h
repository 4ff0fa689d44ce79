/*
 * The plan alone, second by second: what it asks of the reserve, whoever rides it.
 */
#ifndef REHEARSE_ASKED_H
#define REHEARSE_ASKED_H

#include "ui/rehearsal.h"

/* The middle of what is asked for there, W; 0: no power is. */
int32_t rehearse_middle_w(const struct plan_step *step, uint32_t step_ms);
/* How far below critical power the plan rests, on average: for the time constant of the integral
 * model. 0 where it never does. */
double rehearse_rests_below_w(const struct plan *plan, double critical_power_w);
void rehearse_note_low(struct rehearsal_low *low, double left_j, struct rehearsal_place place);
/* Only the first one counts. */
void rehearse_note_trouble(struct rehearsal *result, enum rehearsal_trouble trouble,
                           struct rehearsal_place place);
/* Exactly, but for ramps, which go by the second. A step without a power costs nothing here: what
 * is ridden in it is not the plan's choice. `reserve` is full. */
void rehearse_reckon_asked(struct rehearsal *result, struct reserve reserve);

#endif
