/*
 * What was pressed, for the screens that are more than the keys of a ride.
 */
#ifndef UI_PRESS_H
#define UI_PRESS_H

#include <stdint.h>

enum press_kind {
    PRESS_OTHER,
    PRESS_CHARACTER, /* printable, space included */
    PRESS_ENTER,
    PRESS_BACKSPACE,
    PRESS_ESCAPE,
    PRESS_UP,
    PRESS_DOWN,
    PRESS_LEFT,
    PRESS_RIGHT
};

struct press {
    enum press_kind kind;
    uint32_t character; /* Unicode, of PRESS_CHARACTER */
};

#endif
