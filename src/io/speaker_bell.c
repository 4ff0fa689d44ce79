#include "io/speaker_bell.h"

#include <stdlib.h>

struct speaker_bell {
    struct speaker speaker;
    struct loop *loop;
    struct sink sink;
    enum cue cue;
    size_t note; /* rung next */
    uint64_t begun_ms;
    int timer;
};

/* One ring a note. */
static void ring(void *user)
{
    struct speaker_bell *bell = user;
    const struct cue_score *score = cue_score(bell->cue);

    bell->timer = 0;
    bell->sink.put(bell->sink.user, "\a", 1);
    if (++bell->note < score->count)
        bell->timer =
            loop_set_timer(bell->loop, bell->begun_ms + score->notes[bell->note].at_ms, ring, bell);
}

static void bell_play(struct speaker *speaker, enum cue cue, uint64_t t_ms, int volume_pct)
{
    struct speaker_bell *bell = (struct speaker_bell *)speaker;

    (void)t_ms;
    loop_cancel_timer(bell->loop, bell->timer);
    bell->timer = 0;
    bell->cue = cue;
    bell->note = 0;
    bell->begun_ms = loop_now_ms(bell->loop);
    if (volume_pct > 0 && cue_score(cue)->count > 0)
        ring(bell);
}

static void bell_close(struct speaker *speaker, int wait_ms)
{
    struct speaker_bell *bell = (struct speaker_bell *)speaker;

    (void)wait_ms;
    loop_cancel_timer(bell->loop, bell->timer);
    free(bell);
}

static const struct speaker_operations operations = {bell_play, bell_close};

struct speaker *speaker_bell_new(struct loop *loop, struct sink sink)
{
    struct speaker_bell *bell = calloc(1, sizeof *bell);

    if (bell == NULL)
        return NULL;
    *bell =
        (struct speaker_bell){.speaker = {.operations = &operations}, .loop = loop, .sink = sink};
    return (struct speaker *)bell;
}
