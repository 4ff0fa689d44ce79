#include "rehearsal_output.h"

#include <langinfo.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/command.h"
#include "body/energy.h"
#include "json_line.h"

#define COLUMNS    80
#define CHART_ROWS 14
#define TEXT_SIZE  512

static void print_rider(const struct rehearsal *rehearsal, const struct rehearsal_head *head)
{
    static const char assumed[] = " (assumed)";
    const bool is_told = head->from != NULL;
    const struct rider *known = head->known;

    printf("for a critical power of %.0f W%s and a W' of %.1f kJ%s\n", rehearsal->critical_power_w,
           is_told || known->critical_power_w > 0 ? "" : assumed, rehearsal->w_prime_j / 1000.0,
           is_told || known->w_prime_j > 0 ? "" : assumed);
    if (is_told)
        printf("%s\n", head->from);
    if (rehearsal->brake != REHEARSAL_WATTS)
        puts(rehearsal->brake == REHEARSAL_LEVELS ? "on a brake that takes levels"
                                                  : "on a brake that is turned by hand");
    if (profile_asks_for_mark(head->profile) && known->mark_power_w > 0)
        printf("and a mark of %u W in the work of the last block like it\n", known->mark_power_w);
    else if (profile_asks_for_mark(head->profile))
        puts("and no mark yet: its shares are of critical power");
}

static void print_head(const struct rehearsal *rehearsal, const struct rehearsal_head *head)
{
    char text[TEXT_SIZE];
    struct text_writer writer = text_writer(text, sizeof text);

    fit_put(&writer, head->fit);
    say("%s: %s\n", head->profile->title, text);
    print_rider(rehearsal, head);
    putchar('\n');
}

static void print_chart(const struct rehearsal *rehearsal)
{
    static struct canvas canvas;
    char row[CANVAS_ROW_TEXT_MAX];

    canvas_clear(&canvas, COLUMNS, CHART_ROWS, strcmp(nl_langinfo(CODESET), "UTF-8") != 0);
    rehearsal_draw(&canvas, 0, 0, COLUMNS, CHART_ROWS, rehearsal);
    for (int i = 0; i < CHART_ROWS; i++) {
        canvas_row_text(&canvas, i, row, sizeof row);
        puts(row);
    }
}

void rehearsal_print(const struct rehearsal *rehearsal, const struct rehearsal_head *head)
{
    char text[TEXT_SIZE];
    struct text_writer writer = text_writer(text, sizeof text);

    print_head(rehearsal, head);
    rehearsal_put(&writer, rehearsal);
    rehearsal_put_verdict(&writer, rehearsal);
    printf("%s.\n\n", text);
    print_chart(rehearsal);
}

/* ---- the table ---- */

void rehearsal_print_heading(const char *title, bool by_length)
{
    printf("%s\n%-7s  Work kJ  Mean W   kcal  Reserve %%  Heart bpm\n", title,
           by_length ? "Length" : "Targets");
}

void rehearsal_print_row(const struct rehearsal *rehearsal, int32_t target_pct)
{
    const struct summary *summary = &rehearsal->summary;
    char front[16], trouble[TEXT_SIZE];
    struct text_writer writer = text_writer(front, sizeof front);

    if (target_pct == 0) {
        text_put_time(&writer, plan_length_ms(rehearsal->plan));
    } else {
        text_put_signed(&writer, target_pct);
        text_put(&writer, " %");
    }
    writer = text_writer(trouble, sizeof trouble);
    if (rehearsal->trouble != REHEARSAL_FINE) {
        text_put(&writer, "  too hard: ");
        rehearsal_put_place(&writer, rehearsal, rehearsal->trouble_at);
    }
    printf("%7s  %7.1f  %6d  %5.0f  %9d  %9d%s\n", front, (double)summary->work_j / 1000.0,
           summary->average_power_w, energy_range((double)summary->work_j / 1000.0).mid_kcal,
           rehearsal_percent(rehearsal, &rehearsal->asked), summary->max_heart_bpm, trouble);
}

/* ---- JSON ---- */

static void set_integer(json_t *object, const char *key, int64_t value)
{
    json_object_set_new(object, key, json_integer(value));
}

static void set_energy(json_t *object, int64_t work_j)
{
    const struct energy_range energy = energy_range((double)work_j / 1000.0);

    set_integer(object, "work_j", work_j);
    set_integer(object, "calories_kcal", (int64_t)(energy.mid_kcal + 0.5));
    set_integer(object, "calories_low_kcal", (int64_t)(energy.low_kcal + 0.5));
    set_integer(object, "calories_high_kcal", (int64_t)(energy.high_kcal + 0.5));
}

