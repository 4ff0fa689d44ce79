#include "hands.h"

static enum ride_key skip(struct hands *hands, const struct ride *ride, uint64_t now_ms)
{
    if (ride->phase != PHASE_RIDING && ride->phase != PHASE_FLOOR)
        return KEY_NONE;
    if (hands->shown.asks_to_skip) {
        hands->shown.asks_to_skip = false;
        return KEY_SKIP;
    }
    hands->shown.asks_to_skip = true;
    hands->skip_until_ms = now_ms + SKIP_AGAIN_MS;
    return KEY_NONE;
}

void hands_wait(struct hands *hands, uint64_t now_ms)
{
    if (now_ms > hands->skip_until_ms)
        hands->shown.asks_to_skip = false;
}

enum ride_key hands_press(struct hands *hands, const struct ride *ride, uint64_t now_ms,
                          uint32_t character)
{
    hands_wait(hands, now_ms);
    hands->shown.woken_t_ms = ride->t_ms;
    switch (character) {
    case 's':
    case 'S':
    case 'q':
    case 'Q': return KEY_STOP;
    case ' ': return KEY_HOLD;
    case '+': return KEY_MORE;
    case '-': return KEY_LESS;
    case 'n':
    case 'N': return skip(hands, ride, now_ms);
    case 'm':
    case 'M': hands->shown.is_muted = !hands->shown.is_muted; return KEY_NONE;
    case '\n': hands->shown.saw_cut_off = ride->safety.cut_off != CUT_OFF_NONE; return KEY_NONE;
    default: return KEY_NONE;
    }
}
