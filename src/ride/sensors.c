#include "ride/sensors.h"

/* What no rider and no machine can mean. Coasting down a flywheel may read a little below zero. */
#define POWER_MIN_W     (-50)
#define POWER_MAX_W     2500
#define CADENCE_MAX_RPM 250
/* While the strap speaks the machine's heart rate is not mixed into the window. */
#define STRAP_SPEAKS_MS  5000
#define SELDOM_WINDOW_MS 15000u

static void keep(struct reading *reading, uint64_t t_ms, int32_t value)
{
    *reading = (struct reading){.known = true, .value = value, .t_ms = t_ms};
}

/* What is not told is 0, and no reason to doubt. */
static int32_t told(const struct telemetry *data, enum telemetry_field field, int32_t value)
{
    return (data->has & field) != 0 ? value : 0;
}

static bool is_believable(int32_t power_w, int32_t cadence_rpm)
{
    return power_w >= POWER_MIN_W && power_w <= POWER_MAX_W && cadence_rpm >= 0 &&
           cadence_rpm <= CADENCE_MAX_RPM;
}

static bool is_believable_heart(struct heart_filter *filter, uint64_t t_ms, int32_t heart_bpm)
{
    return heart_bpm >= (int32_t)HEART_LOWEST_BPM && heart_bpm <= (int32_t)HEART_HIGHEST_BPM &&
           heart_filter_accept(filter, t_ms, (uint32_t)heart_bpm);
}

static void remember_heart(struct sensors *sensors, uint64_t t_ms, int32_t heart_bpm)
{
    sensors->window[sensors->window_next].heart_bpm = heart_bpm;
    sensors->window[sensors->window_next].t_ms = t_ms;
    sensors->window_next = (sensors->window_next + 1) % HEART_READINGS_MAX;
    if (sensors->window_count < HEART_READINGS_MAX)
        sensors->window_count++;
}

/* ---- the choice ---- */

static bool speaks(const struct reading *reading, uint64_t t_ms)
{
    return reading_is_fresh(reading, t_ms, SENSOR_SPEAKS_MS);
}

static enum link_source choose_cadence(const struct sensors *sensors, uint64_t t_ms)
{
    if (speaks(&sensors->crank_rpm, t_ms))
        return LINK_CADENCE;
    return speaks(&sensors->sensor_cadence_rpm, t_ms) ? LINK_POWER : LINK_MACHINE;
}

static const struct reading *cadence_of(const struct sensors *sensors, enum link_source source)
{
    switch (source) {
    case LINK_CADENCE: return &sensors->crank_rpm;
    case LINK_POWER: return &sensors->sensor_cadence_rpm;
    case LINK_MACHINE:
    case LINK_STRAP: break;
    }
    return &sensors->machine_cadence_rpm;
}

/* The sources stand in the order of their kinds: a later one goes before an earlier. */
static void choose(struct sensors *sensors, enum link_source *from, enum link_source source)
{
    if (source < *from)
        sensors->fell_silent |= 1u << *from;
    *from = source;
}

void sensors_choose(struct sensors *sensors, uint64_t t_ms)
{
    const bool has_sensor = speaks(&sensors->sensor_power_w, t_ms);

    choose(sensors, &sensors->power_from, has_sensor ? LINK_POWER : LINK_MACHINE);
    choose(sensors, &sensors->cadence_from, choose_cadence(sensors, t_ms));
    sensors->power_w = has_sensor ? sensors->sensor_power_w : sensors->machine_power_w;
    sensors->cadence_rpm = *cadence_of(sensors, sensors->cadence_from);
}

static int32_t higher(int32_t value, const struct reading *reading, uint64_t t_ms)
{
    return speaks(reading, t_ms) && reading->value > value ? reading->value : value;
}

int32_t sensors_highest_power_w(const struct sensors *sensors, uint64_t t_ms)
{
    return higher(sensors->machine_power_w.value, &sensors->sensor_power_w, t_ms);
}

int32_t sensors_highest_cadence_rpm(const struct sensors *sensors, uint64_t t_ms)
{
    return higher(higher(sensors->machine_cadence_rpm.value, &sensors->sensor_cadence_rpm, t_ms),
                  &sensors->crank_rpm, t_ms);
}

/* ---- what comes ---- */

