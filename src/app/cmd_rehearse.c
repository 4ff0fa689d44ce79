/*
 * afterset rehearse: a block ridden beforehand.
 */
#include <getopt.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/command.h"
#include "app/devices_file.h"
#include "app/profile_file.h"
#include "app/ride_record.h"
#include "app/settings_file.h"
#include "called.h"
#include "first_blocks.h"
#include "own_numbers.h"
#include "port/brake_store.h"
#include "rehearsal_output.h"
#include "rehearse.h"
#include "values.h"
#include "virtual_files.h"

enum sweep { SWEEP_NONE, SWEEP_LENGTH, SWEEP_TARGET };

struct options {
    const char *path, *machine;
    struct fit_wish wish;
    enum sweep sweep;
    bool jsonl;
};

/* Everything that one rehearsal takes. */
struct task {
    struct options options;
    struct profile profile;
    struct settings settings;
    struct own_numbers own;
    bool is_virtual;  /* no bike is remembered: that one would be ridden */
    bool is_new;      /* the next block on a real bike is one of the first */
    bool is_first;    /* and there is such a bike: that block is rehearsed */
    bool has_machine; /* else one that is told watts */
    struct virtual_machine_config machine;
    struct fit fit;
    struct rider rider;
    struct plan plan;
    struct rehearsal rehearsal;
};

/* ---- options ---- */

static bool take_sweep(const char *word, enum sweep *ret)
{
    if (strcmp(word, "length") == 0)
        *ret = SWEEP_LENGTH;
    else if (strcmp(word, "target") == 0)
        *ret = SWEEP_TARGET;
    else
        complain("--sweep wants length or target, not '%s'", word);
    return *ret != SWEEP_NONE;
}

static bool read_options(int argc, char **argv, struct options *ret)
{
    static const struct option known[] = {
        {"length", required_argument, NULL, 'l'},  {"feel", required_argument, NULL, 'f'},
        {"machine", required_argument, NULL, 'M'}, {"sweep", required_argument, NULL, 's'},
        {"jsonl", no_argument, NULL, 'j'},         {NULL, 0, NULL, 0}};
    bool is_right = true;

    optind = 0; /* glibc: begin anew, whatever was scanned before */
    opterr = 0;
    for (int option = 0; is_right && (option = getopt_long(argc, argv, ":", known, NULL)) != -1;) {
        switch (option) {
        case 'l': is_right = take_length("--length", optarg, &ret->wish.length_ms); break;
        case 'f': is_right = take_count("--feel", optarg, 1, FEEL_MAX, &ret->wish.feel); break;
        case 'M': ret->machine = optarg; break;
        case 's': is_right = take_sweep(optarg, &ret->sweep); break;
        case 'j': ret->jsonl = true; break;
        default:
            complain("rehearse: '%s' %s; see afterset rehearse --help", argv[optind - 1],
                     option == ':' ? "needs a value" : "is no option of it");
            is_right = false;
        }
    }
    if (is_right && optind + 1 != argc)
        complain("rehearse takes one profile; see 'afterset rehearse --help'");
    if (!is_right || optind + 1 != argc)
        return false;
    ret->path = argv[optind];
    return true;
}

/* ---- one ---- */

/* As strong as rides on it have found it, at the 80 rpm of the curve. */
static void fit_brake(const struct brake_curve *curve, struct virtual_brake_config *brake)
{
    const double omega = 80 * 2 * M_PI / 60;
    const int32_t all_mw = curve->terms_mw[1] + curve->terms_mw[3];

    brake->peak_torque_nm *= all_mw / 1000.0 / (virtual_brake_torque_nm(brake, omega) * omega);
    brake->friction_nm = curve->terms_mw[0] / 1000.0 / omega;
}

