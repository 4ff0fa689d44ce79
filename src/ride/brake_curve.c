#include "ride/brake_curve.h"

#include <stddef.h>

#define CADENCE_AT_1_RPM 80.0

/* How far a home bike may be from the usual one: all terms together, and each by itself. */
#define UNKNOWN_SCALE_SD 0.6
#define KNOWN_SCALE_SD   0.04
static const double usual_w[BRAKE_TERMS] = {20, 400, 250, 0};
static const double unknown_sd_w[BRAKE_TERMS] = {20, 100, 150, 120};
#define KNOWN_SHARE_OF_SD 0.1
#define NOT_RIDDEN        (-1.0)

/* A power reading wobbles by some 7 % from second to second, and the next is much like it. A share
 * of the reading, or of what was expected where that is more: feet that stand for a second, while
 * the cadence still reads what it was, are no sure reading of a weak brake. */
#define READING_SD_SHARE 0.07
#define READING_SD_W     4.0
/* Per second; a minute moves c1 by some 3 W. */
static const double drift_w2[BRAKE_TERMS] = {0.005, 0.15, 0.05, 0.05};

/* ---- the form of the curve ---- */

static void regressors(double level_share, double cadence_rpm, double ret[BRAKE_TERMS])
{
    const double x = cadence_rpm / CADENCE_AT_1_RPM;

    ret[0] = x;
    ret[1] = x * level_share;
    ret[2] = x * (x - 1) * level_share;
    ret[3] = x * level_share * level_share;
}

static double clamped(double value, double low, double high)
{
    return value < low ? low : value > high ? high : value;
}

#define FRICTION_MAX_W 150.0
#define LEVELS_MAX_W   4000.0
#define BEND_MAX       4.0

/* Slopes stay above zero up to 160 rpm and down to the cadence at which a load is let go. */
static void keep_within_bounds(double terms_w[BRAKE_TERMS])
{
    terms_w[0] = clamped(terms_w[0], 0, FRICTION_MAX_W);
    terms_w[1] = clamped(terms_w[1], 40, LEVELS_MAX_W);
    terms_w[2] = clamped(terms_w[2], 0, terms_w[1]);
    terms_w[3] = clamped(terms_w[3], -0.4 * (terms_w[1] - terms_w[2] / 2), BEND_MAX * terms_w[1]);
}

/* ---- how much is known ---- */

/* Far above the variance of a bike never seen: what is learned only makes less of it. */
#define VARIANCE_MAX_W2 1e8

static void set_variance(struct brake_model *model, double scale_sd, double share_of_sd)
{
    for (size_t i = 0; i < BRAKE_TERMS; i++) {
        const double own_w = unknown_sd_w[i] * share_of_sd;

        for (size_t j = 0; j < BRAKE_TERMS; j++)
            model->variance_w2[i][j] = model->terms_w[i] * model->terms_w[j] * scale_sd * scale_sd;
        model->variance_w2[i][i] += own_w * own_w;
    }
}

void brake_model_init(struct brake_model *model, const struct brake_curve *curve)
{
    const bool is_known = brake_curve_is_known(curve);

    for (size_t i = 0; i < BRAKE_TERMS; i++)
        model->terms_w[i] = is_known ? curve->terms_mw[i] / 1000.0 : usual_w[i];
    keep_within_bounds(model->terms_w);
    set_variance(model, is_known ? KNOWN_SCALE_SD : UNKNOWN_SCALE_SD,
                 is_known ? KNOWN_SHARE_OF_SD : 1);
    model->ridden_share = is_known ? clamped(curve->ridden_permille / 1000.0, 0, 1) : NOT_RIDDEN;
}

void brake_model_doubt(struct brake_model *model)
{
    set_variance(model, UNKNOWN_SCALE_SD, 1);
    model->ridden_share = NOT_RIDDEN;
}

static double dot(const double *a, const double *b)
{
    double sum = 0;

    for (size_t i = 0; i < BRAKE_TERMS; i++)
        sum += a[i] * b[i];
    return sum;
}

double brake_model_power_w(const struct brake_model *model, double level_share, double cadence_rpm)
{
    double by[BRAKE_TERMS];

    regressors(level_share, cadence_rpm, by);
    return dot(model->terms_w, by);
}

