#include <stdio.h>

#include "app/command.h"
#include "app/profile_file.h"
#include "base/text.h"

/* Steps and times are the same for every rider, so any that has a critical power will do. */
static const struct rider anyone = {.critical_power_w = 200};

static void put_summary(struct text_writer *line, const struct plan *plan)
{
    text_put(line, plan->title);
    text_put(line, ", ");
    text_put_time(line, plan_length_ms(plan));
    text_put(line, " of intervals with ");
    text_put_time(line, plan_work_ms(plan));
    text_put(line, " of work, ");
    text_put_unsigned(line, plan->step_count);
    text_put(line, plan->step_count == 1 ? " step, " : " steps, ");
    text_put_time(line, plan_duration_ms(plan));
    text_put(line, " in all");
}

static bool check(const char *path)
{
    static struct profile profile;
    static struct plan plan;
    if (!load_profile(path, &profile))
        return false;
    enum result result = profile_plan(&profile, &anyone, &plan);
    if (result != RESULT_OK) {
        complain("%s: %s", path, result_text(result));
        return false;
    }
    char summary[PLAN_TITLE_MAX + 160];
    struct text_writer line = text_writer(summary, sizeof(summary));
    put_summary(&line, &plan);
    printf("%s: %s\n", path, summary);
    return true;
}

static int run_check(int argc, char **argv)
{
    if (argc < 2) {
        complain("check which profile? Usage: afterset check PROFILE...");
        return EXIT_WRONG_USE;
    }
    bool all_good = true;
    for (int i = 1; i < argc; i++)
        all_good = check(argv[i]) && all_good;
    if (fflush(stdout) != 0)
        return EXIT_FAILED;
    return all_good ? EXIT_DONE : EXIT_FAILED;
}

const struct command command_check = {
    .name = "check",
    .arguments = "PROFILE...",
    .purpose = "read profiles and say what is wrong, with line and column",
    .help =
        "A good profile gives one line: title, length of its intervals, work, steps, total. A "
        "fault is told as FILE:LINE:COLUMN: what was expected, what was found; exit status 1.\n",
    .run = run_check,
};
