/*
 * Plain afterset: what to ride today.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "app/command.h"
#include "app/devices_file.h"
#include "app/profile_file.h"
#include "app/ride_record.h"
#include "called.h"
#include "earlier.h"
#include "first_blocks.h"
#include "io/adapter.h"
#include "load_choice.h"
#include "page.h"
#include "profile_list.h"
#include "reach.h"

struct shown {
    struct profile_list *profiles;
    struct store *store; /* NULL: no rides yet */
    struct today today;
    enum today_act end;
    struct devices devices;
    struct reach reach;
    struct page_again again;
    char bike_name[STORE_BIKE_MAX + 1]; /* as rides with it are kept */
    char bike[REACH_LINE_MAX], last[EARLIER_LINE_MAX];
    char sensors[DEVICE_KIND_COUNT][REACH_LINE_MAX]; /* the bike's is empty */
    char next[VERDICT_LINE_MAX];
    struct rider rider;
};

/* ---- what is there ---- */

/* One device is called once: pedals that tell power and cadence are kept as both. */
static bool is_called(const struct devices *devices, enum device_kind kind)
{
    const struct device_address *address = &devices->list[kind].address;

    for (enum device_kind before = DEVICE_MACHINE; before < kind; before++)
        if (device_address_is(&devices->list[before].address, address))
            return false;
    return address->type != ADDRESS_NONE;
}

static void describe_devices(struct shown *shown)
{
    const struct devices *devices = &shown->devices;

    if (devices->list[DEVICE_MACHINE].address.type == ADDRESS_NONE)
        return;
    reach_describe(&shown->reach, devices, DEVICE_MACHINE, shown->bike);
    for (enum device_kind kind = DEVICE_STRAP; kind < DEVICE_KIND_COUNT; kind++)
        if (is_called(devices, kind))
            reach_describe(&shown->reach, devices, kind, shown->sensors[kind]);
}

/* As ride chooses them: see ride_options.c. */
static bool find_devices(struct shown *shown)
{
    const struct device *bike = &shown->devices.list[DEVICE_MACHINE];
    uint16_t index;

    if (!load_devices(&shown->devices))
        return false;
    (void)snprintf(shown->bike, sizeof shown->bike, "virtual, inside the program");
    if (bike->address.type == ADDRESS_NONE) {
        (void)snprintf(shown->bike_name, sizeof shown->bike_name, "virtual");
        return true;
    }
    called_device(shown->store, STORE_BIKE, bike, shown->bike_name);
    shown->reach.trouble = adapter_find(&index);
    describe_devices(shown);
    return true;
}

static void look_up_last(struct shown *shown, const struct store_ride *like)
{
    struct earlier earlier;

    shown->last[0] = '\0';
    if (earlier_find(shown->store, like, &earlier) == RESULT_OK)
        earlier_last(&earlier, shown->last, sizeof shown->last);
}

/* What it asks for as it is written, and what is proposed; that is chosen until the rider says
 * otherwise. */
static void look_up_next(struct shown *shown, const struct store_ride *like)
{
    struct today *today = &shown->today;
    const bool is_virtual = strcmp(shown->bike_name, "virtual") == 0;
    struct profile *profile = calloc(1, sizeof *profile);
    struct next_time next = {0};
    struct asked written = {0};

    if (profile != NULL && peek_profile(today->profiles[today->profile].path, profile))
        written = load_choice_written(profile, &shown->rider, is_virtual);
    free(profile);
    if (shown->store != NULL)
        next_time_for(shown->store, like, &shown->rider, &next);
    next_time_say(&next, shown->next, sizeof shown->next);
    today->written = written.value;
    today->unit = written.unit;
    today->proposed_pct = next_time_load_pct(&next, &written);
    today->proposed_length_ms = next.progress.length_s * 1000;
    today->load_pct = 0;
    today_follow(today);
}

static void look_up(struct shown *shown)
{
    struct store_ride like = {.id = INT64_MAX, .is_fresh = shown->today.is_fresh};

    (void)snprintf(like.title, sizeof like.title, "%s",
                   shown->today.profiles[shown->today.profile].title);
    (void)snprintf(like.bike, sizeof like.bike, "%s", shown->bike_name);
    if (shown->store != NULL)
        look_up_last(shown, &like);
    look_up_next(shown, &like);
}

/* One written down by hand says nothing of a profile's file. */
static void find_last(struct store *store, struct store_ride *ret)
{
    struct store_ride older = {.id = INT64_MAX};

    while (store_next_older(store, older.id, &older) == RESULT_OK)
        if (older.state != STORE_BY_HAND) {
            *ret = older;
            return;
        }
}

