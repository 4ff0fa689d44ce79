#include "body/critical_power.h"

#include <assert.h>
#include <math.h>
#include <stdint.h>

static enum result check(const struct trial *trials, size_t count)
{
    if (count < 2)
        return RESULT_NEED_MORE;
    if (count > CRITICAL_POWER_TRIALS_MAX)
        return RESULT_FULL;
    for (size_t i = 0; i < count; i++)
        if (!(trials[i].time_s > 0 && trials[i].power_w > 0) ||
            !(trials[i].time_s * trials[i].power_w < HUGE_VAL))
            return RESULT_INVALID;
    return RESULT_OK;
}

/* ---- a straight line ---- */

struct points {
    size_t count;
    double x[CRITICAL_POWER_TRIALS_MAX], y[CRITICAL_POWER_TRIALS_MAX];
};

struct line {
    double slope, intercept;
    double squares;        /* of what is left over */
    double mean_x, spread; /* sum of squares about it */
};

static struct line line_through(const struct points *points)
{
    struct line line = {0};
    double mean_y = 0, product = 0;

    for (size_t i = 0; i < points->count; i++) {
        line.mean_x += points->x[i] / (double)points->count;
        mean_y += points->y[i] / (double)points->count;
    }
    for (size_t i = 0; i < points->count; i++) {
        const double dx = points->x[i] - line.mean_x;
        line.spread += dx * dx;
        product += dx * (points->y[i] - mean_y);
    }
    line.slope = line.spread > 0 ? product / line.spread : 0;
    line.intercept = mean_y - line.slope * line.mean_x;
    for (size_t i = 0; i < points->count; i++) {
        const double left = points->y[i] - line.intercept - line.slope * points->x[i];
        line.squares += left * left;
    }
    return line;
}

static struct critical_power of_line(const struct line *line, size_t count, bool slope_is_power)
{
    struct critical_power fit = {.has_errors = count > 2};
    const double variance = fit.has_errors ? line->squares / (double)(count - 2) : 0;
    const double slope_error = sqrt(variance / line->spread);
    const double intercept_error =
        sqrt(variance * (1 / (double)count + line->mean_x * line->mean_x / line->spread));

    fit.power_w = slope_is_power ? line->slope : line->intercept;
    fit.w_prime_j = slope_is_power ? line->intercept : line->slope;
    fit.power_error_w = slope_is_power ? slope_error : intercept_error;
    fit.w_prime_error_j = slope_is_power ? intercept_error : slope_error;
    return fit;
}

static struct points points_of(const struct trial *trials, size_t count, bool work_time)
{
    struct points points = {.count = count};
    for (size_t i = 0; i < count; i++) {
        points.x[i] = work_time ? trials[i].time_s : 1 / trials[i].time_s;
        points.y[i] = work_time ? trials[i].time_s * trials[i].power_w : trials[i].power_w;
    }
    return points;
}

/* ---- a hyperbola: for each CP the rest is linear, so CP alone is searched ---- */

/* The line of t on 1 / (power - CP) through the origin: W' is its slope. */
static struct line hyperbola_at(const struct trial *trials, size_t count, double power_w)
{
    struct line line = {0};
    double product = 0, square = 0;

    for (size_t i = 0; i < count; i++) {
        const double inverse = 1 / (trials[i].power_w - power_w);
        product += inverse * trials[i].time_s;
        square += inverse * inverse;
    }
    line.slope = product / square;
    for (size_t i = 0; i < count; i++) {
        const double left = trials[i].time_s - line.slope / (trials[i].power_w - power_w);
        line.squares += left * left;
    }
    return line;
}

struct search {
    const struct trial *trials;
    size_t count;
    double lowest_w; /* power of the easiest trial: CP is below */
};

/* How far below the easiest trial, by its logarithm, so that no step can reach it. */
static double squares_at(const struct search *search, double log_below)
{
    return hyperbola_at(search->trials, search->count, search->lowest_w - exp(log_below)).squares;
}

