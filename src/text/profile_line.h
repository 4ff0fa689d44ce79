/*
 * A step of a profile, or its rounds, as a line.
 */
#ifndef TEXT_PROFILE_LINE_H
#define TEXT_PROFILE_LINE_H

#include "base/text.h"
#include "ride/plan.h"
#include "text/lines.h"

/* Reads what follows the kind of a step, which `item` has already, to the end of the line. False:
 * the fault is filled in. */
bool profile_line_read(struct text_lines *lines, struct profile_item *item,
                       struct text_fault *ret_fault);

/* Indented by `depth`, without a line break. */
void profile_line_put(struct text_writer *writer, const struct profile_item *item, size_t depth);

#endif
