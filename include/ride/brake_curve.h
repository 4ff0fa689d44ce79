/*
 * What a resistance level costs the legs, learned while they turn.
 *
 *     power = x (c0 + l (c1 + c2 (x - 1)) + l² c3)      x: cadence / 80 rpm, l: share of the levels
 *
 * In watts at 80 rpm: c0 is friction, c1 what all levels add, c2 how much of that grows with speed
 * (none of it with a pad on the rim, all of it with an eddy-current brake far below its peak), c3
 * how unequal the levels are. Nothing outside the bounds of a brake is ever believed: power rises
 * with level and with cadence.
 *
 * Recursive least squares in the form of Kalman (1960, J Basic Eng 82:35): brakes warm up, so the
 * terms are taken for a slow random walk. That is forgetting which leaves alone what is not being
 * observed, where a plain forgetting factor would let it run away. Only sums, products and
 * quotients: the same readings give the same digits on every machine.
 */
#ifndef RIDE_BRAKE_CURVE_H
#define RIDE_BRAKE_CURVE_H

#include <stdbool.h>
#include <stdint.h>

#define BRAKE_TERMS 4u
/* Of legs whose cadence nobody knows or asks for: common practice. */
#define BRAKE_USUAL_RPM 85.0
/* A curve that may be off by a quarter of the power tells nothing of a level. */
#define BRAKE_DOUBT_PART 4

/* To be kept from ride to ride. Zeroed: nothing is known. */
struct brake_curve {
    int32_t terms_mw[BRAKE_TERMS]; /* c0 to c3, milliwatts */
    int32_t ridden_permille;       /* of the levels, the highest that taught them */
};

/* The terms, in watts, and how far they may be off. */
struct brake_model {
    double terms_w[BRAKE_TERMS];
    double variance_w2[BRAKE_TERMS][BRAKE_TERMS];
    double ridden_share; /* the highest level that taught them; below 0: none has */
};

/* From a curve, within its bounds; or from a home bike like many (common practice: 20 W of friction
 * and 400 W more at the top level), which may be wrong by much. */
void brake_model_init(struct brake_model *model, const struct brake_curve *curve);

/* One second at a steady level. A cadence of 0 teaches nothing. */
void brake_model_learn(struct brake_model *model, double level_share, double cadence_rpm,
                       double power_w);

double brake_model_power_w(const struct brake_model *model, double level_share, double cadence_rpm);
/* Of that power: the square of its standard error. */
double brake_model_variance_w2(const struct brake_model *model, double level_share,
                               double cadence_rpm);

/* The most that this level can cost on any brake that costs what is known of the highest level
 * ridden: whatever the curve says of it, nobody has felt it. Below that level what the curve says.
 */
double brake_model_most_w(const struct brake_model *model, double level_share, double cadence_rpm);

/* This level was ridden, too, and no harder than the curve says, though not for long enough to
 * teach. Of a brake that was taught nothing yet it says nothing. */
void brake_model_bear(struct brake_model *model, double level_share);

/* What it says may be wrong by as much as that of a bike never seen. */
void brake_model_doubt(struct brake_model *model);

struct brake_curve brake_model_curve(const struct brake_model *model);
bool brake_curve_is_known(const struct brake_curve *curve);

#endif