/* Of the remembered bike it is known what it is told where rides on it learned its brake. */
static void recall_machine(struct task *task, const struct device *bike, struct store *store)
{
    struct virtual_machine_config *machine = &task->machine;
    char name[STORE_BIKE_MAX + 1];
    struct brake_curve curve = {0};
    struct knob_place place = {0};

    if (store == NULL || bike->address.type == ADDRESS_NONE)
        return;
    called_device(store, STORE_BIKE, bike, name);
    const bool by_hand = store_knob(store, name, &place) == RESULT_OK;
    const bool is_learned = store_brake(store, name, &curve) == RESULT_OK;
    task->has_machine = by_hand || is_learned;
    if (is_learned && brake_curve_is_known(&curve))
        fit_brake(&curve, &machine->brake);
    machine->takes_power = false;
    machine->takes_level = !by_hand;
    machine->knob_numbers = (uint32_t)place.top;
}

/* As ride chooses: without a bike that is kept it rides the virtual one, whatever the legs. */
static bool find_bike(struct task *task)
{
    struct devices devices = {0};
    struct store *store = NULL;

    if (!load_devices(&devices))
        return false;
    const enum result opened = ride_record_open(&store);
    task->is_new = (opened == RESULT_OK || opened == RESULT_NOT_FOUND) &&
                   first_blocks_go_on(&task->settings, store);
    task->is_virtual = devices.list[DEVICE_MACHINE].address.type == ADDRESS_NONE;
    task->is_first = task->is_new && !task->is_virtual;
    task->machine = virtual_machine_default();
    task->has_machine = task->options.machine != NULL;
    if (!task->has_machine)
        recall_machine(task, &devices.list[DEVICE_MACHINE], store);
    store_close(store);
    const bool is_read = load_virtual_machine(task->options.machine, &task->machine);
    task->machine.power_noise = 0;
    return is_read;
}

static bool make_plan(struct task *task, const struct fit_wish *wanted)
{
    struct fit_wish wish = *wanted;

    wish.is_first = task->is_first;
    task->rider = task->settings.rider;
    rehearse_complete(&task->rider, task->is_virtual);
    const enum result result =
        rehearse_plan(&task->profile, &wish, &task->rider, &task->fit, &task->plan);
    if (result != RESULT_OK)
        complain("%s: it cannot be fitted: %s", task->options.path, fit_problem(&wish, result));
    own_numbers_apply(&task->own, &task->rider);
    return result == RESULT_OK;
}

/* By the critical power that the ride would know, and not by that of the model. */
static void ease_first(struct task *task)
{
    struct rider rider = task->settings.rider;

    rehearse_complete(&rider, task->is_virtual);
    rider.is_new = true;
    first_blocks_ease(&rider, &task->plan);
}

static bool run_one(struct task *task)
{
    if (task->is_first)
        ease_first(task);
    const enum result result = rehearse(
        &task->plan, &task->rider, task->has_machine ? &task->machine : NULL, &task->rehearsal);

    if (result == RESULT_RANGE)
        complain("%s: longer than two hours, which is too long for a rehearsal",
                 task->options.path);
    else if (result != RESULT_OK)
        complain("%s: it cannot be rehearsed: %s", task->options.path, result_text(result));
    return result == RESULT_OK;
}

static bool print_json(const struct task *task, int32_t target_pct)
{
    const bool is_alone = task->options.sweep == SWEEP_NONE;
    const bool is_printed =
        rehearsal_print_json(&task->rehearsal, &task->fit, target_pct, is_alone);

    if (!is_printed)
        complain("out of memory");
    return is_printed;
}

static bool show_one(struct task *task)
{
    if (!make_plan(task, &task->options.wish) || !run_one(task))
        return false;
    if (task->options.jsonl)
        return print_json(task, 100);
    rehearsal_print(&task->rehearsal,
                    &(struct rehearsal_head){&task->profile, &task->fit, &task->settings.rider,
                                             task->own.from});
    if (task->is_new && task->is_virtual)
        say("\nThis is for the virtual bike: on one of your own the first three blocks are ridden "
            "shorter and easier.\n");
    return true;
}

/* ---- a sweep ---- */

static void scale(struct target_range *range, int32_t by_pct)
{
    range->low = (range->low * by_pct + 50) / 100;
    range->high = (range->high * by_pct + 50) / 100;
}

