/*
 * Edits of a profile, each whole or not at all, on its items alone.
 */
#ifndef UI_DRAFT_EDIT_H
#define UI_DRAFT_EDIT_H

#include "ride/plan.h"

/* Items are numbered from 0. The edits give the place of what was edited, or SIZE_MAX where they
 * cannot be made. */

/* A step of that kind, as common practice has it, behind item `after` (SIZE_MAX: before all) or
 * where its kind belongs. */
size_t profile_edit_add(struct profile *profile, size_t after, enum step_kind kind);
/* The same step once more, behind itself. */
size_t profile_edit_copy(struct profile *profile, size_t at);
/* Rounds and their end go together, what is in them stays. */
size_t profile_edit_remove(struct profile *profile, size_t at);
/* Past its neighbour: `by` 1 down, -1 up. Rounds and their end can be moved past steps alone. */
size_t profile_edit_move(struct profile *profile, size_t at, int by);
/* Rounds around the work and rest that `at` stands among, as many as come closest to 4:00. */
size_t profile_edit_wrap(struct profile *profile, size_t at);

#endif
