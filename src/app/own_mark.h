/*
 * The mark that a profile asks for shares of, outside of a ride.
 */
#ifndef APP_OWN_MARK_H
#define APP_OWN_MARK_H

#include <stdint.h>

#include "ride/plan.h"

/* As a ride of it would take it, started now with nothing said: mean power in the work, W. 0: it
 * does not ask, or there is no block like it yet. */
uint16_t own_mark_w(const char *path, const struct profile *profile);

#endif
