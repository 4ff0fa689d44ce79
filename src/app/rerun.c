#include "rerun.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "text/journal.h"

static void note_difference(struct rerun *rerun, const struct journal_reader *reader,
                            const char *wanted, size_t wanted_length, const char *found,
                            size_t found_length)
{
    if (rerun->different_line != 0)
        return;
    rerun->different_line = reader->line;
    (void)snprintf(rerun->wanted, sizeof rerun->wanted, "%.*s",
                   wanted_length > 0 ? (int)(wanted_length - 1) : 0, wanted);
    (void)snprintf(rerun->found, sizeof rerun->found, "%.*s",
                   found_length > 0 ? (int)(found_length - 1) : 0, found);
}

static void compare(struct rerun *rerun, struct journal_reader *reader,
                    const struct effects *effects)
{
    const char *wanted = "";
    size_t length;

    for (size_t i = 0; i < effects->count; i++) {
        char line[JOURNAL_LINE_MAX];
        struct text_writer writer = text_writer(line, sizeof line);

        journal_put_effect(&writer, &effects->list[i]);
        rerun->effects++;
        length = journal_read_effect(reader, &wanted);
        if (length == 0 && reader->at == reader->length)
            return;
        if (length != writer.length || memcmp(wanted, line, length) != 0)
            note_difference(rerun, reader, wanted, length, line, writer.length);
    }
    while ((length = journal_read_effect(reader, &wanted)) > 0)
        note_difference(rerun, reader, wanted, length, "", 0);
}

static void take_summary(struct rerun *rerun, const struct effects *effects)
{
    for (size_t i = 0; i < effects->count; i++) {
        if (effects->list[i].kind == EFFECT_SUMMARY) {
            rerun->summary = effects->list[i].summary;
            rerun->has_ended = true;
        }
    }
}

/* What the ride comes to when nothing more is known of it. */
static void conclude(struct rerun *rerun, const struct ride *ride)
{
    if (rerun->has_ended)
        return;
    totals_summary(&ride->totals, &rerun->summary);
    rerun->summary.duration_ms = ride->block_ms;
    rerun->summary.skipped = ride->skipped;
    rerun->summary.cut_off = ride->safety.cut_off;
    rerun->summary.end = ride->end != END_NONE ? ride->end : END_STOPPED;
    rerun->summary.reason = ride->end != END_NONE ? ride->reason : REASON_RECOVERED;
}

static enum result rerun_events(struct journal_reader *reader, struct ride *ride,
                                struct rerun_watch watch, struct rerun *rerun,
                                struct text_fault *ret_fault)
{
    struct event event;
    struct effects effects;
    enum result result;

    while ((result = journal_read_event(reader, &event, ret_fault)) == RESULT_OK) {
        rerun->events++;
        ride_step(ride, &event, &effects);
        if (watch.step != NULL)
            watch.step(watch.user, ride);
        compare(rerun, reader, &effects);
        take_summary(rerun, &effects);
    }
    conclude(rerun, ride);
    return result == RESULT_NOT_FOUND ? RESULT_OK : result;
}

enum result rerun_journal(const char *text, size_t length, struct rerun *ret,
                          struct text_fault *ret_fault)
{
    return rerun_watched(text, length, (struct rerun_watch){0}, ret, ret_fault);
}

enum result rerun_watched(const char *text, size_t length, struct rerun_watch watch,
                          struct rerun *ret, struct text_fault *ret_fault)
{
    struct journal_reader reader = journal_reader(text, length);
    struct ride_setup *setup = calloc(1, sizeof *setup);
    struct ride *ride = calloc(1, sizeof *ride);
    enum result result = RESULT_FULL;

    if (setup != NULL && ride != NULL)
        result = journal_read_setup(&reader, setup, ret_fault);
    if (result == RESULT_OK) {
        *ret = (struct rerun){0};
        ride_init(ride, setup);
        result = rerun_events(&reader, ride, watch, ret, ret_fault);
    }
    free(setup);
    free(ride);
    return result;
}

enum result rerun_stored(struct store *store, int64_t id, struct rerun_watch watch,
                         struct rerun *ret)
{
    struct text_fault fault;
    char *text = NULL;
    size_t length = 0;
    enum result result = store_journal(store, id, &text, &length);

    if (result == RESULT_OK)
        result = rerun_watched(text, length, watch, ret, &fault);
    free(text);
    return result;
}
