/*
 * Steps of a plan in words.
 */
#ifndef UI_STEP_TEXT_H
#define UI_STEP_TEXT_H

#include "base/text.h"
#include "ui/view.h"

/* "work 3 of 8" */
void step_put(struct text_writer *writer, const struct plan_step *step);
/* "target 100..120 to 200..220 W", without a ramp "target 100..120 W"; nothing for no range. */
void step_put_ramp(struct text_writer *writer, const char *before, const struct target_range *range,
                   const struct target_range *to, unsigned decimals, const char *unit);
/* ", set to level 7.5", as the machine took it; ", knob at 5", with a question mark behind it where
 * nobody told; nothing where neither is known. */
void view_put_brake(struct text_writer *writer, const struct ride *ride);
/* The targets of this moment's step without what makes work of it, where the strap is lost and work
 * is not to be ridden. */
struct step_targets step_spared(const struct ride *ride, struct step_targets targets);
/* In place of watts: "rest load" where that is on the brake for want of a strap (a knob is the
 * rider's to ease, and told of by itself), "by feel" where nobody measures any; else nothing. */
const char *step_load_word(const struct ride *ride);
/* Which repetition is done, from 1; 0: none. */
int32_t step_rep(const struct ride *ride);
/* "then rest 3 of 8 0:10, 60..100 W", as the rider shifted it */
void step_put_ahead(struct text_writer *writer, const char *when, const struct ride *ride,
                    const struct plan_step *step);

#endif
