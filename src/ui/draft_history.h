/*
 * Everything that a profile has been, for undo and back again.
 */
#ifndef UI_DRAFT_HISTORY_H
#define UI_DRAFT_HISTORY_H

#include "ride/plan.h"

struct draft_history;

/* With how it begins. NULL: no memory. */
struct draft_history *history_new(const struct profile *profile, size_t row);
void history_free(struct draft_history *history);
/* What was undone is forgotten. False: no memory, and nothing has happened. */
bool history_push(struct draft_history *history, const struct profile *profile, size_t row);
/* One back (-1) or on (1); false where there is none. `ret_row` is where the edit was. */
bool history_walk(struct draft_history *history, int by, struct profile *ret, size_t *ret_row);

#endif
