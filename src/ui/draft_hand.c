#include "draft_hand.h"

#include <string.h>

#include "typing.h"

static bool is_step(const struct draft *draft)
{
    const struct profile_item *item = draft_item(draft, draft->row);
    return item != NULL && item->kind == PROFILE_STEP;
}

/* ---- where it is ---- */

void hand_settle(struct draft *draft)
{
    const struct profile_item *item;

    if (draft->row >= draft_rows(draft))
        draft->row = draft_rows(draft) - 1;
    item = draft_item(draft, draft->row);
    if (is_step(draft) && !profile_field_is_for(draft->field, item->step))
        draft->field = PROFILE_FIELD_TIME;
}

enum draft_act hand_walk(struct draft *draft, int by)
{
    if (by < 0 ? draft->row == 0 : draft->row + 1 == draft_rows(draft))
        return DRAFT_NOTHING;
    draft->row = by < 0 ? draft->row - 1 : draft->row + 1;
    hand_settle(draft);
    return DRAFT_SHOW;
}

enum draft_act hand_turn(struct draft *draft, int by)
{
    const struct profile_item *item = draft_item(draft, draft->row);
    const unsigned step = by < 0 ? PROFILE_FIELD_COUNT - 1 : 1;

    if (!is_step(draft))
        return DRAFT_NOTHING;
    do
        draft->field = (draft->field + step) % PROFILE_FIELD_COUNT;
    while (!profile_field_is_for(draft->field, item->step));
    return DRAFT_SHOW;
}

/* ---- what stands there ---- */

static void put_times(struct text_writer *writer, const struct profile *profile)
{
    text_put_time(writer, profile->length_min_ms);
    text_put(writer, "..");
    text_put_time(writer, profile->length_max_ms);
}

void hand_put(struct text_writer *writer, const struct draft *draft, size_t row,
              enum profile_field field)
{
    const struct profile_item *item = draft_item(draft, row);

    if (row == DRAFT_ROW_TITLE)
        text_put(writer, draft->profile.title);
    else if (row == DRAFT_ROW_LENGTH)
        put_times(writer, &draft->profile);
    else if (item->kind == PROFILE_STEP)
        profile_field_put(writer, item, field);
    else if (item->kind == PROFILE_ROUNDS && item->fits)
        text_put(writer, "fit");
    else if (item->kind == PROFILE_ROUNDS)
        text_put_unsigned(writer, item->rounds);
}

enum draft_act hand_type(struct draft *draft, uint32_t first)
{
    const struct profile_item *item = draft_item(draft, draft->row);
    struct text_writer writer = text_writer(draft->typed, sizeof draft->typed);

    if (item != NULL && item->kind == PROFILE_END)
        return DRAFT_NOTHING;
    if (first == 0)
        hand_put(&writer, draft, draft->row, draft->field);
    else
        (void)typing_add(draft->typed, DRAFT_TYPED_MAX, first);
    draft->mode = DRAFT_TYPES;
    return DRAFT_SHOW;
}

/* ---- what is meant ---- */

static const char *trimmed(char *text)
{
    size_t length = strlen(text);

    while (length > 0 && text[length - 1] == ' ')
        text[--length] = '\0';
    while (*text == ' ')
        text++;
    return text;
}

static const char *set_title(struct profile *profile, const char *text)
{
    if (*text == '\0')
        return "A title cannot be empty.";
    if (strchr(text, '#') != NULL)
        return "A title has no #, which begins a comment.";
    if (strlen(text) > PLAN_TITLE_MAX)
        return "A title has 60 octets at most.";
    memcpy(profile->title, text, strlen(text) + 1);
    return NULL;
}

static const char *set_length(struct profile *profile, const char *text)
{
    struct text_word word = text_word(text);
    uint32_t low_ms, high_ms;

    if (!text_take_time(&word, &low_ms) || !text_take(&word, "..") ||
        !text_take_time(&word, &high_ms) || word.length > 0)
        return "A length is two times such as 3:00..7:00.";
    if (low_ms > high_ms || low_ms < PLAN_LENGTH_MIN_MS || high_ms > PLAN_LENGTH_MAX_MS)
        return "A length is within 3:00..7:00, the lower end first.";
    profile->length_min_ms = low_ms;
    profile->length_max_ms = high_ms;
    return NULL;
}