static bool prepare(struct shown *shown)
{
    struct store_ride last = {0};
    struct settings settings;
    const enum result opened = ride_record_open(&shown->store);

    if (opened != RESULT_OK && opened != RESULT_NOT_FOUND)
        return false;
    if (shown->store != NULL)
        find_last(shown->store, &last);
    profile_list_find(shown->profiles, last.profile, &shown->today.profile);
    if (shown->profiles->count == 0) {
        complain("no profiles in ./profiles nor where they are installed; name one: afterset ride "
                 "PROFILE, or make one: afterset draft");
        return false;
    }
    shown->today.profiles = shown->profiles->list;
    shown->today.profile_count = shown->profiles->count;
    shown->today.bike = shown->bike;
    shown->today.strap = shown->sensors[DEVICE_STRAP];
    shown->today.power = shown->sensors[DEVICE_POWER];
    shown->today.cadence = shown->sensors[DEVICE_CADENCE];
    shown->today.last = shown->last;
    shown->today.next = shown->next;
    shown->today.length_ms = last.length_ms;
    shown->today.is_fresh = last.is_fresh;
    if (!find_devices(shown) || !load_settings(&settings))
        return false;
    shown->today.is_first =
        strcmp(shown->bike_name, "virtual") != 0 && first_blocks_go_on(&settings, shown->store);
    shown->rider = settings.rider;
    look_up(shown);
    return true;
}

/* ---- shown ---- */

static void on_reach(void *user)
{
    struct shown *shown = user;

    describe_devices(shown);
    shown->again.draw(shown->again.user);
}

static void begin(void *user, struct loop *loop, struct page_again again)
{
    struct shown *shown = user;

    shown->again = again;
    if (shown->devices.list[DEVICE_MACHINE].address.type != ADDRESS_NONE)
        reach_begin(&shown->reach, &shown->devices, loop, on_reach, shown);
}

static void end(void *user)
{
    struct shown *shown = user;
    reach_end(&shown->reach);
}

static void draw(void *user, struct canvas *canvas)
{
    const struct shown *shown = user;
    today_draw(&shown->today, canvas);
}

static bool press(void *user, struct press press)
{
    struct shown *shown = user;

    shown->end = today_press(&shown->today, press);
    if (shown->end == TODAY_LOOK_UP)
        look_up(shown);
    return shown->end == TODAY_RIDE || shown->end == TODAY_LEAVE;
}

/* Through the same door as the command, with what was chosen. */
static int ride(const struct today *today)
{
    const struct today_profile *profile = &today->profiles[today->profile];
    char verb[] = "ride", length_option[] = "--length", feel_option[] = "--feel",
         after_option[] = "--after", end_of_options[] = "--";
    char load_option[] = "--load", length[16], feel[12], load[8], after[8], path[PATH_MAX];
    char *arguments[13] = {verb, after_option, after};
    int count = 3;

    (void)snprintf(after, sizeof after, "%s", today->is_fresh ? "fresh" : "legs");
    (void)snprintf(path, sizeof path, "%s", profile->path);
    if (profile->bends && today->length_ms > 0) {
        struct text_writer writer = text_writer(length, sizeof length);
        text_put_time(&writer, today_length_ms(today));
        arguments[count++] = length_option;
        arguments[count++] = length;
    }
    if (today->feel > 0) {
        (void)snprintf(feel, sizeof feel, "%u", today->feel);
        arguments[count++] = feel_option;
        arguments[count++] = feel;
    }
    if (today->load_pct != 0 || today_has_proposal(today)) {
        (void)snprintf(load, sizeof load, "%+d", today->load_pct);
        arguments[count++] = load_option;
        arguments[count++] = load;
    }
    arguments[count++] = end_of_options;
    arguments[count++] = path;
    return command_ride.run(count, arguments);
}

static void print(const struct today *today)
{
    char text[PATH_MAX + 2048];
    struct text_writer writer = text_writer(text, sizeof text);

    today_put(today, &writer);
    say("%s\nStart it on a terminal with: afterset, and Enter; or: afterset ride PROFILE%s\n", text,
        today_has_proposal(today) ? " --load next" : "");
}

static int show(struct shown *shown)
{
    const enum page_end how = page_run(&(struct page){begin, end, draw, press, shown});

    if (how == PAGE_UNUSABLE)
        print(&shown->today);
    if (how != PAGE_DONE || shown->end != TODAY_RIDE)
        return EXIT_DONE;
    store_close(shown->store);
    shown->store = NULL;
    return ride(&shown->today);
}

int run_today(void)
{
    struct shown shown = {.profiles = calloc(1, sizeof *shown.profiles)};
    int status = EXIT_FAILED;

    if (shown.profiles == NULL)
        complain("out of memory");
    else if (prepare(&shown))
        status = show(&shown);
    store_close(shown.store);
    free(shown.profiles);
    return status;
}
