#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "afterwards.h"
#include "app/command.h"
#include "brake.h"
#include "called.h"
#include "cautions.h"
#include "find_again.h"
#include "first_blocks.h"
#include "ride_links_usb.h"
#include "ride_run.h"
#include "ui/words.h"
#include "ui/wrap.h"

#define LAST_OUTPUT_MS 2000 /* for a slow reader, after the load is off */
#define LAST_CUE_MS    2500
#define ERRORS_SIZE    4096

static void on_key(void *user, enum ride_key key)
{
    session_key(user, key);
}

/* Whoever sat there may be gone, or see nothing: then nothing is asked. Nor of less than a second.
 */
static void come_after(struct ride_run *run, bool on_screen)
{
    const struct session *session = &run->session;
    const struct summary *summary = &session->summary.summary;

    if (run->setup.rider.is_new && summary->duration_ms > 0 && !run->options.jsonl)
        wrap_put(output_sink(session->output), words_after_block, strlen(words_after_block), 0);
    if (!run->options.jsonl)
        ride_links_tell_found(&run->links, &run->options, session->output);
    if (!session->has_ended || session->saved != RESULT_OK || run->store == NULL ||
        summary->duration_ms < 1000 || run->options.jsonl)
        return;
    run->shows_after = on_screen && summary->reason != REASON_LEFT &&
                       summary->reason != REASON_UNGUARDED && !output_has_ended(session->output) &&
                       !output_is_behind(session->output);
    if (!run->shows_after)
        afterwards_say(run->store, session->recorder.ride_id, &run->setup.rider, session->output);
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
    complain_to(output_sink(run->errors));
    session->loop = run->loop;
    session_prepare(session);
    run->links.usb_key = run->settings.usb_key;
    if (!ride_links_open(&run->links, &run->options, session))
        return EXIT_FAILED;
    const bool is_virtual = run->links.bike_is_ours;
    if (!is_virtual && !cautions_accepted(&run->settings, run->options.cautions_read))
        return EXIT_FAILED;
    if (!ride_prepare_plan(run))
        return EXIT_FAILED;
    run->keys = keys_open(run->loop, on_key, session);
    if (run->keys == NULL) {
        complain("the system does not let signals be read, so a ride could not be stopped");
        return EXIT_FAILED;
    }
    if (!ride_links_call(&run->links, &run->options) || !ride_prepare_session(run))
        return EXIT_FAILED;

    session->screen.operations->hello(&session->screen, &session->ride, &session->facts);
    const bool on_screen = run->screen.terminal != NULL;
    session_run(session);
    called_bike_found(run->store, session->recorder.ride_id, &run->options,
                      session->usb.setup.ids[USB_CHANNEL_MACHINE].number, run->about.bike);
    if (!ride_options_bike_is_inside(&run->options))
        brake_keep(run->store, run->about.bike, &session->ride);
    come_after(run, on_screen);
    output_flush(session->output, LAST_OUTPUT_MS);
    return exit_status_of(session);
}

static void let_go(struct ride_run *run)
{
    session_close_peers(&run->session);
    find_again_keep(&run->options, &run->links);
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
    find_again(&run->options);
    if (!goes_guarded(run, &status)) {
        free(run);
        return status;
    }
    run->setup.strap_expected = run->options.sensors[SENSOR_STRAP].name != NULL;
    run->setup.counts_recovery = true;
    run->setup.tells_sources = true;
    run->setup.compares_powers = true;
    run->setup.is_watched = true;
    run->setup.holds_power = true;
    run->setup.tells_knob = true;
    if (load_profile(run->options.profile, &run->profile) && load_settings(&run->settings)) {
        run->setup.rider = run->settings.rider;
        run->loop = loop_new(ride_options_bike_is_inside(&run->options) ? LOOP_STEPPED : LOOP_REAL,
                             run->options.rate);
        if (run->loop == NULL)
            complain("out of memory");
        else if (ride_prepare_store(run))
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
        "  --bike virtual         the bike inside the program; without --bike it is ridden "
        "unless a bike is remembered: see 'afterset scan --keep'\n"
        "  --bike unix:PATH       one that listens on a socket; see 'afterset virtual-bike'\n"
        "  --bike ADDRESS         a Bluetooth bike, such as C0:12:34:56:78:9A/random; without "
        "/random or /public both are tried\n"
        "  --bike usb[:N]         a trainer that a receiver on USB hears and speaks to: the first, "
        "or number N; @1-2 behind it: through the receiver of that place\n"
        "  --bike capture:FILE    one that was recorded: it says and answers what it did then\n"
        "  --strap unix:PATH|ADDRESS|capture:FILE|usb[:N]\n"
        "                         heart rate from there; usb: from the first ANT strap that a "
        "receiver on USB hears, or from number N. That needs 'afterset rider usb-network-key'\n"
        "  --power unix:PATH|ADDRESS|capture:FILE|usb[:N]|bike\n"
        "                         power, and cadence with it, from that sensor while it is "
        "heard, else the bike's own; bike: the bike's own in any case\n"
        "  --cadence unix:PATH|ADDRESS|capture:FILE|usb[:N]|bike\n"
        "                         likewise cadence\n"
        "  --adapter hciN         call bike and strap through that adapter of this computer; "
        "without it the first that works\n"
        "  --capture FILE         write what bike and strap say and are told, as tshark and "
        "btmon read it (btsnoop); what goes over a receiver on USB to FILE.usb.pcap. It holds your "
        "heart rate and no addresses, of sensors on USB their numbers and not the network key\n"
        "  --length M:SS          as many rounds as come closest to that; the profile says how "
        "far it bends\n"
        "  --feel 1..5            how the legs feel: bad, poor, as usual, good, very good; with "
        "bad ones the targets are 6 % lower, with poor ones 3 %\n"
        "  --load next|+N|-N      as it was proposed after the last block like this one, or all "
        "targets N % higher or lower than written; what is chosen over the proposal is remembered. "
        "Without it as written\n"
        "  --after legs|fresh     ridden after leg work, or not; without it as last time, and "
        "the first time after leg work. Only like is compared with like\n"
        "  --beat MEASURE         the last block like this one runs beside it; lines say every "
        "10 s how far ahead this one is: work, power, distance, time, calories\n"
        "  --rate N               time runs N times faster (0.1 to 10000; default 1)\n"
        "  --plain                lines of text, one a second: for a screen reader or a log, "
        "and where there is no terminal to draw on\n"
        "  --jsonl                one JSON object a line\n"
        "  --volume N             of the cues, 0 to 100 (default 70, or what 'afterset rider "
        "volume' says); without it they sound only at a terminal in real time\n"
        "  --mute                 silent\n"
        "  --cues-to FILE         the cues into a WAV file, at the ride's own times\n"
        "  --cautions-read        the cautions before the first ride were read and are "
        "accepted\n"
        "  --unrecorded           do not save this ride\n"
        "\n"
        "with --bike virtual:\n"
        "  --seed N               chance of the virtual bike (default 1)\n"
        "  --machine FILE         another machine, such as tests/machines/late.machine\n"
        "  --virtual-rider FILE   another rider, such as tests/riders/weak.rider\n"
        "\n"
        "keys: space holds and goes on, s, q or Ctrl-C stops (the load goes, ride out; once "
        "more leaves), + and - shift the load by 2 %, or the level where nobody measures power, n "
        "twice goes to the next step, m mutes, "
        "Ctrl-Z holds; 0 to 9, + and - tell where the knob of a bike stands that takes no command, "
        "Enter that it "
        "was turned as told; any key puts a caution away, Enter a cut-off\n",
    .run = run,
};
