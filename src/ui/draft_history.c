#include "draft_history.h"

#include <stdlib.h>
#include <string.h>

#define GROWS_BY 64u

/* The head of a profile and as many items as it has. */
struct state {
    size_t row, item_count;
    char title[PLAN_TITLE_MAX + 1];
    uint32_t length_min_ms, length_max_ms, title_line, length_line;
    struct profile_item items[];
};

struct draft_history {
    struct state **states;
    size_t count, capacity, at;
};

static struct state *state_of(const struct profile *profile, size_t row)
{
    const size_t items_size = profile->item_count * sizeof profile->items[0];
    struct state *state = malloc(sizeof *state + items_size);

    if (state == NULL)
        return NULL;
    state->row = row;
    state->item_count = profile->item_count;
    memcpy(state->title, profile->title, sizeof state->title);
    state->length_min_ms = profile->length_min_ms;
    state->length_max_ms = profile->length_max_ms;
    state->title_line = profile->title_line;
    state->length_line = profile->length_line;
    memcpy(state->items, profile->items, items_size);
    return state;
}

static void restore(const struct state *state, struct profile *ret)
{
    *ret = (struct profile){.item_count = state->item_count,
                            .length_min_ms = state->length_min_ms,
                            .length_max_ms = state->length_max_ms,
                            .title_line = state->title_line,
                            .length_line = state->length_line};
    memcpy(ret->title, state->title, sizeof ret->title);
    memcpy(ret->items, state->items, state->item_count * sizeof state->items[0]);
}

static bool has_room(struct draft_history *history)
{
    if (history->count < history->capacity)
        return true;
    struct state **grown =
        realloc(history->states, (history->capacity + GROWS_BY) * sizeof(struct state *));
    if (grown == NULL)
        return false;
    history->states = grown;
    history->capacity += GROWS_BY;
    return true;
}

static void forget_from(struct draft_history *history, size_t at)
{
    while (history->count > at)
        free(history->states[--history->count]);
}

bool history_push(struct draft_history *history, const struct profile *profile, size_t row)
{
    const size_t at = history->count > 0 ? history->at + 1 : 0;

    if (!has_room(history))
        return false;
    struct state *state = state_of(profile, row);
    if (state == NULL)
        return false;
    forget_from(history, at);
    history->states[at] = state;
    history->at = at;
    history->count = at + 1;
    return true;
}

struct draft_history *history_new(const struct profile *profile, size_t row)
{
    struct draft_history *history = calloc(1, sizeof *history);

    if (history != NULL && history_push(history, profile, row))
        return history;
    history_free(history);
    return NULL;
}

void history_free(struct draft_history *history)
{
    if (history == NULL)
        return;
    forget_from(history, 0);
    free(history->states);
    free(history);
}

bool history_walk(struct draft_history *history, int by, struct profile *ret, size_t *ret_row)
{
    if (by < 0 ? history->at == 0 : history->at + 1 == history->count)
        return false;
    /* The hand goes to what is undone, or to what is done again. */
    *ret_row = history->states[by < 0 ? history->at : history->at + 1]->row;
    history->at = by < 0 ? history->at - 1 : history->at + 1;
    restore(history->states[history->at], ret);
    return true;
}
