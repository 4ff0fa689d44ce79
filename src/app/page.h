/*
 * One page on the whole terminal, outside of a ride.
 */
#ifndef APP_PAGE_H
#define APP_PAGE_H

#include <stdbool.h>

#include "io/loop.h"
#include "ui/canvas.h"
#include "ui/press.h"

/* Draws the page again. */
struct page_again {
    void (*draw)(void *user);
    void *user;
};

struct page {
    /* What else goes on while it is shown: begins with the page in its loop, and ends with it. Both
     * may be NULL. */
    void (*begin)(void *user, struct loop *loop, struct page_again again);
    void (*end)(void *user);
    void (*draw)(void *user, struct canvas *canvas);
    /* True: that is all. */
    bool (*press)(void *user, struct press press);
    void *user;
};

enum page_end {
    PAGE_DONE,
    PAGE_LEFT,    /* by a signal, or the terminal is gone */
    PAGE_UNUSABLE /* no terminal that can be drawn on; nothing was shown */
};

/* Shows the page until it is over and gives the terminal back. */
enum page_end page_run(const struct page *page);

#endif
