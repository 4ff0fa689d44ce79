/* Journals: what is written is read again; what is faulty is told with its place. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "support/drive.h"
#include "text/journal.h"

static const char setup_lines[] = "afterset-journal 1\n"
                                  "title test\n"
                                  "rider mass_kg=75.5 age_years=40\n"
                                  "step kind=work duration_ms=20000 power_w=190..210 round=1 "
                                  "rounds=8\n";

static void assert_line(const struct event *event, const char *line)
{
    char text[JOURNAL_LINE_MAX];
    struct text_writer writer = text_writer(text, sizeof text);
    char journal[1024];
    struct ride_setup setup;
    struct text_fault fault;
    struct event read;

    journal_put_event(&writer, event);
    assert_string_equal(text, line);
    (void)strcpy(journal, setup_lines);
    (void)strcat(journal, text);
    struct journal_reader reader = journal_reader(journal, strlen(journal));
    assert_int_equal(journal_read_setup(&reader, &setup, &fault), RESULT_OK);
    assert_int_equal(journal_read_event(&reader, &read, &fault), RESULT_OK);
    assert_memory_equal(&read, event, sizeof read);
    assert_int_equal(journal_read_event(&reader, &read, &fault), RESULT_NOT_FOUND);
}

static void every_event_is_a_line_and_back(void **state)
{
    static const struct {
        struct event event;
        const char *line;
    } rows[] = {
        {{.t_ms = 0, .kind = EVENT_TICK}, "> 0 tick\n"},
        {{.t_ms = 1, .kind = EVENT_KEY, .key = {KEY_SKIP}}, "> 1 key key=skip\n"},
        {{.t_ms = 2, .kind = EVENT_LINK, .link = {LINK_STRAP, true}},
         "> 2 link source=strap up=1\n"},
        {{.t_ms = 3, .kind = EVENT_LINK}, "> 3 link\n"},
        {{.t_ms = 4, .kind = EVENT_MACHINE, .machine = {true, true, 25, 600, -10, 200}},
         "> 4 machine takes_power=1 takes_level=1 power_min_w=25 power_max_w=600 "
         "level_min_tenths=-10 level_max_tenths=200\n"},
        {{.t_ms = 123456789, .kind = EVENT_TELEMETRY, .telemetry = {15, -50, 90, 1234, 150}},
         "> 123456789 data has=15 power_w=-50 cadence_rpm=90 distance_m=1234 heart_bpm=150\n"},
        {{.t_ms = 6, .kind = EVENT_HEART, .heart = {171, CONTACT_GOOD}},
         "> 6 heart heart_bpm=171 contact=good\n"},
        {{.t_ms = 7,
          .kind = EVENT_ANSWER,
          .answer = {COMMAND_LOAD, ANSWER_NOT_PERMITTED, {LOAD_LEVEL, 85}}},
         "> 7 answer command=load answer=not_permitted kind=level value=85\n"},
        {{.t_ms = 8, .kind = EVENT_STATUS, .status = {STATUS_SAFETY_KEY}},
         "> 8 status status=safety_key\n"},
        {{.t_ms = 9,
          .kind = EVENT_SENSOR,
          .sensor = {LINK_POWER, HAS_POWER | HAS_CADENCE, 250, 90}},
         "> 9 sensor source=power has=3 power_w=250 cadence_rpm=90\n"},
        {{.t_ms = 9, .kind = EVENT_STORE, .store = {true}}, "> 9 store failed=1\n"},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_line(&rows[i].event, rows[i].line);
}

static void a_setup_is_read_as_it_was_written(void **state)
{
    static struct drive drive;
    static char text[PLAN_STEPS_MAX * 100], again[PLAN_STEPS_MAX * 100];
    struct text_writer writer = text_writer(text, sizeof text);
    struct ride_setup setup, read;
    struct text_fault fault;

    (void)state;
    drive_init(&drive);
    setup = drive.ride.setup;
    setup.rider = (struct rider){.mass_kg = 82.3,
                                 .age_years = 44,
                                 .heart_slowed = true,
                                 .is_new = true,
                                 .heart_limit_bpm = 150,
                                 .critical_power_w = 210,
                                 .w_prime_j = 17500};
    setup.plan.steps[0] = (struct plan_step){
        .kind = STEP_FLOOR, .duration_ms = 32000, .reps = {8, 3010}, .cue_text = "Squats, slowly"};
    setup.plan.steps[2].end = (struct step_end){UNTIL_HEART, 120};
    setup.plan.steps[2].ramp_to = (struct step_targets){.power_w = {true, 1, 2},
                                                        .cadence_rpm = {true, 3, 4},
                                                        .heart_bpm = {true, 5, 6},
                                                        .level_tenths = {true, 7, 8},
                                                        .effort = {true, 9, 10}};
    setup.plan.steps[2].targets.effort = (struct target_range){true, 3, 5};
    setup.strap_expected = true;
    setup.holds_power = true;
    setup.brake = (struct brake_curve){{20000, 401234, 0, -5}, 750};
    setup.tells_knob = setup.compares_powers = true;
    setup.knob = (struct knob_place){true, 7, 10};
    journal_put_setup(&writer, &setup);
    assert_false(writer.failed);
    struct journal_reader reader = journal_reader(text, writer.length);
    assert_int_equal(journal_read_setup(&reader, &read, &fault), RESULT_OK);
    assert_int_equal(reader.at, writer.length);
    writer = text_writer(again, sizeof again);
    journal_put_setup(&writer, &read);
    assert_string_equal(again, text);
    assert_int_equal(read.plan.step_count, setup.plan.step_count);
    for (size_t i = 0; i < 3; i++)
        assert_memory_equal(&read.plan.steps[i], &setup.plan.steps[i], sizeof(struct plan_step));
    assert_true(read.rider.heart_slowed && read.strap_expected);
    assert_true(read.rider.is_new && read.is_watched && read.holds_power);
    assert_memory_equal(&read.brake, &setup.brake, sizeof read.brake);
    assert_true(read.tells_knob && read.knob.is_known && read.compares_powers);
    assert_true(read.knob.position == 7 && read.knob.top == 10);
}

struct row {
    const char *text; /* after the setup lines, unless it begins with "afterset" or is empty */
    enum result result;
    uint32_t line, column;
};

