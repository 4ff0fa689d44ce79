/*
 * The hand of the virtual rider on a bike inside the program: turns its knob as it is told, some
 * seconds later, and tells the number where the knob has any.
 */
#ifndef APP_VIRTUAL_HAND_H
#define APP_VIRTUAL_HAND_H

#include "io/loop.h"
#include "io/virtual_bike.h"
#include "ride/ride.h"

/* Zeroed: there is none. Set all but `timer` and `told`. */
struct virtual_hand {
    struct loop *loop;
    struct virtual_bike *bike;
    void (*tell)(void *user, int32_t number);
    void *user;
    int timer;
    struct effect told; /* EFFECT_KNOB that it waits to follow */
};

/* What a ride does. */
void virtual_hand_effects(struct virtual_hand *hand, const struct effects *effects);

#endif
