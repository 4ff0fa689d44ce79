/*
 * A ride against those before it, in sentences without a full stop; empty where there is nothing to
 * say.
 */
#ifndef APP_AGAINST_H
#define APP_AGAINST_H

#include "earlier.h"
#include "ui/verdict.h"

struct against {
    char facts[EARLIER_LINE_MAX], verdict[EARLIER_LINE_MAX];
    char reckoning[VERDICT_LINE_MAX]; /* the numbers that the verdict comes from */
    char next[VERDICT_LINE_MAX];      /* what to ask next time */
    char next_reckoning[VERDICT_LINE_MAX];
};

void against_find(struct store *store, const struct store_ride *ride, const struct rider *rider,
                  struct against *ret);

#endif
