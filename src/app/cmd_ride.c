#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "afterwards.h"
#include "app/command.h"
#include "app/profile_file.h"
#include "app/settings_file.h"
#include "beat.h"
#include "brake.h"
#include "cautions.h"
#include "first_blocks.h"
#include "io/store_sqlite.h"
#include "keys.h"
#include "load_choice.h"
#include "recover.h"
#include "reserve_source.h"
#include "ride_links.h"
#include "ride_plan.h"
#include "ride_screen.h"
#include "ride_sound.h"
#include "session.h"
#include "ui/screens.h"
#include "ui/words.h"

#define PATH_SIZE      4096
#define LAST_OUTPUT_MS 2000 /* for a slow reader, after the load is off */
#define LAST_CUE_MS    2500
#define ERRORS_SIZE    4096

/* Everything that one ride holds, so that it can be let go in one place. */
struct ride_run {
    struct ride_options options;
    struct settings settings;
    struct profile profile;
    struct store_ride about;
    char fit_text[RIDE_FIT_TEXT_SIZE];
    struct ride_setup setup;
    bool shows_after;
    struct store *store;
    struct loop *loop;
    struct output *errors; /* what is complained of while a ride must not wait */
    struct ride_links links;
    struct keys *keys;
    struct beat beat;
    struct session session;
    struct ride_screen screen;
};

static bool prepare_plan(struct ride_run *run)
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

static bool prepare_store(struct ride_run *run)
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

/* ---- the ride ---- */

static void on_key(void *user, enum ride_key key)
{
    session_key(user, key);
}

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

static void put_output(void *user, const char *text, size_t length)
{
    output_put(user, text, length);
}

/* The whole terminal where there is one; lines where there is none, or it is asked for them. */
static void choose_screen(struct ride_run *run)
{
    struct session *session = &run->session;
    const struct sink sink = {put_output, session->output};

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

static bool prepare_session(struct ride_run *run)
{
    struct session *session = &run->session;

    session->output = output_new(run->loop, STDOUT_FILENO, on_output_ended, session);
    if (session->output == NULL) {
        complain("out of memory");
        return false;
    }
    session->recorder.store = run->store;
    brake_recall(run->store, run->about.bike, &run->setup.brake);
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
        .bike = run->options.bike,
        .strap = run->options.sensors[SENSOR_STRAP].name,
        .power = run->options.sensors[SENSOR_POWER].name,
        .cadence = run->options.sensors[SENSOR_CADENCE].name,
        .fit = run->fit_text[0] != '\0' ? run->fit_text : NULL,
        .mark = find_mark(run),
    };
    find_reserve(run);
    ride_init(&session->ride, &run->setup);
    /* What it has to complain of is not to lie across the screen. */
    if (!ride_sound_open(session, &run->options, &run->settings))
        return false;
    choose_screen(run);
    return true;
}

/* Whoever sat there may be gone, or see nothing: then nothing is asked. Nor of less than a second.
 */
static void come_after(struct ride_run *run, bool on_screen)
{
    const struct session *session = &run->session;
    const struct summary *summary = &session->summary.summary;

    if (run->setup.rider.is_new && summary->duration_ms > 0 && !run->options.jsonl)
        output_put(session->output, words_after_block, strlen(words_after_block));
    if (!session->has_ended || session->saved != RESULT_OK || run->store == NULL ||
        summary->duration_ms < 1000 || run->options.jsonl)
        return;
    run->shows_after = on_screen && summary->reason != REASON_LEFT &&
                       summary->reason != REASON_UNGUARDED && !output_has_ended(session->output) &&
                       !output_is_behind(session->output);
    afterwards_say(run->store, session->recorder.ride_id, &run->setup.rider, !run->shows_after,
                   session->output);
}

static void complain_of_bike(const char *failure, const struct summary *summary)
{
    const bool failed = failure != NULL && summary->reason != REASON_PLAN_DONE;

    if (failed && summary->unreleased)
        complain("the bike: %s; it did not confirm that its load is off, turn its resistance down "
                 "by hand",
                 failure);
    else if (failed)
        complain("the bike: %s", failure);
    else if (summary->unreleased)
        complain("the bike did not confirm that its load is off; turn its resistance down by hand");
}

