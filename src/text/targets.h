/*
 * The targets of a step, as text.
 */
#ifndef TEXT_TARGETS_H
#define TEXT_TARGETS_H

#include "base/text.h"
#include "ride/plan.h"
#include "text/lines.h"

enum targets_read { TARGETS_ARE_NO_TARGET, TARGETS_ARE_READ, TARGETS_ARE_FAULTY };

/* Reads one target, if `name` begins one; where it is faulty the fault is filled in. */
enum targets_read targets_read(struct text_lines *lines, struct text_word name,
                               struct profile_item *item, struct text_fault *ret_fault);

/* "  power 40..55 to 90..100 %cp", and so on for each that is set. */
void targets_put(struct text_writer *writer, const struct profile_item *item);

#endif
