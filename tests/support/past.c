#include "support/past.h"

#include <string.h>

enum { MONDAY = 20395 }; /* days from 1970-01-01 to 2025-11-03 */

void past_fixture_empty(struct past_fixture *ret)
{
    static const char *const spans[] = {"5 s", "30 s", "1 min", "3 min"};

    memset(ret, 0, sizeof *ret);
    ret->past = (struct past){.weeks = 2, .first_day = MONDAY, .only = ""};
    for (int i = 0; i < 14; i++)
        ret->dates[i] = (struct past_date){2025, 11, 3 + i};
    for (size_t i = 0; i < PAST_BEST_COUNT; i++)
        ret->past.bests[i].span = spans[i];
    ret->past.dates = ret->dates;
    ret->past.blocks = ret->blocks;
    ret->past.trend.points = ret->points;
    ret->past.trend.sources = "";
    ret->past.trend.first_day = MONDAY - 24 * 7;
    ret->past.trend.last_day = MONDAY + 13;
}

static void add_block(struct past_fixture *fixture, int32_t day, enum past_outcome outcome,
                      uint32_t work_j, uint32_t power_w)
{
    const size_t count = fixture->past.block_count++;

    fixture->blocks[count] = (struct past_block){
        .ride_id = 301 + (int64_t)count,
        .day = MONDAY + day,
        .title = "20/10",
        .length_s = 240 + 30 * (uint32_t)(count % 3),
        .work_j = work_j,
        .power_w = power_w,
        .calories_kcal = work_j * 12 / 10000,
        .outcome = outcome,
        .feel = (uint32_t)count % 6,
        .is_fresh = count % 4 == 3,
        .has_effort = count != 1,
        .effort = count == 4 ? 10 : 3 + (uint32_t)count,
    };
}

void past_fixture_full(struct past_fixture *ret)
{
    static const struct past_month months[] = {{MONDAY - 156, 6}, {MONDAY - 125, 7},
                                               {MONDAY - 94, 8},  {MONDAY - 64, 9},
                                               {MONDAY - 33, 10}, {MONDAY - 2, 11}};

    past_fixture_empty(ret);
    add_block(ret, 0, PAST_TOO_FEW, 61234, 243);
    add_block(ret, 2, PAST_EVEN, 62004, 247);
    add_block(ret, 2, PAST_LOWER, 58120, 231);
    add_block(ret, 5, PAST_STOPPED, 20500, 240);
    add_block(ret, 8, PAST_BETTER, 104870, 259);
    add_block(ret, 8, PAST_CUT_OFF, 9000, 0);
    add_block(ret, 8, PAST_BROKEN_OFF, 0, 0);
    for (size_t i = 0; i < 32; i++)
        ret->points[i] = (struct past_point){MONDAY - 150 + 5 * (int32_t)i,
                                             200 + (int32_t)(i * 3 / 2 + i * 7 % 11)};
    ret->past.trend.count = 32;
    memcpy(ret->past.trend.months, months, sizeof months);
    ret->past.trend.month_count = sizeof months / sizeof months[0];
    ret->past.bests[0].power_w = 702;
    ret->past.bests[0].date = (struct past_date){2025, 11, 5};
    ret->past.bests[1].power_w = 410;
    ret->past.bests[1].date = (struct past_date){2025, 1, 30};
    ret->past.bests[2].power_w = 322;
    ret->past.bests[2].date = (struct past_date){2023, 7, 1};
    ret->past.has_earlier = true;
}