static void faults_have_their_place(void **state)
{
    static const struct row rows[] = {
        {"", RESULT_INVALID, 1, 1},
        {"afterset-journa", RESULT_INVALID, 1, 1},
        {"afterset-journal 2\n", RESULT_UNSUPPORTED, 1, 18},
        {"afterset-journal 1\n", RESULT_INVALID, 1, 1},
        {"afterset-journal 1\nnonsense\n", RESULT_INVALID, 2, 1},
        {"afterset-journal 1\nstep kind=jump\n", RESULT_INVALID, 2, 6},
        {"afterset-journal 1\nstep duration_ms=999\n", RESULT_RANGE, 2, 1},
        {"afterset-journal 1\nstep duration_ms=1000 power_w=0..999999\n", RESULT_RANGE, 2, 1},
        {"afterset-journal 1\nstep duration_ms=1000 power_w=9..8\n", RESULT_INVALID, 2, 23},
        {"afterset-journal 1\nstep duration_ms=1000 to_level_tenths=0..999999\n", RESULT_RANGE, 2,
         1},
        {"afterset-journal 1\nstep duration_ms=1000 until=work\n", RESULT_RANGE, 2, 1},
        {"afterset-journal 1\nstep duration_ms=1000 until_value=5\n", RESULT_RANGE, 2, 1},
        {"afterset-journal 1\nstep duration_ms=1000 until=noon\n", RESULT_INVALID, 2, 23},
        {"afterset-journal 1\nstep kind=floor duration_ms=1000 reps=1 tempo=3010\n", RESULT_RANGE,
         2, 1},
        {"afterset-journal 1\nstep duration_ms=1000\nstep kind=floor duration_ms=1000\n",
         RESULT_RANGE, 3, 1},
        {"afterset-journal 1\nstep kind=floor duration_ms=1000\n", RESULT_INVALID, 2, 1},
        {"afterset-journal 1\ncue A\n", RESULT_RANGE, 2, 5},
        {"afterset-journal 1\nstep duration_ms=1000\n"
         "cue 12345678901234567890123456789012345678901\n",
         RESULT_RANGE, 3, 5},
        {"afterset-journal 1\nrider mass_kg=75\n", RESULT_INVALID, 2, 7},
        {"afterset-journal 1\nknob is_known=1 position=11 top=10\n", RESULT_RANGE, 2, 1},
        {"afterset-journal 1\nknob position=-1\n", RESULT_RANGE, 2, 1},
        {"afterset-journal 1\nknob top=101\n", RESULT_RANGE, 2, 1},
        {"afterset-journal 1\nbrake c0_mw=x\n", RESULT_INVALID, 2, 7},
        {"afterset-journal 1\nbrake c4_mw=1\n", RESULT_INVALID, 2, 7},
        {"afterset-journal 1\nrider age_years=65536\n", RESULT_INVALID, 2, 7},
        {"> x tick\n", RESULT_INVALID, 5, 1},
        {"> 5\n", RESULT_INVALID, 5, 1},
        {"> 5 jump\n", RESULT_INVALID, 5, 1},
        {"> 5 ticks\n", RESULT_INVALID, 5, 1},
        {"tick\n", RESULT_INVALID, 5, 1},
        {"> 5 tick x=1\n", RESULT_INVALID, 5, 10},
        {"> 5 key key=jump\n", RESULT_INVALID, 5, 9},
        {"> 5 data power_w=12x\n", RESULT_INVALID, 5, 10},
        {"> 5 data power_w=2147483648\n", RESULT_INVALID, 5, 10},
        {"> 5 data power_w=99999999999999999999\n", RESULT_INVALID, 5, 10},
        {"> 5 data power_w=\n", RESULT_INVALID, 5, 10},
        {"> 5 link up=2\n", RESULT_INVALID, 5, 10},
        {"> 5 tick\n> 4 tick\n", RESULT_RANGE, 6, 3},
    };

    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct row *row = &rows[i];
        char journal[1024] = "";
        struct ride_setup setup;
        struct text_fault fault = {0};
        struct event event;
        enum result result;

        if (row->text[0] != '\0' && strncmp(row->text, "afterset", 8) != 0)
            (void)strcpy(journal, setup_lines);
        (void)strcat(journal, row->text);
        struct journal_reader reader = journal_reader(journal, strlen(journal));
        result = journal_read_setup(&reader, &setup, &fault);
        while (result == RESULT_OK)
            result = journal_read_event(&reader, &event, &fault);
        if (result != row->result || fault.line != row->line || fault.column != row->column)
            print_message("row %zu: %s at %u:%u: %s\n", i, result_text(result), fault.line,
                          fault.column, fault.message);
        assert_int_equal(result, row->result);
        assert_int_equal(fault.line, row->line);
        assert_int_equal(fault.column, row->column);
        assert_true(fault.message[0] != '\0');
    }
}

