#include <string.h>

#include "profile_line.h"
#include "text/profile.h"
#include "text/utf8.h"

#define LINE_MAX_OCTETS 512u /* of what we write ourselves */

/*
 * Every line of the file as it was belongs to a line that the profile still owns: the title, the
 * length, an item. Comments and blank lines belong to the next owned line below them and go where
 * it goes; so do the comments of lines that nobody owns any more. What comes after the last owned
 * line stays at the end.
 */
struct writing {
    const struct profile *profile;
    struct profile before; /* what the file says as it was */
    const char *text;      /* the file as it was */
    size_t length;
    const char *line_break;
    struct text_writer *out;
    size_t begin; /* of the first line in `out` */
};

/* ---- lines of the file as it was ---- */

struct raw {
    const char *text;
    size_t length; /* without its break */
    size_t octets; /* with it */
};

static struct raw raw_at(const struct writing *writing, size_t at)
{
    const char *begin = writing->text + at;
    const size_t left = writing->length - at;
    const char *feed = memchr(begin, '\n', left);
    struct raw raw = {begin, feed != NULL ? (size_t)(feed - begin) : left, left};

    if (feed != NULL)
        raw.octets = raw.length + 1;
    if (raw.length > 0 && begin[raw.length - 1] == '\r')
        raw.length--;
    return raw;
}

static size_t offset_of(const struct writing *writing, uint32_t line)
{
    size_t at = 0;

    for (uint32_t i = 1; i < line && at < writing->length; i++)
        at += raw_at(writing, at).octets;
    return at;
}

static bool is_blank(char character)
{
    return character == ' ' || character == '\t';
}

static size_t indent_of(const struct raw *raw)
{
    size_t at = 0;

    while (at < raw->length && is_blank(raw->text[at]))
        at++;
    return at;
}

/* Where the comment begins; the length of the line where it has none. */
static size_t sign_of(const struct raw *raw)
{
    const char *sign = memchr(raw->text, '#', raw->length);

    return sign != NULL ? (size_t)(sign - raw->text) : raw->length;
}

/* The same with the blanks before it. */
static size_t comment_of(const struct raw *raw)
{
    size_t at = sign_of(raw);

    while (at > 0 && is_blank(raw->text[at - 1]))
        at--;
    return at;
}

static uint32_t smaller_above(uint32_t line, uint32_t limit, uint32_t best)
{
    return line < limit && line > best ? line : best;
}

/* The last owned line before `limit`, or 0. */
static uint32_t owned_before(const struct profile *profile, uint32_t limit)
{
    uint32_t best = smaller_above(profile->title_line, limit, 0);

    best = smaller_above(profile->length_line, limit, best);
    for (size_t i = 0; i < profile->item_count; i++)
        best = smaller_above(profile->items[i].line, limit, best);
    return best;
}

/* ---- putting ---- */

static void begin_line(const struct writing *writing)
{
    struct text_writer *out = writing->out;

    if (!out->failed && out->length > writing->begin && out->data[out->length - 1] != '\n')
        text_put(out, writing->line_break);
}

/* From that place in the line to its end, the break included. */
static void put_rest(const struct writing *writing, const struct raw *raw, size_t from)
{
    text_put_part(writing->out, raw->text + from, raw->octets - from);
}

/* Lines from..to, both included, as far as they hold nothing but comments. */
static void put_comments(const struct writing *writing, uint32_t from, uint32_t to)
{
    size_t at = offset_of(writing, from);

    for (uint32_t line = from; line <= to && at < writing->length; line++) {
        const struct raw raw = raw_at(writing, at);
        const size_t comment = comment_of(&raw);
        if (comment == 0 || comment < raw.length) {
            begin_line(writing);
            put_rest(writing, &raw, comment == 0 ? 0 : sign_of(&raw));
        }
        at += raw.octets;
    }
}

/* What a line is to say, and what it said, both as it would be indented now. */
struct line_texts {
    char now[LINE_MAX_OCTETS], before[LINE_MAX_OCTETS]; /* empty: the line is new */
    size_t depth_now, depth_before;
};

static void put_line(const struct writing *writing, uint32_t line, const struct line_texts *texts)
{
    if (texts->before[0] == '\0') {
        begin_line(writing);
        text_put(writing->out, texts->now);
        text_put(writing->out, writing->line_break);
        return;
    }
    put_comments(writing, owned_before(writing->profile, line) + 1, line - 1);
    const struct raw raw = raw_at(writing, offset_of(writing, line));
    begin_line(writing);
    if (strcmp(texts->now, texts->before) != 0) {
        text_put(writing->out, texts->now);
        put_rest(writing, &raw, comment_of(&raw));
    } else if (texts->depth_now != texts->depth_before) {
        for (const char *blank = texts->now; *blank == ' '; blank++)
            text_put_char(writing->out, ' ');
        put_rest(writing, &raw, indent_of(&raw));
    } else {
        put_rest(writing, &raw, 0);
    }
}

/* ---- what lines say ---- */

static void title_of(const struct profile *profile, char *ret)
{
    struct text_writer writer = text_writer(ret, LINE_MAX_OCTETS);

    text_put(&writer, "title     ");
    text_put(&writer, profile->title);
}

