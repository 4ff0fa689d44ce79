#include "text/profile.h"

#include <string.h>

#include "base/text.h"
#include "profile_line.h"
#include "ride/fit.h"

/* What the steps so far allow; it only grows. */
enum phase { PHASE_HEAD, PHASE_FLOOR, PHASE_WARM_UP, PHASE_INTERVALS, PHASE_COOL_DOWN };

struct parser {
    struct text_lines lines;
    struct profile profile;
    struct text_fault *fault;
    struct text_word length_word; /* where the length stood; no text: not seen yet */
    struct text_word fit_word;    /* likewise the fit of rounds */
    enum phase phase;
    size_t depth;
    uint32_t open_lines[PROFILE_DEPTH_MAX]; /* where the open rounds began */
};

static bool fault_word(struct parser *parser, struct text_word word, const char *expected)
{
    text_fault_word(parser->fault, word, expected);
    return false;
}

static bool fault_at(struct parser *parser, struct text_word word, const char *expected,
                     const char *found)
{
    text_fault_at(parser->fault, word, expected, found);
    return false;
}

static bool expect_end_of_line(struct parser *parser)
{
    struct text_word word = text_lines_word(&parser->lines);
    return word.length == 0 || fault_word(parser, word, "the end of the line");
}

/* ---- the head ---- */

static bool read_title(struct parser *parser, struct text_word keyword)
{
    struct profile *profile = &parser->profile;
    if (profile->title[0] != '\0')
        return fault_at(parser, keyword, "one title", "a second one");
    struct text_word title = text_lines_rest(&parser->lines);
    if (title.length == 0)
        return fault_word(parser, title, "a title");
    if (title.length > PLAN_TITLE_MAX)
        return fault_at(parser, title, "a title of at most 60 octets", "a longer one");
    memcpy(profile->title, title.text, title.length);
    profile->title_line = keyword.line;
    return true;
}

/* LOW..HIGH with a time on both sides. */
static bool take_times(struct text_word word, uint32_t *ret_low_ms, uint32_t *ret_high_ms)
{
    return text_take_time(&word, ret_low_ms) && text_take(&word, "..") &&
           text_take_time(&word, ret_high_ms) && word.length == 0;
}

static bool read_length(struct parser *parser, struct text_word keyword)
{
    struct profile *profile = &parser->profile;
    if (parser->length_word.text != NULL)
        return fault_at(parser, keyword, "one length", "a second one");
    struct text_word word = text_lines_word(&parser->lines);
    if (!take_times(word, &profile->length_min_ms, &profile->length_max_ms))
        return fault_word(parser, word, "a range of times such as 3:00..7:00");
    if (profile->length_min_ms > profile->length_max_ms)
        return fault_word(parser, word, "the lower end first");
    if (profile->length_min_ms < PLAN_LENGTH_MIN_MS || profile->length_max_ms > PLAN_LENGTH_MAX_MS)
        return fault_word(parser, word, "a length from 3:00 to 7:00");
    parser->length_word = word;
    profile->length_line = keyword.line;
    return expect_end_of_line(parser);
}

/* `place` is what came where the head should have been complete. */
static bool leave_head(struct parser *parser, struct text_word place)
{
    if (parser->profile.title[0] == '\0')
        return fault_word(parser, place, "a title before the first step");
    if (parser->length_word.text == NULL)
        return fault_word(parser, place, "a length before the first step");
    return true;
}

/* ---- rounds and steps ---- */

static bool add_item(struct parser *parser, struct text_word keyword, struct profile_item item)
{
    struct profile *profile = &parser->profile;
    if (profile->item_count == PROFILE_ITEMS_MAX)
        return fault_word(parser, keyword, "at most 128 steps, rounds and ends");
    item.line = keyword.line;
    profile->items[profile->item_count++] = item;
    return true;
}

static bool enter_phase(struct parser *parser, struct text_word keyword, enum phase phase)
{
    if (parser->phase == PHASE_HEAD && !leave_head(parser, keyword))
        return false;
    if (phase != PHASE_INTERVALS && parser->depth > 0)
        return fault_word(parser, keyword, "work, rest, rounds or end");
    if (parser->phase > phase)
        return fault_word(parser, keyword,
                          phase == PHASE_FLOOR     ? "floor before all other steps"
                          : phase == PHASE_WARM_UP ? "warm-up before all other steps"
                                                   : "cool-down after all other steps");
    parser->phase = phase;
    return true;
}

/* How many there are is known when all has been read: see profile_settle(). */
static bool read_fit(struct parser *parser, struct text_word word, struct profile_item *item)
{
    if (parser->fit_word.text != NULL)
        return fault_at(parser, word, "one 'rounds fit'", "a second one");
    if (parser->depth > 0)
        return fault_at(parser, word, "'rounds fit' outside of other rounds", "it within");
    parser->fit_word = word;
    item->rounds = 1;
    item->fits = true;
    return true;
}

static bool read_number_of_rounds(struct parser *parser, struct profile_item *item)
{
    struct text_word word = text_lines_word(&parser->lines);
    struct text_word rest = word;
    uint32_t rounds;

    if (text_word_is(word, "fit"))
        return read_fit(parser, word, item);
    if (!text_take_number(&rest, 0, &rounds) || rest.length > 0 || rounds < 1 ||
        rounds > PROFILE_ROUNDS_MAX)
        return fault_word(parser, word, "a number of rounds from 1 to 99, or fit");
    item->rounds = (uint16_t)rounds;
    return true;
}