static int exit_status_of(const struct session *session)
{
    const struct summary *summary = &session->summary.summary;

    complain_of_bike(session->machine.failure, summary);
    for (enum sensor_kind i = SENSOR_STRAP; i < SENSOR_KIND_COUNT; i++)
        if (session->sensors[i].failure != NULL)
            complain("the %s: %s", ride_sensor_names[i].word, session->sensors[i].failure);
    if (summary->end == END_CUT_OFF)
        return EXIT_CUT_OFF;
    if (session->saved != RESULT_OK || summary->reason == REASON_NO_MACHINE ||
        summary->unreleased || session->output_error != 0)
        return EXIT_FAILED;
    return EXIT_DONE;
}

static int ride(struct ride_run *run)
{
    struct session *session = &run->session;

    /* That memory is short is to be said too. */
    run->errors = output_new(run->loop, STDERR_FILENO, NULL, NULL);
    if (run->errors == NULL || !output_reserve(run->errors, ERRORS_SIZE)) {
        complain("out of memory");
        return EXIT_FAILED;
    }
    complain_to((struct sink){put_output, run->errors});
    session->loop = run->loop;
    session_prepare(session);
    if (!ride_links_open(&run->links, &run->options, session))
        return EXIT_FAILED;
    const bool is_virtual = run->links.bike_is_ours;
    if (!is_virtual && !cautions_accepted(&run->settings, run->options.cautions_read))
        return EXIT_FAILED;
    if (!prepare_plan(run))
        return EXIT_FAILED;
    run->keys = keys_open(run->loop, on_key, session);
    if (run->keys == NULL) {
        complain("the system does not let signals be read, so a ride could not be stopped");
        return EXIT_FAILED;
    }
    if (!ride_links_call(&run->links, &run->options) || !prepare_session(run))
        return EXIT_FAILED;

    session->screen.operations->hello(&session->screen, &session->ride, &session->facts);
    const bool on_screen = run->screen.terminal != NULL;
    session_run(session);
    if (!ride_options_bike_is_inside(&run->options))
        brake_keep(run->store, run->options.bike, &session->ride);
    come_after(run, on_screen);
    output_flush(session->output, LAST_OUTPUT_MS);
    return exit_status_of(session);
}

static void let_go(struct ride_run *run)
{
    session_close_peers(&run->session);
    ride_links_close(&run->links);
    ride_screen_close(&run->screen);
    sound_close(&run->session.sound, LAST_CUE_MS);
    output_flush(run->session.output, LAST_OUTPUT_MS);
    output_free(run->session.output);
    keys_close(run->keys);
    beat_free(&run->beat);
    guarded_close(&run->session.guarded);
    complain_to((struct sink){0});
    output_flush(run->errors, LAST_OUTPUT_MS);
    output_free(run->errors);
    loop_free(run->loop);
    /* Everything is saved and let go: another ride may begin while the page is read. */
    if (run->store != NULL)
        store_unlock(run->store);
    if (run->shows_after)
        afterwards_show(run->store, run->session.recorder.ride_id, &run->setup.rider,
                        &run->session.summary.summary);
    recorder_free(&run->session.recorder);
    store_close(run->store);
    free(run);
}

/* A bike inside has no brake that could stay on. */
static bool goes_guarded(struct ride_run *run, int *ret_status)
{
    return ride_options_bike_is_inside(&run->options) ||
           guard_start(run->options.rate, &run->session.guarded, ret_status);
}

