/*
 * The table of faults in DEVELOPERS.md against the program: no cell is empty, each test that it
 * names exists, and its limits are those that a rider without limits of their own gets.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "ride/limits.h"

#define CELLS   6u
#define ROW_MAX 1024

enum { LIMIT_CELL = 2, TEST_CELL = 5 };

static struct limits limits;

/* All are four octets wide. */
#define LIMIT(name)         \
    {                       \
#name, &limits.name \
    }
static const struct {
    const char *name;
    const void *value;
} known[] = {
    LIMIT(load_max_w),        LIMIT(ramp_w_per_s),    LIMIT(step_max_w),     LIMIT(power_max_w),
    LIMIT(cadence_max_rpm),   LIMIT(over_for_ms),     LIMIT(floor_for_ms),   LIMIT(data_stale_ms),
    LIMIT(cadence_floor_rpm), LIMIT(data_lost_ms),    LIMIT(heart_stale_ms), LIMIT(link_lost_ms),
    LIMIT(heart_limit_bpm),   LIMIT(heart_window_ms), LIMIT(answer_ms),      LIMIT(jump_ms),
    LIMIT(hold_max_ms),       LIMIT(leave_max_ms),
};

static int32_t value_of(const char *name, size_t length)
{
    int32_t value = 0;

    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
        if (strlen(known[i].name) == length && strncmp(known[i].name, name, length) == 0) {
            memcpy(&value, known[i].value, sizeof value);
            return value;
        }
    fail_msg("there is no limit %.*s", (int)length, name);
    return value;
}

/* "`name` number", as often as it comes. */
static unsigned check_limits(const char *cell)
{
    unsigned count = 0;
    const char *begin = cell;

    while ((begin = strchr(begin, '`')) != NULL) {
        const char *end = strchr(++begin, '`');
        assert_non_null(end);
        const long written = strtol(end + 1, NULL, 10);
        if (written != value_of(begin, (size_t)(end - begin)))
            fail_msg("%s: it is %d", begin, value_of(begin, (size_t)(end - begin)));
        begin = end + 1;
        count++;
    }
    return count;
}

/* "room/file:test", below tests/unit or, for journeys, tests. */
static void check_test(const char *cell)
{
    static char text[65536];
    char path[256], wanted[128];
    const char *colon = strchr(cell, ':');

    assert_non_null(colon);
    (void)snprintf(path, sizeof path, "tests/%s%.*s", strncmp(cell, "e2e/", 4) == 0 ? "" : "unit/",
                   (int)(colon - cell), cell);
    FILE *file = fopen(path, "r");
    if (file == NULL)
        fail_msg("%s does not exist", path);
    text[fread(text, 1, sizeof text - 1, file)] = '\0';
    assert_int_equal(fclose(file), 0);
    (void)snprintf(wanted, sizeof wanted, " %s(", colon + 1);
    if (strstr(text, wanted) == NULL)
        fail_msg("%s has no test %s", path, colon + 1);
}

/* Cuts a row "| a | b |" into its cells. */
static void cut(char *row, char *cells[CELLS])
{
    char *at = row + 1;

    for (size_t i = 0; i < CELLS; i++) {
        char *end = strchr(at, '|');
        if (end == NULL)
            fail_msg("too few cells: %s", row);
        cells[i] = at + 1;
        end[-1] = '\0';
        if (end - at < 3)
            fail_msg("cell %zu is empty: %s", i + 1, row);
        at = end + 1;
    }
    assert_string_equal(at, "\n");
}

static void table_is_true(void **state)
{
    char row[ROW_MAX], *cells[CELLS];
    unsigned rows = 0, limits_found = 0;
    bool is_inside = false;
    (void)state;

    limits_set(&(struct rider){0}, NULL, 0, &limits);
    FILE *file = fopen("DEVELOPERS.md", "r");
    assert_non_null(file);
    while (fgets(row, sizeof row, file) != NULL) {
        if (row[0] == '#')
            is_inside = strcmp(row, "### Faults\n") == 0;
        if (!is_inside || row[0] != '|' || row[1] == '-' || strncmp(row, "| fault |", 9) == 0)
            continue;
        cut(row, cells);
        limits_found += check_limits(cells[LIMIT_CELL]);
        check_test(cells[TEST_CELL]);
        rows++;
    }
    assert_int_equal(fclose(file), 0);
    assert_true(rows >= 25);
    assert_true(limits_found >= sizeof known / sizeof known[0]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(table_is_true)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
