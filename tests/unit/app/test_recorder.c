/*
 * The recorder against a store that fails. The store here is the test's own, linked in place of the
 * real one.
 */
#include "app/recorder.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <dirent.h>
#include <unistd.h>

struct store {
    enum result begin, append, commit, end; /* what the calls give */
    char text[65536];                       /* as it was given, committed or not */
    size_t length;
    struct store_ride begun;
    struct store_summary summary;
    unsigned commits, ends;
};

enum result store_begin(struct store *store, const struct store_ride *ride, int64_t *ret_id)
{
    store->begun = *ride;
    if (store->begin == RESULT_OK)
        *ret_id = 7;
    return store->begin;
}

enum result store_append(struct store *store, const char *lines, size_t length)
{
    if (store->append != RESULT_OK)
        return store->append;
    assert_true(store->length + length < sizeof store->text);
    memcpy(store->text + store->length, lines, length);
    store->length += length;
    return RESULT_OK;
}

enum result store_commit(struct store *store)
{
    store->commits++;
    return store->commit;
}

enum result store_end(struct store *store, int64_t id, enum store_state state,
                      const struct store_summary *summary)
{
    assert_int_equal(id, 7);
    assert_int_equal(state, STORE_FINISHED);
    store->ends++;
    store->summary = *summary;
    return store->end;
}

const char *store_problem(const struct store *store)
{
    (void)store;
    return "the disk of this test is full";
}

static struct store store;
static struct recorder recorder;
static char folder[] = "/tmp/test_recorder.XXXXXX";

static const struct ride_setup *setup(void)
{
    static struct ride_setup ret;
    ret = (struct ride_setup){.plan = {.title = "invented", .step_count = 1}};
    ret.plan.steps[0] = (struct plan_step){.kind = STEP_WORK, .duration_ms = 180000};
    return &ret;
}

static int set_up(void **state)
{
    (void)state;
    memset(&store, 0, sizeof store);
    recorder = (struct recorder){.store = &store};
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    recorder_free(&recorder);
    return 0;
}

static void record_tick(uint64_t t_ms)
{
    const struct event tick = {.t_ms = t_ms, .kind = EVENT_TICK};
    recorder_event(&recorder, &tick);
}

static void test_what_is_recorded_reaches_the_store(void **state)
{
    (void)state;
    assert_int_equal(recorder_begin(&recorder, setup(), &(struct store_ride){.bike = "unix:/bike"}),
                     RESULT_OK);
    assert_int_equal(recorder.ride_id, 7);
    assert_string_equal(store.begun.title, "invented");
    assert_string_equal(store.begun.bike, "unix:/bike");
    record_tick(250);
    const struct effects effects = {
        2, {{.kind = EFFECT_PHASE, .phase = {PHASE_READY}}, {.kind = EFFECT_STEP, .step = {3}}}};
    recorder_effects(&recorder, &effects);
    assert_false(recorder_save(&recorder));
    assert_int_equal(store.commits, 1);
    assert_non_null(strstr(store.text, "title invented\n"));
    assert_non_null(strstr(store.text, "\n> 250 tick\n< phase phase=ready\n< step index=3\n"));
    assert_int_equal(recorder.length, store.length);
    assert_memory_equal(recorder.text, store.text, store.length);
}

static void test_a_ride_that_cannot_begin(void **state)
{
    (void)state;
    store.begin = RESULT_FULL;
    assert_int_equal(recorder_begin(&recorder, setup(), &(struct store_ride){.bike = "virtual"}),
                     RESULT_FULL);
    assert_int_equal(recorder.ride_id, 0);
    /* and then there is nothing to end */
    assert_int_equal(recorder_end(&recorder, &(struct summary){0}), RESULT_OK);
    assert_int_equal(store.ends, 0);
}

static void test_without_a_store_there_is_a_journal_all_the_same(void **state)
{
    (void)state;
    recorder.store = NULL;
    assert_int_equal(recorder_begin(&recorder, setup(), &(struct store_ride){.bike = "virtual"}),
                     RESULT_OK);
    record_tick(250);
    assert_false(recorder_save(&recorder));
    assert_int_equal(recorder_end(&recorder, &(struct summary){0}), RESULT_OK);
    assert_true(recorder.length > 0);
    assert_int_equal(store.length, 0);
}

