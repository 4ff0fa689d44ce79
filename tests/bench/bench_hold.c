/*
 * How near a hold of power by levels comes to one that knows the brake: six brakes, three riders,
 * two blocks, against a plain PI loop and against a table of the usual brake.
 *
 * What is measured is the mean of each second of work after the first five of a step: its distance
 * from the middle of the range (root mean square), and the share of them in the range.
 */
#include <math.h>
#include <string.h>

#include "common.h"
#include "hold_plant.h"
#include "io/virtual_config.h"

#define SEEDS        5u
#define TICKS_A_S    (1000u / TICK_MS)
#define NOT_JUDGED_S 5u

/* Wheel, gear and lag of home bikes: common practice, invented. */
static const struct hold_brake brakes[] = {
    {"magnets, 40 levels", {0.476, 2.6, 60, 120, 0.8, 0.8}, {0, 200, 5}, 0, 0},
    {"pads, same torque at any speed", {0.30, 4.0, 45, 85, 0.3, 1.5}, {10, 320, 10}, 0, 1000},
    {"magnets, most in the last levels", {0.476, 2.6, 80, 120, 0.8, 0.8}, {0, 200, 5}, 0.7, 1000},
    {"16 coarse levels", {0.20, 6.0, 55, 110, 0.5, 1.0}, {10, 160, 10}, 0, 2000},
    {"heavy wheel, slow brake", {1.1, 2.4, 70, 140, 1.5, 3.0}, {0, 1000, 10}, 0.3, 3000},
    {"light wheel, most in the first levels",
     {0.06, 7.0, 75, 150, 0.4, 0.4},
     {0, 240, 10},
     -0.5,
     0},
};
#define BRAKES (sizeof brakes / sizeof brakes[0])

static const struct {
    const char *name;
    double critical_power_w, cadence_rpm, wander_rpm;
} riders[] = {{"steady", 200, 88, 1.4}, {"weak", 140, 78, 2.5}, {"strong", 260, 95, 2}};
#define RIDERS (sizeof riders / sizeof riders[0])

enum holder { HOLD_ORACLE, HOLD_LEARNED, HOLD_PI, HOLD_TABLE, HOLDERS };

struct result_of_block {
    double square_sum;
    uint32_t blocks, judged, in_range, changes;
};

/* ---- the others ---- */

static int32_t oracle(const struct hold_plant *plant, double middle_w)
{
    const struct hold_levels *levels = &plant->kind->levels;
    const double cadence_rpm = virtual_machine_cadence_rpm(&plant->machine);
    int32_t best = levels->minimum;
    double best_off_w = HUGE_VAL;

    for (int32_t level = levels->minimum; level <= levels->maximum; level += levels->step) {
        const double off_w = fabs(hold_plant_power_w(plant, level, cadence_rpm) - middle_w);
        if (off_w < best_off_w) {
            best_off_w = off_w;
            best = level;
        }
    }
    return best;
}

/* Gains by hand, for the first brake: half of its error in a second, a fifth of that at once. */
static int32_t proportional_integral(const struct hold_levels *levels, double *sum, double off_w)
{
    const double reach = levels->maximum - levels->minimum;

    *sum += off_w * reach * 0.0007 / TICKS_A_S;
    *sum = fmax(0, fmin(reach, *sum));
    const double level = fmax(0, fmin(reach, *sum + off_w * reach * 0.0003));
    return levels->minimum + (int32_t)lround(level / levels->step) * levels->step;
}

/* ---- a block ---- */

struct step {
    uint32_t seconds;
    double share; /* of critical power */
    bool is_work;
};
static const struct step warm_up = {60, 0.5, false};
static const struct step rounds[] = {{30, 1.15, true}, {20, 0.5, false}};

struct block {
    enum holder holder;
    struct hold_plant plant;
    struct power_hold hold;
    double sum;           /* of the PI loop */
    int32_t level_tenths; /* chosen last */
    double critical_power_w;
    struct result_of_block result;
};

static int32_t level_now(struct block *block, const struct hold_reading *last,
                         const struct target_range *range)
{
    const struct hold_levels *levels = &block->plant.kind->levels;
    const double middle_w = (range->low + range->high) / 2.0;

    switch (block->holder) {
    case HOLD_ORACLE: return oracle(&block->plant, middle_w);
    case HOLD_PI: return proportional_integral(levels, &block->sum, middle_w - last->power_w);
    case HOLD_TABLE: return power_hold_level_for(&block->hold, last->t_ms, (int32_t)middle_w, 0);
    case HOLD_LEARNED:
    case HOLDERS: break;
    }
    return power_hold_level(&block->hold, last->t_ms, range, 0);
}