static int run(int argc, char **argv)
{
    struct ride_run *run = calloc(1, sizeof *run);
    int status = EXIT_FAILED;

    if (run == NULL) {
        complain("out of memory");
        return EXIT_FAILED;
    }
    /* A reader or a disk quota that is gone shows as an error of the write, not as the end of us.
     */
    (void)signal(SIGPIPE, SIG_IGN);
    (void)signal(SIGXFSZ, SIG_IGN);
    const int read = ride_options_read(argc, argv, &run->options);
    if (read != EXIT_DONE) {
        free(run);
        return read;
    }
    if (!goes_guarded(run, &status)) {
        free(run);
        return status;
    }
    run->setup.strap_expected = run->options.sensors[SENSOR_STRAP].name != NULL;
    run->setup.counts_recovery = true;
    run->setup.is_watched = true;
    run->setup.holds_power = true;
    if (load_profile(run->options.profile, &run->profile) && load_settings(&run->settings)) {
        run->setup.rider = run->settings.rider;
        run->loop = loop_new(ride_options_bike_is_inside(&run->options) ? LOOP_STEPPED : LOOP_REAL,
                             run->options.rate);
        if (run->loop == NULL)
            complain("out of memory");
        else if (prepare_store(run))
            status = ride(run);
    }
    let_go(run);
    return status;
}

const struct command command_ride = {
    .name = "ride",
    .arguments = "PROFILE",
    .purpose = "ride a block",
    .help =
        "  --bike virtual         the bike inside the program; without --bike it is ridden\n"
        "                         unless a bike is remembered: see 'afterset scan --keep'\n"
        "  --bike unix:PATH       one that listens on a socket; see 'afterset virtual-bike'\n"
        "  --bike ADDRESS         a Bluetooth bike, such as C0:12:34:56:78:9A/random; without\n"
        "                         /random or /public both are tried\n"
        "  --bike capture:FILE    one that was recorded: it says and answers what it did then\n"
        "  --strap unix:PATH|ADDRESS|capture:FILE\n"
        "                         heart rate from there\n"
        "  --power unix:PATH|ADDRESS|capture:FILE|bike\n"
        "                         power, and cadence with it, from that sensor while it is\n"
        "                         heard, else the bike's own; bike: the bike's own in any case,\n"
        "                         although a sensor is remembered\n"
        "  --cadence unix:PATH|ADDRESS|capture:FILE|bike\n"
        "                         likewise cadence\n"
        "  --adapter hciN         call bike and strap through that adapter of this computer\n"
        "  --capture FILE         write what bike and strap say and are told, as tshark and btmon\n"
        "                         read it (btsnoop). It holds your heart rate and no addresses\n"
        "  --length M:SS          as many rounds as come closest to that; the profile says how "
        "far\n"
        "                         it bends\n"
        "  --feel 1..5            how the legs feel: bad, poor, as usual, good, very good; with "
        "bad\n"
        "                         ones the targets are 6 % lower, with poor ones 3 %\n"
        "  --load next|+N|-N      as it was proposed after the last block like this one, or all\n"
        "                         targets N % higher or lower than written; what is chosen over\n"
        "                         the proposal is remembered. Without it as written\n"
        "  --after legs|fresh     ridden after leg work, or not; without it as last time, and the\n"
        "                         first time after leg work. Only like is compared with like\n"
        "  --beat MEASURE         the last block like this one runs beside it; lines say every 10 "
        "s\n"
        "                         how far ahead this one is: work, power, distance, time, "
        "calories\n"
        "  --rate N               time runs N times faster (0.1 to 10000; default 1)\n"
        "  --plain                lines of text, one a second: for a screen reader or a log, and\n"
        "                         where there is no terminal to draw on\n"
        "  --jsonl                one JSON object a line\n"
        "  --volume N             of the cues, 0 to 100 (default 70, or what 'afterset rider "
        "volume'\n"
        "                         says); without it they sound only at a terminal in real time\n"
        "  --mute                 silent\n"
        "  --cues-to FILE         the cues into a WAV file, at the ride's own times\n"
        "  --cautions-read        the cautions before the first ride were read and are accepted\n"
        "  --unrecorded           do not save this ride\n"
        "\n"
        "with --bike virtual:\n"
        "  --seed N               chance of the virtual bike (default 1)\n"
        "  --machine FILE         another machine, such as tests/machines/late.machine\n"
        "  --virtual-rider FILE   another rider, such as tests/riders/weak.rider\n"
        "\n"
        "keys: space holds and goes on, s, q or Ctrl-C stops (the load goes, ride out; once more\n"
        "leaves), + and - shift the load by 2 %, n twice goes to the next step, m mutes, Ctrl-Z\n"
        "holds; any key puts a caution away, Enter a cut-off\n",
    .run = run,
};
