#include "support/screen_file.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static size_t dump(const struct canvas *canvas, char *ret, size_t size)
{
    size_t length = 0;

    for (int row = 0; row < canvas->rows; row++) {
        char text[CANVAS_ROW_TEXT_MAX];
        canvas_row_text(canvas, row, text, sizeof text);
        length += (size_t)snprintf(ret + length, size - length, "%s\n", text);
        assert_true(length < size);
    }
    return length;
}

void screen_file_compare(const struct canvas *canvas, const char *path)
{
    static char drawn[100000], expected[100000];
    const size_t length = dump(canvas, drawn, sizeof drawn);
    const bool writes = getenv("AFTERSET_WRITE_SCREENS") != NULL;
    FILE *file = fopen(path, writes ? "w" : "r");

    if (file == NULL)
        fail_msg("%s cannot be opened", path);
    if (writes) {
        assert_int_equal(fwrite(drawn, 1, length, file), length);
    } else {
        expected[fread(expected, 1, sizeof expected - 1, file)] = '\0';
        if (strcmp(drawn, expected) != 0)
            fail_msg("%s is not what is drawn:\n%s", path, drawn);
    }
    assert_int_equal(fclose(file), 0);
}
