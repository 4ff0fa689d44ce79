/*
 * What is known of the rider out of earlier rides, outside of a ride: as a ride of this profile
 * would take it, started now with nothing said.
 */
#ifndef APP_OWN_NUMBERS_H
#define APP_OWN_NUMBERS_H

#include "ride/plan.h"

/* Zeroed: nothing. */
struct own_numbers {
    uint16_t mark_power_w; /* what %mark is a share of; 0: nothing asks for it, or there is none */
    uint16_t critical_power_w; /* of the own best efforts, where the settings lack one of both */
    uint32_t w_prime_j;
    const char *from; /* words for where those two come from; NULL: not from rides */
};

struct own_numbers own_numbers_find(const char *path, const struct profile *profile,
                                    const struct rider *known);
/* Critical power and W' of the efforts take the place of what is in `rider`, if there are any. The
 * targets of a plan are not of these: a ride does not take them for that either. */
void own_numbers_apply(const struct own_numbers *numbers, struct rider *rider);

#endif
