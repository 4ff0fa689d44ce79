/*
 * The first blocks of a new rider: see ride/fit.h.
 */
#ifndef APP_FIRST_BLOCKS_H
#define APP_FIRST_BLOCKS_H

#include "app/settings_file.h"
#include "port/store.h"
#include "ride/ride.h"

/* Whether the next ride on a real bike is one of them: the rider has not said that they are used to
 * this, and has fewer than FIRST_BLOCKS rides behind them that were ridden to their end, for three
 * minutes or more, over the air: behind a socket there are no legs. More than half of the work that
 * the plan asked for must have been ridden, not skipped. Without a store (NULL), or where it cannot
 * be read, there are none. */
bool first_blocks_go_on(const struct settings *settings, struct store *store);

/* Brings the targets of a plan down to the load that such a rider, `is_new`, may have: what is
 * shown is what may be ridden, also where the bike takes no commands. */
void first_blocks_ease(const struct rider *rider, struct plan *plan);

#endif
