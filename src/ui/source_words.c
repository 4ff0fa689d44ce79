#include "base/text.h"
#include "ui/view.h"

static const char *name_of_source(enum link_source source)
{
    return source == LINK_POWER ? "power sensor" : "bike";
}

/* A power sensor that never told cadence is not missed for it. */
static const char *cadence_source(const struct sensors *sensors, const struct ride_facts *facts)
{
    const enum link_source from = sensors->cadence_from;

    if (facts->cadence != NULL)
        return from != LINK_CADENCE ? name_of_source(from) : NULL;
    return facts->power != NULL && sensors->sensor_has_cadence && from == LINK_MACHINE
               ? name_of_source(from)
               : NULL;
}

struct view_sources view_sources(const struct ride *ride, const struct ride_facts *facts)
{
    const struct sensors *sensors = &ride->sensors;
    const uint32_t stale_ms = ride->limits.data_stale_ms;
    const uint32_t heart_stale_ms = ride->limits.heart_stale_ms;
    struct view_sources sources = {0};

    if (ride->phase != PHASE_RIDING && ride->phase != PHASE_HELD && ride->phase != PHASE_EASY)
        return sources;
    if (facts->power != NULL && sensors->power_from != LINK_POWER &&
        reading_is_fresh(&sensors->power_w, ride->t_ms, stale_ms))
        sources.power = name_of_source(sensors->power_from);
    if (reading_is_fresh(&sensors->cadence_rpm, ride->t_ms, stale_ms))
        sources.cadence = cadence_source(sensors, facts);
    if (facts->strap != NULL &&
        !reading_is_fresh(&sensors->strap_bpm, ride->t_ms, heart_stale_ms) &&
        reading_is_fresh(&sensors->machine_bpm, ride->t_ms, heart_stale_ms))
        sources.heart = name_of_source(LINK_MACHINE);
    return sources;
}

static void put_source(struct text_writer *writer, const char *what, const char *source)
{
    if (source == NULL)
        return;
    text_put(writer, what);
    text_put(writer, source);
    text_put(writer, "'s.");
}

struct view_line view_sources_line(const struct view_sources *sources)
{
    const int count =
        (sources->power != NULL) + (sources->cadence != NULL) + (sources->heart != NULL);
    struct view_line line = {""};
    struct text_writer writer = text_writer(line.text, sizeof line.text);

    if (count > 0)
        text_put(&writer, count > 1 ? "Sensors silent." : "Sensor silent.");
    put_source(&writer, " Power: the ", sources->power);
    put_source(&writer, " Cadence: the ", sources->cadence);
    put_source(&writer, " Heart: the ", sources->heart);
    return line;
}
