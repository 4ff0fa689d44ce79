/*
 * The field under the hand: which one it is, and what is typed into it.
 */
#ifndef UI_DRAFT_HAND_H
#define UI_DRAFT_HAND_H

#include "ui/draft.h"

/* Remembers the edit and makes it. */
enum draft_act hand_edit(struct draft *draft, const struct profile *edited, size_t row);

/* Brings row and field to what there is. */
void hand_settle(struct draft *draft);
enum draft_act hand_walk(struct draft *draft, int by); /* over the rows */
enum draft_act hand_turn(struct draft *draft, int by); /* over the fields of a step */
enum draft_act hand_nudge(struct draft *draft, int by);
enum draft_act hand_clear(struct draft *draft);
/* Begins to type: with what stands there, or in its place with `first`. */
enum draft_act hand_type(struct draft *draft, uint32_t first);
/* What was typed is meant; where it cannot be, the hand stays and is told why. */
enum draft_act hand_keep(struct draft *draft);
void hand_suggest_name(struct draft *draft);

/* What stands in the field: of a step, or the one field of another row. */
void hand_put(struct text_writer *writer, const struct draft *draft, size_t row,
              enum profile_field field);

#endif
