#include "ui/draft.h"

#include <string.h>

#include "draft_edit.h"
#include "draft_hand.h"
#include "draft_history.h"
#include "ride/fit.h"
#include "typing.h"

/* ---- what it comes to ---- */

/* FNV-1a. */
static uint64_t sign_of(const char *text, size_t length)
{
    uint64_t sign = 0xCBF29CE484222325u;

    for (size_t i = 0; i < length; i++)
        sign = (sign ^ (unsigned char)text[i]) * 0x100000001B3u;
    return sign;
}

static bool says_something(const char *line, size_t length)
{
    size_t at = 0;

    while (at < length && (line[at] == ' ' || line[at] == '\t' || line[at] == '\r'))
        at++;
    return at < length && line[at] != '#';
}

/* How many lines that are no comment there are up to that one: title, length, items, in order. */
static size_t row_of_line(const struct draft *draft, uint32_t line)
{
    const char *at = draft->text, *end = draft->text + draft->text_length;
    const bool length_first = draft->profile.length_line < draft->profile.title_line;
    size_t rows = 0;

    if (draft->text_length >= 3 && memcmp(at, "\xEF\xBB\xBF", 3) == 0)
        at += 3; /* the mark of an editor elsewhere is no word */
    for (uint32_t i = 1; i <= line && at < end; i++) {
        const char *feed = memchr(at, '\n', (size_t)(end - at));
        const char *next = feed != NULL ? feed + 1 : end;
        rows += says_something(at, (size_t)((feed != NULL ? feed : end) - at));
        at = next;
    }
    const size_t row = rows > 0 ? rows - 1 : 0;
    return length_first && row < DRAFT_ROW_ITEMS ? DRAFT_ROW_LENGTH - row : row;
}

/* False: it cannot be written, and the text is what it was. */
static bool look_again(struct draft *draft)
{
    static struct profile read;
    static char text[PROFILE_FILE_MAX + 1];
    struct text_writer writer = text_writer(text, sizeof text);

    /* Rounds that fit nothing keep their number: the reader says why. */
    (void)!profile_settle(&draft->profile);
    if (profile_write(&draft->profile, draft->base, draft->base_length, &writer) != RESULT_OK)
        return false;
    memcpy(draft->text, text, writer.length + 1);
    draft->text_length = writer.length;
    draft->has_fault =
        profile_read(draft->text, draft->text_length, &read, &draft->fault) != RESULT_OK;
    draft->fault_row = draft->has_fault ? row_of_line(draft, draft->fault.line) : 0;
    return true;
}

bool draft_is_changed(const struct draft *draft)
{
    return sign_of(draft->text, draft->text_length) != draft->saved_as;
}

void draft_saved(struct draft *draft)
{
    draft->saved_as = sign_of(draft->text, draft->text_length);
    memcpy(draft->name, draft->wanted, sizeof draft->name);
    draft->is_new = false;
}

void draft_unsaved(struct draft *draft)
{
    draft->saved_as = 0;
}

/* ---- begin and end ---- */

static const struct profile nothing_yet = {
    .title = "New block", .length_min_ms = PLAN_LENGTH_MIN_MS, .length_max_ms = PLAN_LENGTH_MAX_MS};

bool draft_begin(struct draft *draft, const char *base, size_t base_length,
                 const struct profile *profile, const char *name)
{
    draft->base = base;
    draft->base_length = base_length;
    draft->profile = profile != NULL ? *profile : nothing_yet;
    draft->row = profile != NULL ? DRAFT_ROW_ITEMS : DRAFT_ROW_TITLE;
    draft->history = history_new(&draft->profile, draft->row);
    if (strlen(name) <= DRAFT_TYPED_MAX)
        memcpy(draft->wanted, name, strlen(name) + 1);
    if (draft->history == NULL || !look_again(draft))
        return false;
    draft_saved(draft);
    draft->is_new = profile == NULL;
    return true;
}

void draft_end(struct draft *draft)
{
    history_free(draft->history);
    draft->history = NULL;
}

/* ---- rows ---- */

