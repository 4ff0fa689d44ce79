#include <stdio.h>
#include <stdlib.h>

#include "export.h"
#include "ride/names.h"

/* One row a second, RFC 4180 with plain line ends; README.md has the columns. */
static const char heading[] = "second,block_s,phase,step,kind,power_w,cadence_rpm,heart_bpm,"
                              "distance_m,work_j,load_w,load_level,target_low_w,target_high_w\n";

static void put_known(FILE *file, bool known, int32_t value)
{
    if (known)
        fprintf(file, ",%d", value);
    else
        fputc(',', file);
}

static void put_step(FILE *file, const struct ride_series_point *point,
                     const struct plan_step *step)
{
    fprintf(file, ",%s", name_of(&phase_names, point->phase));
    if (step != NULL)
        fprintf(file, ",%zu,%s", point->step + 1, name_of(&step_names, step->kind));
    else
        fputs(",,", file);
}

static void put_load(FILE *file, struct load load)
{
    put_known(file, load.kind == LOAD_POWER, load.value);
    if (load.kind == LOAD_LEVEL)
        fprintf(file, ",%d.%d", load.value / 10, load.value % 10);
    else
        fputc(',', file);
}

static void put_point(FILE *file, const struct ride_series *series,
                      const struct ride_series_point *point)
{
    const struct plan_step *step =
        point->phase != PHASE_EASY ? &series->setup.plan.steps[point->step] : NULL;
    const struct telemetry *now = &point->now;
    const bool is_asked = step != NULL && step->targets.power_w.set;

    fprintf(file, "%u,%u.%03u", point->second, point->block_ms / 1000, point->block_ms % 1000);
    put_step(file, point, step);
    put_known(file, (now->has & HAS_POWER) != 0, now->power_w);
    put_known(file, (now->has & HAS_CADENCE) != 0, now->cadence_rpm);
    put_known(file, (now->has & HAS_HEART) != 0, now->heart_bpm);
    put_known(file, (now->has & HAS_DISTANCE) != 0, now->distance_m);
    fprintf(file, ",%lld", (long long)point->work_j);
    put_load(file, point->load);
    put_known(file, is_asked, is_asked ? step->targets.power_w.low : 0);
    put_known(file, is_asked, is_asked ? step->targets.power_w.high : 0);
    fputc('\n', file);
}

enum result export_csv(const struct export_ride *from, struct export_file *ret)
{
    struct export_file out = {0};
    FILE *file;

    if (from->series == NULL || from->series->point_count == 0)
        return RESULT_UNSUPPORTED;
    file = open_memstream(&out.octets, &out.length);
    if (file == NULL)
        return RESULT_FULL;
    fputs(heading, file);
    for (size_t i = 0; i < from->series->point_count; i++)
        put_point(file, from->series, &from->series->points[i]);
    const bool failed = ferror(file) != 0;
    if (fclose(file) != 0 || failed) {
        free(out.octets);
        return RESULT_FULL;
    }
    *ret = out;
    return RESULT_OK;
}