double brake_model_variance_w2(const struct brake_model *model, double level_share,
                               double cadence_rpm)
{
    double by[BRAKE_TERMS];
    double sum = 0;

    regressors(level_share, cadence_rpm, by);
    for (size_t i = 0; i < BRAKE_TERMS; i++)
        sum += by[i] * dot(model->variance_w2[i], by);
    return sum;
}

/* ---- what nobody has felt ---- */

static double larger(double a, double b)
{
    return a > b ? a : b;
}

static double smaller(double a, double b)
{
    return a < b ? a : b;
}

/* Below this a level says nothing of those above it. */
#define SHARE_LEAST 0.001

/* Of a brake whose levels are as unequal as the bounds allow, the most of it in the last ones. */
static double bent(double level_share)
{
    return level_share + BEND_MAX * level_share * level_share;
}

/* All that the highest level ridden costs may be the levels', none of it friction; what the next
 * ones add is the most where it is bent the most. */
double brake_model_most_w(const struct brake_model *model, double level_share, double cadence_rpm)
{
    const double x = cadence_rpm / CADENCE_AT_1_RPM;
    const bool is_ridden = model->ridden_share >= 0;
    const double ridden_share = is_ridden ? model->ridden_share : 0;

    if (is_ridden && level_share <= ridden_share)
        return brake_model_power_w(model, level_share, cadence_rpm);

    const double ridden_w =
        is_ridden ? brake_model_power_w(model, ridden_share, cadence_rpm) : FRICTION_MAX_W * x;
    const double any_w = LEVELS_MAX_W * x * larger(x, 1);
    const double slope_w =
        ridden_share > SHARE_LEAST ? smaller(any_w, ridden_w / bent(ridden_share)) : any_w;

    return ridden_w + slope_w * (bent(level_share) - bent(ridden_share));
}

/* ---- learning ---- */

/* Drift stops where as little is known as of any bike. */
static void drift(struct brake_model *model)
{
    for (size_t i = 0; i < BRAKE_TERMS; i++)
        if (model->variance_w2[i][i] < unknown_sd_w[i] * unknown_sd_w[i])
            model->variance_w2[i][i] += drift_w2[i];
}

void brake_model_learn(struct brake_model *model, double level_share, double cadence_rpm,
                       double power_w)
{
    double by[BRAKE_TERMS];
    double spread[BRAKE_TERMS];

    if (cadence_rpm <= 0)
        return;
    regressors(level_share, cadence_rpm, by);
    drift(model);
    for (size_t i = 0; i < BRAKE_TERMS; i++)
        spread[i] = dot(model->variance_w2[i], by);

    const double expected_w = dot(model->terms_w, by);
    const double reading_sd_w = READING_SD_W + READING_SD_SHARE * larger(power_w, expected_w);
    const double total_w2 = larger(dot(by, spread), 0) + reading_sd_w * reading_sd_w;
    const double off_w = power_w - expected_w;

    for (size_t i = 0; i < BRAKE_TERMS; i++) {
        model->terms_w[i] += spread[i] / total_w2 * off_w;
        for (size_t j = 0; j < BRAKE_TERMS; j++)
            model->variance_w2[i][j] =
                clamped(model->variance_w2[i][j] - spread[i] * spread[j] / total_w2,
                        -VARIANCE_MAX_W2, VARIANCE_MAX_W2);
    }
    keep_within_bounds(model->terms_w);
    model->ridden_share = clamped(larger(model->ridden_share, level_share), 0, 1);
}

void brake_model_bear(struct brake_model *model, double level_share)
{
    if (model->ridden_share >= 0)
        model->ridden_share = clamped(larger(model->ridden_share, level_share), 0, 1);
}

/* ---- from ride to ride ---- */

struct brake_curve brake_model_curve(const struct brake_model *model)
{
    struct brake_curve curve = {0};

    if (model->ridden_share < 0)
        return curve;
    for (size_t i = 0; i < BRAKE_TERMS; i++)
        curve.terms_mw[i] = (int32_t)(model->terms_w[i] * 1000.0);
    curve.ridden_permille = (int32_t)(model->ridden_share * 1000.0);
    return curve;
}

bool brake_curve_is_known(const struct brake_curve *curve)
{
    return curve->terms_mw[1] > 0;
}