static void judge_second(struct block *block, const struct target_range *range, double power_w)
{
    const double off_w = power_w - (range->low + range->high) / 2.0;

    block->result.square_sum += off_w * off_w;
    block->result.judged++;
    block->result.in_range += power_w >= range->low && power_w <= range->high;
}

static void ride(struct block *block, const struct step *step)
{
    const double middle_w = step->share * block->critical_power_w;
    const struct target_range range = {true, (int32_t)(middle_w * 0.94),
                                       (int32_t)(middle_w * 1.06)};
    struct hold_reading last = {.t_ms = block->plant.t_ms};

    for (uint32_t second = 0; second < step->seconds; second++) {
        double sum_w = 0;
        for (uint32_t tick = 0; tick < TICKS_A_S; tick++) {
            const int32_t level = level_now(block, &last, &range);

            block->result.changes += level != block->level_tenths;
            block->level_tenths = level;
            last = hold_plant_tick(&block->plant, level);
            if (block->holder == HOLD_LEARNED)
                power_hold_reading(&block->hold, last.t_ms, block->plant.level_tenths, last.power_w,
                                   last.cadence_rpm);
            sum_w += last.power_w;
        }
        if (step->is_work && second >= NOT_JUDGED_S)
            judge_second(block, &range, sum_w / TICKS_A_S);
    }
}

/* ... one block, and the curve that it leaves behind. */
static struct result_of_block ride_block(enum holder holder, const struct hold_brake *brake,
                                         size_t who, uint64_t seed, struct brake_curve *curve)
{
    struct virtual_rider_config rider = virtual_rider_default();
    struct block block = {.holder = holder, .critical_power_w = riders[who].critical_power_w};

    rider.critical_power_w = riders[who].critical_power_w;
    rider.cadence_rpm = riders[who].cadence_rpm;
    rider.cadence_wander_rpm = riders[who].wander_rpm;
    hold_plant_init(&block.plant, brake, &rider, seed);
    power_hold_init(&block.hold, &brake->levels, curve);
    ride(&block, &warm_up);
    for (int round = 0; round < 6; round++)
        for (size_t i = 0; i < sizeof rounds / sizeof rounds[0]; i++)
            ride(&block, &rounds[i]);
    *curve = brake_model_curve(&block.hold.brake);
    block.result.blocks = 1;
    return block.result;
}

/* ---- the table ---- */

struct score {
    double rms_w, in_range_pct, changes;
};

static struct score score_of(const struct result_of_block *result)
{
    return (struct score){sqrt(result->square_sum / result->judged),
                          100.0 * result->in_range / result->judged,
                          (double)result->changes / result->blocks};
}

static void add(struct result_of_block *sum, struct result_of_block one)
{
    sum->blocks += one.blocks;
    sum->square_sum += one.square_sum;
    sum->judged += one.judged;
    sum->in_range += one.in_range;
    sum->changes += one.changes;
}

static const struct brake_curve usual = {{20000, 400000, 250000, 0}, 1000};

static void compare(const struct hold_brake *brake, struct result_of_block sums[2][HOLDERS])
{
    for (size_t who = 0; who < RIDERS; who++)
        for (uint64_t seed = 1; seed <= SEEDS; seed++)
            for (int holder = 0; holder < HOLDERS; holder++) {
                struct brake_curve curve = {0};
                for (int nth = 0; nth < 2; nth++) {
                    if (holder != HOLD_LEARNED)
                        curve = usual;
                    add(&sums[nth][holder], ride_block((enum holder)holder, brake, who,
                                                       seed * 2 + (uint64_t)nth, &curve));
                }
            }
}

static void print(const char *what, struct result_of_block sums[HOLDERS], const char *aim)
{
    static const char *const names[HOLDERS] = {"oracle", "learned", "PI", "table"};
    const struct score best = score_of(&sums[HOLD_ORACLE]);

    for (int holder = 0; holder < HOLDERS; holder++) {
        const struct score score = score_of(&sums[holder]);

        bench_row(holder == 0 ? what : "", bench_text("%.2f", score.rms_w / best.rms_w).text,
                  holder == HOLD_LEARNED ? aim : "",
                  "%-8s %5.1f W from the middle, %2.0f %% in range, %3.0f choices a block",
                  names[holder], score.rms_w, score.in_range_pct, score.changes);
    }
}

int main(void)
{
    struct result_of_block all[2][HOLDERS] = {0};

    for (size_t i = 0; i < BRAKES; i++) {
        struct result_of_block sums[2][HOLDERS] = {0};

        compare(&brakes[i], sums);
        print(bench_text("  %.29s", brakes[i].name).text, sums[1], "");
        for (int nth = 0; nth < 2; nth++)
            for (int holder = 0; holder < HOLDERS; holder++)
                add(&all[nth][holder], sums[nth][holder]);
    }
    print("power by levels, first block", all[0], "");
    print("power by levels, second block", all[1], "<= 1.15");
    return 0;
}
