#include "rehearsal.h"

#include <stdio.h>
#include <string.h>

#include "app/recorder.h"
#include "common.h"
#include "io/virtual_config.h"

#define DATA_EVERY_MS 100u

/* All that one run needs. */
struct run {
    struct rehearsal *rehearsal;
    uint64_t lap_ns;
    struct recorder recorder;
};

/* What went by since the last change of hands was the one's who had it. */
static void on_hand(void *user, enum stage_hand hand)
{
    struct run *run = user;
    const uint64_t now_ns = bench_now_ns();

    run->rehearsal->share_ns[hand] += now_ns - run->lap_ns;
    run->lap_ns = now_ns;
}

static void on_event(void *user, const struct event *event)
{
    struct run *run = user;
    struct rehearsal *rehearsal = run->rehearsal;

    if (rehearsal->events != NULL && rehearsal->event_count < REHEARSAL_EVENTS_MAX)
        rehearsal->events[rehearsal->event_count] = *event;
    rehearsal->event_count++;
    rehearsal->reading_count += event->kind == EVENT_TELEMETRY;
    recorder_event(&run->recorder, event);
}

static bool on_effects(void *user, const struct ride *ride, const struct effects *effects)
{
    struct run *run = user;

    for (size_t i = 0; i < effects->count; i++)
        if (effects->list[i].kind == EFFECT_SUMMARY)
            run->rehearsal->summary = effects->list[i].summary;
    run->rehearsal->ride_ms = ride->t_ms;
    recorder_effects(&run->recorder, effects);
    return true;
}

static void begin(struct rehearsal *rehearsal, struct run *run, struct ride_setup *setup)
{
    *run = (struct run){.rehearsal = rehearsal, .lap_ns = bench_now_ns()};
    rehearsal_setup(setup);
    if (recorder_begin(&run->recorder, setup, &(struct store_ride){.bike = "virtual"}) != RESULT_OK)
        bench_fail("the rehearsal cannot be set up");
    rehearsal->event_count = rehearsal->reading_count = 0;
    rehearsal->summary = (struct summary){0};
    memset(rehearsal->share_ns, 0, sizeof rehearsal->share_ns);
}

void rehearsal_run(struct rehearsal *rehearsal)
{
    static struct ride_setup setup;
    struct virtual_machine_config machine = virtual_machine_default();
    const struct virtual_rider_config rider = virtual_rider_default();
    struct run run;
    const struct stage_watch watch = {.event = on_event,
                                      .effects = on_effects,
                                      .hand = rehearsal->is_timed ? on_hand : NULL,
                                      .user = &run};

    machine.data_interval_ms =
        rehearsal->data_every_ms > 0 ? rehearsal->data_every_ms : DATA_EVERY_MS;
    begin(rehearsal, &run, &setup);
    if (stage_ride(&setup, &machine, &rider, rehearsal->seed > 0 ? rehearsal->seed : 1, &watch) !=
            RESULT_OK ||
        rehearsal->summary.end != END_DONE)
        bench_fail("the rehearsal did not come to its end");
    rehearsal->journal_length = run.recorder.length;
    if (rehearsal->keeps_journal) {
        rehearsal->journal = run.recorder.text;
        run.recorder.text = NULL;
    }
    recorder_free(&run.recorder);
}

static void add_step(struct plan *plan, enum step_kind kind, uint32_t duration_ms, int32_t power_w)
{
    plan->steps[plan->step_count++] =
        (struct plan_step){.kind = kind,
                           .duration_ms = duration_ms,
                           .targets = {.power_w = {true, power_w - 10, power_w + 10}}};
}

void rehearsal_setup(struct ride_setup *ret)
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
