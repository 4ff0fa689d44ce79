#include <stdio.h>
#include <string.h>

#include "app/command.h"
#include "app/settings_file.h"
#include "own_power.h"
#include "ride/limits.h"
#include "ride_plan.h"
#include "ui/words.h"

/* What the program does without. */
static const char *const unset_meanings[SETTING_COUNT] = {
    [SETTING_MASS] = "75 kg in the road model, no ACSM figure",
    [SETTING_AGE] = "the highest heart rate is not estimated",
    [SETTING_HEART_REST] = "62 bpm in rehearsals",
    [SETTING_HEART_MAX] = "not measured; estimated where the age is known",
    [SETTING_HEART_LIMIT] = "no personal limit",
    [SETTING_HEART_SLOWED] = "estimates from age may be used",
    [SETTING_CRITICAL_POWER] = "120 W is assumed (200 W on the virtual bike)",
    [SETTING_W_PRIME] = "your own efforts tell it; 75 J a W in rehearsals",
    [SETTING_POWER_LIMIT] = "no personal limit",
    [SETTING_CADENCE_LIMIT] = "no personal limit",
    [SETTING_VOLUME] = "70 % is taken for the cues",
    [SETTING_EXPERIENCED] = "the first three blocks are kept short and easy",
    [SETTING_CAUTIONS_READ] = "shown before the first ride on a real bike",
    [SETTING_USB_KEY] = "sensors through a receiver on USB are out of reach",
};

/* The network key is its owner's secret: it stays in the file. */
static void show(const struct settings *settings, enum setting setting)
{
    char value[32];
    struct text_writer writer = text_writer(value, sizeof(value));
    setting_put(&writer, settings, setting);
    if (!setting_is_known(settings, setting))
        say("%-15s %-10s  %s\n", setting_key(setting), value, unset_meanings[setting]);
    else
        say("%-15s %s\n", setting_key(setting), setting == SETTING_USB_KEY ? "is kept" : value);
}

static void show_heart_limit(const struct rider *rider)
{
    struct rider alone = *rider;
    struct limits limits, unlowered;

    alone.heart_limit_bpm = 0;
    limits_set(&alone, NULL, 0, &unlowered);
    limits_set(rider, NULL, 0, &limits);
    say("Heart rate limit %d bpm, a caution from %d bpm.\n", limits.heart_limit_bpm,
        limits.heart_caution_bpm);
    if (limits.heart_limit_bpm < unlowered.heart_limit_bpm)
        say("It is your own limit; without it %d bpm would be.\n", unlowered.heart_limit_bpm);
    else
        say("It comes from %s.\n", words_heart_basis(rider));
}

/* Who has told no age has another limit there. */
static void show_virtual_heart_limit(const struct rider *rider)
{
    struct rider assumed = *rider;
    struct limits limits, there;

    ride_plan_complete_rider(&assumed, true);
    limits_set(rider, NULL, 0, &limits);
    limits_set(&assumed, NULL, 0, &there);
    if (there.heart_limit_bpm != limits.heart_limit_bpm)
        say("On the virtual bike, where an age of %d is assumed, it is %d bpm.\n",
            assumed.age_years, there.heart_limit_bpm);
}

static void show_all(const struct settings *settings)
{
    for (enum setting i = SETTING_MASS; i < SETTING_COUNT; i++)
        show(settings, i);
    putchar('\n');
    show_heart_limit(&settings->rider);
    show_virtual_heart_limit(&settings->rider);
    print_own_power();
}

/* Whether the heart rate limit goes by it. */
static bool is_of_heart_limit(enum setting setting)
{
    return setting == SETTING_AGE || setting == SETTING_HEART_MAX ||
           setting == SETTING_HEART_LIMIT || setting == SETTING_HEART_SLOWED;
}

/* What was set, and what comes of it. */
static void show_set(const struct settings *settings, int count, char **pairs)
{
    bool moves_limit = false;

    for (enum setting i = SETTING_MASS; i < SETTING_COUNT; i++) {
        bool was_set = false;
        for (int at = 0; at < count && !was_set; at += 2)
            was_set = strcmp(pairs[at], setting_key(i)) == 0;
        if (was_set)
            show(settings, i);
        moves_limit = moves_limit || (was_set && is_of_heart_limit(i));
    }
    if (!moves_limit)
        return;
    show_heart_limit(&settings->rider);
    show_virtual_heart_limit(&settings->rider);
}

/* `pairs` are KEY VALUE KEY VALUE …; all of them are right before anything is kept. */
static bool set_all(struct settings *settings, int count, char **pairs)
{
    for (int i = 0; i < count; i += 2) {
        struct text_fault fault;
        if (settings_set(settings, pairs[i], pairs[i + 1], &fault) != RESULT_OK) {
            complain("rider: %s; 'afterset rider' lists all settings", fault.message);
            return false;
        }
    }
    return true;
}

static int run_rider(int argc, char **argv)
{
    struct settings settings;
    int words = argc - 1;
    if (words % 2 != 0) {
        complain("'%s' has no value. Usage: afterset rider KEY VALUE...", argv[argc - 1]);
        return EXIT_WRONG_USE;
    }
    if (!load_settings(&settings))
        return EXIT_FAILED;
    if (!set_all(&settings, words, argv + 1))
        return EXIT_WRONG_USE;
    if (words > 0 && !save_settings(&settings))
        return EXIT_FAILED;
    if (words > 0)
        show_set(&settings, words, argv + 1);
    else
        show_all(&settings);
    return fflush(stdout) == 0 ? EXIT_DONE : EXIT_FAILED;
}

const struct command command_rider = {
    .name = "rider",
    .arguments = "[KEY VALUE]...",
    .purpose = "show what is known of the rider, or set it",
    .help = "Without arguments all settings are shown, with their units, and what critical power "
            "your own best efforts come to.\n"
            "KEY VALUE sets one, saves and shows it; KEY none says that it is not known.\n"
            "  afterset rider mass 75.5 critical-power 205 heart-slowed no\n"
            "  afterset rider experienced yes    used to hard intervals: the first three blocks on "
            "a real bike need not be short and easy\n",
    .run = run_rider,
};
