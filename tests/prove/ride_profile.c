/* Any profile, nothing of which is sound but how many items it says it has: measured, unrolled,
 * fitted, judged; and the plan that comes of it, summed and capped, as that of any journal.
 * Eva: -eva-precision 1 -eva-plevel 600
 * Eva: -eva-split-return-function profile_measure_part:0,profile_measure:0,fit_span:0
 * Eva: -eva-split-return-function set_length:0,profile_fit:0,bend:0,profile_unroll:0 */
#include "any_ride_state.h"
#include "ride/fit.h"
#include "ride/unwise.h"

static struct profile profile, fitted;
static struct plan plan;

static struct step_targets any_shares(void)
{
    struct step_targets targets = any_targets();

    targets.power_cp_tenths = any_range();
    targets.power_mark_tenths = any_range();
    return targets;
}

static struct profile_item any_item(void)
{
    return (struct profile_item){
        .kind = (enum profile_item_kind)any_u32(),
        .step = (enum step_kind)any_u32(),
        .duration_ms = any_u32(),
        .targets = any_shares(),
        .ramp_to = any_shares(),
        .end = {(enum step_until)any_u32(), any_i32()},
        .reps = {(uint16_t)any_int(0, UINT16_MAX), (uint16_t)any_int(0, UINT16_MAX)},
        .rounds = (uint16_t)any_int(0, UINT16_MAX),
        .fits = any_bool(),
        .line = any_u32(),
    };
}

static void any_profile(void)
{
    struct profile_size size;

    profile.length_min_ms = any_u32();
    profile.length_max_ms = any_u32();
    profile.length_line = any_u32();
    for (unsigned i = 0; i < PROFILE_ITEMS_MAX; i++)
        profile.items[i] = any_item();
    profile.item_count = any_size(SIZE_MAX);
    (void)profile_measure(&profile, &size);
    profile.item_count = any_size(PROFILE_ITEMS_MAX);
}

static void sum(void)
{
    plan_length_ms(&plan);
    plan_duration_ms(&plan);
    plan_work_ms(&plan);
    plan_floor_ms(&plan);
    plan_floor_steps(&plan);
    plan_cap_power(&plan, any_int(0, TARGET_MOST));
}

static void make_plan(void)
{
    struct rider rider = {.heart_slowed = any_bool()};

    rider.critical_power_w = (uint16_t)any_int(0, UINT16_MAX);
    rider.mark_power_w = (uint16_t)any_int(0, UINT16_MAX);
    if (profile_plan(&profile, &rider, &plan) == RESULT_OK ||
        profile_unroll(&profile, &rider, &plan) == RESULT_OK)
        sum();
    any_plan(&plan);
    sum();
}

static void fit(void)
{
    const struct fit_wish wish = {.length_ms = any_u32(),
                                  .feel = any_u32(),
                                  .load_pct = any_int(-FIT_LOAD_MAX_PCT, FIT_LOAD_MAX_PCT),
                                  .is_first = any_bool()};
    struct fit_span span;
    struct fit fit;
    char line[512];
    struct text_writer writer = text_writer(line, sizeof line);

    if (fit_span(&profile, &span) == RESULT_OK)
        fit_length_ms(&span, fit_rounds(&span, any_u32()));
    const enum result result = profile_fit(&profile, &wish, &fitted, &fit);
    if (result == RESULT_OK)
        fit_put(&writer, &fit);
    else
        fit_problem(&wish, result);
}

static void judge(void)
{
    const enum unwise what = (enum unwise)any_u32();
    uint32_t line;

    unwise_text(what);
    profile_is_unwise(&profile, what, &line);
}

int main(void)
{
    any_profile();
    make_plan();
    fit();
    judge();
    (void)profile_settle(&profile);
    return 0;
}
