#include "effects.h"

#include <assert.h>

void effects_add(struct effects *effects, const struct effect *effect)
{
    assert(effects->count < EFFECTS_MAX);
    size_t at = effects->count;

    /* Commands go before what is shown and stored: the brake does not wait for a screen. */
    if (effect->kind == EFFECT_COMMAND)
        /*@ loop variant at; */
        for (; at > 0 && effects->list[at - 1].kind != EFFECT_COMMAND; at--) {
            /* By a copy, so that the proof need not know that the two do not overlap. */
            const struct effect before = effects->list[at - 1];
            effects->list[at] = before;
        }
    effects->list[at] = *effect;
    effects->count++;
}
