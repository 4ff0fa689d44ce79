/*
 * The page to look at: what it says, and that no text of riders and devices becomes markup. All
 * names and numbers are invented. tests/e2e/test_report.py looks at it with a browser.
 */
#include "ui/report.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "support/past.h"

#define HOSTILE "<script>alert('1')</script>&\"\x1b\x7f"
#define ESCAPED "<bdi>&lt;script&gt;alert(&#39;1&#39;)&lt;/script&gt;&amp;&quot;</bdi>"

static struct past_fixture fixture;
static struct store_ride ride;
static struct chart_second seconds[300];
static struct chart_step step;
static struct report_block block;
static struct report report;
static char page[200000];
static size_t length;

static int set_up(void **state)
{
    (void)state;
    past_fixture_full(&fixture);
    ride = (struct store_ride){.id = 305, .title = "20/10", .bike = "virtual"};
    ride.state = STORE_FINISHED;
    ride.summary = (struct store_summary){
        .duration_s = 300, .work_j = 61234, .average_power_w = 204, .work_power_w = 243};
    for (int i = 0; i < 300; i++)
        seconds[i] = (struct chart_second){.is_on_plan = true,
                                           .kind = i % 60 < 40 ? STEP_WORK : STEP_REST,
                                           .has = {true, true, true},
                                           .value = {200 + i % 7, 120 + i / 10, 90},
                                           .range = {{true, 190, 210}}};
    step = (struct chart_step){.name = "work 1 of 5", .asked = "190..210 W", .seconds = 40};
    block = (struct report_block){.ride = &ride,
                                  .started = "2025-11-11 18:05",
                                  .end = "done",
                                  .against = {"", "Better than the 3 before", "", ""},
                                  .chart = {300, seconds},
                                  .steps = &step,
                                  .step_count = 1,
                                  .trouble = ""};
    report = (struct report){&fixture.past, &block, {2025, 11, 16}};
    return 0;
}

static void put(void *user, const char *text, size_t octets)
{
    (void)user;
    assert_true(length + octets < sizeof page);
    memcpy(page + length, text, octets);
    length += octets;
    page[length] = '\0';
}

static void write_page(void)
{
    length = 0;
    report_write(&report, (struct sink){.put = put});
}

static size_t count(const char *wanted)
{
    size_t times = 0;
    for (const char *at = page; (at = strstr(at, wanted)) != NULL; at++)
        times++;
    return times;
}

static void assert_has(const char *wanted)
{
    if (count(wanted) == 0)
        fail_msg("'%s' is not in the page", wanted);
}

static void it_says_what_there_is(void **state)
{
    (void)state;
    write_page();
    assert_has("<h1>Blocks, 3 Nov to 16 Nov 2025</h1>");
    assert_has("7 blocks, 315.7 kJ, 375 kcal, 1 beat those before");
    assert_has("<time datetime=\"2025-11-11\">Tue 11 Nov</time>");
    assert_has("\u25B2 better than those before");
    assert_has("<td class=\"n\">702 W</td><td>5 Nov 2025");
    assert_has("Ride 305: <bdi>20/10</bdi>");
    assert_has("<p><bdi>Better than the 3 before</bdi>.</p>");
    assert_has("<td>work 1 of 5</td><td class=\"n\">0:40</td><td>190..210 W</td>");
    assert_int_equal(count("<li class=\"day none\">"), 10);
    assert_int_equal(count("<li class=\"day\">"), 4);
    assert_int_equal(count("<svg "), 2);
    assert_int_equal(count("<circle "), 32);
    assert_int_equal(count("<rect class=\"work\""), 5);
    assert_int_equal(count("<rect class=\"band\""), 1); /* one range all along */
    assert_has("</body></html>\n");
}

static void legs_are_told_as_far_as_they_were(void **state)
{
    (void)state;
    ride.is_fresh = false;
    write_page();
    assert_has(">after leg work</td>");
    ride.feel = 4;
    write_page();
    assert_has(">after leg work, good (4 of 5)</td>");
}

