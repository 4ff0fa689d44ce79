#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "body/energy.h"
#include "plain_say.h"
#include "ui/words.h"

struct best_text {
    char text[32];
};

static struct best_text best_over(const char *time, int32_t power_w)
{
    struct best_text best = {""};

    if (power_w > 0)
        (void)snprintf(best.text, sizeof best.text, ", %" PRId32 " W over %s", power_w, time);
    return best;
}

static void say_heart_and_best(const struct screen *screen, const struct summary *summary)
{
    if (summary->max_heart_bpm > 0)
        plain_say(screen, "Heart: %" PRId32 " bpm on average, %" PRId32 " at most.\n",
                  summary->average_heart_bpm, summary->max_heart_bpm);
    if (summary->heart_fall_bpm != 0)
        plain_say(screen, "Heart: %" PRId32 " bpm %s a minute after the work: %s.\n",
                  abs(summary->heart_fall_bpm), words_heart_way(summary->heart_fall_bpm),
                  words_heart_fall(summary->heart_fall_bpm));
    if (summary->best_5s_w > 0)
        plain_say(screen, "Best power: %" PRId32 " W over 5 s%s%s%s.\n", summary->best_5s_w,
                  best_over("30 s", summary->best_30s_w).text,
                  best_over("1 min", summary->best_60s_w).text,
                  best_over("3 min", summary->best_180s_w).text);
}

static void say_sensor(const struct screen *screen, const struct summary *summary)
{
    if (screen->facts->power != NULL) {
        char text[WORDS_SENSOR_SIZE];
        const char *far_off =
            words_far_off(summary->difference_tenths, summary->difference_error_tenths);
        plain_say(screen, "Power sensor: %s.%s%s\n",
                  words_power_sensor(summary->sensor_pct, summary->difference_tenths,
                                     summary->difference_error_tenths, text),
                  far_off[0] != '\0' ? " " : "", far_off);
    }
}

/* The steady-state equation beside our own estimate: a check on it, no better. */
static void say_acsm(const struct screen *screen, const struct rider *rider,
                     const struct summary *summary)
{
    const struct oxygen_cost cost = oxygen_cost(summary->average_power_w, rider->mass_kg);

    /* Outside of 50 to 200 W it is not a check on anything. */
    if (rider->mass_kg > 0.0 && !cost.extrapolated)
        plain_say(screen, "The ACSM equation for steady cycling says %.0f kcal.\n",
                  cost.kcal_min * summary->duration_ms / 60000.0);
}

static void say_work(const struct screen *screen, const struct rider *rider,
                     const struct summary *summary)
{
    const double work_kj = (double)summary->work_j / 1000.0;
    const struct energy_range energy = energy_range(work_kj);
    const struct clock_text ridden = plain_clock(summary->duration_ms);

    if (words_no_power(summary)[0] != '\0') {
        plain_say(screen, "%s ridden, %" PRId32 " m; %s.\n", ridden.text, summary->distance_m,
                  words_no_power(summary));
        if (summary->in_range_s > 0) /* by the cadence */
            plain_say(screen, "Work steps: in range %" PRId32 " of %" PRId32 " s.\n",
                      summary->in_range_s, summary->work_s);
        return;
    }
    plain_say(screen, "%s ridden, %.1f kJ of work, %" PRId32 " W on average, %" PRId32 " m.\n",
              ridden.text, work_kj, summary->average_power_w, summary->distance_m);
    plain_say(screen, "About %.0f kcal burnt (between %.0f and %.0f).\n", energy.mid_kcal,
              energy.low_kcal, energy.high_kcal);
    say_acsm(screen, rider, summary);
    if (summary->work_s > 0)
        plain_say(screen,
                  "Work steps: %" PRId32 " W on average, in range %" PRId32 " of %" PRId32 " s.\n",
                  summary->work_power_w, summary->in_range_s, summary->work_s);
}

void plain_summary(const struct screen *screen, const struct ride *ride,
                   const struct summary *summary)
{
    if (summary->end == END_CUT_OFF)
        plain_say(screen, "\nCut off: %s.\n", words_cut_off(summary->cut_off));
    else
        plain_say(screen, "\n%s: %s.\n", summary->end == END_DONE ? "Done" : "Stopped",
                  words_reason(summary->reason));
    if (summary->skipped > 0) {
        char skipped[WORDS_SKIPPED_SIZE];
        plain_say(screen, "%s.\n", words_skipped(summary->skipped, skipped));
    }
    if (summary->duration_ms == 0)
        return;
    say_work(screen, &ride->setup.rider, summary);
    say_heart_and_best(screen, summary);
    say_sensor(screen, summary);
    if (screen->facts->mark != NULL)
        plain_mark(screen, ride, true);
    if (screen->facts->ride_id != 0)
        plain_say(screen, "Saved as ride %" PRId64 ": afterset show %" PRId64 "\n",
                  screen->facts->ride_id, screen->facts->ride_id);
}
