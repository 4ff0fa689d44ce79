#include "ride_chart.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "paper.h"

/* ---- seconds ---- */

static struct chart_second second_of(const struct ride_series *series,
                                     const struct ride_series_point *point)
{
    const struct plan_step *step = &series->setup.plan.steps[point->step];
    const struct telemetry *now = &point->now;
    struct chart_second second = {
        .is_on_plan = point->phase == PHASE_RIDING,
        .kind = step->kind,
        .has = {[CHART_POWER] = now->has & HAS_POWER,
                [CHART_HEART] = now->has & HAS_HEART,
                [CHART_CADENCE] = now->has & HAS_CADENCE},
        .value = {[CHART_POWER] = now->power_w,
                  [CHART_HEART] = now->heart_bpm,
                  [CHART_CADENCE] = now->cadence_rpm},
    };
    if (!second.is_on_plan)
        return second;
    second.range[CHART_POWER] = step->targets.power_w;
    second.range[CHART_HEART] = step->targets.heart_bpm;
    second.range[CHART_CADENCE] = step->targets.cadence_rpm;
    return second;
}

bool ride_chart_of(const struct ride_series *series, struct chart *ret)
{
    struct chart_second *seconds = malloc((series->point_count + 1) * sizeof seconds[0]);
    size_t count = 0;

    if (seconds == NULL)
        return false;
    for (size_t i = 0; i < series->point_count; i++)
        if (series->points[i].phase != PHASE_HELD)
            seconds[count++] = second_of(series, &series->points[i]);
    *ret = (struct chart){.count = count, .seconds = seconds};
    return true;
}

/* ---- steps ---- */

static void put_range(const struct step_targets *targets, char *ret, size_t size)
{
    const struct {
        const struct target_range *range;
        const char *unit;
    } ranges[] = {
        {&targets->power_w, "W"}, {&targets->cadence_rpm, "rpm"}, {&targets->heart_bpm, "bpm"}};

    (void)snprintf(ret, size, "-");
    for (size_t i = 0; i < sizeof ranges / sizeof ranges[0]; i++) {
        if (!ranges[i].range->set)
            continue;
        (void)snprintf(ret, size, "%" PRId32 "..%" PRId32 " %s", ranges[i].range->low,
                       ranges[i].range->high, ranges[i].unit);
        return;
    }
    if (targets->level_tenths.set)
        (void)snprintf(ret, size, "level %.1f..%.1f", targets->level_tenths.low / 10.0,
                       targets->level_tenths.high / 10.0);
}

struct mean {
    int64_t sum, count;
};

static void add(struct mean *mean, bool has, int32_t value)
{
    if (has) {
        mean->sum += value;
        mean->count++;
    }
}

static int32_t mean_of(const struct mean *mean)
{
    return mean->count > 0 ? (int32_t)((mean->sum + mean->count / 2) / mean->count) : 0;
}

static void take_readings(const struct ride_series *series, const struct ride_series_lap *lap,
                          struct chart_step *ret)
{
    struct mean power = {0}, cadence = {0};

    for (size_t i = 0; i < series->point_count; i++) {
        const struct ride_series_point *point = &series->points[i];
        if (point->phase != PHASE_RIDING || point->step != lap->step)
            continue;
        add(&power, point->now.has & HAS_POWER, point->now.power_w);
        add(&cadence, point->now.has & HAS_CADENCE, point->now.cadence_rpm);
        if ((point->now.has & HAS_HEART) && point->now.heart_bpm > ret->heart_bpm)
            ret->heart_bpm = point->now.heart_bpm;
    }
    ret->power_w = mean_of(&power);
    ret->cadence_rpm = mean_of(&cadence);
}

struct chart_step ride_chart_step(const struct ride_series *series, size_t lap)
{
    const struct ride_series_lap *ridden = &series->laps[lap];
    const struct plan_step *step = &series->setup.plan.steps[ridden->step];
    struct chart_step ret = {
        .seconds = (ridden->end.block_ms - ridden->begin.block_ms + 500) / 1000,
    };

    if (step->rounds > 0)
        (void)snprintf(ret.name, sizeof ret.name, "%s %u of %u", step_kind_text(step->kind),
                       step->round, step->rounds);
    else
        (void)snprintf(ret.name, sizeof ret.name, "%s", step_kind_text(step->kind));
    put_range(&step->targets, ret.asked, sizeof ret.asked);
    take_readings(series, ridden, &ret);
    return ret;
}

/* ---- printed ---- */

static void print_number(int width, int32_t number)
{
    if (number != 0)
        printf("  %*" PRId32, width, number);
    else
        printf("  %*s", width, "-");
}

static void print_steps(const struct ride_series *series)
{
    if (series->lap_count == 0)
        return;
    printf("\n Step                Time  Asked for            W  rpm  bpm at most\n");
    for (size_t i = 0; i < series->lap_count; i++) {
        const struct chart_step step = ride_chart_step(series, i);
        printf(" %-16s  %4" PRIu32 ":%02" PRIu32 "  %-16s", step.name, step.seconds / 60,
               step.seconds % 60, step.asked);
        print_number(4, step.power_w);
        print_number(3, step.cadence_rpm);
        print_number(3, step.heart_bpm);
        putchar('\n');
    }
}

static bool print_chart(const struct ride_series *series)
{
    struct chart chart;
    struct canvas *canvas = NULL;

    if (!ride_chart_of(series, &chart))
        return false;
    if (chart_rows(&chart) > 0 && (canvas = paper_new(chart_rows(&chart))) != NULL) {
        putchar('\n');
        chart_draw(&chart, canvas, 0);
        paper_print(canvas);
    }
    free(canvas);
    free(chart.seconds);
    return true;
}

void ride_chart_trouble(enum result result, const struct text_fault *fault, bool has_part,
                        char *ret, size_t size)
{
    ret[0] = '\0';
    if (result != RESULT_OK && fault->line > 0)
        (void)snprintf(ret, size, "Its journal is damaged in line %" PRIu32 "%s.", fault->line,
                       has_part ? "; this is what comes before that" : ", so there is no drawing");
    else if (result == RESULT_NOT_FOUND)
        (void)snprintf(ret, size, "There is no journal of it, so no drawing.");
    else if (result != RESULT_OK)
        (void)snprintf(ret, size, "Its journal cannot be read: %s.", result_text(result));
}

void ride_chart_print(struct store *store, int64_t id)
{
    struct ride_series *series = NULL;
    struct text_fault fault;
    const enum result result = ride_series_read(store, id, &series, &fault);
    char trouble[160];

    if (series != NULL && !print_chart(series))
        printf("\nNot enough memory to draw it.\n");
    if (series != NULL)
        print_steps(series);
    ride_chart_trouble(result, &fault, series != NULL, trouble, sizeof trouble);
    if (trouble[0] != '\0')
        printf("\n%s\n", trouble);
    ride_series_free(series);
}