size_t draft_rows(const struct draft *draft)
{
    return DRAFT_ROW_ITEMS + draft->profile.item_count;
}

const struct profile_item *draft_item(const struct draft *draft, size_t row)
{
    return row < DRAFT_ROW_ITEMS || row >= draft_rows(draft)
               ? NULL
               : &draft->profile.items[row - DRAFT_ROW_ITEMS];
}

void draft_tell(struct draft *draft, const char *message, bool asks_for_name)
{
    struct text_writer writer = text_writer(draft->message, sizeof draft->message);

    text_put(&writer, message);
    if (!asks_for_name)
        return;
    memcpy(draft->typed, draft->wanted, sizeof draft->typed);
    draft->mode = DRAFT_NAMES;
}

/* ---- edits ---- */

static enum draft_act refuse(struct draft *draft, const char *why)
{
    draft_tell(draft, why, false);
    return DRAFT_SHOW;
}

/* What cannot be written or remembered is not done either. */
enum draft_act hand_edit(struct draft *draft, const struct profile *edited, size_t row)
{
    const struct profile before = draft->profile;
    const char *why = NULL;

    draft->profile = *edited;
    if (!look_again(draft))
        why = "That makes the file too long.";
    else if (!history_push(draft->history, &draft->profile, row))
        why = "There is no memory for that.";
    if (why != NULL) {
        draft->profile = before;
        (void)look_again(draft);
        return refuse(draft, why);
    }
    draft->row = row;
    hand_settle(draft);
    return DRAFT_EDITED;
}

static enum draft_act walk_history(struct draft *draft, int by)
{
    if (!history_walk(draft->history, by, &draft->profile, &draft->row))
        return refuse(draft, by < 0 ? "There is nothing before this." : "Nothing was undone.");
    hand_settle(draft);
    (void)look_again(draft); /* it could be written before */
    return DRAFT_EDITED;
}

typedef size_t edit_func(struct profile *profile, size_t at);

static enum draft_act edit_item(struct draft *draft, edit_func *edit, const char *why_not)
{
    struct profile edited = draft->profile;
    const bool is_item = draft_item(draft, draft->row) != NULL;
    const size_t at = is_item ? edit(&edited, draft->row - DRAFT_ROW_ITEMS) : SIZE_MAX;

    return at == SIZE_MAX ? refuse(draft, why_not)
                          : hand_edit(draft, &edited, DRAFT_ROW_ITEMS + at);
}

static size_t move_up(struct profile *profile, size_t at)
{
    return profile_edit_move(profile, at, -1);
}

static size_t move_down(struct profile *profile, size_t at)
{
    return profile_edit_move(profile, at, 1);
}

static enum draft_act add(struct draft *draft, enum step_kind kind)
{
    struct profile edited = draft->profile;
    const size_t after = draft->row < DRAFT_ROW_ITEMS ? SIZE_MAX : draft->row - DRAFT_ROW_ITEMS;
    const size_t at = profile_edit_add(&edited, after, kind);

    draft->mode = DRAFT_WALKS;
    draft->field = PROFILE_FIELD_TIME;
    return at == SIZE_MAX ? refuse(draft, "A profile has 128 lines at most.")
                          : hand_edit(draft, &edited, DRAFT_ROW_ITEMS + at);
}

/* ---- keys ---- */

static enum draft_act save(struct draft *draft, bool asks_for_name)
{
    draft->mode = DRAFT_WALKS;
    memcpy(draft->wanted, draft->name, sizeof draft->wanted);
    if (draft->name[0] != '\0' && !asks_for_name)
        return DRAFT_SAVE;
    hand_suggest_name(draft);
    draft->mode = DRAFT_NAMES;
    return DRAFT_SHOW;
}

static enum draft_act leave(struct draft *draft)
{
    if (!draft_is_changed(draft))
        return DRAFT_LEAVE;
    draft->mode = DRAFT_LEAVES;
    return DRAFT_SHOW;
}

