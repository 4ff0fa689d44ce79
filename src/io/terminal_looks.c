#include "terminal_looks.h"

#include <stdlib.h>

static bool is_coloured(void)
{
    const char *refused = getenv("NO_COLOR");
    return has_colors() && (refused == NULL || refused[0] == '\0');
}

/* Meaning is never told by colour alone. Blue and orange, which nearly everyone tells apart, from
 * the larger palette in tones that stand out on light and on dark. */
static void set_colours(attr_t attributes[STYLE_COUNT])
{
    enum { BELOW = 1, ABOVE };

    (void)start_color();
    (void)use_default_colors();
    const bool many = COLORS >= 256;
    (void)init_pair(BELOW, many ? 32 : COLOR_CYAN, -1);
    (void)init_pair(ABOVE, many ? 172 : COLOR_YELLOW, -1);
    attributes[STYLE_BELOW] |= (attr_t)COLOR_PAIR(BELOW);
    attributes[STYLE_ABOVE] |= (attr_t)COLOR_PAIR(ABOVE);
}

void set_looks(attr_t attributes[STYLE_COUNT])
{
    attributes[STYLE_QUIET] = A_DIM;
    attributes[STYLE_STRONG] = A_BOLD;
    attributes[STYLE_IN_RANGE] = A_BOLD;
    attributes[STYLE_BELOW] = A_BOLD;
    attributes[STYLE_ABOVE] = A_BOLD;
    attributes[STYLE_URGENT] = A_BOLD | A_REVERSE;
    if (is_coloured())
        set_colours(attributes);
}
