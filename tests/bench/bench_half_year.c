/*
 * What the verdicts on blocks say over many half-years of an invented rider whose true progress is
 * known, beside what a chance of 95 % promises: one false alarm in twenty, either way.
 */
#include "common.h"

#include "support/half_year.h"

enum { SEEDS = 5000 };

static void row(const char *what, const struct half_year *rider, const char *aim)
{
    const struct half_year_verdicts said = half_year_ride(rider, SEEDS);

    bench_row(what, bench_text("%.1f %%", said.better_pct).text, aim,
              "called better; lower %.1f %%, noise %.1f %%", said.lower_pct, said.noise_pct);
}

int main(void)
{
    static const struct {
        const char *what;
        struct half_year rider;
        const char *aim;
    } rows[] = {
        {"verdicts, no progress, usual error 3 %",
         {3, 0, HALF_YEAR_JUDGED, HALF_YEAR_OWN_ERROR},
         "5 %"},
        {"verdicts, no progress, own error 3 %",
         {3, 0, HALF_YEAR_OWN_ERROR, HALF_YEAR_BLOCKS},
         "5 %"},
        {"verdicts, no progress, own error 1.5 %",
         {1.5, 0, HALF_YEAR_OWN_ERROR, HALF_YEAR_BLOCKS},
         "5 %"},
        {"verdicts, up 0.2 % a block, 1.5 %",
         {1.5, 0.2, HALF_YEAR_OWN_ERROR, HALF_YEAR_BLOCKS},
         "over 5 %"},
        {"verdicts, up 0.5 % a block, 1.5 %",
         {1.5, 0.5, HALF_YEAR_OWN_ERROR, HALF_YEAR_BLOCKS},
         "over 5 %"},
        {"verdicts, down 0.5 % a block, 1.5 %",
         {1.5, -0.5, HALF_YEAR_OWN_ERROR, HALF_YEAR_BLOCKS},
         "under 5 %"},
    };

    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        row(rows[i].what, &rows[i].rider, rows[i].aim);
    return 0;
}
