#include "ui/report.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "report_out.h"
#include "ui/today.h"
#include "ui/words.h"

#define DAYS 7

/* ---- head ---- */

static const char head[] =
    "<!DOCTYPE html>\n"
    "<html lang=\"en\" xmlns=\"http://www.w3.org/1999/xhtml\"><head><meta charset=\"utf-8\"/>\n"
    "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n"
    "<meta http-equiv=\"Content-Security-Policy\" "
    "content=\"default-src 'none'; style-src 'unsafe-inline'\"/>\n"
    "<title>Blocks</title>\n"
    "<style>\n"
    ":root{color-scheme:light dark;--paper:#fff;--ink:#1b1b1b;--quiet:#555;--edge:#bbb;"
    "--band:#d5dbe3;--curve:#123f6d}\n"
    "@media (prefers-color-scheme:dark){:root{--paper:#15171a;--ink:#ececec;--quiet:#b0b0b0;"
    "--edge:#555;--band:#353e49;--curve:#a9cdf2}}\n"
    "@media print{:root{--paper:#fff;--ink:#000;--quiet:#333;--edge:#999;--band:#ddd;"
    "--curve:#000}}\n"
    "*{box-sizing:border-box}\n"
    "body{margin:0 auto;padding:1rem;max-width:64rem;background:var(--paper);color:var(--ink);"
    "font:1rem/1.4 system-ui,sans-serif;overflow-wrap:anywhere}\n"
    "h1{font-size:1.5rem;line-height:1.2}h2{font-size:1.2rem;margin-top:2rem}\n"
    "h3{font-size:1rem;margin:0}p{margin:.4rem 0}\n"
    ".quiet,caption,figcaption{color:var(--quiet);text-align:left}\n"
    "ol{list-style:none;margin:0;padding:0}\n"
    "li.day{border-top:1px solid var(--edge);padding:.4rem 0}\n"
    "li.none{display:none}\n"
    "table{border-collapse:collapse;width:100%;max-width:40rem;font-size:.9rem}\n"
    "th,td{border-top:1px solid var(--edge);padding:.15rem .3rem .15rem 0;text-align:left;"
    "vertical-align:top;font-weight:normal}\n"
    "th{color:var(--quiet)}th,.n{white-space:nowrap}td.n,th.n{text-align:right;font-variant-"
    "numeric:tabular-nums}\n"
    "figure{margin:.5rem 0}svg{display:block;width:100%;max-width:40rem;height:auto}\n"
    "svg text{font:12px system-ui,sans-serif;fill:var(--ink)}svg .end{text-anchor:end}\n"
    ".axis{stroke:var(--edge);fill:none}.band{fill:var(--band)}.work{fill:var(--ink)}\n"
    ".curve{stroke:var(--curve);stroke-width:1.5;fill:none;stroke-linejoin:round;"
    "stroke-linecap:round}.dot{fill:var(--curve)}\n"
    "@media (min-width:50rem){ol{display:grid;grid-template-columns:repeat(7,1fr);gap:0 .5rem}"
    "li.none{display:block}}\n"
    "@media print{body{max-width:none;padding:0;font-size:10pt}"
    "figure,li.day,tr{break-inside:avoid}h2,h3{break-after:avoid}}\n"
    "</style></head><body>\n";

static void put_sums(const struct report *report, struct sink sink)
{
    char span[PAST_SPAN_MAX], sums[PAST_SUMS_MAX];

    past_span(report->past, span, sizeof span);
    past_sums(report->past, sums, sizeof sums);
    report_put(sink, "<h1>Blocks, %s</h1>\n<p>%s.</p>\n", span, sums);
    if (report->past->only[0] != '\0') {
        report_put(sink, "<p>");
        report_text(sink, report->past->only);
        report_put(sink, ".</p>\n");
    }
}

/* ---- weeks ---- */

/* A sign of its own shape beside the words. */
static const char *sign_of(enum past_outcome outcome)
{
    switch (outcome) {
    case PAST_BETTER: return "\u25B2";
    case PAST_LOWER: return "\u25BC";
    case PAST_EVEN: return "=";
    case PAST_NOT_COMPARED:
    case PAST_TOO_FEW: return "\u00B7";
    case PAST_STOPPED:
    case PAST_CUT_OFF:
    case PAST_BROKEN_OFF:
    case PAST_UNFINISHED:
    case PAST_OUTCOME_COUNT: break;
    }
    return "\u00D7";
}

/* A block that was written down by hand may have none. */
static const char *title_of(const char *title)
{
    return title[0] != '\0' ? title : "no profile";
}

