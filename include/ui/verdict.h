/*
 * What comes of comparing blocks, in sentences: with the numbers to work them out again by hand.
 */
#ifndef UI_VERDICT_H
#define UI_VERDICT_H

#include <stddef.h>

#include "body/compare.h"
#include "body/progress.h"
#include "ride/mark.h"

#define VERDICT_LINE_MAX 480u

/* What the verdict on `work_j` was reckoned from, without a full stop. Empty where there is none.
 */
void verdict_reckoning(const struct comparison *comparison, double work_j, char *ret, size_t size);

/* What a target is counted in. */
enum verdict_unit { VERDICT_WATTS, VERDICT_LEVEL_TENTHS };

struct target_text {
    char text[24];
};
/* "250 W", "level 12.5"; empty for 0. */
struct target_text verdict_target(uint32_t asked, enum verdict_unit unit);

/* "Next time …: …", without a full stop; `last` is the block that it follows. What the rider chose
 * for that one over what was proposed is said besides. Empty before the first one. */
void verdict_next(const struct progress *next, const struct progress_block *last,
                  enum verdict_unit unit, char *ret, size_t size);

/* What body/progress went by: "Reckoned from ride 8, 85 % in range at 250 W, effort 7, and …".
 * Blocks oldest first, at most two, `ids` the numbers of their rides; the newest is told first. */
void verdict_blocks(const struct progress_block *blocks, const int64_t *ids, size_t count,
                    enum verdict_unit unit, char *ret, size_t size);

/* How this block stands to the mark, in its measure, without a full stop: "0.9 kJ ahead of the
 * mark, 62.8 kJ +- 1.1 at the end". At the end the finish is left out. */
void verdict_mark(const struct mark *mark, const struct mark_state *state, bool has_ended,
                  char *ret, size_t size);

#endif
