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

/* What is typed counts digit by digit, so that no key has to end it. */
static enum ride_key type_digit(struct hands *hands, const struct ride *ride, uint64_t now_ms,
                                int32_t digit)
{
    const int32_t before = now_ms < hands->digits_until_ms ? hands->position : 0;
    const int32_t position = before * 10 + digit;

    if (!ride_turns_knob(ride))
        return KEY_NONE;
    hands->position = position <= KNOB_TOP_MAX ? position : digit;
    hands->digits_until_ms = now_ms + DIGITS_MS;
    return KEY_KNOB;
}

static enum ride_key nudge(struct hands *hands, const struct ride *ride, enum ride_key key)
{
    const struct knob_place *place = &ride->knob.place;
    const int32_t position = place->position + (key == KEY_MORE ? 1 : -1);

    if (!ride_turns_knob(ride))
        return key;
    if (!place->is_known || position < 0 || position > KNOB_TOP_MAX)
        return KEY_NONE;
    hands->position = position;
    hands->digits_until_ms = 0;
    return KEY_KNOB;
}

/* What must be seen first is put away first. */
static enum ride_key confirm(struct hands *hands, const struct ride *ride)
{
    const bool is_cut_off = ride->safety.cut_off != CUT_OFF_NONE;

    hands->shown.saw_cut_off = is_cut_off;
    if (is_cut_off || !ride_turns_knob(ride) || !ride->knob.has_to)
        return KEY_NONE;
    hands->position = ride->knob.to;
    hands->digits_until_ms = 0;
    return KEY_KNOB;
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
    case '+': return nudge(hands, ride, KEY_MORE);
    case '-': return nudge(hands, ride, KEY_LESS);
    case 'n':
    case 'N': return skip(hands, ride, now_ms);
    case 'm':
    case 'M': hands->shown.is_muted = !hands->shown.is_muted; return KEY_NONE;
    case '\n': return confirm(hands, ride);
    default:
        return character >= '0' && character <= '9'
                   ? type_digit(hands, ride, now_ms, (int32_t)(character - '0'))
                   : KEY_NONE;
    }
}