static double golden_section(const struct search *search, double low, double high)
{
    static const double share = 0.61803398874989485;
    double a = high - share * (high - low), b = low + share * (high - low);
    double at_a = squares_at(search, a), at_b = squares_at(search, b);

    for (int i = 0; i < 80; i++) {
        if (at_a < at_b) {
            high = b;
            b = a;
            at_b = at_a;
            a = high - share * (high - low);
            at_a = squares_at(search, a);
        } else {
            low = a;
            a = b;
            at_a = at_b;
            b = low + share * (high - low);
            at_b = squares_at(search, b);
        }
    }
    return (low + high) / 2;
}

/* CP that leaves least over; false where that is at an end of what is searched, so nowhere. */
static bool best_power(const struct search *search, double *ret_w)
{
    enum { STEPS = 256 };
    const double low = log(search->lowest_w * 1e-6), high = log(search->lowest_w);
    const double step = (high - low) / STEPS;
    int best = 0;
    double least = squares_at(search, low);

    for (int i = 1; i <= STEPS; i++) {
        const double squares = squares_at(search, low + step * i);
        if (squares < least) {
            least = squares;
            best = i;
        }
    }
    if (best == 0 || best == STEPS)
        return false;
    *ret_w = search->lowest_w -
             exp(golden_section(search, low + step * (best - 1), low + step * (best + 1)));
    return true;
}

/* Standard errors from the slopes of t in CP and in W', by the inverse of their products. */
static void find_errors(const struct search *search, const struct line *line,
                        struct critical_power *fit)
{
    double power = 0, both = 0, w_prime = 0;

    for (size_t i = 0; i < search->count; i++) {
        const double inverse = 1 / (search->trials[i].power_w - fit->power_w);
        const double slope = line->slope * inverse * inverse;
        power += slope * slope;
        both += slope * inverse;
        w_prime += inverse * inverse;
    }
    const double determinant = power * w_prime - both * both;
    fit->has_errors = search->count > 2 && determinant > 0;
    if (!fit->has_errors)
        return;
    const double variance = line->squares / (double)(search->count - 2);
    fit->power_error_w = sqrt(variance * w_prime / determinant);
    fit->w_prime_error_j = sqrt(variance * power / determinant);
}

static bool fit_hyperbola(const struct trial *trials, size_t count, struct critical_power *ret)
{
    struct search search = {trials, count, trials[0].power_w};
    struct critical_power fit = {0};

    for (size_t i = 1; i < count; i++)
        if (trials[i].power_w < search.lowest_w)
            search.lowest_w = trials[i].power_w;
    if (!best_power(&search, &fit.power_w))
        return false;
    const struct line line = hyperbola_at(trials, count, fit.power_w);
    fit.w_prime_j = line.slope;
    find_errors(&search, &line, &fit);
    *ret = fit;
    return true;
}

/* ---- what is asked for ---- */

static bool is_sound(const struct critical_power *fit)
{
    return fit->power_w > 0 && fit->w_prime_j > 0 && fit->power_w < HUGE_VAL &&
           fit->w_prime_j < HUGE_VAL;
}

enum result critical_power_fit(enum critical_power_form form, const struct trial *trials,
                               size_t count, struct critical_power *ret)
{
    struct critical_power fit;
    const enum result result = check(trials, count);

    if (result != RESULT_OK)
        return result;
    if (form == CRITICAL_POWER_HYPERBOLIC) {
        if (!fit_hyperbola(trials, count, &fit))
            return RESULT_RANGE;
    } else {
        const bool is_work_time = form == CRITICAL_POWER_WORK_TIME;
        const struct points points = points_of(trials, count, is_work_time);
        const struct line line = line_through(&points);
        if (!(line.spread > 0))
            return RESULT_RANGE;
        fit = of_line(&line, count, is_work_time);
    }
    if (!is_sound(&fit))
        return RESULT_RANGE;
    *ret = fit;
    return RESULT_OK;
}