static void put_block(const struct past_block *block, struct sink sink)
{
    report_put(sink, "<p><b>");
    report_text(sink, title_of(block->title));
    report_put(sink, "</b>, ride %" PRId64 "<br/>%" PRIu32 ":%02" PRIu32, block->ride_id,
               block->length_s / 60, block->length_s % 60);
    report_put(sink, ", %.1f kJ", block->work_j / 1000.0);
    if (block->power_w > 0)
        report_put(sink, ", %" PRIu32 " W in the work", block->power_w);
    if (block->calories_kcal > 0)
        report_put(sink, ", %" PRIu32 " kcal", block->calories_kcal);
    report_put(sink, "<br/>%s %s", sign_of(block->outcome), past_outcome_text(block->outcome));
    report_put(sink, "<br/>%s", block->is_fresh ? "fresh" : "after leg work");
    if (block->feel > 0)
        report_put(sink, ", legs %s (%" PRIu32 " of 5)", today_feel_text(block->feel), block->feel);
    if (block->has_effort)
        report_put(sink, ", effort %" PRIu32 " of 10", block->effort);
    report_put(sink, "</p>\n");
}

static void put_days(const struct past *past, struct sink sink)
{
    size_t at = 0;

    report_put(sink, "<h2>Day by day</h2>\n<ol>\n");
    for (uint32_t day = 0; day < past->weeks * DAYS; day++) {
        const struct past_date *date = &past->dates[day];
        const int32_t number = past->first_day + (int32_t)day;
        const bool has_blocks = at < past->block_count && past->blocks[at].day == number;
        report_put(
            sink, "<li class=\"day%s\"><h3><time datetime=\"%04d-%02d-%02d\">%s %d %s</time></h3>",
            has_blocks ? "" : " none", date->year, date->month, date->day,
            past_weekday_text((int32_t)(day % DAYS)), date->day, past_month_text(date->month));
        for (; at < past->block_count && past->blocks[at].day == number; at++)
            put_block(&past->blocks[at], sink);
        report_put(sink, "</li>\n");
    }
    report_put(sink, "</ol>\n");
}

/* ---- the trend ---- */

static void put_trend(const struct past *past, struct sink sink)
{
    report_put(sink, "<h2>Half a year</h2>\n");
    if (past->trend.count < 2) {
        report_put(sink, "<p>Two blocks ridden to the end make a trend.</p>\n");
    } else {
        report_put(sink, "<figure>");
        report_draw_trend(sink, &past->trend);
        report_put(sink, "<figcaption>Mean power in the work of each block that was ridden to its "
                         "end");
        report_put(sink, past->trend.sources[0] != '\0' ? "; " : "");
        report_text(sink, past->trend.sources);
        report_put(sink, ".</figcaption></figure>\n");
    }
    report_put(sink, "<table><caption>Best power ever</caption>\n");
    for (size_t i = 0; i < PAST_BEST_COUNT; i++) {
        const struct past_best *best = &past->bests[i];
        report_put(sink, "<tr><th scope=\"row\">%s</th>", best->span);
        if (best->power_w > 0)
            report_put(sink,
                       "<td class=\"n\">%" PRIu32 " W</td><td>%d %s %d, ride %" PRId64 "</td>",
                       best->power_w, best->date.day, past_month_text(best->date.month),
                       best->date.year, best->ride_id);
        else
            report_put(sink, "<td class=\"n\">\u2013</td><td>not yet</td>");
        report_put(sink, "</tr>\n");
    }
    report_put(sink, "</table>\n");
}

/* ---- a block ---- */

static void begin_row(struct sink sink, const char *label)
{
    report_put(sink, "<tr><th scope=\"row\">%s</th><td>", label);
}

static void end_row(struct sink sink)
{
    report_put(sink, "</td></tr>\n");
}

static void put_text_row(struct sink sink, const char *label, const char *text)
{
    if (text[0] == '\0')
        return;
    begin_row(sink, label);
    report_text(sink, text);
    end_row(sink);
}

static void put_heart(const struct store_summary *summary, struct sink sink)
{
    if (summary->max_heart_bpm == 0)
        return;
    begin_row(sink, "Heart");
    report_put(sink, "%" PRIu32 " bpm on average, %" PRIu32 " at most", summary->average_heart_bpm,
               summary->max_heart_bpm);
    if (summary->heart_fall_bpm != 0)
        report_put(sink, "; %lld %s a minute after the work", llabs(summary->heart_fall_bpm),
                   words_heart_way(summary->heart_fall_bpm));
    end_row(sink);
}

static void put_numbers(const struct store_summary *summary, struct sink sink)
{
    begin_row(sink, "Work");
    report_put(sink, "%.1f kJ in %" PRIu32 ":%02" PRIu32, summary->work_j / 1000.0,
               summary->duration_s / 60, summary->duration_s % 60);
    if (summary->calories_kcal > 0)
        report_put(sink, ", about %" PRIu32 " kcal (between %" PRIu32 " and %" PRIu32 ")",
                   summary->calories_kcal, summary->calories_low_kcal, summary->calories_high_kcal);
    end_row(sink);
    begin_row(sink, "Power");
    report_put(sink, "%" PRIu32 " W on average", summary->average_power_w);
    if (summary->work_power_w > 0)
        report_put(sink, ", %" PRIu32 " W in the work", summary->work_power_w);
    if (summary->has_in_range)
        report_put(sink, ", %" PRIu32 " %% of the work in range", summary->in_range_pct);
    end_row(sink);
    put_heart(summary, sink);
    if (summary->distance_m == 0)
        return;
    begin_row(sink, "Distance");
    report_put(sink, "%.2f km", summary->distance_m / 1000.0);
    end_row(sink);
}