static void length_of(const struct profile *profile, char *ret)
{
    struct text_writer writer = text_writer(ret, LINE_MAX_OCTETS);

    text_put(&writer, "length    ");
    text_put_time(&writer, profile->length_min_ms);
    text_put(&writer, "..");
    text_put_time(&writer, profile->length_max_ms);
}

static void item_of(const struct profile_item *item, size_t depth, char *ret)
{
    struct text_writer writer = text_writer(ret, LINE_MAX_OCTETS);

    profile_line_put(&writer, item, depth);
}

/* An end stands where its rounds do. */
static size_t depth_at(const struct profile *profile, size_t item)
{
    size_t depth = 0;

    for (size_t i = 0; i <= item; i++) {
        const enum profile_item_kind kind = profile->items[i].kind;
        if (kind == PROFILE_END && depth > 0)
            depth--;
        if (kind == PROFILE_ROUNDS && i < item)
            depth++;
    }
    return depth;
}

/* ---- the whole ---- */

static void put_title(const struct writing *writing)
{
    const uint32_t line = writing->profile->title_line;
    struct line_texts texts = {0};

    title_of(writing->profile, texts.now);
    if (line > 0)
        title_of(&writing->before, texts.before);
    put_line(writing, line, &texts);
}

static void put_length(const struct writing *writing)
{
    const uint32_t line = writing->profile->length_line;
    struct line_texts texts = {0};

    length_of(writing->profile, texts.now);
    if (line > 0)
        length_of(&writing->before, texts.before);
    put_line(writing, line, &texts);
}

static void put_item(const struct writing *writing, size_t item)
{
    const struct profile *profile = writing->profile, *before = &writing->before;
    const uint32_t line = profile->items[item].line;
    struct line_texts texts = {.depth_now = depth_at(profile, item)};

    item_of(&profile->items[item], texts.depth_now, texts.now);
    for (size_t i = 0; line > 0 && i < before->item_count; i++) {
        if (before->items[i].line != line)
            continue;
        item_of(&before->items[i], texts.depth_now, texts.before);
        texts.depth_before = depth_at(before, i);
    }
    put_line(writing, line, &texts);
}

static void put_all(const struct writing *writing)
{
    const struct profile *profile = writing->profile;
    const bool length_first = profile->length_line < profile->title_line;

    if (length_first)
        put_length(writing);
    put_title(writing);
    if (!length_first)
        put_length(writing);
    if (writing->length == 0)
        text_put(writing->out, writing->line_break);
    for (size_t i = 0; i < profile->item_count; i++)
        put_item(writing, i);
    put_comments(writing, owned_before(profile, UINT32_MAX) + 1, UINT32_MAX - 1);
}

/* ---- what can be written ---- */

/* A file cannot hold a comment's sign, an end of the line, or blanks around a text. */
static bool can_be_written(const char *text)
{
    const size_t length = strlen(text);
    size_t octets = 0;

    for (size_t at = 0; at < length; at += octets) {
        octets = utf8_character(text + at, length - at);
        if (octets == 0 || text[at] == '#')
            return false;
    }
    return length == 0 || (!is_blank(text[0]) && !is_blank(text[length - 1]));
}

/* Its line is one of the file, and no other item's. */
static bool has_its_line(const struct writing *writing, size_t item)
{
    const struct profile *profile = writing->profile, *before = &writing->before;
    const uint32_t line = profile->items[item].line;
    size_t owners = 0, lines = 0;

    for (size_t i = 0; i < profile->item_count; i++)
        owners += profile->items[i].line == line;
    for (size_t i = 0; i < before->item_count; i++)
        lines += before->items[i].line == line;
    return line == 0 || (owners == 1 && lines == 1);
}

static bool is_writable(const struct writing *writing)
{
    const struct profile *profile = writing->profile;

    if (profile->item_count > PROFILE_ITEMS_MAX || profile->title[0] == '\0' ||
        !can_be_written(profile->title) || profile->title_line != writing->before.title_line ||
        profile->length_line != writing->before.length_line)
        return false;
    for (size_t i = 0; i < profile->item_count; i++)
        if (!can_be_written(profile->items[i].cue_text) || !has_its_line(writing, i))
            return false;
    return true;
}

enum result profile_write(const struct profile *profile, const char *text, size_t length,
                          struct text_writer *writer)
{
    static const char mark[] = "\xEF\xBB\xBF";
    struct writing writing = {
        .profile = profile, .text = text, .length = length, .line_break = "\n", .out = writer};
    struct text_fault fault;

    if (length > 0 && profile_read(text, length, &writing.before, &fault) != RESULT_OK)
        return RESULT_INVALID;
    if (!is_writable(&writing))
        return RESULT_INVALID;
    const char *feed = length > 0 ? memchr(text, '\n', length) : NULL;
    if (feed != NULL && feed > text && feed[-1] == '\r')
        writing.line_break = "\r\n";
    if (length >= 3 && memcmp(text, mark, 3) == 0) {
        text_put(writer, mark);
        writing.text += 3;
        writing.length -= 3;
    }
    writing.begin = writer->length;
    put_all(&writing);
    return writer->failed ? RESULT_FULL : RESULT_OK;
}
