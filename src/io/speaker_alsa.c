#include "io/speaker_alsa.h"

#include <alsa/asoundlib.h>
#include <errno.h>
#include <poll.h>
#include <stdlib.h>
#include <time.h>

#include "io/tones.h"

#define RATE_HZ       48000u
#define BUFFER_US     200000u /* how long the loop may be busy with something else in mid-cue */
#define BLOCK_SAMPLES 1024u
#define POLLED_MAX    8
#define TAIL_MS       60u /* silence behind a cue: a card goes on for a part of its buffer */
#define NAP_MS        10
#define BREAKS_MAX    3u /* of one cue; a device that stutters more is of no use */

struct speaker_alsa {
    struct speaker speaker;
    struct loop *loop;
    snd_pcm_t *pcm;
    enum cue cue;
    int volume_pct;
    size_t at, length; /* samples of the cue that were taken, and all of them with the tail */
    unsigned breaks;
    int watches[POLLED_MAX];
    int watch_count;
    bool has_failed;
};

static void unwatch(struct speaker_alsa *alsa)
{
    for (int i = 0; i < alsa->watch_count; i++)
        loop_unwatch(alsa->loop, alsa->watches[i]);
    alsa->watch_count = 0;
}

static const char *words_for(int error)
{
    return error == -ENOENT || error == -ENODEV || error == -ENXIO ? "there is no sound device"
                                                                   : snd_strerror(error);
}

static void fail(struct speaker_alsa *alsa, int error)
{
    unwatch(alsa);
    alsa->has_failed = true;
    alsa->speaker.failed(alsa->speaker.user, words_for(error));
}

static void feed(struct speaker_alsa *alsa);

/* The plugin of a sound server has descriptors of its own, and is told what became of them. */
static void on_ready(void *user, int fd, short revents)
{
    struct speaker_alsa *alsa = user;
    struct pollfd polled[POLLED_MAX];
    unsigned short ready = 0;
    const int count = snd_pcm_poll_descriptors(alsa->pcm, polled, POLLED_MAX);

    for (int i = 0; i < count; i++) {
        polled[i].revents = 0;
        if (polled[i].fd == fd)
            polled[i].revents = revents;
    }
    if (count > 0)
        (void)snd_pcm_poll_descriptors_revents(alsa->pcm, polled, (unsigned)count, &ready);
    feed(alsa);
}

/* Only while the device is full: it is asked again when it takes more. */
static int watch(struct speaker_alsa *alsa)
{
    struct pollfd polled[POLLED_MAX];
    const int count = snd_pcm_poll_descriptors(alsa->pcm, polled, POLLED_MAX);

    if (alsa->watch_count > 0)
        return 0;
    for (int i = 0; i < count; i++) {
        const int id = loop_watch(alsa->loop, polled[i].fd, polled[i].events, on_ready, alsa);
        if (id == 0)
            return -EMFILE;
        alsa->watches[alsa->watch_count++] = id;
    }
    return count > 0 ? 0 : -ENODEV;
}

/* 0 when all is written, -EAGAIN when the device is full. */
static int write_on(struct speaker_alsa *alsa)
{
    while (alsa->at < alsa->length) {
        int16_t samples[BLOCK_SAMPLES];
        const size_t left = alsa->length - alsa->at;
        const size_t count = left < BLOCK_SAMPLES ? left : BLOCK_SAMPLES;

        tones_render(alsa->cue, RATE_HZ, alsa->volume_pct, alsa->at, count, samples);
        const snd_pcm_sframes_t taken = snd_pcm_writei(alsa->pcm, samples, count);
        const bool has_broken = taken == -EPIPE || taken == -ESTRPIPE;
        if (has_broken && ++alsa->breaks <= BREAKS_MAX) {
            const int error = snd_pcm_prepare(alsa->pcm);
            if (error < 0)
                return error;
        } else if (taken <= 0) {
            return taken < 0 ? (int)taken : -EAGAIN;
        } else {
            alsa->at += (size_t)taken;
        }
    }
    return 0;
}

/* Behind its end the device runs dry and stands. To drain it could wait, as that of PulseAudio
 * does. */
static void feed(struct speaker_alsa *alsa)
{
    int error = write_on(alsa);

    if (error == -EAGAIN)
        error = watch(alsa);
    else
        unwatch(alsa);
    if (error < 0)
        fail(alsa, error);
}