static enum draft_act on_command(struct draft *draft, uint32_t key)
{
    switch (key) {
    case 'a': draft->mode = DRAFT_ADDS; return DRAFT_SHOW;
    case 'c': return edit_item(draft, profile_edit_copy, "A step can be copied, nothing else.");
    case 'd': return edit_item(draft, profile_edit_remove, "Title and length stay.");
    case 'k': return edit_item(draft, move_up, "It cannot go further up.");
    case 'j': return edit_item(draft, move_down, "It cannot go further down.");
    case 'o': return edit_item(draft, profile_edit_wrap, "Rounds go around work and rest.");
    case 'u': return walk_history(draft, -1);
    case 'r': return walk_history(draft, 1);
    case 's': return save(draft, false);
    case 'S': return save(draft, true);
    case 'q': return leave(draft);
    case '+': return hand_nudge(draft, 1);
    case '-': return hand_nudge(draft, -1);
    default: break;
    }
    return key >= '0' && key <= '9' ? hand_type(draft, key) : DRAFT_NOTHING;
}

static enum draft_act press_walking(struct draft *draft, struct press press)
{
    switch (press.kind) {
    case PRESS_UP: return hand_walk(draft, -1);
    case PRESS_DOWN: return hand_walk(draft, 1);
    case PRESS_LEFT: return hand_turn(draft, -1);
    case PRESS_RIGHT: return hand_turn(draft, 1);
    case PRESS_ENTER: return hand_type(draft, 0);
    case PRESS_BACKSPACE: return hand_clear(draft);
    case PRESS_CHARACTER: return on_command(draft, press.character);
    case PRESS_ESCAPE:
    case PRESS_OTHER: break;
    }
    return DRAFT_SHOW;
}

static enum draft_act press_adding(struct draft *draft, struct press press)
{
    draft->mode = DRAFT_WALKS;
    if (press.kind != PRESS_CHARACTER)
        return DRAFT_SHOW;
    switch (press.character) {
    case 'f': return add(draft, STEP_FLOOR);
    case 'u': return add(draft, STEP_WARM_UP);
    case 'w': return add(draft, STEP_WORK);
    case 'r': return add(draft, STEP_REST);
    case 'c': return add(draft, STEP_COOL_DOWN);
    default: return DRAFT_SHOW;
    }
}

static enum draft_act press_leaving(struct draft *draft, struct press press)
{
    draft->mode = DRAFT_WALKS;
    if (press.kind == PRESS_CHARACTER && press.character == 's')
        return save(draft, false);
    return press.kind == PRESS_CHARACTER && press.character == 'q' ? DRAFT_LEAVE : DRAFT_SHOW;
}

static enum draft_act end_name(struct draft *draft)
{
    if (draft->typed[0] == '\0')
        return refuse(draft, "It needs a name.");
    memcpy(draft->wanted, draft->typed, sizeof draft->wanted);
    draft->mode = DRAFT_WALKS;
    return DRAFT_SAVE;
}

static enum draft_act press_typing(struct draft *draft, struct press press)
{
    switch (press.kind) {
    case PRESS_CHARACTER:
        (void)typing_add(draft->typed, DRAFT_TYPED_MAX, press.character);
        return DRAFT_SHOW;
    case PRESS_BACKSPACE: (void)typing_take_back(draft->typed); return DRAFT_SHOW;
    case PRESS_ESCAPE: draft->mode = DRAFT_WALKS; return DRAFT_SHOW;
    case PRESS_ENTER: return draft->mode == DRAFT_NAMES ? end_name(draft) : hand_keep(draft);
    case PRESS_UP:
    case PRESS_DOWN:
    case PRESS_LEFT:
    case PRESS_RIGHT:
    case PRESS_OTHER: break;
    }
    return DRAFT_NOTHING;
}

enum draft_act draft_press(struct draft *draft, struct press press)
{
    draft->message[0] = '\0';
    switch (draft->mode) {
    case DRAFT_WALKS: return press_walking(draft, press);
    case DRAFT_ADDS: return press_adding(draft, press);
    case DRAFT_LEAVES: return press_leaving(draft, press);
    case DRAFT_TYPES:
    case DRAFT_NAMES: break;
    }
    return press_typing(draft, press);
}
