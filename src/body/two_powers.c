#include "body/two_powers.h"

#include <math.h>

#include "body/chance.h"

static void begin(struct two_powers *two, uint64_t t_ms, int32_t cadence_rpm)
{
    two->has_window = true;
    two->begin_t_ms = t_ms;
    two->lowest_rpm = two->highest_rpm = cadence_rpm;
    two->window_machine_w = two->window_sensor_w = 0;
    two->pairs = 0;
}

static void close_window(struct two_powers *two)
{
    const double machine_w = (double)two->window_machine_w / two->pairs;
    const double sensor_w = (double)two->window_sensor_w / two->pairs;

    two->windows++;
    two->machine_w += machine_w;
    two->sensor_w += sensor_w;
    two->machine_square += machine_w * machine_w;
    two->sensor_square += sensor_w * sensor_w;
    two->product += machine_w * sensor_w;
    two->has_window = false;
}

static bool goes_on(struct two_powers *two, uint64_t t_ms, int32_t cadence_rpm)
{
    if (!two->has_window || t_ms - two->last_t_ms > TWO_POWERS_GAP_MS)
        return false;
    if (cadence_rpm < two->lowest_rpm)
        two->lowest_rpm = cadence_rpm;
    if (cadence_rpm > two->highest_rpm)
        two->highest_rpm = cadence_rpm;
    return two->highest_rpm - two->lowest_rpm <= TWO_POWERS_STEADY;
}

void two_powers_add(struct two_powers *two, uint64_t t_ms, int32_t machine_w, int32_t sensor_w,
                    int32_t cadence_rpm)
{
    if (cadence_rpm < TWO_POWERS_TURN_RPM) {
        two->has_window = false;
        return;
    }
    if (!goes_on(two, t_ms, cadence_rpm))
        begin(two, t_ms, cadence_rpm);
    two->last_t_ms = t_ms;
    two->window_machine_w += machine_w;
    two->window_sensor_w += sensor_w;
    two->pairs++;
    if (t_ms - two->begin_t_ms >= TWO_POWERS_WINDOW_MS)
        close_window(two);
}

/* That value of Student's t which 2.5 % lie above; halved 50 times it is exact to a double. */
static double student_95(uint32_t freedom)
{
    double low = 0, high = 16;

    for (int i = 0; i < 50; i++) {
        const double middle = (low + high) / 2;
        if (chance_student(middle, freedom) < 0.975)
            low = middle;
        else
            high = middle;
    }
    return high;
}

static double held(double value, double least, double most)
{
    return value < least ? least : value > most ? most : value;
}

struct power_difference two_powers_difference(const struct two_powers *two)
{
    if (two->windows < TWO_POWERS_LEAST)
        return (struct power_difference){0};
    const double n = two->windows;

    /* Without load a share of it means nothing. */
    if (two->machine_w < n || two->sensor_w <= 0)
        return (struct power_difference){0};
    const double ratio = two->sensor_w / two->machine_w;
    const double squares =
        two->sensor_square - 2 * ratio * two->product + ratio * ratio * two->machine_square;
    const double spread_w = sqrt((squares > 0 ? squares : 0) / (n * (n - 1)));
    const double error = 1000 * student_95(two->windows - 1) * spread_w / (two->machine_w / n);
    /* To the nearest and up; beyond a hundredfold nothing is measured. */
    const double tenths = held(floor(1000 * (ratio - 1) + 0.5), -1000, 99999);
    const double error_tenths = held(ceil(error), 1, 99999);

    return (struct power_difference){(int32_t)tenths, (int32_t)error_tenths};
}

bool power_difference_matters(const struct power_difference *difference)
{
    const int32_t size = difference->tenths < 0 ? -difference->tenths : difference->tenths;

    return difference->error_tenths > 0 && size >= TWO_POWERS_MATTER_TENTHS &&
           size > difference->error_tenths;
}

bool two_powers_are_far(int32_t a_w, int32_t b_w)
{
    const int64_t lower_w = a_w < b_w ? a_w : b_w, higher_w = a_w < b_w ? b_w : a_w;

    return 100 * higher_w >= TWO_POWERS_FAR_PCT * lower_w;
}

bool power_difference_is_far(const struct power_difference *difference)
{
    return power_difference_matters(difference) &&
           two_powers_are_far(1000 + difference->tenths, 1000);
}