static void alsa_play(struct speaker *speaker, enum cue cue, uint64_t t_ms, int volume_pct)
{
    struct speaker_alsa *alsa = (struct speaker_alsa *)speaker;

    (void)t_ms;
    if (alsa->has_failed)
        return;
    unwatch(alsa);
    alsa->cue = cue;
    alsa->volume_pct = volume_pct;
    alsa->at = 0;
    alsa->length = cue == CUE_NONE ? 0 : tones_length(cue, RATE_HZ) + TAIL_MS * RATE_HZ / 1000;
    alsa->breaks = 0;
    (void)snd_pcm_drop(alsa->pcm);
    if (alsa->length == 0)
        return;
    const int error = snd_pcm_prepare(alsa->pcm);
    if (error < 0)
        fail(alsa, error);
    else
        feed(alsa);
}

static bool is_playing(const struct speaker_alsa *alsa)
{
    snd_pcm_sframes_t left = 0;

    return snd_pcm_state(alsa->pcm) == SND_PCM_STATE_RUNNING &&
           (alsa->at < alsa->length || (snd_pcm_delay(alsa->pcm, &left) == 0 && left > 0));
}

/* Without the loop, and without trusting the device to come to an end. */
static void play_out(struct speaker_alsa *alsa, int wait_ms)
{
    const struct timespec nap = {.tv_nsec = NAP_MS * 1000000L};
    int error = 0;

    for (int waited = 0; waited < wait_ms && is_playing(alsa) && (error == 0 || error == -EAGAIN);
         waited += NAP_MS) {
        (void)nanosleep(&nap, NULL);
        error = write_on(alsa);
    }
}

static void alsa_close(struct speaker *speaker, int wait_ms)
{
    struct speaker_alsa *alsa = (struct speaker_alsa *)speaker;

    unwatch(alsa);
    if (!alsa->has_failed)
        play_out(alsa, wait_ms);
    (void)snd_pcm_drop(alsa->pcm);
    (void)snd_pcm_close(alsa->pcm);
    (void)snd_config_update_free_global();
    free(alsa);
}

static const struct speaker_operations operations = {alsa_play, alsa_close};

/* The library would write to stderr by itself. */
static void keep_quiet(const char *file, int line, const char *function, int error,
                       const char *format, ...)
{
    (void)file;
    (void)line;
    (void)function;
    (void)error;
    (void)format;
}

/* The first sample starts it, not a full buffer. */
static int set_up(snd_pcm_t *pcm)
{
    snd_pcm_sw_params_t *params = NULL;
    int error = snd_pcm_set_params(pcm, SND_PCM_FORMAT_S16, SND_PCM_ACCESS_RW_INTERLEAVED, 1,
                                   RATE_HZ, 1, BUFFER_US);

    if (error >= 0)
        error = snd_pcm_sw_params_malloc(&params);
    if (error >= 0)
        error = snd_pcm_sw_params_current(pcm, params);
    if (error >= 0)
        error = snd_pcm_sw_params_set_start_threshold(pcm, params, 1);
    if (error >= 0)
        error = snd_pcm_sw_params(pcm, params);
    if (params != NULL)
        snd_pcm_sw_params_free(params);
    return error;
}

static int open_default(snd_pcm_t **ret)
{
    snd_pcm_t *pcm = NULL;
    int error = snd_pcm_open(&pcm, "default", SND_PCM_STREAM_PLAYBACK, SND_PCM_NONBLOCK);

    if (error < 0)
        return error;
    error = set_up(pcm);
    if (error < 0)
        (void)snd_pcm_close(pcm);
    else
        *ret = pcm;
    return error;
}

enum result speaker_alsa_open(struct loop *loop, struct speaker **ret, const char **ret_why)
{
    struct speaker_alsa *alsa = calloc(1, sizeof *alsa);
    snd_pcm_t *pcm = NULL;

    (void)snd_lib_error_set_handler(keep_quiet);
    const int error = alsa == NULL ? -ENOMEM : open_default(&pcm);
    if (error < 0) {
        (void)snd_config_update_free_global();
        free(alsa);
        *ret_why = words_for(error);
        return RESULT_IO;
    }
    *alsa = (struct speaker_alsa){.speaker = {.operations = &operations}, .loop = loop, .pcm = pcm};
    *ret = (struct speaker *)alsa;
    return RESULT_OK;
}