static void it_is_for_telephones_and_paper_and_fetches_nothing(void **state)
{
    (void)state;
    write_page();
    assert_has("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>");
    assert_has("content=\"default-src 'none'; style-src 'unsafe-inline'\"");
    assert_has("@media print");
    assert_has("prefers-color-scheme:dark");
    assert_int_equal(count("src="), 0);
    assert_int_equal(count("href="), 0);
    assert_int_equal(count("url("), 0);
    assert_int_equal(count("<script"), 0);
}

static void hostile_texts_stay_text(void **state)
{
    (void)state;
    (void)snprintf(ride.title, sizeof ride.title, "%s", HOSTILE);
    (void)snprintf(ride.bike, sizeof ride.bike, "%s", HOSTILE);
    (void)snprintf(ride.rating.note, sizeof ride.rating.note, "%s", HOSTILE);
    (void)snprintf(fixture.blocks[0].title, sizeof fixture.blocks[0].title, "%s", HOSTILE);
    fixture.past.only = block.end = block.trouble = block.started = HOSTILE;
    block.against[0] = HOSTILE;
    write_page();
    assert_int_equal(count("<script"), 0);
    assert_int_equal(count(ESCAPED), 9);
    assert_int_equal(count("\x1b") + count("\x7f"), 0);
}

static void what_is_missing_is_left_out(void **state)
{
    (void)state;
    for (int i = 0; i < 300; i++)
        seconds[i].has[CHART_HEART] = false;
    write_page();
    assert_int_equal(count(">heart, bpm<"), 0);
    assert_has(">power, W<");
    block.chart.count = 0;
    block.step_count = 0;
    block.trouble = "There is no journal of it.";
    write_page();
    assert_int_equal(count("<svg "), 1);
    assert_int_equal(count("Step by step"), 0);
    assert_has("<p><bdi>There is no journal of it.</bdi></p>");
    report.block = NULL;
    past_fixture_empty(&fixture);
    write_page();
    assert_int_equal(count("<svg "), 0);
    assert_int_equal(count("<h2>Ride"), 0);
    assert_has("Two blocks ridden to the end make a trend.");
    assert_has("no blocks.");
}

static void any_numbers_are_written_whole(void **state)
{
    (void)state;
    ride.summary = (struct store_summary){.duration_s = UINT32_MAX,
                                          .work_j = UINT32_MAX,
                                          .distance_m = UINT32_MAX,
                                          .average_power_w = UINT32_MAX,
                                          .work_power_w = UINT32_MAX,
                                          .calories_kcal = UINT32_MAX,
                                          .calories_low_kcal = UINT32_MAX,
                                          .calories_high_kcal = UINT32_MAX,
                                          .has_in_range = true,
                                          .in_range_pct = UINT32_MAX,
                                          .average_heart_bpm = UINT32_MAX,
                                          .max_heart_bpm = UINT32_MAX,
                                          .heart_fall_bpm = INT32_MIN};
    ride.id = INT64_MAX;
    for (size_t i = 0; i < fixture.past.block_count; i++) {
        fixture.blocks[i].ride_id = INT64_MIN;
        fixture.blocks[i].length_s = fixture.blocks[i].work_j = UINT32_MAX;
        fixture.blocks[i].power_w = fixture.blocks[i].effort = fixture.blocks[i].feel = UINT32_MAX;
    }
    fixture.points[0].value = INT32_MAX;
    fixture.points[1].value = INT32_MIN;
    seconds[0].value[CHART_POWER] = INT32_MAX;
    seconds[1].range[CHART_POWER] = (struct target_range){true, INT32_MIN, INT32_MAX};
    step.power_w = step.cadence_rpm = step.heart_bpm = INT32_MIN;
    step.seconds = UINT32_MAX;
    write_page();
    assert_has("</body></html>\n");
    assert_int_equal(count("nan"), 0);
    assert_int_equal(count("inf"), 0);
}

int main(void)
{
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(it_says_what_there_is, set_up),
        cmocka_unit_test_setup(legs_are_told_as_far_as_they_were, set_up),
        cmocka_unit_test_setup(it_is_for_telephones_and_paper_and_fetches_nothing, set_up),
        cmocka_unit_test_setup(hostile_texts_stay_text, set_up),
        cmocka_unit_test_setup(what_is_missing_is_left_out, set_up),
        cmocka_unit_test_setup(any_numbers_are_written_whole, set_up),
    };
    return cmocka_run_group_tests_name("report", tests, NULL, NULL);
}
