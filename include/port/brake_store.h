/*
 * What is remembered of machines: the curve of a brake, as rides on it have learned it.
 *
 * Results and words for failures are those of port/store.h.
 */
#ifndef PORT_BRAKE_STORE_H
#define PORT_BRAKE_STORE_H

#include "port/store.h"
#include "ride/brake_curve.h"
#include "ride/knob.h"

/* `bike` is as in struct store_ride. RESULT_NOT_FOUND: nothing is known of it. Numbers
 * may be any: brake_model_init() brings them within bounds. */
MUST_USE enum result store_brake(struct store *store, const char *bike, struct brake_curve *ret);
/* In place of what was known before. */
MUST_USE enum result store_keep_brake(struct store *store, const char *bike,
                                      const struct brake_curve *curve);

/* Where a brake that is turned by hand was left. RESULT_NOT_FOUND: likewise, and where it stands at
 * no number that a knob has. */
MUST_USE enum result store_knob(struct store *store, const char *bike, struct knob_place *ret);
MUST_USE enum result store_keep_knob(struct store *store, const char *bike,
                                     const struct knob_place *place);

#endif
