/*
 * What is wrong with readings, link or strap, in a line for as long as it is so.
 */
#ifndef UI_TROUBLE_H
#define UI_TROUBLE_H

#include "ui/view.h"

/* Nothing where all is well, or one of the view's cautions says it, which are set before. */
struct view_line trouble_line(const struct ride *ride, const struct view *view);

#endif
