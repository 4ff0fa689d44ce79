/*
 * What to ask of the rider next time.
 *
 * After two comparable blocks in a row that were asked for the same and ridden in full: more. After
 * two that were missed: 5 % less. Else the same again. So one good or bad day changes nothing.
 *
 * More is 2 to 5 % of the target: the American College of Sports Medicine raises a load by 2 to
 * 10 % once it is done for one or two repetitions more than planned (Ratamess et al. 2009, MSSE
 * 41:687; made for lifting, borrowed here), and two sessions in a row are common practice. How much
 * goes by the harder effort of the two: 5 % up to 6 of 10, 3 % up to 8 or when nothing was said,
 * 2 % beyond. Where no target is asked for, it is as high as it may be, or the brake has no step as
 * small as that, the block gets a round longer instead; where it has no step and cannot get longer,
 * faster legs are to make the rise in watts, and a level stays.
 *
 * Nothing goes up after a cut-off, after a caution about the heart, or after a block that was eased
 * for tired legs. What the rider chose over what was proposed counts as a new beginning: two blocks
 * in full are needed again before more is proposed.
 *
 * In full: ridden to its end, at least 60 % of the work in range. Missed: not to its end, or less
 * than 40 % in range. Rider and brake take 5 s, 3 to 9, to get there and then wobble by 7 %
 * (records of Weigend et al. 2022, arXiv:2207.14295), so a step of 20 s is in range for two thirds
 * of it when all goes well; the thresholds are common practice.
 */
#ifndef BODY_PROGRESS_H
#define BODY_PROGRESS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define PROGRESS_FULL_PCT   60u
#define PROGRESS_MISSED_PCT 40u
#define PROGRESS_BACK_PCT   5u

enum progress_reason {
    PROGRESS_NO_BLOCKS,  /* nothing to go by */
    PROGRESS_FIRST_FULL, /* the last was in full, the one before not, or was asked for other */
    PROGRESS_NOT_FULL,   /* the last was neither in full nor missed */
    PROGRESS_UNMEASURED, /* nothing told the power of the last */
    PROGRESS_SHIFTED_UP, /* the last, by the rider, who rode that */
    PROGRESS_ONE_MISSED,
    PROGRESS_WAS_CUT_OFF, /* the last; the one before was not missed */
    PROGRESS_HAS_WARNED,  /* the heart, in the last */
    PROGRESS_WAS_EASED,
    PROGRESS_TWO_FULL,
    PROGRESS_TWO_FULL_NO_ROOM, /* but there is nowhere to go */
    PROGRESS_TWO_FULL_COARSE,  /* but no step of the brake is as small as the rise */
    PROGRESS_TWO_FULL_BY_LEGS, /* nor can it be longer: a rise by faster legs */
    PROGRESS_TWO_MISSED,
    PROGRESS_REASON_COUNT
};

/* A comparable block. */
struct progress_block {
    bool is_done;      /* ridden to its end, no step cut short */
    bool is_cut_off;   /* then it is not done */
    bool has_warned;   /* a caution about the heart was given */
    bool is_eased;     /* its targets were lowered for the legs; `asked` is without that */
    bool has_in_range; /* something was asked for */
    uint32_t in_range_pct;
    /* Why that says nothing of a block that is done: unmeasured or shifted up; 0: it does. */
    enum progress_reason unjudged;
    bool has_effort;
    uint32_t effort;   /* 0 to 10 */
    uint32_t asked;    /* mean target of its work, in watts or tenths of a level; 0: none */
    uint32_t length_s; /* of its intervals */
    /* What was proposed for it where the rider chose otherwise; 0: as was chosen. */
    uint32_t proposed, proposed_length_s;
};

/* How far the rider and the profile let it go. */
struct progress_room {
    uint32_t asked_max; /* 0: no limit */
    uint32_t step;      /* that the brake has there, as `asked`; 0: any, or not known */
    bool is_by_legs;    /* faster legs raise what is asked: watts, not a level */
    uint32_t round_s;   /* what a round more adds; 0: the profile does not bend */
    uint32_t length_max_s;
};

enum progress_ask {
    PROGRESS_AS_WRITTEN,
    PROGRESS_REPEAT,
    PROGRESS_RAISE,
    PROGRESS_LENGTHEN,
    PROGRESS_STEP_BACK,
    PROGRESS_ASK_COUNT
};

struct progress {
    enum progress_ask ask;
    enum progress_reason reason;
    int32_t change_pct; /* of the target; 0: as it was */
    uint32_t asked;     /* then; 0: none */
    uint32_t length_s;  /* then; 0: not known */
};

enum progress_outcome { PROGRESS_FULL, PROGRESS_PARTLY, PROGRESS_MISSED };
enum progress_outcome progress_outcome(const struct progress_block *block);

/* `blocks` oldest first; only the last two count. */
struct progress progress_next(const struct progress_block *blocks, size_t count,
                              const struct progress_room *room);

#endif