static void a_line_that_was_cut_short_does_not_count(void **state)
{
    char journal[1024];
    struct ride_setup setup;
    struct text_fault fault;
    struct event event;

    (void)state;
    (void)strcpy(journal, setup_lines);
    (void)strcat(journal, "> 5 tick\n> 6 data power_w=20");
    struct journal_reader reader = journal_reader(journal, strlen(journal));
    assert_int_equal(journal_read_setup(&reader, &setup, &fault), RESULT_OK);
    assert_int_equal(journal_read_event(&reader, &event, &fault), RESULT_OK);
    assert_int_equal(journal_read_event(&reader, &event, &fault), RESULT_NOT_FOUND);
}

/* Hostile text: a sound journal with chance octets put over it, in a heap block of its exact size,
 * so that a read past its end is seen. What still reads is ridden. */
static void chance_octets_are_told_or_ridden(void **state)
{
    static const char events[] = "> 0 link up=1\n> 0 machine takes_power=1\n"
                                 "> 250 data has=3 power_w=100 cadence_rpm=90\n< phase\n"
                                 "> 3500 tick\n> 4000 heart heart_bpm=150\n> 4100 key key=more\n";
    static struct ride_setup setup;
    static struct ride ride;
    struct effects effects;
    struct text_fault fault;
    struct event event;
    unsigned seed = 7;

    (void)state;
    for (int round = 0; round < 20000; round++) {
        const size_t full = sizeof setup_lines - 1 + sizeof events - 1;
        seed = seed * 1103515245u + 12345u;
        const size_t length = round % 2 == 0 ? full : (seed >> 8) % full;
        char *text = malloc(length > 0 ? length : 1);
        assert_non_null(text);
        for (size_t i = 0; i < length; i++)
            text[i] =
                i < sizeof setup_lines - 1 ? setup_lines[i] : events[i - (sizeof setup_lines - 1)];
        for (int change = 0; change < 3 && length > 0; change++) {
            seed = seed * 1103515245u + 12345u;
            text[(seed >> 8) % length] = (char)(seed >> 24);
        }
        struct journal_reader reader = journal_reader(text, length);
        if (journal_read_setup(&reader, &setup, &fault) == RESULT_OK) {
            ride_init(&ride, &setup);
            while (journal_read_event(&reader, &event, &fault) == RESULT_OK)
                ride_step(&ride, &event, &effects);
        }
        free(text);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_event_is_a_line_and_back),
        cmocka_unit_test(a_setup_is_read_as_it_was_written),
        cmocka_unit_test(faults_have_their_place),
        cmocka_unit_test(a_line_that_was_cut_short_does_not_count),
        cmocka_unit_test(chance_octets_are_told_or_ridden),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