/* The rider is told at the first failure and at the first success, not every second. */
static void test_saving_that_fails_is_told_once_and_tried_again(void **state)
{
    static const struct {
        enum result commit;
        bool changed, failing;
    } seconds[] = {
        {RESULT_OK, false, false}, {RESULT_FULL, true, true}, {RESULT_BUSY, false, true},
        {RESULT_IO, false, true},  {RESULT_OK, true, false},  {RESULT_OK, false, false},
    };
    (void)state;
    assert_int_equal(recorder_begin(&recorder, setup(), &(struct store_ride){.bike = "virtual"}),
                     RESULT_OK);
    for (size_t i = 0; i < sizeof seconds / sizeof seconds[0]; i++) {
        store.commit = seconds[i].commit;
        assert_int_equal(recorder_save(&recorder), seconds[i].changed);
        assert_int_equal(recorder.is_failing, seconds[i].failing);
    }
    assert_int_equal(store.commits, 6);
}

/* What a full store did not take is missing for good, and the rider goes on being told so. */
static void test_lines_that_the_store_did_not_take(void **state)
{
    (void)state;
    assert_int_equal(recorder_begin(&recorder, setup(), &(struct store_ride){.bike = "virtual"}),
                     RESULT_OK);
    store.append = RESULT_FULL;
    record_tick(250);
    store.append = RESULT_OK;
    record_tick(500);
    assert_true(recorder_save(&recorder));
    assert_true(recorder.is_failing);
    assert_false(recorder_save(&recorder));
    assert_true(recorder.is_failing);
    assert_non_null(strstr(recorder.text, "> 250 tick\n> 500 tick\n"));
}

/* The whole of the only file in the folder; free it. */
static char *read_only_file(void)
{
    char path[512];
    DIR *entries = opendir(folder);
    const struct dirent *entry;
    char *text = NULL;

    assert_non_null(entries);
    while ((entry = readdir(entries)) != NULL) {
        if (entry->d_name[0] == '.')
            continue;
        assert_null(text);
        (void)snprintf(path, sizeof path, "%s/%s", folder, entry->d_name);
        FILE *file = fopen(path, "r");
        assert_non_null(file);
        text = calloc(1, 65536);
        assert_non_null(text);
        assert_true(fread(text, 1, 65535, file) > 0);
        assert_int_equal(fclose(file), 0);
        assert_int_equal(unlink(path), 0);
    }
    closedir(entries);
    return text;
}

static void test_a_ride_that_cannot_be_saved_at_its_end(void **state)
{
    (void)state;
    assert_int_equal(recorder_begin(&recorder, setup(), &(struct store_ride){.bike = "virtual"}),
                     RESULT_OK);
    store.append = store.commit = store.end = RESULT_FULL;
    record_tick(250);
    assert_int_equal(recorder_end(&recorder, &(struct summary){.end = END_DONE}), RESULT_FULL);
    char *text = read_only_file();
    assert_non_null(text);
    assert_int_equal(strlen(text), recorder.length);
    assert_memory_equal(text, recorder.text, recorder.length);
    assert_non_null(strstr(text, "> 250 tick\n"));
    free(text);
}

static void test_the_summary_as_it_is_kept(void **state)
{
    const struct summary summary = {.end = END_CUT_OFF,
                                    .reason = REASON_CUT_OFF,
                                    .cut_off = CUT_OFF_HEART,
                                    .duration_ms = 60999,
                                    .work_j = -5,
                                    .in_range_s = 2,
                                    .work_s = 3,
                                    .best_5s_w = 271};
    (void)state;
    assert_int_equal(recorder_begin(&recorder, setup(), &(struct store_ride){.bike = "virtual"}),
                     RESULT_OK);
    assert_int_equal(recorder_end(&recorder, &summary), RESULT_OK);
    assert_int_equal(store.ends, 1);
    assert_int_equal(store.summary.ending, STORE_ENDING_CUT_OFF);
    assert_string_equal(store.summary.reason, "heart");
    assert_int_equal(store.summary.duration_s, 60); /* whole ones, as on every screen */
    assert_int_equal(store.summary.work_j, 0);
    assert_true(store.summary.has_in_range);
    assert_int_equal(store.summary.in_range_pct, 67);
    assert_int_equal(store.summary.best_5s_w, 271);
}

static int make_folder(void **state)
{
    (void)state;
    return mkdtemp(folder) != NULL ? setenv("TMPDIR", folder, 1) : -1;
}

static int remove_folder(void **state)
{
    (void)state;
    return rmdir(folder);
}

#define TEST(test) cmocka_unit_test_setup_teardown(test, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_what_is_recorded_reaches_the_store),
        TEST(test_a_ride_that_cannot_begin),
        TEST(test_without_a_store_there_is_a_journal_all_the_same),
        TEST(test_saving_that_fails_is_told_once_and_tried_again),
        TEST(test_lines_that_the_store_did_not_take),
        TEST(test_a_ride_that_cannot_be_saved_at_its_end),
        TEST(test_the_summary_as_it_is_kept),
    };
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
