#include "support/ears.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static void listen(struct ears *ears, const struct effects *effects)
{
    const enum cue cue = cues_step(&ears->cues, &ears->ride, effects, ears->t_ms, &ears->next_ms);

    assert_true(ears->next_ms > ears->t_ms);
    if (cue == CUE_NONE)
        return;
    assert_true(ears->count < HEARD_MAX);
    ears->heard[ears->count++] = (struct heard){cue, ears->t_ms};
}

void ears_take(struct ears *ears, struct event event)
{
    struct effects effects;

    event.t_ms = ears->t_ms;
    ride_step(&ears->ride, &event, &effects);
    listen(ears, &effects);
    for (size_t i = 0; i < effects.count; i++) {
        const struct effect *effect = &effects.list[i];
        if (effect->kind != EFFECT_COMMAND)
            continue;
        ears_take(ears, (struct event){.kind = EVENT_ANSWER,
                                       .answer = {effect->command.command, ANSWER_ACCEPTED,
                                                  effect->command.load}});
    }
}

void ears_tell(struct ears *ears, enum event_kind kind)
{
    ears_take(ears, (struct event){.kind = kind});
}

static void pedal(struct ears *ears)
{
    const struct plan_step *step = ride_current_step(&ears->ride);
    const struct target_range *range = step != NULL ? &step->targets.power_w : NULL;
    const int32_t middle_w = range != NULL ? (range->low + range->high) / 2 : 100;

    ears_take(ears, (struct event){
                        .kind = EVENT_TELEMETRY,
                        .telemetry = {.has = HAS_POWER | HAS_CADENCE,
                                      .power_w = ears->is_powerless ? 0 : middle_w + ears->off_w,
                                      .cadence_rpm = 90}});
}

void ears_pass(struct ears *ears, uint64_t ms)
{
    for (uint64_t end_ms = ears->t_ms + ms; ears->t_ms < end_ms;) {
        ears->t_ms++;
        if (ears->is_stuck)
            continue;
        if (ears->t_ms >= ears->next_ms)
            listen(ears, NULL);
        if (ears->t_ms % TICK_MS == 0)
            pedal(ears);
        if (ears->t_ms % TICK_MS == 0 || ears->t_ms >= ride_next_edge_ms(&ears->ride))
            ears_tell(ears, EVENT_TICK);
    }
}

void ears_press(struct ears *ears, enum ride_key key)
{
    ears_take(ears, (struct event){.kind = EVENT_KEY, .key = {key}});
}

static void begin(struct ears *ears, const struct plan *plan, const struct machine *machine)
{
    struct ride_setup setup = {.plan = *plan, .tells_knob = true};

    memset(ears, 0, sizeof *ears);
    ears->t_ms = 1000;
    ears->next_ms = CUES_NEVER;
    ride_init(&ears->ride, &setup);
    ears_take(ears, (struct event){.kind = EVENT_LINK, .link = {LINK_MACHINE, true}});
    ears_take(ears, (struct event){.kind = EVENT_MACHINE, .machine = *machine});
    while (ears->ride.phase == PHASE_READY)
        ears_pass(ears, 1);
}

void ears_begin(struct ears *ears, const struct plan *plan)
{
    begin(ears, plan, &(struct machine){.takes_power = true, .power_max_w = 600});
}

void ears_begin_by_hand(struct ears *ears, const struct plan *plan)
{
    begin(ears, plan, &(struct machine){0});
}