static bool read_rounds(struct parser *parser, struct text_word keyword)
{
    struct profile_item item = {.kind = PROFILE_ROUNDS};

    if (!enter_phase(parser, keyword, PHASE_INTERVALS))
        return false;
    if (parser->depth == PROFILE_DEPTH_MAX)
        return fault_word(parser, keyword, "rounds at most 4 deep");
    if (!read_number_of_rounds(parser, &item))
        return false;
    parser->open_lines[parser->depth++] = keyword.line;
    return add_item(parser, keyword, item) && expect_end_of_line(parser);
}

static bool read_end(struct parser *parser, struct text_word keyword)
{
    const struct profile *profile = &parser->profile;
    if (parser->depth == 0)
        return fault_at(parser, keyword, "rounds before their end", "an end without rounds");
    if (profile->items[profile->item_count - 1].kind == PROFILE_ROUNDS)
        return fault_word(parser, keyword, "a step in these rounds");
    parser->depth--;
    return add_item(parser, keyword, (struct profile_item){.kind = PROFILE_END}) &&
           expect_end_of_line(parser);
}

static enum phase phase_of(enum step_kind kind)
{
    switch (kind) {
    case STEP_WARM_UP: return PHASE_WARM_UP;
    case STEP_COOL_DOWN: return PHASE_COOL_DOWN;
    case STEP_FLOOR: return PHASE_FLOOR;
    case STEP_WORK:
    case STEP_REST:
    case STEP_KIND_COUNT: break;
    }
    return PHASE_INTERVALS;
}

static bool read_step(struct parser *parser, struct text_word keyword, enum step_kind kind)
{
    struct profile_item item = {.kind = PROFILE_STEP, .step = kind};
    if (!enter_phase(parser, keyword, phase_of(kind)))
        return false;
    return profile_line_read(&parser->lines, &item, parser->fault) &&
           add_item(parser, keyword, item);
}

static bool read_line(struct parser *parser)
{
    struct text_word keyword = text_lines_word(&parser->lines);
    for (enum step_kind kind = STEP_WARM_UP; kind < STEP_KIND_COUNT; kind++)
        if (text_word_is(keyword, step_kind_text(kind)))
            return read_step(parser, keyword, kind);
    if (text_word_is(keyword, "rounds"))
        return read_rounds(parser, keyword);
    if (text_word_is(keyword, "end"))
        return read_end(parser, keyword);
    if (parser->phase == PHASE_HEAD && text_word_is(keyword, "title"))
        return read_title(parser, keyword);
    if (parser->phase == PHASE_HEAD && text_word_is(keyword, "length"))
        return read_length(parser, keyword);
    return fault_word(parser, keyword,
                      parser->phase == PHASE_HEAD
                          ? "title, length, floor, warm-up, rounds, work or rest"
                          : "floor, warm-up, rounds, work, rest, end or cool-down");
}

/* ---- the whole ---- */

static void put_times(struct text_writer *writer, uint64_t low_ms, uint64_t high_ms)
{
    text_put_time(writer, low_ms);
    text_put(writer, " to ");
    text_put_time(writer, high_ms);
}

static bool settle(struct parser *parser)
{
    const struct profile *profile = &parser->profile;
    char expected[64];
    struct text_writer writer = text_writer(expected, sizeof(expected));

    if (profile_settle(&parser->profile) == RESULT_OK)
        return true;
    text_put(&writer, "rounds that come to ");
    put_times(&writer, profile->length_min_ms, profile->length_max_ms);
    return fault_at(parser, parser->fit_word, expected, "none that do");
}

static bool check_size(struct parser *parser, struct text_word end)
{
    const struct profile *profile = &parser->profile;
    struct profile_size size = {0};
    char expected[64], found[64];
    struct text_writer expected_writer = text_writer(expected, sizeof(expected));
    struct text_writer found_writer = text_writer(found, sizeof(found));
    if (profile_measure(profile, &size) != RESULT_OK || size.work_steps == 0)
        return fault_at(parser, end, "a work step", "the end of the file");
    if (size.length_ms < profile->length_min_ms || size.length_ms > profile->length_max_ms) {
        text_put(&expected_writer, "intervals of ");
        put_times(&expected_writer, profile->length_min_ms, profile->length_max_ms);
        text_put_time(&found_writer, size.length_ms);
        return fault_at(parser, parser->length_word, expected, found);
    }
    if (size.steps > PLAN_STEPS_MAX) {
        text_put_unsigned(&found_writer, size.steps);
        return fault_at(parser, end, "at most 512 steps", found);
    }
    return true;
}

static bool read_profile(struct parser *parser)
{
    while (text_lines_next(&parser->lines))
        if (!read_line(parser))
            return false;
    struct text_word end = text_lines_word(&parser->lines);
    if (parser->depth > 0) {
        char expected[64];
        struct text_writer writer = text_writer(expected, sizeof(expected));
        text_put(&writer, "an end for the rounds in line ");
        text_put_unsigned(&writer, parser->open_lines[parser->depth - 1]);
        return fault_at(parser, end, expected, "the end of the file");
    }
    if (parser->profile.title[0] == '\0')
        return fault_at(parser, end, "a title", "the end of the file");
    if (parser->length_word.text == NULL)
        return fault_at(parser, end, "a length", "the end of the file");
    return settle(parser) && check_size(parser, end);
}

enum result profile_read(const char *text, size_t length, struct profile *ret,
                         struct text_fault *ret_fault)
{
    struct parser parser = {.fault = ret_fault};
    enum result result = text_lines_open(text, length, &parser.lines, ret_fault);
    if (result != RESULT_OK)
        return result;
    if (!read_profile(&parser))
        return RESULT_INVALID;
    *ret = parser.profile;
    return RESULT_OK;
}
