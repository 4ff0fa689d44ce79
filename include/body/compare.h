/*
 * Is a block better than the ones before it, or is that noise?
 *
 * Comparable are blocks of the same profile on the same machine, both after legs or both not,
 * ridden to the end. The first two of them are learning (Hopkins et al. 2001, Sports Med 31:211:
 * the first repeat gains 1.2 %, later ones 0.2 %) and left out. A block stands against the mean of
 * the last three others:
 *
 *     change = 100 (work - mean) / mean          in per cent
 *     error  = TE sqrt(1 + 1 / n)                n blocks in the mean
 *     chance = F(change / error)                 that the rise is real, no opinion beforehand
 *
 * TE, the typical error of one block, is the standard deviation of the changes from each block to
 * the next by sqrt 2 (Hopkins 2000, Sports Med 30:1). With five blocks to tell it from it is the
 * rider's own, and F is Student's t distribution; before that it is taken as 3 %, a little above
 * the 2.7 % of weekly all-out rides of 4 min and the 2.1 % of recreational riders (common
 * practice), and F is the normal one.
 *
 * Over blocks of different length: the shorter or longer one is taken to this length along the
 * work-time line, work + slope * difference of lengths, with critical power for the slope. That
 * assumes that both were as hard as could be, and that the added seconds go at critical power.
 *
 * A block whose power was measured by another source than this one's is taken over by the caller,
 * who knows how far the two are apart and how well. What is not known of that is the same in all
 * such blocks, so it does not become less in a mean, and goes beside the error of the change.
 */
#ifndef BODY_COMPARE_H
#define BODY_COMPARE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define COMPARE_BLOCKS_MAX        32u
#define COMPARE_LEARNING          2u
#define COMPARE_AGAINST_MAX       3u
#define COMPARE_OWN_ERROR_BLOCKS  5u
#define COMPARE_ERROR_DEFAULT_PCT 3.0
/* A rider's own error is not taken for less than the least that Hopkins et al. 2001 found. */
#define COMPARE_ERROR_LEAST_PCT 0.9
/* From this chance on it is called better, from the rest to 100 lower: one false alarm in twenty.
 */
#define COMPARE_SURE_PCT 95.0
/* By so much the time ridden may miss that of a block alike; more means that steps were cut. */
#define COMPARE_SLACK_S 5u

/* What must be the same for blocks to be comparable. */
struct compare_kind {
    const char *profile, *machine;
    bool is_fresh;
};

bool compare_is_alike(const struct compare_kind *a, const struct compare_kind *b);

struct compare_block {
    int64_t work_j;          /* of the whole block; none without */
    uint32_t length_s;       /* of the plan's intervals; 0: not known, taken for the same */
    uint32_t duration_s;     /* of the block clock, warm-up and cool-down included */
    int64_t id;              /* the caller's, to tell them apart */
    bool is_converted;       /* measured by another source and taken over */
    double source_error_pct; /* the standard error of that */
};

/* The slope of the work-time line: critical power and its standard error. Zeroed: not known, and
 * blocks of another length are left out. */
struct compare_slope {
    double power_w, error_w;
};

/* The comparable blocks before this one, oldest first, and how many more there are before those. */
struct compare_history {
    size_t older, count;
    struct compare_block blocks[COMPARE_BLOCKS_MAX];
};

enum compare_verdict {
    COMPARE_IS_LEARNING, /* among the first two */
    COMPARE_IS_ALONE,    /* nothing that it can stand against */
    COMPARE_IS_LOWER,
    COMPARE_IS_NOISE,
    COMPARE_IS_BETTER
};

struct comparison {
    enum compare_verdict verdict;
    uint32_t against;   /* so many blocks are in the mean */
    uint32_t adjusted;  /* so many of those had another length */
    uint32_t converted; /* and so many another source of power */
    double mean_j;      /* theirs, at the length of this one */
    struct compare_part {
        int64_t id;
        double work_j;            /* at the length of this one */
    } parts[COMPARE_AGAINST_MAX]; /* of the mean, oldest first */
    double slope_w;               /* along which those of another length were taken */
    double change_pct;
    double typical_error_pct; /* of one block */
    bool is_own_error;        /* else the default */
    uint32_t error_blocks;    /* the own one is from so many, the oldest of them this: */
    int64_t error_from_id;
    uint32_t freedom;  /* degrees, of the t distribution; 0: the normal one */
    double error_pct;  /* of the change, once the slope's is in it */
    double better_pct; /* the chance, 0 to 100 */
};

/* After COMPARE_IS_LEARNING and COMPARE_IS_ALONE the rest is zero. */
void compare_blocks(const struct compare_history *history, const struct compare_block *now,
                    const struct compare_slope *slope, struct comparison *ret);

/* ---- the parts ---- */

/* TE of the changes given; 0 for fewer than two. */
double compare_typical_error(const double *changes, size_t count);
/* Of the TE out of changes between `blocks` blocks in a row. Two changes share the block between
 * them, so this is less than their number: after Satterthwaite 1946, Biometrics Bull 2:110, rounded
 * down. 0 for fewer than three. */
uint32_t compare_freedom(size_t blocks);

/* The standard error of a block against another, in per cent of a whole one, while the share `left`
 * of it is still to come: TE sqrt 2 sqrt left. */
double compare_rest_error_pct(double typical_error_pct, double left);

#endif
