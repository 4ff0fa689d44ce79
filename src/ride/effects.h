/* Putting effects on the list, for the files of this room. */
#ifndef RIDE_EFFECTS_H
#define RIDE_EFFECTS_H

#include "ride/effect.h"

void effects_add(struct effects *effects, const struct effect *effect);

#endif
