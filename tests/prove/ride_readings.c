/* The readings of a ride, in any order and of any value.
 * Eva: -eva-precision 1 */
#include "any_ride.h"
#include "ride/sensors.h"

static struct sensors sensors;

static void hear(uint64_t t_ms)
{
    struct telemetry data = any_telemetry();
    const enum link_source source = (enum link_source)any_int(0, LINK_CADENCE);

    /* What is judged depends on what is there: each case by itself. */
    data.has &= HAS_POWER | HAS_CADENCE | HAS_DISTANCE | HAS_HEART;
    /*@ split data.has; */
    switch (any_int(0, 3)) {
    case 0: sensors_telemetry(&sensors, t_ms, &data); break;
    case 1: sensors_effort(&sensors, t_ms, source, &data); break;
    case 2: sensors_lose(&sensors, t_ms, source); break;
    default:
        sensors_heart(&sensors, t_ms, any_i32(), (enum contact)any_int(0, CONTACT_GOOD));
        break;
    }
}

static void ask(uint64_t t_ms)
{
    sensors_choose(&sensors, t_ms);
    sensors_highest_power_w(&sensors, t_ms);
    sensors_highest_cadence_rpm(&sensors, t_ms);
    sensors_heart_rate(&sensors, t_ms, any_u32());
    sensors_heart_median(&sensors, t_ms, any_u32());
    reading_is_fresh(&sensors.power_w, t_ms, any_u32());
}

int main(void)
{
    /*@ widen_hints global:"all", 15, 16; */
    while (any_bool()) {
        const uint64_t t_ms = any_u64();
        hear(t_ms);
        ask(t_ms);
    }
    return 0;
}
