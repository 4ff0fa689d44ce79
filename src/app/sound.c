#include "sound.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "app/command.h"
#include "io/speaker_alsa.h"
#include "io/speaker_bell.h"
#include "io/speaker_wav.h"

static void close_speaker(struct speaker **speaker, int wait_ms)
{
    if (*speaker != NULL)
        (*speaker)->operations->close(*speaker, wait_ms);
    *speaker = NULL;
}

/* ---- on the device, or on the bell ---- */

static void play_aloud(const struct sound *sound, enum cue cue)
{
    if (sound->aloud != NULL && !sound->is_muted)
        sound->aloud->operations->play(sound->aloud, cue, loop_now_ms(sound->loop),
                                       (int)sound->setup.volume_pct);
}

static void complain_of_device(const struct sound *sound, const char *why)
{
    complain("no sound: %s; %s", why,
             sound->setup.bell.put != NULL ? "the bell of the terminal is used instead"
                                           : "there is no terminal with a bell either");
}

/* Once a ride: the bell has nothing to fall back to. The cue that failed is rung. */
static void on_device_failed(void *user, const char *why)
{
    struct sound *sound = user;

    close_speaker(&sound->aloud, 0);
    if (sound->setup.bell.put != NULL)
        sound->aloud = speaker_bell_new(sound->loop, sound->setup.bell);
    if (sound->is_open || sound->is_muted)
        (void)snprintf(sound->device_trouble, sizeof sound->device_trouble, "%s", why);
    else
        complain_of_device(sound, why);
    if (loop_now_ms(sound->loop) < sound->cues.until_t_ms)
        play_aloud(sound, sound->cues.sounding);
}

static void open_device(struct sound *sound)
{
    const char *why = NULL;

    if (speaker_alsa_open(sound->loop, &sound->aloud, &why) != RESULT_OK) {
        on_device_failed(sound, why);
        return;
    }
    sound->aloud->failed = on_device_failed;
    sound->aloud->user = sound;
}

/* ---- into the file ---- */

static void complain_of_file(const struct sound *sound, const char *why)
{
    complain("--cues-to %s: it cannot be written: %s", sound->setup.file, why);
}

static void on_file_failed(void *user, const char *why)
{
    struct sound *sound = user;

    (void)snprintf(sound->file_trouble, sizeof sound->file_trouble, "%s", why);
    close_speaker(&sound->file, 0);
}

static bool open_file(struct sound *sound)
{
    if (speaker_wav_open(sound->setup.file, &sound->file) != RESULT_OK) {
        complain_of_file(sound, strerror(errno));
        return false;
    }
    sound->file->failed = on_file_failed;
    sound->file->user = sound;
    return true;
}

/* ---- all of it ---- */

bool sound_open(struct sound *sound, struct loop *loop, const struct sound_setup *setup)
{
    *sound = (struct sound){
        .loop = loop,
        .setup = *setup,
        .is_muted = setup->is_muted,
        .is_wanted = !setup->is_muted,
    };
    if (setup->file != NULL && !open_file(sound))
        return false;
    if (setup->is_aloud)
        open_device(sound);
    sound->is_open = true;
    return true;
}

void sound_play(struct sound *sound, enum cue cue)
{
    if (sound->file != NULL)
        sound->file->operations->play(sound->file, cue, loop_now_ms(sound->loop), 100);
    play_aloud(sound, cue);
}

static void on_time(void *user)
{
    struct sound *sound = user;

    sound->timer = 0;
    sound_step(sound, sound->ride, NULL);
}

void sound_step(struct sound *sound, const struct ride *ride, const struct effects *effects)
{
    uint64_t next_t_ms;

    if (sound->aloud == NULL && sound->file == NULL)
        return;
    const enum cue cue =
        cues_step(&sound->cues, ride, effects, loop_now_ms(sound->loop), &next_t_ms);
    if (cue != CUE_NONE)
        sound_play(sound, cue);
    sound->ride = ride;
    loop_cancel_timer(sound->loop, sound->timer);
    sound->timer =
        next_t_ms != CUES_NEVER ? loop_set_timer(sound->loop, next_t_ms, on_time, sound) : 0;
}

void sound_pass_mark(struct sound *sound)
{
    cues_pass_mark(&sound->cues);
}

void sound_set_mute(struct sound *sound, bool is_muted)
{
    if (is_muted)
        play_aloud(sound, CUE_NONE);
    sound->is_muted = is_muted;
    sound->is_wanted = sound->is_wanted || !is_muted;
}

void sound_close(struct sound *sound, int wait_ms)
{
    if (sound->loop != NULL)
        loop_cancel_timer(sound->loop, sound->timer);
    close_speaker(&sound->aloud, wait_ms);
    close_speaker(&sound->file, 0);
    if (sound->device_trouble[0] != '\0' && sound->is_wanted)
        complain_of_device(sound, sound->device_trouble);
    if (sound->file_trouble[0] != '\0')
        complain_of_file(sound, sound->file_trouble);
}
