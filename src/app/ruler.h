/*
 * What measured the power of a ride: two sources are two rulers, and a difference between them is
 * no progress.
 *
 * A ride by a sensor that spoke beside the machine knows both: its work by the machine is its work
 * by the sensor over 1 + difference (body/two_powers.h). So a ride is taken from one ruler to
 * another through the machine's where each ride that was measured by a sensor knows its own
 * difference; else, and where a ride was measured by one after the other, it is not compared.
 */
#ifndef APP_RULER_H
#define APP_RULER_H

#include "port/store.h"

/* So much of the power by the other source is a gap in a sensor's radio, no change of the source.
 */
#define RULER_PURE_PCT 95u

/* Measured by one source after the other. */
bool ruler_is_mixed(const struct store_ride *ride);
/* By the same sensor, or both by the machine. Of a ride that is still to come the sensor counts
 * that was named. */
bool ruler_is_same(const struct store_ride *a, const struct store_ride *b);

/* No rider's legs are behind its power: a bike of this program's own, or one that was recorded. */
bool ruler_is_virtual(const struct store_ride *ride);

/* Takes its power to the machine's own measure, by which a machine goes that is told watts. 1 where
 * the difference is not known, as of a machine that tells no power. */
double ruler_to_machine(const struct store_ride *ride);

/* What `ride` is to be multiplied by to stand on the ruler of `onto`, and the standard error of
 * that in per cent: 1 and 0 on the same. False where it cannot be said. */
bool ruler_factor(const struct store_ride *ride, const struct store_ride *onto, double *ret_factor,
                  double *ret_error_pct);

/* The same of rides on any bikes: each bike is a ruler of its own, a sensor is one whatever it was
 * ridden on. */
bool ruler_factor_anywhere(const struct store_ride *ride, const struct store_ride *onto,
                           double *ret_factor);

#endif
