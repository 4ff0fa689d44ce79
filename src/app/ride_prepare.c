#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "afterwards.h"
#include "app/command.h"
#include "brake.h"
#include "first_blocks.h"
#include "io/store_sqlite.h"
#include "load_choice.h"
#include "recover.h"
#include "reserve_source.h"
#include "ride_run.h"
#include "ride_sound.h"
#include "ui/screens.h"

#define PATH_SIZE 4096

bool ride_prepare_plan(struct ride_run *run)
{
    const bool is_virtual = run->links.bike_is_ours;

    /* Whose legs are not there needs no mercy, and shows the program as it is. */
    run->setup.rider.is_new = !is_virtual && first_blocks_go_on(&run->settings, run->store);
    run->about = afterwards_about(run->store, &run->options);
    memcpy(run->about.title, run->profile.title, sizeof run->about.title);
    run->about.id = INT64_MAX;
    if (profile_asks_for_mark(&run->profile))
        run->setup.rider.mark_power_w = beat_power_w(run->store, &run->about);
    if (!run->setup.rider.is_new)
        load_choice_settle(run->store, &run->profile, &run->setup.rider, is_virtual, &run->options,
                           &run->about);
    return ride_plan_make(&run->options, &run->profile, is_virtual, &run->setup, run->fit_text);
}

/* ---- where it is kept ---- */

bool ride_prepare_store(struct ride_run *run)
{
    char path[PATH_SIZE], why[256];
    int64_t pid = 0;

    if (run->options.unrecorded)
        return true;
    if (!data_path(STORE_FILE_NAME, path, sizeof path) || !make_folders_for(path))
        return false;
    if (store_open(path, STORE_CREATE, why, sizeof why, &run->store) != RESULT_OK) {
        complain("%s; '--unrecorded' rides without saving", why);
        return false;
    }
    const enum result locked = store_lock(run->store, &pid);
    if (locked == RESULT_BUSY)
        complain("another ride is under way (process %lld); end that one first", (long long)pid);
    else if (locked != RESULT_OK)
        complain("%s; '--unrecorded' rides without saving", store_problem(run->store));
    if (locked != RESULT_OK)
        return false;
    recover_rides(run->store);
    return true;
}

/* ---- the session ---- */

static void on_typed(void *user, char character)
{
    session_press(user, (uint8_t)character);
}

static void on_resize(void *user)
{
    ride_screen_resized(user);
}

/* Who reads is the rider or a program in his place: without one the ride ends. For a full disk the
 * rider does not stand still. */
static void on_output_ended(void *user, int error)
{
    struct session *session = user;

    session->output_error = error;
    if (error == 0)
        session_key(session, KEY_LEAVE);
    else
        complain("the output cannot be written: %s; the ride goes on without it", strerror(error));
}

/* The whole terminal where there is one; lines where there is none, or it is asked for them. */
static void choose_screen(struct ride_run *run)
{
    struct session *session = &run->session;
    const struct sink sink = output_sink(session->output);

    if (!run->options.plain && !run->options.jsonl &&
        ride_screen_open(&run->screen, session, sink) == RESULT_OK) {
        keys_on_resize(run->keys, on_resize, &run->screen);
        return;
    }
    if (run->options.jsonl)
        screen_jsonl(&session->screen, sink);
    else
        screen_plain(&session->screen, sink);
    keys_read_terminal(run->keys, on_typed);
}

static const struct mark *find_mark(struct ride_run *run)
{
    run->about.id = run->session.recorder.ride_id;
    if (!run->options.beats ||
        !beat_find(&run->beat, run->store, &run->about, run->options.beat, &run->setup))
        return NULL;
    return &run->beat.mark;
}

static void find_reserve(struct ride_run *run)
{
    const struct rider *rider = &run->settings.rider;
    const bool is_said = rider->critical_power_w > 0 && rider->w_prime_j > 0;
    struct session *session = &run->session;

    session->facts.reserve_from = reserve_source_find(run->store, &run->setup, is_said,
                                                      run->about.is_fresh, &session->reserve);
    if (session->facts.reserve_from != NULL)
        session->facts.reserve = &session->reserve;
}

bool ride_prepare_session(struct ride_run *run)
{
    struct session *session = &run->session;
    const bool is_on_usb = run->options.bike_address.kind == LINK_ADDRESS_USB;

    session->output = output_new(run->loop, STDOUT_FILENO, on_output_ended, session);
    if (session->output == NULL) {
        complain("out of memory");
        return false;
    }
    /* What it has to complain of is not to lie across the screen, and a file that cannot be written
     * is to leave no ride behind. */
    if (!ride_sound_open(session, &run->options, &run->settings))
        return false;
    session->recorder.store = run->store;
    brake_recall(run->store, run->about.bike, &run->setup);
    const enum result begun = recorder_begin(&session->recorder, &run->setup, &run->about);
    if (begun != RESULT_OK) {
        complain("the ride cannot be recorded: %s; '--unrecorded' rides without saving",
                 run->store != NULL ? store_problem(run->store) : result_text(begun));
        return false;
    }
    guarded_name(&session->guarded, session->recorder.ride_id);
    session->facts = (struct ride_facts){
        .ride_id = session->recorder.ride_id,
        .version = AFTERSET_VERSION,
        /* Which one a receiver is to hear first is not known yet. */
        .bike = is_on_usb ? run->options.bike : run->about.bike,
        .strap = run->options.sensors[SENSOR_STRAP].name,
        .power = run->options.sensors[SENSOR_POWER].name,
        .cadence = run->options.sensors[SENSOR_CADENCE].name,
        .fit = run->fit_text[0] != '\0' ? run->fit_text : NULL,
        .mark = find_mark(run),
    };
    find_reserve(run);
    ride_init(&session->ride, &run->setup);
    choose_screen(run);
    return true;
}
