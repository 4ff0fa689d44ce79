/*
 * The targets of a step, as text.
 */
#ifndef TEXT_TARGETS_H
#define TEXT_TARGETS_H

#include "ride/plan.h"
#include "text/lines.h"

/* Reads the targets to the end of the line. False: the fault is filled in. */
bool targets_read(struct text_lines *lines, struct step_targets *targets,
                  struct text_fault *ret_fault);

#endif
