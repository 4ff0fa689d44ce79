#include "terminal_keys.h"

#include <curses.h>

static enum terminal_key key_of(wint_t code)
{
    switch (code) {
    case KEY_ENTER: return TERMINAL_ENTER;
    case KEY_BACKSPACE: return TERMINAL_BACKSPACE;
    case KEY_DC: return TERMINAL_DELETE;
    case KEY_UP: return TERMINAL_UP;
    case KEY_DOWN: return TERMINAL_DOWN;
    case KEY_LEFT: return TERMINAL_LEFT;
    case KEY_RIGHT: return TERMINAL_RIGHT;
    case KEY_HOME: return TERMINAL_HOME;
    case KEY_END: return TERMINAL_END;
    default: return TERMINAL_OTHER;
    }
}

static struct terminal_press press_of_character(wint_t character)
{
    switch (character) {
    case '\r':
    case '\n': return (struct terminal_press){TERMINAL_ENTER, 0};
    case '\b':
    case 0x7F: return (struct terminal_press){TERMINAL_BACKSPACE, 0};
    case 0x1B: return (struct terminal_press){TERMINAL_ESCAPE, 0};
    case '\t': return (struct terminal_press){TERMINAL_TAB, 0};
    default: break;
    }
    if (character < 0x20 || (character >= 0x80 && character < 0xA0))
        return (struct terminal_press){TERMINAL_OTHER, 0};
    return (struct terminal_press){TERMINAL_CHARACTER, (uint32_t)character};
}

struct terminal_press press_of(bool is_function_key, wint_t code)
{
    return is_function_key ? (struct terminal_press){key_of(code), 0} : press_of_character(code);
}
