#include <inttypes.h>
#include <stdio.h>

#include "app/command.h"
#include "app/devices_file.h"
#include "app/profile_file.h"
#include "app/settings_file.h"
#include "base/text.h"
#include "own_numbers.h"
#include "rehearse.h"
#include "ride/unwise.h"

/* Steps and times are the same for every rider, so any that has a critical power will do. */
static const struct rider anyone = {.critical_power_w = 200};

static void warn(const char *path, const struct profile *profile)
{
    uint32_t line;

    for (enum unwise what = UNWISE_NO_WARM_UP; what < UNWISE_COUNT; what++)
        if (profile_is_unwise(profile, what, &line))
            say_item("%s:%" PRIu32 ": unwise: %s\n", path, line, unwise_text(what));
}

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
    if (plan_floor_ms(plan) == 0)
        return;
    text_put(line, ", after ");
    text_put_time(line, plan_floor_ms(plan));
    text_put(line, " off the bike");
}

/* For whoever rides here; the file itself may be right all the same. */
static void warn_of_rehearsal(const char *path, const struct profile *profile,
                              const struct rider *known, bool is_virtual)
{
    static struct rehearsal rehearsal;
    static struct plan plan;
    const struct own_numbers own = own_numbers_find(path, profile, known);
    struct rider rider = *known;
    struct fit fit;
    char verdict[160];
    struct text_writer writer = text_writer(verdict, sizeof(verdict));

    rider.mark_power_w = own.mark_power_w;
    rehearse_complete(&rider, is_virtual);
    if (rehearse_plan(profile, &(struct fit_wish){0}, &rider, &fit, &plan) != RESULT_OK)
        return;
    own_numbers_apply(&own, &rider);
    if (rehearse(&plan, &rider, NULL, &rehearsal) != RESULT_OK ||
        rehearsal.trouble == REHEARSAL_FINE)
        return;
    rehearsal_put_verdict(&writer, &rehearsal);
    say_item("%s: rehearsed for you: %s\n", path, verdict);
}

/* `rider` NULL: nothing is known of whoever rides. */
static bool check(const char *path, const struct rider *rider, bool is_virtual)
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
    say_item("%s: %s\n", path, summary);
    warn(path, &profile);
    if (rider != NULL)
        warn_of_rehearsal(path, &profile, rider, is_virtual);
    return true;
}

static int run_check(int argc, char **argv)
{
    if (argc < 2) {
        complain("check which profile? Usage: afterset check PROFILE...");
        return EXIT_WRONG_USE;
    }
    struct settings settings;
    struct devices devices = {0};
    const bool is_known = load_settings(&settings) && load_devices(&devices);
    const bool is_virtual = devices.list[DEVICE_MACHINE].address.type == ADDRESS_NONE;
    bool all_good = true;
    for (int i = 1; i < argc; i++)
        all_good = check(argv[i], is_known ? &settings.rider : NULL, is_virtual) && all_good;
    if (fflush(stdout) != 0)
        return EXIT_FAILED;
    return all_good ? EXIT_DONE : EXIT_FAILED;
}

const struct command command_check = {
    .name = "check",
    .arguments = "PROFILE...",
    .purpose = "read profiles and say what is wrong, with line and column",
    .help =
        "A good profile gives one line: title, length of its intervals, work, steps, total. "
        "What is legal and yet unwise is told after it, as FILE:LINE: unwise: what; and where a "
        "rehearsal says that it is too hard for you. "
        "A fault is told as FILE:LINE:COLUMN: what was expected, what was found; exit status 1.\n",
    .run = run_check,
};