static const char *trouble_name(enum rehearsal_trouble trouble)
{
    static const char *const names[] = {
        [REHEARSAL_FINE] = "none",     [REHEARSAL_EMPTY] = "empty",
        [REHEARSAL_MISSED] = "missed", [REHEARSAL_LOWERED] = "lowered",
        [REHEARSAL_LEGS] = "legs",     [REHEARSAL_CUT_OFF] = "cut_off",
    };
    return names[trouble];
}

static void set_trouble(json_t *object, const struct rehearsal *rehearsal)
{
    char text[TEXT_SIZE];
    struct text_writer writer = text_writer(text, sizeof text);

    rehearsal_put_verdict(&writer, rehearsal);
    json_object_set_new(object, "trouble", json_string(trouble_name(rehearsal->trouble)));
    if (rehearsal->trouble != REHEARSAL_FINE) {
        set_integer(object, "trouble_step", (int64_t)rehearsal->trouble_at.step);
        set_integer(object, "trouble_s", rehearsal->trouble_at.at_ms / 1000);
    }
    json_object_set_new(object, "text", json_string(text));
}

/* Of brakes that are told watts there is nothing to say. */
static void set_brake(json_t *object, const struct rehearsal *rehearsal)
{
    static const char *const names[] = {[REHEARSAL_WATTS] = "watts",
                                        [REHEARSAL_LEVELS] = "levels",
                                        [REHEARSAL_BY_HAND] = "by_hand"};
    const struct rehearsal_turns *turns = &rehearsal->turns;
    const struct summary *summary = &rehearsal->summary;

    json_object_set_new(object, "brake", json_string(names[rehearsal->brake]));
    if (rehearsal->brake == REHEARSAL_WATTS)
        return;
    if (summary->work_s > 0)
        set_integer(object, "in_range_pct",
                    (100 * summary->in_range_s + summary->work_s / 2) / summary->work_s);
    set_integer(object, "changes", turns->step_count);
    set_integer(object, "too_short", turns->short_count);
    if (rehearsal->brake != REHEARSAL_BY_HAND)
        return;
    if (turns->number_w > 0)
        set_integer(object, "number_w", turns->number_w);
    set_integer(object, "turns", turns->count);
    set_integer(object, "turns_least_apart_s", (turns->least_apart_ms + 500) / 1000);
}

static json_t *seconds_of(const struct rehearsal *rehearsal)
{
    json_t *array = json_array();

    for (uint32_t i = 0; i < rehearsal->ridden_count; i++) {
        const struct rehearsal_second *second = &rehearsal->seconds[i];
        json_t *object = json_object();
        set_integer(object, "power_w", second->power_w);
        set_integer(object, "heart_bpm", second->heart_bpm);
        set_integer(object, "reserve_pct", second->reserve_pct);
        json_array_append_new(array, object);
    }
    return array;
}

bool rehearsal_print_json(const struct rehearsal *rehearsal, const struct fit *fit,
                          int32_t target_pct, bool has_seconds)
{
    const struct summary *summary = &rehearsal->summary;
    json_t *object = json_object();

    json_object_set_new(object, "profile", json_string(rehearsal->plan->title));
    set_integer(object, "length_s", plan_length_ms(rehearsal->plan) / 1000);
    set_integer(object, "planned_s", plan_duration_ms(rehearsal->plan) / 1000);
    set_integer(object, "rounds", fit->rounds);
    json_object_set_new(object, "first_block", json_boolean(fit->is_first));
    set_integer(object, "target_pct", target_pct);
    set_energy(object, summary->work_j);
    set_integer(object, "average_power_w", summary->average_power_w);
    set_integer(object, "work_power_w", summary->work_power_w);
    set_integer(object, "max_heart_bpm", summary->max_heart_bpm);
    set_integer(object, "heart_limit_bpm", rehearsal->heart_limit_bpm);
    set_integer(object, "reserve_asked_pct", rehearsal_percent(rehearsal, &rehearsal->asked));
    set_integer(object, "reserve_ridden_pct", rehearsal_percent(rehearsal, &rehearsal->ridden));
    set_integer(object, "reserve_slow_pct", rehearsal_percent(rehearsal, &rehearsal->slow));
    set_brake(object, rehearsal);
    set_trouble(object, rehearsal);
    if (has_seconds)
        json_object_set_new(object, "seconds", seconds_of(rehearsal));
    return json_line_print(object);
}
