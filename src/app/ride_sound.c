#include "ride_sound.h"

#include <unistd.h>

static uint32_t volume_pct(const struct ride_options *options, const struct settings *settings)
{
    if (options->has_volume)
        return options->volume_pct;
    return settings->has_volume ? settings->volume_pct : SOUND_VOLUME_PCT;
}

/* Aloud where somebody listens: at a terminal and in real time, or where it was asked for. */
bool ride_sound_open(struct session *session, const struct ride_options *options,
                     const struct settings *settings)
{
    const bool has_bell = !options->jsonl && isatty(STDOUT_FILENO);
    struct sound_setup setup = {
        .is_aloud = options->has_volume || (has_bell && options->rate == 1.0),
        .is_muted = options->mute,
        .volume_pct = volume_pct(options, settings),
        .file = options->cues_to,
    };

    if (has_bell)
        setup.bell = output_sink(session->output);
    session->hands.shown.is_muted = options->mute;
    return sound_open(&session->sound, session->loop, &setup);
}
