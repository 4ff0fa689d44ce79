/*
 * What the step function does to a ride: every change of phase, hold and end goes through here, so
 * that each has its effect.
 */
#ifndef RIDE_ACTS_H
#define RIDE_ACTS_H

#include "ride/ride.h"

/* Unless it was given a short while ago. */
void act_caution(struct ride *ride, enum caution caution, struct effects *effects);
/* The step that ride->step says begins. */
void act_step(struct ride *ride, struct effects *effects);
void act_enter(struct ride *ride, enum phase phase, struct effects *effects);
/* The first end counts, except that a stop never hides a cut-off. */
void act_leave(struct ride *ride, enum end end, enum end_reason reason, struct effects *effects);
/* Never a dead stop: the load goes, the legs turn on. Before the start there is nothing to end. */
void act_wind_down(struct ride *ride, enum end end, enum end_reason reason,
                   struct effects *effects);
/* Holds, or holds for another reason. */
void act_hold(struct ride *ride, enum hold reason, struct effects *effects);
/* A hold for something that can be seen to be over; the others wait for a key. */
bool act_hold_ends_itself(enum hold hold);
void act_resume(struct ride *ride, struct effects *effects);
/* On to the next step, or to the end of the plan. */
void act_next_step(struct ride *ride, struct effects *effects);

/* What ends the step has come about: now, or once it has been counted down. */
void act_end_step(struct ride *ride, struct effects *effects);

/* The load for these targets, as far as this machine can be told; released where it cannot. Now:
 * for those of the step that is ridden, chosen anew with each event where power is held by levels.
 */
struct load ride_load_of(const struct ride *ride, enum step_kind kind,
                         const struct step_targets *targets);
struct load ride_load_now(struct ride *ride, const struct step_targets *targets);
/* A range in watts with the rider's shift, within the limit in watts: safety sees no more than the
 * level on a machine that holds it by levels, and nothing where the brake is turned by hand. */
struct target_range ride_held_range(const struct ride *ride, const struct target_range *range);
/* The watts that levels are to hold are less than the step asks for, by a limit. */
bool ride_lowers_held_power(const struct ride *ride);
bool ride_is_held_by_levels(const struct ride *ride, const struct step_targets *targets);

/* As ride_goes_by_feel(), of such targets. */
bool ride_is_felt(const struct ride *ride, const struct step_targets *targets);
/* The level that the rider's keys have come to, of work and of all that is not. */
struct load ride_felt_load(const struct ride *ride, enum step_kind kind);
/* By so many of its numbers, a key each. Nothing but that raises such a level: of the kind of step
 * that is being ridden, and no more often than it can be felt. Work is never the easier one. */
void ride_feel(struct ride *ride, int32_t by);
/* From where an earlier ride left it. */
void ride_recall_feel(struct ride *ride);

/* A machine that takes levels; what has been learned of its brake stays with a new link. */
void ride_hold_levels(struct ride *ride, const struct machine *machine);
void ride_learn_brake(struct ride *ride);
/* The numbers of a knob as levels of ride/power_hold, where 0 is none at all. */
int32_t ride_knob_level(int32_t position);
/* It stands there, as the rider says; what its numbers cost is learned from then on. */
void ride_put_knob(struct ride *ride, int32_t position);
/* On a machine that takes nothing: from where an earlier ride left it. */
void ride_recall_knob(struct ride *ride);
/* To the rider whose hand is the brake. */
void ride_tell_knob(struct ride *ride, struct effects *effects);
/* Whether any step of the plan has a load for this machine. */
bool ride_can_command(const struct ride *ride);

/* Events change the ride here; time, safety and commands are ride_step()'s. */
void ride_take_event(struct ride *ride, const struct event *event, struct effects *effects);

#endif