static void put_sensor(const struct store_ride *ride, struct sink sink)
{
    const struct store_summary *summary = &ride->summary;
    char text[WORDS_SENSOR_SIZE];

    if (ride->power_sensor[0] == '\0')
        return;
    begin_row(sink, "Power sensor");
    report_text(sink, ride->power_sensor);
    report_put(sink, ": ");
    report_text(sink, words_power_sensor((int32_t)summary->sensor_pct, summary->difference_tenths,
                                         (int32_t)summary->difference_error_tenths, text));
    report_put(sink, " ");
    report_text(
        sink, words_far_off(summary->difference_tenths, (int32_t)summary->difference_error_tenths));
    end_row(sink);
}

static void put_said(const struct store_ride *ride, struct sink sink)
{
    begin_row(sink, "Legs");
    report_put(sink, "%s", ride->is_fresh ? "fresh" : "after leg work");
    if (ride->feel > 0)
        report_put(sink, ", %s (%" PRIu32 " of 5)", today_feel_text(ride->feel), ride->feel);
    end_row(sink);
    if (ride->rating.has_effort) {
        begin_row(sink, "Effort");
        report_put(sink, "%" PRIu32 " of 10", ride->rating.effort);
        end_row(sink);
    }
    put_text_row(sink, "Note", ride->rating.note);
}

static void put_number(struct sink sink, int32_t number)
{
    if (number != 0)
        report_put(sink, "<td class=\"n\">%" PRId32 "</td>", number);
    else
        report_put(sink, "<td class=\"n\">\u2013</td>");
}

static void put_steps(const struct report_block *block, struct sink sink)
{
    if (block->step_count == 0)
        return;
    report_put(sink, "<table><caption>Step by step: time, what was asked for, watts, revolutions a "
                     "minute, highest heart rate</caption>\n<tr><th>Step</th>"
                     "<th class=\"n\">Time</th><th>Asked</th><th class=\"n\">W</th>"
                     "<th class=\"n\">rpm</th><th class=\"n\">bpm</th></tr>\n");
    for (size_t i = 0; i < block->step_count; i++) {
        const struct chart_step *step = &block->steps[i];
        report_put(sink, "<tr><td>%s</td><td class=\"n\">%" PRIu32 ":%02" PRIu32 "</td><td>%s</td>",
                   step->name, step->seconds / 60, step->seconds % 60, step->asked);
        put_number(sink, step->power_w);
        put_number(sink, step->cadence_rpm);
        put_number(sink, step->heart_bpm);
        report_put(sink, "</tr>\n");
    }
    report_put(sink, "</table>\n");
}

static void put_drawing(const struct report_block *block, struct sink sink)
{
    if (block->trouble[0] != '\0') {
        report_put(sink, "<p>");
        report_text(sink, block->trouble);
        report_put(sink, "</p>\n");
    }
    if (chart_rows(&block->chart) == 0)
        return;
    report_put(sink, "<figure>");
    report_draw_chart(sink, &block->chart);
    report_put(sink, "<figcaption>Shaded: what was asked for. Bars below: the work. Minutes of the "
                     "block clock.</figcaption></figure>\n");
}

static void put_ride(const struct report_block *block, struct sink sink)
{
    const struct store_ride *ride = block->ride;

    report_put(sink, "<h2>Ride %" PRId64 ": ", ride->id);
    report_text(sink, title_of(ride->title));
    report_put(sink, "</h2>\n");
    for (size_t i = 0; i < sizeof block->against / sizeof block->against[0]; i++) {
        if (block->against[i][0] == '\0')
            continue;
        report_put(sink, "<p>");
        report_text(sink, block->against[i]);
        report_put(sink, ".</p>\n");
    }
    put_drawing(block, sink);
    report_put(sink, "<table>\n");
    put_text_row(sink, "Started", block->started);
    put_text_row(sink, "Bike", ride->bike);
    put_text_row(sink, "End", block->end);
    if (ride->state != STORE_RIDING) {
        put_numbers(&ride->summary, sink);
        put_sensor(ride, sink);
    }
    put_said(ride, sink);
    report_put(sink, "</table>\n");
    put_steps(block, sink);
}

void report_write(const struct report *report, struct sink sink)
{
    sink.put(sink.user, head, sizeof head - 1);
    put_sums(report, sink);
    put_days(report->past, sink);
    put_trend(report->past, sink);
    if (report->block != NULL)
        put_ride(report->block, sink);
    report_put(
        sink,
        "<p class=\"quiet\">Made by afterset on %d %s %d. Better: with 95 %% certainty above "
        "the mean of the last comparable blocks, those of the same profile and bike. This "
        "is training software, not a medical device.</p>\n</body></html>\n",
        report->made.day, past_month_text(report->made.month), report->made.year);
}
