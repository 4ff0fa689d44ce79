#include "ride/fit.h"

static uint32_t larger(uint32_t a, uint32_t b)
{
    return a > b ? a : b;
}

static uint32_t smaller(uint32_t a, uint32_t b)
{
    return a < b ? a : b;
}

static size_t end_of(const struct profile *profile, size_t rounds_item)
{
    size_t depth = 0, at = rounds_item;

    /*@ loop variant profile->item_count - at; */
    for (; at < profile->item_count; at++) {
        depth += profile->items[at].kind == PROFILE_ROUNDS;
        depth -= profile->items[at].kind == PROFILE_END;
        if (depth == 0)
            break;
    }
    return at;
}

/* The rounds of a measured profile that bend: those that say so, or else its one outermost set. */
static bool find_rounds(const struct profile *profile, size_t *ret)
{
    size_t sets = 0, found = 0;

    for (size_t i = 0; i < profile->item_count; i++) {
        if (profile->items[i].kind != PROFILE_ROUNDS)
            continue;
        found = i;
        sets++;
        if (profile->items[i].fits)
            break;
        i = end_of(profile, i);
    }
    *ret = found;
    return sets == 1 || (sets > 0 && profile->items[found].fits);
}

enum result fit_span(const struct profile *profile, struct fit_span *ret)
{
    struct profile_size size, round;
    struct fit_span span = {0};
    enum result result = profile_measure(profile, &size);

    if (result != RESULT_OK)
        return result;
    if (!find_rounds(profile, &span.item))
        return RESULT_UNSUPPORTED;
    result = profile_measure_part(profile, span.item + 1, end_of(profile, span.item), &round);
    if (result != RESULT_OK)
        return result;
    span.rounds = profile->items[span.item].rounds;
    const uint32_t least_ms = larger(profile->length_min_ms, PLAN_LENGTH_MIN_MS);
    const uint32_t most_ms = smaller(profile->length_max_ms, PLAN_LENGTH_MAX_MS);
    const uint64_t base_ms = size.length_ms - span.rounds * round.length_ms;
    if (round.length_ms == 0)
        return RESULT_UNSUPPORTED;
    if (least_ms > most_ms || round.length_ms > most_ms || base_ms > most_ms)
        return RESULT_RANGE;
    span.base_ms = (uint32_t)base_ms;
    span.round_ms = (uint32_t)round.length_ms;
    const uint32_t short_ms = least_ms > span.base_ms ? least_ms - span.base_ms : 0;
    span.low = (uint16_t)larger(1, (short_ms + span.round_ms - 1) / span.round_ms);
    span.high = (uint16_t)smaller(PROFILE_ROUNDS_MAX, (most_ms - span.base_ms) / span.round_ms);
    if (span.low > span.high)
        return RESULT_RANGE;
    *ret = span;
    return RESULT_OK;
}

uint32_t fit_length_ms(const struct fit_span *span, uint16_t rounds)
{
    return span->base_ms + rounds * span->round_ms;
}

uint16_t fit_rounds(const struct fit_span *span, uint32_t length_ms)
{
    const uint32_t wanted_ms = length_ms > span->base_ms ? length_ms - span->base_ms : 0;
    /* Rounded to the nearest, and a half down. */
    const uint32_t rounds = (2 * wanted_ms + span->round_ms - 1) / (2 * span->round_ms);

    return (uint16_t)smaller(larger(rounds, span->low), span->high);
}

uint16_t fit_first_rounds(const struct fit_span *span)
{
    const uint32_t short_ms =
        PLAN_LENGTH_MIN_MS > span->base_ms ? PLAN_LENGTH_MIN_MS - span->base_ms : 0;

    return (uint16_t)smaller(span->rounds,
                             larger(1, (short_ms + span->round_ms - 1) / span->round_ms));
}

#define FIRST_LOWER_PCT 20

int32_t fit_legs_pct(uint32_t feel)
{
    return feel == 1 ? 6 : feel == 2 ? 3 : 0;
}

/* Not both: what is so much lower is low enough for bad legs. */
static int32_t lower_pct_of(const struct fit_wish *wish)
{
    return wish->is_first ? FIRST_LOWER_PCT : fit_legs_pct(wish->feel);
}

static int32_t changed(int32_t value, int32_t by_pct)
{
    return (int32_t)(((int64_t)value * (100 + by_pct) + 50) / 100);
}

static void change(struct target_range *range, int32_t by_pct)
{
    range->low = changed(range->low, by_pct);
    range->high = changed(range->high, by_pct);
}

static void change_targets(struct step_targets *targets, int32_t by_pct)
{
    change(&targets->power_w, by_pct);
    change(&targets->power_cp_tenths, by_pct);
    change(&targets->power_mark_tenths, by_pct);
    change(&targets->level_tenths, by_pct);
}

