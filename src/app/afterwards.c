#include "afterwards.h"

#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "against.h"
#include "app/command.h"
#include "called.h"
#include "page.h"
#include "ui/after.h"
#include "ui/wrap.h"

_Static_assert(AFTER_NOTE_MAX == STORE_NOTE_MAX, "what can be written can be kept");

struct store_ride afterwards_about(struct store *store, const struct ride_options *options)
{
    struct store_ride about = {.feel = options->wish.feel, .is_fresh = options->legs == LEGS_FRESH};
    struct store_ride last;
    char path[PATH_MAX];

    if (options->legs == LEGS_AS_LAST_TIME && store != NULL &&
        store_next_older(store, INT64_MAX, &last) == RESULT_OK)
        about.is_fresh = last.is_fresh;
    called_bike(store, options, about.bike);
    called_power_sensor(store, options, about.power_sensor);
    /* Whole, so that it is found from any folder; one that does not fit is not offered again. */
    if (realpath(options->profile, path) != NULL && strlen(path) < sizeof about.profile)
        memcpy(about.profile, path, strlen(path) + 1);
    return about;
}

static void compare(struct store *store, int64_t id, const struct rider *rider, struct against *ret)
{
    struct store_ride now;

    *ret = (struct against){"", "", "", "", ""};
    if (store_get(store, id, &now) == RESULT_OK)
        against_find(store, &now, rider, ret);
}

static void put_sentence(struct sink sink, const char *sentence)
{
    char line[VERDICT_LINE_MAX + 2];
    const int length = snprintf(line, sizeof line, "%s.\n", sentence);

    if (sentence[0] != '\0')
        wrap_put(sink, line, (size_t)length, 0);
}

static void put_comparison(struct store *store, int64_t id, const struct rider *rider,
                           struct sink sink)
{
    struct against lines;

    compare(store, id, rider, &lines);
    put_sentence(sink, lines.facts);
    put_sentence(sink, lines.verdict);
    put_sentence(sink, lines.reckoning);
    put_sentence(sink, lines.next);
    put_sentence(sink, lines.next_reckoning);
}

static void put_how_to_rate(int64_t id, struct sink sink)
{
    char how[96];
    const int length =
        snprintf(how, sizeof how,
                 "How hard was it, 0 to 10? afterset rate %lld --effort 7 --note 'a word on it'\n",
                 (long long)id);

    wrap_put(sink, how, (size_t)length, 0);
}

void afterwards_say(struct store *store, int64_t id, const struct rider *rider,
                    struct output *output)
{
    put_comparison(store, id, rider, output_sink(output));
    put_how_to_rate(id, output_sink(output));
}

/* ---- the page ---- */

struct shown {
    struct store *store;
    const struct rider *rider;
    struct after after;
    struct against against; /* what `after` says */
    char trouble[160];
};

static void draw(void *user, struct canvas *canvas)
{
    const struct shown *shown = user;
    after_draw(&shown->after, canvas);
}

static void compare_shown(struct shown *shown)
{
    compare(shown->store, shown->after.ride_id, shown->rider, &shown->against);
    shown->after.facts = shown->against.facts;
    shown->after.verdict = shown->against.verdict;
    shown->after.next = shown->against.next;
}

static void save(struct shown *shown, int32_t effort, const char *note)
{
    const enum result result = store_rate(shown->store, shown->after.ride_id, effort, note);

    shown->trouble[0] = '\0';
    if (result != RESULT_OK)
        (void)snprintf(shown->trouble, sizeof shown->trouble, "Not saved: %s",
                       store_problem(shown->store));
    else if (effort >= 0) /* what to ask next time goes by it */
        compare_shown(shown);
}

static bool press(void *user, struct press press)
{
    struct shown *shown = user;
    const enum after_act act = after_press(&shown->after, press);

    if (act == AFTER_SAVE_EFFORT)
        save(shown, shown->after.effort, NULL);
    else if (act == AFTER_SAVE_NOTE)
        save(shown, -1, shown->after.note);
    return act == AFTER_LEAVE;
}

void afterwards_show(struct store *store, int64_t id, const struct rider *rider,
                     const struct summary *summary)
{
    struct shown shown = {
        .store = store, .rider = rider, .after = {.summary = *summary, .ride_id = id}};
    const struct sink sink = stdout_sink();

    compare_shown(&shown);
    shown.after.trouble = shown.trouble;
    const enum page_end end = page_run(&(struct page){NULL, NULL, draw, press, &shown});
    if (end != PAGE_LEFT)
        put_comparison(store, id, rider, sink);
    if (end == PAGE_UNUSABLE)
        put_how_to_rate(id, sink);
    if (shown.trouble[0] != '\0')
        complain("what you said of ride %lld is not saved: %s", (long long)id,
                 store_problem(store));
}
