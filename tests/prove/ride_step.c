/* A ride in any state that it can be in, and one event; that it is in such a state again. It begins
 * in one: so no row of events leaves them.
 * Eva: -eva-precision 0 -eva-plevel 600 -eva-auto-loop-unroll 64
 * Eva: -eva-domains-function octagon:advance,octagon:pass_lead
 * Eva: -eva-split-return-function is_believable:0,is_believable_heart:0,heart_filter_accept:0
 * Eva: -eva-split-return-function best_power_w:0,number_for:0
 * Eva: -eva-slevel-function is_believable:16,is_believable_heart:40,heart_filter_accept:20
 * Eva: -eva-slevel-function sensors_telemetry:100,sensors_effort:16,sensors_heart:16
 * Eva: -eva-slevel-function best_power_w:4,best_w:4,number_for:8,ride_turn_at_edge:4
 * Eva: -eva-slevel-function number_w:4 */
#include "any_ride_state.h"
#include "look_at_ride.h"

static struct ride ride;
static struct effects effects;
static struct ride_setup setup;

/* Those that share their octets with no bool of another kind; the others each by itself. */
static void happen(enum event_kind kind)
{
    struct event event = {.t_ms = any_u64()};

    switch (kind) {
    case EVENT_LINK:
        event.kind = EVENT_LINK;
        event.link.source = (enum link_source)any_int(0, LINK_CADENCE);
        event.link.up = any_bool();
        ride_step(&ride, &event, &effects);
        return;
    case EVENT_MACHINE:
        event.kind = EVENT_MACHINE;
        event.machine = any_machine();
        ride_step(&ride, &event, &effects);
        return;
    case EVENT_STORE:
        event.kind = EVENT_STORE;
        event.store.failed = any_bool();
        ride_step(&ride, &event, &effects);
        return;
    case EVENT_KEY:
        event.kind = EVENT_KEY;
        event.key.key = (enum ride_key)any_int(0, KEY_KNOB);
        event.key.position = any_i32();
        break;
    case EVENT_TELEMETRY:
        event.kind = EVENT_TELEMETRY;
        event.telemetry = any_telemetry();
        break;
    case EVENT_HEART:
        event.kind = EVENT_HEART;
        event.heart.heart_bpm = any_i32();
        event.heart.contact = (enum contact)any_int(0, CONTACT_GOOD);
        break;
    case EVENT_ANSWER:
        event.kind = EVENT_ANSWER;
        event.answer.command = (enum machine_command)any_int(0, COMMAND_STOP);
        event.answer.answer = (enum answer)any_int(0, ANSWER_ERROR);
        event.answer.load = any_load();
        ride_step(&ride, &event, &effects);
        return;
    case EVENT_STATUS:
        event.kind = EVENT_STATUS;
        event.status.status = (enum machine_status)any_int(0, STATUS_RESET);
        break;
    case EVENT_SENSOR:
        event.kind = EVENT_SENSOR;
        event.sensor.source = (enum link_source)any_int(0, LINK_CADENCE);
        event.sensor.has = any_u32();
        event.sensor.power_w = any_i32();
        event.sensor.cadence_rpm = any_i32();
        break;
    case EVENT_TICK:
    case EVENT_KIND_COUNT: break;
    }
    ride_step(&ride, &event, &effects);
}

int main(void)
{
    any_setup(&setup);
    ride_init(&ride, &setup);
    look_at_ride(&ride);
    any_ride(&ride);
    happen((enum event_kind)any_int(0, EVENT_KIND_COUNT - 1));
    look_at_ride(&ride);
    return 0;
}
