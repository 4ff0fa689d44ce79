/* The watch over readings that sensors let pass: power, cadence and heart rate in their ranges.
 * Eva: -eva-precision 1 */
#include "ride/watch.h"
#include "unknown.h"

static struct watch watch;

/* Those of ride/sensors.c and body/heart.h. */
static int any_rpm(void)
{
    return any_int(0, 250);
}

static int any_bpm(void)
{
    return any_int(0, 240);
}

int main(void)
{
    while (any_bool()) {
        const struct watch_inputs inputs = {
            .t_ms = any_u64(),
            .is_riding = any_bool(),
            .in_work = any_bool(),
            .power_w = any_int(-50, 2500),
            .cadence_rpm = any_rpm(),
            .machine_rpm = any_rpm(),
            .sensor_rpm = any_rpm(),
            .machine_w = any_int(-50, 2500),
            .sensor_w = any_int(-50, 2500),
            .heart_bpm = any_bpm(),
            .heart_median_bpm = any_bpm(),
            .heart_limit_bpm = any_bpm(),
        };
        watch_step(&watch, &inputs);
    }
    return 0;
}
