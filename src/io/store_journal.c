#include <lzma.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

#include "io/store_private.h"

#define DICTIONARY_OCTETS (256u << 10) /* some five minutes of a journal */
#define UNPACK_MEMORY_MAX (16u << 20)

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

static int put_packed(sqlite3_stmt *statement, int64_t id, const uint8_t *data, size_t length,
                      size_t text_length)
{
    int code = sqlite3_bind_int64(statement, 1, id);
    if (code == SQLITE_OK)
        code = sqlite3_bind_int64(statement, 2, (int64_t)text_length);
    if (code == SQLITE_OK)
        code = sqlite3_bind_blob64(statement, 3, data, length, SQLITE_STATIC);
    if (code == SQLITE_OK)
        code = sqlite3_step(statement);
    sqlite3_reset(statement);
    sqlite3_clear_bindings(statement);
    return code;
}

/* Half of what zlib makes of a journal; with this little memory, as a ride has little. */
static lzma_ret compress_text(const char *text, size_t length, uint8_t **ret, size_t *ret_length)
{
    lzma_options_lzma options;
    const size_t room = lzma_stream_buffer_bound(length);
    uint8_t *data = malloc(room);

    if (data == NULL || lzma_lzma_preset(&options, LZMA_PRESET_DEFAULT)) {
        free(data);
        return LZMA_MEM_ERROR;
    }
    options.dict_size = DICTIONARY_OCTETS;
    options.mf = LZMA_MF_HC4;
    options.nice_len = 64;
    lzma_filter filters[] = {{LZMA_FILTER_LZMA2, &options}, {LZMA_VLI_UNKNOWN, NULL}};
    *ret_length = 0;
    const lzma_ret code = lzma_stream_buffer_encode(
        filters, LZMA_CHECK_CRC32, NULL, (const uint8_t *)text, length, data, ret_length, room);
    *ret = data;
    return code;
}

enum result store_pack_text(struct store *store, int64_t id, const char *text, size_t length)
{
    uint8_t *data = NULL;
    size_t packed_length = 0;
    int code = SQLITE_NOMEM;
    if (compress_text(text, length, &data, &packed_length) == LZMA_OK)
        code = put_packed(store->statements[STORE_INSERT_JOURNAL], id, data, packed_length, length);
    free(data);
    return store_outcome(store, code);
}

enum result store_pack_chunks(struct store *store, int64_t id)
{
    struct text text = {0};
    enum result result = read_chunks(store, id, &text);
    if (result == RESULT_OK)
        result = store_pack_text(store, id, text.data, text.length);
    free(text.data);
    return result;
}

/* A zlib stream (RFC 1950), as journals were packed at first. A longer text shows by the octet more
 * that there is room for; zlib cannot tell at 0. */
static int unpack_zlib(const uint8_t *packed, size_t packed_length, uint8_t *ret, size_t said)
{
    uLongf length = (uLongf)said + 1;
    const int code = uncompress(ret, &length, packed, (uLong)packed_length);

    if (code == Z_MEM_ERROR)
        return SQLITE_NOMEM;
    return code == Z_OK && length == (uLongf)said ? SQLITE_OK : SQLITE_CORRUPT;
}

/* An .xz stream; https://tukaani.org/xz/xz-file-format.txt */
static int unpack_xz(const uint8_t *packed, size_t packed_length, uint8_t *ret, size_t said)
{
    uint64_t memory = UNPACK_MEMORY_MAX;
    size_t in = 0, out = 0;
    const lzma_ret code = lzma_stream_buffer_decode(&memory, 0, NULL, packed, &in, packed_length,
                                                    ret, &out, said + 1);

    if (code == LZMA_MEM_ERROR)
        return SQLITE_NOMEM;
    return code == LZMA_OK && in == packed_length && out == said ? SQLITE_OK : SQLITE_CORRUPT;
}

/* The length comes from the file, so it is checked before memory is taken and after unpacking. */
static int unpack(sqlite3_stmt *statement, struct text *text)
{
    static const uint8_t xz[] = {0xFD, '7', 'z', 'X', 'Z', 0};
    const void *packed = sqlite3_column_blob(statement, 0);
    const size_t packed_length = (size_t)sqlite3_column_bytes(statement, 0);
    const int64_t said = sqlite3_column_int64(statement, 1);
    if (packed == NULL || said < 0 || said > STORE_JOURNAL_MAX)
        return SQLITE_CORRUPT;
    if (!text_reserve(text, (size_t)said))
        return SQLITE_NOMEM;
    const bool is_xz = packed_length >= sizeof xz && memcmp(packed, xz, sizeof xz) == 0;
    const int code = is_xz
                         ? unpack_xz(packed, packed_length, (uint8_t *)text->data, (size_t)said)
                         : unpack_zlib(packed, packed_length, (uint8_t *)text->data, (size_t)said);
    if (code != SQLITE_OK)
        return code;
    text->length = (size_t)said;
    text->data[said] = '\0';
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
        const int state = sqlite3_column_int(statement, 2);
        *ret_riding = state == STORE_RIDING;
        missing = state == STORE_BY_HAND;
        code = *ret_riding || missing ? SQLITE_OK : unpack(statement, text);
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
