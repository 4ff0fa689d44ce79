/* A FIT file of any numbers.
 * Eva: -eva-precision 1 */
#include "unknown.h"
#include "wire/fit_activity.h"

enum { ROOM = 4 * FIT_ACTIVITY_CALL_OCTETS };

static struct fit_span span;
static uint8_t room[ROOM];

static int32_t any_i32(void)
{
    return any_int(INT32_MIN, INT32_MAX);
}

int main(void)
{
    struct bytes_writer writer = bytes_writer(room, any_size(sizeof room));
    const struct fit_record record = {any_i64(), any_i64(), any_i32(), any_i32(), any_i32()};

    MAKE_UNKNOWN(span);
    const struct fit_totals totals = {.span = span,
                                      .calories_kcal = any_i32(),
                                      .effort = any_int(-1, 10),
                                      .laps = (uint16_t)any_int(0, UINT16_MAX),
                                      .local_offset_s = any_i32()};
    fit_activity_begin(&writer, any_i64(), any_u32());
    while (any_bool()) {
        fit_activity_timer(&writer, any_i64(), (enum fit_timer)any_int(0, FIT_TIMER_IS_OVER));
        fit_activity_record(&writer, &record);
        fit_activity_lap(&writer, (uint16_t)any_int(0, UINT16_MAX),
                         (enum fit_intensity)any_int(0, FIT_COOL_DOWN), &span);
    }
    fit_activity_end(&writer, &totals);
    return 0;
}
