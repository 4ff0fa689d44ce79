/*
 * What is remembered of a machine's brake.
 */
#include "port/brake_store.h"

#include "support/store_fixture.h"

static const char bike[] = "C0:00:00:00:00:01/random";

static void test_comes_back(void **state)
{
    const struct brake_curve first = {{21000, 380500, -1, 7}, 640};
    const struct brake_curve second = {{1, 2, 3, 4}, 5};
    struct brake_curve read = {0};
    struct store *store = fixture_open();
    (void)state;

    assert_int_equal(store_brake(store, bike, &read), RESULT_NOT_FOUND);
    assert_int_equal(store_keep_brake(store, bike, &first), RESULT_OK);
    assert_int_equal(store_brake(store, "another", &read), RESULT_NOT_FOUND);
    store_close(store);
    store = fixture_open();
    assert_int_equal(store_brake(store, bike, &read), RESULT_OK);
    assert_memory_equal(&read, &first, sizeof read);
    assert_int_equal(store_keep_brake(store, bike, &second), RESULT_OK);
    assert_int_equal(store_brake(store, bike, &read), RESULT_OK);
    assert_memory_equal(&read, &second, sizeof read);
    store_close(store);
}

static void test_strangers_do_no_harm(void **state)
{
    struct brake_curve read = {0};
    struct store *store = fixture_open();
    (void)state;

    store_close(store);
    fixture_execute("INSERT INTO brake VALUES ('C0:00:00:00:00:01/random', 9223372036854775807,"
                    " -9223372036854775808, 2147483647, 5, 9223372036854775807)");
    store = fixture_open();
    assert_int_equal(store_brake(store, bike, &read), RESULT_OK);
    assert_int_equal(read.terms_mw[0], 0);
    assert_int_equal(read.terms_mw[1], 0);
    assert_int_equal(read.terms_mw[2], INT32_MAX);
    assert_int_equal(read.terms_mw[3], 5);
    assert_int_equal(read.ridden_permille, 0);
    store_close(store);
}

static void test_damage_is_told(void **state)
{
    struct brake_curve read = {{1, 2, 3, 4}, 5};
    struct store *store = fixture_open();
    (void)state;

    assert_int_equal(sqlite3_exec(fixture_database, "DROP TABLE brake", NULL, NULL, NULL),
                     SQLITE_OK);
    assert_int_not_equal(store_brake(store, bike, &read), RESULT_OK);
    assert_int_equal(read.terms_mw[0], 1);
    assert_int_not_equal(store_keep_brake(store, bike, &read), RESULT_OK);
    assert_string_not_equal(store_problem(store), "");
    store_close(store);
}

static void test_a_knob_comes_back(void **state)
{
    const struct knob_place first = {true, 7, 10}, second = {true, 0, 25};
    struct knob_place read = {0};
    struct store *store = fixture_open();
    (void)state;

    assert_int_equal(store_knob(store, bike, &read), RESULT_NOT_FOUND);
    assert_int_equal(store_keep_knob(store, bike, &first), RESULT_OK);
    assert_int_equal(store_knob(store, "another", &read), RESULT_NOT_FOUND);
    store_close(store);
    store = fixture_open();
    assert_int_equal(store_knob(store, bike, &read), RESULT_OK);
    assert_true(read.is_known && read.position == 7 && read.top == 10);
    assert_int_equal(store_keep_knob(store, bike, &second), RESULT_OK);
    assert_int_equal(store_knob(store, bike, &read), RESULT_OK);
    assert_true(read.is_known && read.position == 0 && read.top == 25);
    fixture_execute("UPDATE knob SET position = 26");
    assert_int_equal(store_knob(store, bike, &read), RESULT_NOT_FOUND);
    fixture_execute("UPDATE knob SET position = 9223372036854775807, top = 9223372036854775807");
    assert_int_equal(store_knob(store, bike, &read), RESULT_NOT_FOUND);
    store_close(store);
}

#define TEST(func) cmocka_unit_test_setup_teardown(func, fixture_set_up, fixture_tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_comes_back),
        TEST(test_a_knob_comes_back),
        TEST(test_strangers_do_no_harm),
        TEST(test_damage_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
