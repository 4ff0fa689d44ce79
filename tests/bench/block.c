#include "block.h"

#include <stdio.h>

#include "app/recorder.h"
#include "app/stage.h"
#include "common.h"
#include "io/virtual_config.h"

#define DATA_EVERY_MS 100u

struct run {
    struct block *block;
    struct recorder recorder;
    enum end end;
};

static void on_event(void *user, const struct event *event)
{
    struct run *run = user;
    struct block *block = run->block;

    if (block->event_count == BLOCK_EVENTS_MAX)
        bench_fail("more events than are kept");
    block->events[block->event_count++] = *event;
    block->reading_count += event->kind == EVENT_TELEMETRY;
    block->ride_ms = event->t_ms;
    recorder_event(&run->recorder, event);
}

static bool on_effects(void *user, const struct ride *ride, const struct effects *effects)
{
    struct run *run = user;

    (void)ride;
    recorder_effects(&run->recorder, effects);
    for (size_t i = 0; i < effects->count; i++)
        if (effects->list[i].kind == EFFECT_SUMMARY)
            run->end = effects->list[i].summary.end;
    return true;
}

void block_ride(struct block *block)
{
    static struct ride_setup setup;
    static struct run run;
    const struct stage_watch watch = {on_event, on_effects, &run};
    const struct virtual_rider_config rider = virtual_rider_default();
    struct virtual_machine_config machine = virtual_machine_default();

    machine.data_interval_ms = DATA_EVERY_MS;
    run = (struct run){.block = block};
    block->event_count = block->reading_count = 0;
    block_setup(&setup);
    if (recorder_begin(&run.recorder, &setup, &(struct store_ride){.bike = "virtual"}) !=
            RESULT_OK ||
        stage_ride(&setup, &machine, &rider, 1, &watch) != RESULT_OK || run.end != END_DONE)
        bench_fail("the block was not ridden to its end");
    block->journal_length = run.recorder.length;
    recorder_free(&run.recorder);
}

static void add_step(struct plan *plan, enum step_kind kind, uint32_t duration_ms, int32_t power_w)
{
    plan->steps[plan->step_count++] =
        (struct plan_step){.kind = kind,
                           .duration_ms = duration_ms,
                           .targets = {.power_w = {true, power_w - 10, power_w + 10}}};
}

void block_setup(struct ride_setup *ret)
{
    *ret = (struct ride_setup){.rider = {.mass_kg = 75.0, .age_years = 30}};
    (void)snprintf(ret->plan.title, sizeof ret->plan.title, "20/10 x 8");
    add_step(&ret->plan, STEP_WARM_UP, 30000, 100);
    for (int round = 0; round < 8; round++) {
        add_step(&ret->plan, STEP_WORK, 20000, 240);
        add_step(&ret->plan, STEP_REST, 10000, 80);
    }
    add_step(&ret->plan, STEP_COOL_DOWN, 30000, 70);
}
