#include <stdlib.h>
#include <string.h>
#include <zlib.h>

#include "io/store_private.h"

/* Grows as it is filled; whoever owns it frees `data`, also after a failure. */
struct text {
    char *data; /* with a NUL behind it that does not count */
    size_t length, capacity;
};

static bool text_reserve(struct text *text, size_t more)
{
    if (more > STORE_JOURNAL_MAX - text->length)
        return false;
    size_t needed = text->length + more + 1;
    if (text->data != NULL && needed <= text->capacity)
        return true;
    size_t capacity = needed + text->capacity;
    char *data = realloc(text->data, capacity);
    if (data == NULL)
        return false;
    text->data = data;
    text->capacity = capacity;
    return true;
}

static bool text_add(struct text *text, const void *data, size_t length)
{
    if (!text_reserve(text, length))
        return false;
    if (length > 0)
        memcpy(text->data + text->length, data, length);
    text->length += length;
    text->data[text->length] = '\0';
    return true;
}

/* The length is known only after the text was asked for. */
static bool add_chunk(struct text *text, sqlite3_stmt *statement)
{
    const unsigned char *chunk = sqlite3_column_text(statement, 0);
    int length = sqlite3_column_bytes(statement, 0);
    return text_add(text, chunk, (size_t)length);
}

static enum result read_chunks(struct store *store, int64_t id, struct text *text)
{
    sqlite3_stmt *statement = store->statements[STORE_SELECT_CHUNKS];
    int code = sqlite3_bind_int64(statement, 1, id);
    bool room = text_add(text, "", 0);
    if (code == SQLITE_OK)
        code = sqlite3_step(statement);
    while (code == SQLITE_ROW && room) {
        room = add_chunk(text, statement);
        code = sqlite3_step(statement);
    }
    sqlite3_reset(statement);
    return store_outcome(store, room ? code : SQLITE_NOMEM);
}

static int pack(const struct text *text, struct store_packed *ret)
{
    uLongf length = compressBound(text->length);
    Bytef *data = malloc(length);
    if (data == NULL)
        return SQLITE_NOMEM;
    if (compress(data, &length, (const Bytef *)text->data, text->length) != Z_OK) {
        free(data);
        return SQLITE_NOMEM;
    }
    *ret = (struct store_packed){.data = data, .length = length, .text_length = text->length};
    return SQLITE_OK;
}

enum result store_pack(struct store *store, int64_t id, struct store_packed *ret)
{
    struct text text = {0};
    enum result result = read_chunks(store, id, &text);
    if (result == RESULT_OK)
        result = store_outcome(store, pack(&text, ret));
    free(text.data);
    return result;
}

/* The length comes from the file, so it is checked before memory is taken and after unpacking. */
static int unpack(sqlite3_stmt *statement, struct text *text)
{
    const void *packed = sqlite3_column_blob(statement, 0);
    uLong packed_length = (uLong)sqlite3_column_bytes(statement, 0);
    int64_t said = sqlite3_column_int64(statement, 1);
    if (packed == NULL || said < 0 || said > STORE_JOURNAL_MAX)
        return SQLITE_CORRUPT;
    if (!text_reserve(text, (size_t)said))
        return SQLITE_NOMEM;
    uLongf length = (uLongf)said + 1; /* so that a longer text shows; zlib cannot tell at 0 */
    int code = uncompress((Bytef *)text->data, &length, packed, packed_length);
    if (code == Z_MEM_ERROR)
        return SQLITE_NOMEM;
    if (code != Z_OK || length != (uLongf)said)
        return SQLITE_CORRUPT;
    text->length = length;
    text->data[length] = '\0';
    return SQLITE_OK;
}

/* Unpacks the journal of a ride that has ended; *ret_riding says that it has not. */
static enum result read_packed(struct store *store, int64_t id, struct text *text, bool *ret_riding)
{
    sqlite3_stmt *statement = store->statements[STORE_SELECT_JOURNAL];
    int code = sqlite3_bind_int64(statement, 1, id);
    if (code == SQLITE_OK)
        code = sqlite3_step(statement);
    bool missing = code == SQLITE_DONE;
    if (code == SQLITE_ROW) {
        *ret_riding = sqlite3_column_int(statement, 2) == STORE_RIDING;
        code = *ret_riding ? SQLITE_OK : unpack(statement, text);
    }
    sqlite3_reset(statement);
    return missing ? RESULT_NOT_FOUND : store_outcome(store, code);
}

enum result store_journal(struct store *store, int64_t id, char **ret_text, size_t *ret_length)
{
    bool riding = false;
    struct text text = {0};
    enum result result = read_packed(store, id, &text, &riding);
    if (result == RESULT_OK && riding)
        result = read_chunks(store, id, &text);
    if (result != RESULT_OK) {
        free(text.data);
        return result;
    }
    *ret_text = text.data;
    *ret_length = text.length;
    return RESULT_OK;
}