/* One part that cannot be true discredits the whole frame: its other parts are likely shifted. */
void sensors_telemetry(struct sensors *sensors, uint64_t t_ms, const struct telemetry *data)
{
    const int32_t power_w = told(data, HAS_POWER, data->power_w);
    const int32_t cadence_rpm = told(data, HAS_CADENCE, data->cadence_rpm);
    const int32_t heart_bpm = told(data, HAS_HEART, data->heart_bpm);

    if (!is_believable(power_w, cadence_rpm)) {
        sensors->doubtful_in_a_row++;
        return;
    }
    if (data->has & HAS_POWER)
        keep(&sensors->machine_power_w, t_ms, power_w);
    if (power_w != 0)
        sensors->machine_has_power = true;
    if (data->has & HAS_CADENCE)
        keep(&sensors->machine_cadence_rpm, t_ms, cadence_rpm);
    sensors_choose(sensors, t_ms);
    if (data->has & HAS_DISTANCE)
        keep(&sensors->distance_m, t_ms, data->distance_m);
    if (data->has & (HAS_POWER | HAS_CADENCE)) {
        keep(&sensors->data, t_ms, 0);
        sensors->doubtful_in_a_row = 0;
    }
    if (is_believable_heart(&sensors->machine_filter, t_ms, heart_bpm)) {
        keep(&sensors->machine_bpm, t_ms, heart_bpm);
        if (!reading_is_fresh(&sensors->strap_bpm, t_ms, STRAP_SPEAKS_MS))
            remember_heart(sensors, t_ms, heart_bpm);
    }
}

void sensors_effort(struct sensors *sensors, uint64_t t_ms, enum link_source source,
                    const struct telemetry *data)
{
    const bool is_power = source == LINK_POWER;
    const int32_t power_w = told(data, HAS_POWER, data->power_w);
    const int32_t cadence_rpm = told(data, HAS_CADENCE, data->cadence_rpm);

    if ((!is_power && source != LINK_CADENCE) || !is_believable(power_w, cadence_rpm))
        return;
    if (is_power && (data->has & HAS_POWER))
        keep(&sensors->sensor_power_w, t_ms, power_w);
    if (is_power && (data->has & HAS_CADENCE))
        sensors->sensor_has_cadence = true;
    if (data->has & HAS_CADENCE)
        keep(is_power ? &sensors->sensor_cadence_rpm : &sensors->crank_rpm, t_ms, cadence_rpm);
    sensors_choose(sensors, t_ms);
}

void sensors_lose(struct sensors *sensors, uint64_t t_ms, enum link_source source)
{
    if (source == LINK_POWER)
        sensors->sensor_power_w = sensors->sensor_cadence_rpm = (struct reading){0};
    else if (source == LINK_CADENCE)
        sensors->crank_rpm = (struct reading){0};
    sensors_choose(sensors, t_ms);
}

void sensors_heart(struct sensors *sensors, uint64_t t_ms, int32_t heart_bpm, enum contact contact)
{
    if (contact == CONTACT_NONE || !is_believable_heart(&sensors->strap_filter, t_ms, heart_bpm))
        return;
    keep(&sensors->strap_bpm, t_ms, heart_bpm);
    remember_heart(sensors, t_ms, heart_bpm);
}

bool reading_is_fresh(const struct reading *reading, uint64_t t_ms, uint32_t max_age_ms)
{
    return reading->known && t_ms - reading->t_ms <= max_age_ms;
}

struct reading sensors_heart_rate(const struct sensors *sensors, uint64_t t_ms, uint32_t max_age_ms)
{
    if (reading_is_fresh(&sensors->strap_bpm, t_ms, max_age_ms))
        return sensors->strap_bpm;
    if (reading_is_fresh(&sensors->machine_bpm, t_ms, max_age_ms))
        return sensors->machine_bpm;
    return (struct reading){0};
}

static uint32_t place_of(const struct sensors *sensors, uint32_t back)
{
    return (sensors->window_next + HEART_READINGS_MAX - 1 - back) % HEART_READINGS_MAX;
}

/* Sources that speak too seldom for a median: what the last three all reached. */
static int32_t lowest_of_three(const struct sensors *sensors, uint64_t t_ms)
{
    int32_t lowest = 0;

    for (uint32_t back = 0; back < 3; back++) {
        const uint32_t at = place_of(sensors, back);
        if (back >= sensors->window_count || t_ms - sensors->window[at].t_ms > SELDOM_WINDOW_MS)
            return 0;
        if (back == 0 || sensors->window[at].heart_bpm < lowest)
            lowest = sensors->window[at].heart_bpm;
    }
    return lowest;
}

int32_t sensors_heart_median(const struct sensors *sensors, uint64_t t_ms, uint32_t window_ms)
{
    int32_t sorted[HEART_READINGS_MAX];
    uint32_t count = 0;

    for (uint32_t i = 0; i < sensors->window_count; i++) {
        if (t_ms - sensors->window[i].t_ms > window_ms)
            continue;
        uint32_t at = count++;
        /*@ loop variant at; */
        for (; at > 0 && sorted[at - 1] > sensors->window[i].heart_bpm; at--)
            sorted[at] = sorted[at - 1];
        sorted[at] = sensors->window[i].heart_bpm;
    }
    return count < 3 ? lowest_of_three(sensors, t_ms) : sorted[count / 2];
}
