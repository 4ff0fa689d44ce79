/*
 * Profile files: a block for any rider, one thing a line.
 *
 *     title     20/10 x 8              the rest of the line, at most PLAN_TITLE_MAX octets
 *     length    3:00..7:00             what the intervals may come to
 *     floor     8 x 3010  cue Squats   off the bike: repetitions by tempo, or a hold such as 0:40
 *     warm-up   1:00  power 40..55 to 70..80 %cp  cadence 80..100 rpm
 *     rounds fit                       as many as the length of the day asks for; or a number
 *       work    0:20  power 115..125 %cp  effort hard
 *       rest    1:00 until 120 bpm  power 30..50 %cp
 *     end
 *     cool-down 3:00  power 25..40 %cp  cue Keep the legs turning
 *
 * Title and length come first, once each. Floor steps are before all others and warm-up steps after
 * them, cool-down steps after all others, all outside rounds; rounds nest to PROFILE_DEPTH_MAX,
 * `rounds fit` stands once and in no others. A step is a kind, a time, what may end it before its
 * time is over, targets, each at most once, and at last a cue, which is the rest of the line:
 *
 *     until N kJ   0.1 to 999.9       power A..B W        0 to 2000
 *     until N m    10 to 20000        power A..B %cp      0 to 300, tenths; of critical power
 *     until N bpm  60 to 200, fallen  power A..B %mark    likewise; of the work of the block to
 *                                     cadence A..B rpm    20 to 200                        beat
 *                                     heart A..B bpm      40 to 220
 *                                     level A..B          0 to 100, tenths
 *                                     effort A..B         0 to 10; or easy 1..3, steady 3..5,
 *                                                         hard 5..7, very-hard 7..9, all-out 9..10
 *
 * A unit may be written on to its number: 80..100rpm. Both ends belong to a range. Between a range
 * and its unit, `to C..D` makes a ramp that leads there over the time of the step. Tempo is four
 * digits of seconds: lowering, bottom, lifting, top.
 */
#ifndef TEXT_PROFILE_H
#define TEXT_PROFILE_H

#include "base/text.h"
#include "ride/plan.h"
#include "text/lines.h"

#define PROFILE_FILE_MAX 65536u /* octets; larger is no profile of ours */

/* A profile that comes out has at least one work step, and profile_plan() takes it for every rider
 * with a critical power. RESULT_INVALID: the fault says what and where. */
MUST_USE enum result profile_read(const char *text, size_t length, struct profile *ret,
                                  struct text_fault *ret_fault);

/* Writes a profile over the file that it was read from, `text` (length 0: there is none). Lines
 * that say what they said stay as they are, octet by octet, and so do blank lines and comments;
 * comments go where the next line below them goes, and stay when that is taken out. What is new has
 * line 0, a copy of an item too; everything else keeps the line that profile_read() gave it. After
 * that the lines are those of the old file: read the new one again.
 *
 * What is written need not be a profile that can be read, as while it is being made: profile_read()
 * of it tells its faults and their places. RESULT_INVALID: `text` is no profile, lines are not as
 * said, the title is empty, or title or cue hold what a line cannot: '#', control characters,
 * blanks at an end. RESULT_FULL: it does not fit; PROFILE_FILE_MAX is always enough for what is
 * new. */
MUST_USE enum result profile_write(const struct profile *profile, const char *text, size_t length,
                                   struct text_writer *writer);

#endif
