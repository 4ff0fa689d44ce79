#include "virtual_hand.h"

static void tell(const struct virtual_hand *hand)
{
    const int32_t number = virtual_machine_number(&hand->bike->machine);

    if (number >= 0)
        hand->tell(hand->user, number);
}

static void on_time(void *user)
{
    struct virtual_hand *hand = user;
    struct virtual_machine *machine = &hand->bike->machine;

    hand->timer = 0;
    if (hand->told.knob.has_to)
        virtual_machine_turn_to(machine, hand->told.knob.to);
    else
        virtual_machine_turn(machine, hand->told.knob.by_w);
    tell(hand);
}

/* A hand that waits for an edge is there a second after it, as ride/knob reckons. */
#define AT_EDGE_MS 1000u

/* At the edge where it was announced, else after the usual while. */
static void follow(struct virtual_hand *hand, const struct effect *effect)
{
    const uint32_t after_ms = hand->bike->rider.config.hand_after_ms;
    const uint32_t at_edge_ms = effect->knob.in_ms > 0 ? effect->knob.in_ms + AT_EDGE_MS : 0;
    const uint32_t in_ms = at_edge_ms > after_ms ? at_edge_ms : after_ms;

    if (after_ms == 0 || (effect->knob.turn != KNOB_UP && effect->knob.turn != KNOB_DOWN))
        return;
    hand->told = *effect;
    loop_cancel_timer(hand->loop, hand->timer);
    hand->timer = loop_set_timer(hand->loop, loop_now_ms(hand->loop) + in_ms, on_time, hand);
}

void virtual_hand_effects(struct virtual_hand *hand, const struct effects *effects)
{
    for (size_t i = 0; hand->bike != NULL && i < effects->count; i++) {
        const struct effect *effect = &effects->list[i];

        if (effect->kind == EFFECT_KNOB)
            follow(hand, effect);
        else if (effect->kind == EFFECT_PHASE && effect->phase.phase == PHASE_READY)
            tell(hand);
        else if (effect->kind == EFFECT_PHASE && effect->phase.phase == PHASE_ENDED)
            loop_cancel_timer(hand->loop, hand->timer);
    }
}
