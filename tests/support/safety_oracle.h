/*
 * What must hold after every step of ride/safety, said from its inputs alone.
 *
 * The rules keep a history of their own, in their own words; they share no code with the module.
 */
#ifndef SUPPORT_SAFETY_ORACLE_H
#define SUPPORT_SAFETY_ORACLE_H

#include "ride/safety.h"

/* How long something has stood, in ms and no more than ORACLE_AGE_CAP_MS. */
#define ORACLE_AGE_CAP_MS 1500
#define NOT_STANDING      (-1)

/* What the rules remember of the steps before; zero it, then oracle_init(). Integers only, no
 * padding that matters: two histories are the same when their members are. */
struct oracle {
    int32_t load_kind, load_value; /* given last */
    int32_t carry_thousandths;     /* of a watt or tenth, not yet given */
    int32_t cut_off;
    int32_t fast_ms, strong_ms; /* excess, by the time of the readings */
    int32_t slow_ms, still_ms;
    int32_t must_turn; /* the legs stopped, and have not turned again */
};

void oracle_init(struct oracle *oracle);

/* Takes one step: `passed_ms` since the last, what went in and what came out. Gives NULL, or the
 * name of the rule that is broken. */
const char *oracle_check(struct oracle *oracle, const struct limits *limits, uint32_t passed_ms,
                         uint32_t read_before_ms, const struct safety_inputs *in,
                         struct load wanted, const struct safety_verdict *out);

#endif