static void scale_targets(struct plan *plan, int32_t by_pct)
{
    for (size_t i = 0; i < plan->step_count; i++) {
        scale(&plan->steps[i].targets.power_w, by_pct);
        scale(&plan->steps[i].targets.level_tenths, by_pct);
    }
}

static bool show_row(const struct task *task, int32_t target_pct)
{
    if (task->options.jsonl)
        return print_json(task, target_pct);
    rehearsal_print_row(&task->rehearsal, task->options.sweep == SWEEP_LENGTH ? 0 : target_pct);
    return true;
}

static void print_heading(const struct task *task)
{
    if (!task->options.jsonl)
        rehearsal_print_heading(task->profile.title, task->options.sweep == SWEEP_LENGTH);
}

static bool sweep_length(struct task *task)
{
    struct fit_wish wish = task->options.wish;
    struct fit_span span;
    const enum result result = fit_span(&task->profile, &span);

    if (result != RESULT_OK) {
        complain("%s: its length cannot be swept: %s", task->options.path,
                 fit_problem(&wish, result));
        return false;
    }
    /* A first block is as short as it is, whatever is asked. */
    const uint16_t high = task->is_first ? span.low : span.high;
    print_heading(task);
    for (uint16_t rounds = span.low; rounds <= high; rounds++) {
        wish.length_ms = fit_length_ms(&span, rounds);
        if (!make_plan(task, &wish) || !run_one(task) || !show_row(task, 100))
            return false;
    }
    return true;
}

#define TARGET_LOW_PCT  80
#define TARGET_HIGH_PCT 120
#define TARGET_STEP_PCT 5

static bool sweep_target(struct task *task)
{
    print_heading(task);
    for (int32_t pct = TARGET_LOW_PCT; pct <= TARGET_HIGH_PCT; pct += TARGET_STEP_PCT) {
        if (!make_plan(task, &task->options.wish))
            return false;
        scale_targets(&task->plan, pct);
        if (!run_one(task) || !show_row(task, pct))
            return false;
    }
    return true;
}

static bool show(struct task *task)
{
    bool is_shown = false;

    switch (task->options.sweep) {
    case SWEEP_LENGTH: is_shown = sweep_length(task); break;
    case SWEEP_TARGET: is_shown = sweep_target(task); break;
    case SWEEP_NONE: return show_one(task);
    }
    if (is_shown && task->is_first && !task->options.jsonl)
        say("\nAs one of your first three blocks: as short as it can be, targets 20 %% down.\n");
    return is_shown;
}

static int run_rehearse(int argc, char **argv)
{
    struct task *task = calloc(1, sizeof *task);
    int status = EXIT_FAILED;

    if (task == NULL) {
        complain("out of memory");
    } else if (!read_options(argc, argv, &task->options)) {
        status = EXIT_WRONG_USE;
    } else if (load_profile(task->options.path, &task->profile) && load_settings(&task->settings)) {
        task->own = own_numbers_find(task->options.path, &task->profile, &task->settings.rider);
        task->settings.rider.mark_power_w = task->own.mark_power_w;
        if (find_bike(task) && show(task))
            status = EXIT_DONE;
    }
    free(task);
    return status;
}

const struct command command_rehearse = {
    .name = "rehearse",
    .arguments = "PROFILE",
    .purpose = "ride a block beforehand, in no time, and say where it is too hard",
    .help =
        "A model of you rides it on the virtual bike: with your critical power, W' and heart, as "
        "'afterset rider' has them. Models are wrong by 10 % and more: it warns, and proves "
        "nothing. With a bike that is remembered your first three blocks are rehearsed as they are "
        "ridden: shorter and easier.\n"
        "\n"
        "  --length M:SS     as for ride\n"
        "  --feel 1..5       likewise\n"
        "  --machine FILE    on that virtual machine. Without it on one that is told watts, or as "
        "the bike that is remembered, where its brake was turned by hand or took levels\n"
        "  --sweep length    a line for each length that the profile bends to\n"
        "  --sweep target    a line for each of 80 to 120 % of its targets\n"
        "  --jsonl           one JSON object: the figures, and a list of seconds; with --sweep "
        "one a line, without the seconds\n",
    .run = run_rehearse,
};