/* Less work in the same time is what a lower power comes to. */
static void change_item(struct profile_item *item, int32_t by_pct)
{
    change_targets(&item->targets, by_pct);
    change_targets(&item->ramp_to, by_pct);
    if (item->end.until == UNTIL_WORK)
        item->end.value = (int32_t)larger(1, (uint32_t)changed(item->end.value, by_pct));
}

static enum result bend(struct profile *profile, uint32_t length_ms)
{
    struct fit_span span;
    const enum result result = fit_span(profile, &span);

    if (result != RESULT_OK)
        return result;
    if (length_ms < profile->length_min_ms || length_ms > profile->length_max_ms)
        return RESULT_RANGE;
    profile->items[span.item].rounds = fit_rounds(&span, length_ms);
    return RESULT_OK;
}

enum result profile_settle(struct profile *profile)
{
    for (size_t i = 0; i < profile->item_count; i++)
        if (profile->items[i].fits)
            return bend(profile, (profile->length_min_ms + profile->length_max_ms) / 2);
    return RESULT_OK;
}

/* The profile's own least length does not bind here: no profile makes a first block long. */
static enum result shorten(struct profile *profile)
{
    struct profile_size size;
    struct fit_span span;

    profile->length_min_ms = PLAN_LENGTH_MIN_MS;
    if (fit_span(profile, &span) == RESULT_OK)
        profile->items[span.item].rounds = fit_first_rounds(&span);
    const enum result result = profile_measure(profile, &size);
    if (result != RESULT_OK)
        return result;
    return size.length_ms <= FIRST_LENGTH_MAX_MS ? RESULT_OK : RESULT_RANGE;
}

static enum result set_length(struct profile *profile, const struct fit_wish *wish)
{
    if (wish->is_first)
        return shorten(profile);
    return wish->length_ms > 0 ? bend(profile, wish->length_ms) : RESULT_OK;
}

enum result profile_fit(const struct profile *profile, const struct fit_wish *wish,
                        struct profile *ret, struct fit *ret_fit)
{
    struct profile fitted = *profile;
    struct profile_size size;
    size_t rounds;
    const int32_t lower_pct = lower_pct_of(wish), load_pct = wish->is_first ? 0 : wish->load_pct;
    enum result result = set_length(&fitted, wish);

    if (result == RESULT_OK)
        result = profile_measure(&fitted, &size);
    if (result != RESULT_OK)
        return result;
    for (size_t i = 0; i < fitted.item_count; i++) {
        change_item(&fitted.items[i], -lower_pct);
        change_item(&fitted.items[i], load_pct);
    }
    *ret = fitted;
    *ret_fit = (struct fit){
        .length_ms = (uint32_t)size.length_ms,
        .length_min_ms = fitted.length_min_ms,
        .length_max_ms = fitted.length_max_ms,
        .rounds = find_rounds(&fitted, &rounds) ? fitted.items[rounds].rounds : 0,
        .lower_pct = lower_pct,
        .load_pct = load_pct,
        .is_first = wish->is_first,
    };
    return RESULT_OK;
}

void target_cap_power(struct target_range *range, int32_t max_w)
{
    if (!range->set || range->high <= max_w)
        return;
    range->high = max_w;
    if (range->low > max_w - max_w / 10)
        range->low = max_w - max_w / 10;
}

void plan_cap_power(struct plan *plan, int32_t max_w)
{
    for (size_t i = 0; i < plan->step_count; i++) {
        target_cap_power(&plan->steps[i].targets.power_w, max_w);
        target_cap_power(&plan->steps[i].ramp_to.power_w, max_w);
    }
}

void fit_put(struct text_writer *writer, const struct fit *fit)
{
    text_put_time(writer, fit->length_ms);
    text_put(writer, " of ");
    text_put_time(writer, fit->length_min_ms);
    text_put(writer, "..");
    text_put_time(writer, fit->length_max_ms);
    if (fit->rounds > 0) {
        text_put(writer, ", ");
        text_put_unsigned(writer, fit->rounds);
        text_put(writer, fit->rounds == 1 ? " round" : " rounds");
    }
    if (fit->lower_pct > 0) {
        text_put(writer, ", targets ");
        text_put_signed(writer, fit->lower_pct);
        text_put(writer, " % down");
    }
    if (fit->load_pct != 0) {
        text_put(writer, fit->load_pct > 0 ? ", load +" : ", load ");
        text_put_signed(writer, fit->load_pct);
        text_put(writer, " %");
    }
    if (fit->is_first)
        text_put(writer, ", as one of your first three blocks: muscles that are not used to this "
                         "can break down. If yours are: afterset rider experienced yes");
}

const char *fit_problem(const struct fit_wish *wish, enum result result)
{
    if (wish->is_first && result == RESULT_RANGE)
        return "your first three blocks are 4:00 long at most; choose another, or say 'afterset "
               "rider experienced yes' if your muscles are used to this";
    if (result == RESULT_UNSUPPORTED)
        return "it has no outermost rounds, or several and none of them says 'rounds fit', so it "
               "is only as long as it is written";
    if (result == RESULT_RANGE)
        return "that is not within the length it allows";
    return result_text(result);
}
