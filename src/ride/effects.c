#include "effects.h"

#include <assert.h>

/* EFFECTS_MAX is above what one event can cause: four commands, one phase, hold, cut-off, sample
 * and summary each, a few steps, and of cautions one a kind. */
void effects_add(struct effects *effects, const struct effect *effect)
{
    size_t at = effects->count;

    assert(effects->count < EFFECTS_MAX);
    /* Commands go before what is shown and stored: the brake does not wait for a screen. */
    if (effect->kind == EFFECT_COMMAND)
        for (; at > 0 && effects->list[at - 1].kind != EFFECT_COMMAND; at--)
            effects->list[at] = effects->list[at - 1];
    effects->list[at] = *effect;
    effects->count++;
}