static const char *set_rounds(struct profile_item *item, const char *text)
{
    struct text_word word = text_word(text);
    uint32_t rounds;

    item->fits = text_word_is(word, "fit");
    if (item->fits)
        return NULL;
    if (!text_take_number(&word, 0, &rounds) || word.length > 0 || rounds < 1 ||
        rounds > PROFILE_ROUNDS_MAX)
        return "Rounds are 1 to 99, or fit: as many as the day's length asks for.";
    item->rounds = (uint16_t)rounds;
    return NULL;
}

/* NULL, or why not. */
static const char *set(struct profile *profile, const struct draft *draft, const char *text,
                       struct text_fault *fault)
{
    struct profile_item *item;

    if (draft->row == DRAFT_ROW_TITLE)
        return set_title(profile, text);
    if (draft->row == DRAFT_ROW_LENGTH)
        return set_length(profile, text);
    item = &profile->items[draft->row - DRAFT_ROW_ITEMS];
    if (item->kind != PROFILE_STEP)
        return set_rounds(item, text);
    return profile_field_set(item, draft->field, text, fault) == RESULT_OK ? NULL : fault->message;
}

enum draft_act hand_keep(struct draft *draft)
{
    struct profile edited = draft->profile;
    struct text_fault fault;
    const char *why = set(&edited, draft, trimmed(draft->typed), &fault);

    if (why != NULL) {
        draft_tell(draft, why, false);
        return DRAFT_SHOW;
    }
    draft->mode = DRAFT_WALKS;
    return hand_edit(draft, &edited, draft->row);
}

enum draft_act hand_clear(struct draft *draft)
{
    struct profile edited = draft->profile;
    struct text_fault fault;

    if (!is_step(draft) || draft->field == PROFILE_FIELD_TIME)
        return DRAFT_NOTHING;
    const char *why = set(&edited, draft, "", &fault);
    return why == NULL ? hand_edit(draft, &edited, draft->row) : DRAFT_NOTHING;
}

static bool nudge_rounds(struct profile_item *item, int by)
{
    const int rounds = item->rounds + by;

    item->rounds = (uint16_t)rounds;
    return !item->fits && rounds >= 1 && rounds <= (int)PROFILE_ROUNDS_MAX;
}

enum draft_act hand_nudge(struct draft *draft, int by)
{
    struct profile edited = draft->profile;
    bool is_nudged = false;

    if (draft->row >= DRAFT_ROW_ITEMS) {
        struct profile_item *item = &edited.items[draft->row - DRAFT_ROW_ITEMS];
        if (item->kind == PROFILE_STEP)
            is_nudged = profile_field_nudge(item, draft->field, by) == RESULT_OK;
        else if (item->kind == PROFILE_ROUNDS)
            is_nudged = nudge_rounds(item, by);
    }
    return is_nudged ? hand_edit(draft, &edited, draft->row) : DRAFT_NOTHING;
}

/* ---- the name of the file ---- */

static bool is_plain(char octet)
{
    return (octet >= 'a' && octet <= 'z') || (octet >= '0' && octet <= '9');
}

static char lower(char octet)
{
    static const char letters[] = "abcdefghijklmnopqrstuvwxyz";

    if (octet >= 'A' && octet <= 'Z')
        return letters[octet - 'A'];
    return octet;
}

/* The title without what names of files should not have. */
void hand_suggest_name(struct draft *draft)
{
    size_t length = 0;

    if (draft->name[0] != '\0') {
        memcpy(draft->typed, draft->name, sizeof draft->typed);
        return;
    }
    for (const char *at = draft->profile.title; *at != '\0'; at++) {
        if (is_plain(lower(*at)))
            draft->typed[length++] = lower(*at);
        else if (length > 0 && draft->typed[length - 1] != '-')
            draft->typed[length++] = '-';
    }
    while (length > 0 && draft->typed[length - 1] == '-')
        length--;
    struct text_writer writer = text_writer(draft->typed + length, sizeof draft->typed - length);
    text_put(&writer, length > 0 ? ".profile" : "block.profile");
}
