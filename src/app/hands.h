/*
 * What the rider's hands mean: keys for the ride, and what they do to the screen alone.
 *
 * Wet and hasty hands: stop works at once, always and from anywhere, whatever else is on the
 * screen. Skipping, which cannot be taken back, takes the key twice within SKIP_AGAIN_MS. A key
 * that puts a caution away does its own work all the same.
 */
#ifndef APP_HANDS_H
#define APP_HANDS_H

#include "port/screen.h"

/* Long enough for a second look, short enough that two slips in a ride are not taken for one wish.
 */
#define SKIP_AGAIN_MS 3000u

/* Zeroed: nothing was done yet. */
struct hands {
    struct screen_hands shown;
    uint64_t skip_until_ms;
    int32_t position;         /* with KEY_KNOB: where the knob stands */
    uint64_t digits_until_ms; /* a digit before that belongs to the number that is being typed */
};

/* The digits of one number follow each other within this. */
#define DIGITS_MS 1500u

/* `now_ms` is of the clock on the wall, which hands go by whatever the rate of the ride. Gives what
 * the ride is to be told, KEY_NONE for nothing. `character` is Unicode, '\n' for Enter, 0 for a key
 * that is no character. */
enum ride_key hands_press(struct hands *hands, const struct ride *ride, uint64_t now_ms,
                          uint32_t character);
/* Lets a skip that was not confirmed be forgotten. */
void hands_wait(struct hands *hands, uint64_t now_ms);

#endif
