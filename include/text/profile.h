/*
 * Profile files: a block for any rider, one thing a line.
 *
 *     title     20/10 x 8              the rest of the line, at most PLAN_TITLE_MAX octets
 *     length    3:00..7:00             what the intervals may come to
 *     warm-up   1:00  power 40..55 %cp  cadence 80..100 rpm
 *     rounds 8
 *       work    0:20  power 115..125 %cp
 *       rest    0:10  power 30..50 %cp
 *     end
 *     cool-down 3:00  power 25..40 %cp
 *
 * Title and length come first, once each. Warm-up steps are before all others and cool-down steps
 * after them, outside rounds; rounds nest to PROFILE_DEPTH_MAX. A step is a kind, a duration and
 * targets, each at most once:
 *
 *     power A..B W        0 to 2000             cadence A..B rpm    20 to 200
 *     power A..B %cp      0 to 300, tenths      heart A..B bpm      40 to 220
 *                                               level A..B          0 to 100, tenths
 *
 * A unit may be written on to its range: 80..100rpm. Both ends belong to the range.
 */
#ifndef TEXT_PROFILE_H
#define TEXT_PROFILE_H

#include "ride/plan.h"
#include "text/lines.h"

#define PROFILE_FILE_MAX 65536u /* octets; larger is no profile of ours */

/* A profile that comes out has at least one work step, and profile_plan() takes it for every rider
 * with a critical power. RESULT_INVALID: the fault says what and where. */
MUST_USE enum result profile_read(const char *text, size_t length, struct profile *ret,
                                  struct text_fault *ret_fault);

#endif
