/* The curve of any ride, taken on from any that can have been taken before, one zeroed among them;
 * and a block of any length against it, along the slope of any critical power and with any error
 * that is a number. What of the curve always holds, holds again.
 * Eva: -eva-precision 1 -eva-plevel 8000 */
#include "any_ride_state.h"
#include "ride/mark.h"

#define SUM_MAX INT64_C(1000000000)

static struct ride ride;
static struct mark_curve curve;

static int64_t any_bounded(void)
{
    return any_sum(-SUM_MAX, SUM_MAX);
}

static void any_curve(void)
{
    curve.before_ms = any_u32();
    curve.length_ms = any_u32();
    curve.seconds = (uint32_t)any_int(0, MARK_SECONDS_MAX);
    for (unsigned i = 0; i <= MARK_SECONDS_MAX; i++) {
        curve.work_j[i] = (int32_t)any_bounded();
        curve.distance_m[i] = (int32_t)any_bounded();
    }
    curve.end = (struct mark_point){any_u32(), any_bounded(), any_bounded()};
}

static void look_at_curve(void)
{
    /*@ assert curve.seconds <= MARK_SECONDS_MAX; */
    for (unsigned i = 0; i <= MARK_SECONDS_MAX; i++) {
        /*@ assert -SUM_MAX <= curve.work_j[i] <= SUM_MAX; */
        /*@ assert -SUM_MAX <= curve.distance_m[i] <= SUM_MAX; */
    }
    /*@ assert -SUM_MAX <= curve.end.work_j <= SUM_MAX; */
    /*@ assert -SUM_MAX <= curve.end.distance_m <= SUM_MAX; */
}

int main(void)
{
    any_setup(&ride.setup);
    any_ride(&ride);
    any_curve();
    mark_curve_take(&curve, &ride);
    look_at_curve();
    const struct mark mark =
        mark_of(&curve, (enum mark_measure)any_int(0, MARK_MEASURE_COUNT - 1), &ride.setup.plan,
                any_int(0, UINT16_MAX), Frama_C_double_interval(0, 1e300));
    const struct mark_point now = mark_point_of(&ride);
    mark_state(&mark, &now);
    mark_measure_text((enum mark_measure)any_u32());
    return 0;
}
