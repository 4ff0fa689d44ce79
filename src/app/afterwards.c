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

static void put_sentence(struct output *output, const char *sentence)
{
    char line[VERDICT_LINE_MAX + 2];
    const int length = snprintf(line, sizeof line, "%s.\n", sentence);

    if (sentence[0] != '\0')
        wrap_put(output_sink(output), line, (size_t)length, 0);
}

void afterwards_say(struct store *store, int64_t id, const struct rider *rider,
                    bool tells_how_to_rate, struct output *output)
{
    struct against lines;
    char how[96];

    compare(store, id, rider, &lines);
    put_sentence(output, lines.facts);
    put_sentence(output, lines.verdict);
    put_sentence(output, lines.reckoning);
    put_sentence(output, lines.next);
    put_sentence(output, lines.next_reckoning);
    (void)snprintf(
        how, sizeof how,
        "How hard was it, 0 to 10? afterset rate %lld --effort 7 --note 'a word on it'\n",
        (long long)id);
    if (tells_how_to_rate)
        output_put(output, how, strlen(how));
}

/* ---- the page ---- */

struct shown {
    struct store *store;
    struct after after;
    char trouble[160];
};

static void draw(void *user, struct canvas *canvas)
{
    const struct shown *shown = user;
    after_draw(&shown->after, canvas);
}

static void save(struct shown *shown, int32_t effort, const char *note)
{
    const enum result result = store_rate(shown->store, shown->after.ride_id, effort, note);

    shown->trouble[0] = '\0';
    if (result != RESULT_OK)
        (void)snprintf(shown->trouble, sizeof shown->trouble, "Not saved: %s",
                       store_problem(shown->store));
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
    struct shown shown = {.store = store, .after = {.summary = *summary, .ride_id = id}};
    struct against lines;

    compare(store, id, rider, &lines);
    shown.after.facts = lines.facts;
    shown.after.verdict = lines.verdict;
    shown.after.next = lines.next;
    shown.after.trouble = shown.trouble;
    (void)page_run(&(struct page){NULL, NULL, draw, press, &shown});
    if (shown.trouble[0] != '\0')
        complain("what you said of ride %lld is not saved: %s", (long long)id,
                 store_problem(store));
}
