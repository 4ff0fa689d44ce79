#include <getopt.h>
#include <stdio.h>
#include <unistd.h>

#include "app/command.h"
#include "app/settings_file.h"
#include "sound.h"
#include "values.h"

#define PAUSE_MS    900
#define FILE_RATE   10000.0 /* nobody listens to a file that is being written */
#define LAST_CUE_MS 2500

struct cues_run {
    struct sound sound;
    struct loop *loop;
    enum cue cue; /* the next one */
};

static void ring(void *user, const char *text, size_t length)
{
    (void)user;
    (void)fwrite(text, 1, length, stdout);
    (void)fflush(stdout);
}

static void play_next(void *user)
{
    struct cues_run *run = user;
    const enum cue cue = run->cue++;

    say("%-8s  %s\n", cue_name(cue), cue_meaning(cue));
    (void)fflush(stdout);
    sound_play(&run->sound, cue);
    if (run->cue < CUE_KIND_COUNT)
        (void)loop_set_timer(run->loop, loop_now_ms(run->loop) + cue_length_ms(cue) + PAUSE_MS,
                             play_next, run);
}

static bool is_heard(const struct cues_run *run)
{
    return run->sound.aloud != NULL || run->sound.file != NULL;
}

static bool read_options(int argc, char **argv, struct sound_setup *setup)
{
    static const struct option known[] = {{"volume", required_argument, NULL, 'v'},
                                          {"cues-to", required_argument, NULL, 'c'},
                                          {NULL, 0, NULL, 0}};
    int option;

    opterr = 0;
    while ((option = getopt_long(argc, argv, ":", known, NULL)) != -1) {
        switch (option) {
        case 'v':
            if (!take_count("--volume", optarg, 0, 100, &setup->volume_pct))
                return false;
            break;
        case 'c': setup->file = optarg; break;
        case ':': complain("cues: %s needs a value", argv[optind - 1]); return false;
        default:
            complain("cues: unknown option %s; see afterset cues --help", argv[optind - 1]);
            return false;
        }
    }
    if (optind < argc)
        complain("cues: '%s' is one too many; see afterset cues --help", argv[optind]);
    return optind >= argc;
}

static int run_cues(int argc, char **argv)
{
    struct settings settings = {0};
    struct sound_setup setup = {0};
    struct cues_run run = {.cue = CUE_NONE + 1};

    if (!load_settings(&settings))
        return EXIT_FAILED;
    setup.volume_pct = settings.has_volume ? settings.volume_pct : SOUND_VOLUME_PCT;
    if (!read_options(argc, argv, &setup))
        return EXIT_WRONG_USE;
    setup.is_aloud = setup.file == NULL;
    if (isatty(STDOUT_FILENO))
        setup.bell.put = ring;
    run.loop = loop_new(LOOP_STEPPED, setup.is_aloud ? 1.0 : FILE_RATE);
    if (run.loop == NULL)
        return EXIT_FAILED;
    if (sound_open(&run.sound, run.loop, &setup) && is_heard(&run)) {
        play_next(&run);
        loop_run(run.loop);
    }
    const int status = is_heard(&run) ? EXIT_DONE : EXIT_FAILED;
    sound_close(&run.sound, LAST_CUE_MS);
    loop_free(run.loop);
    return status;
}

const struct command command_cues = {
    .name = "cues",
    .arguments = "[--volume N] [--cues-to FILE]",
    .purpose = "let every sound of a ride be heard once, with what it means",
    .help = "  --volume N      0 to 100 (default 70, or what 'afterset rider volume' says)\n"
            "  --cues-to FILE  into a WAV file instead\n",
    .run = run_cues,
};
