/*
 * Every state of ride/safety that these inputs can lead to, breadth first, so that what breaks a
 * rule is shown by its shortest way. The limits are small ones, to keep the states countable; the
 * inputs lie on both sides of each of them. The rules are in tests/support/safety_oracle.c.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "support/safety_oracle.h"

#define NOW_MS     1000000u
#define AGE_CAP_MS 1500u
#define NODES_MAX  (1u << 20)
#define SLOTS      (NODES_MAX * 2)
#define COUNT(a)   (sizeof(a) / sizeof(a)[0])

static const struct limits search_limits = {
    .load_max_w = 80,
    .load_max_tenths = 60,
    .ramp_w_per_s = 100,
    .ramp_tenths_per_s = 80,
    .power_max_w = 150,
    .cadence_max_rpm = 150,
    .over_for_ms = 500,
    .cadence_floor_rpm = 40,
    .cadence_clear_rpm = 45,
    .cadence_resume_rpm = 55,
    .floor_for_ms = 500,
    .cadence_still_rpm = 10,
    .power_still_w = 10,
    .still_for_ms = 700,
    .data_stale_ms = 300,
    .data_lost_ms = 1000,
    .heart_stale_ms = 500,
    .link_lost_ms = 600,
    .heart_limit_bpm = 180,
    .heart_caution_bpm = 175,
    .total_max_ms = 10000,
};

/* ---- inputs ---- */

enum way { DT, READING, POWER, CADENCE, HEART, MACHINE, WANTED, PHASE, STEP, WAY_COUNT };

static const uint32_t dts_ms[] = {300, 200, 600, 0, 7};
static const bool readings[] = {true, false};
static const int32_t powers_w[] = {100, 9, 10, 150, 151};
/* The first is no cadence at all. */
static const int32_t cadences_rpm[] = {90, -1, 9, 10, 39, 40, 44, 45, 54, 55, 150, 151};
static const struct {
    int32_t bpm, median_bpm;
    uint32_t age_ms;
    bool was_known;
} hearts[] = {
    {174, 150, 0, true}, {0, 0, AGE_UNKNOWN, false}, {176, 180, 500, true},
    {175, 181, 0, true}, {150, 150, 501, true},      {200, 150, 501, true},
};
static const struct {
    bool has_control, safety_key, link_lost;
    uint32_t link_lost_ms;
    enum control_fault fault;
} machines[] = {
    {true, false, false, 0, CONTROL_FINE},    {false, false, false, 0, CONTROL_FINE},
    {true, true, false, 0, CONTROL_FINE},     {true, false, true, 600, CONTROL_FINE},
    {true, false, true, 601, CONTROL_FINE},   {true, false, false, 0, CONTROL_UNANSWERED},
    {true, false, false, 0, CONTROL_REFUSED}, {false, false, false, 0, CONTROL_LOST},
};
static const struct load wanted_loads[] = {
    {LOAD_POWER, 60}, {LOAD_RELEASED, 0}, {LOAD_POWER, 30}, {LOAD_POWER, 90},
    {LOAD_LEVEL, 60}, {LOAD_LEVEL, 70},   {LOAD_POWER, -1}, {LOAD_POWER, 19},
    {LOAD_POWER, 20}, {LOAD_POWER, 80},   {LOAD_POWER, 0},  {LOAD_POWER, 1},
};
static const struct {
    enum phase phase;
    enum hold hold;
    uint32_t since_start_ms;
} phases[] = {
    {PHASE_RIDING, HOLD_NONE, 1000},  {PHASE_HELD, HOLD_NO_DATA, 1000},
    {PHASE_HELD, HOLD_RIDER, 1000},   {PHASE_EASY, HOLD_NONE, 1000},
    {PHASE_READY, HOLD_NONE, 0},      {PHASE_RIDING, HOLD_NONE, 10000},
    {PHASE_RIDING, HOLD_NONE, 10001}, {PHASE_COUNT_IN, HOLD_NONE, 0},
    {PHASE_CONNECTING, HOLD_NONE, 0}, {PHASE_LEAVING, HOLD_NONE, 1000},
};
static const struct {
    bool in_work, may_coast;
    struct load rest;
} steps[] = {
    {true, false, {LOAD_POWER, 20}},
    {false, true, {LOAD_POWER, 20}},
    {false, false, {LOAD_RELEASED, 0}},
    {true, false, {LOAD_LEVEL, 20}},
};

static const uint8_t way_sizes[WAY_COUNT] = {
    [DT] = COUNT(dts_ms),           [READING] = COUNT(readings),
    [POWER] = COUNT(powers_w),      [CADENCE] = COUNT(cadences_rpm),
    [HEART] = COUNT(hearts),        [MACHINE] = COUNT(machines),
    [WANTED] = COUNT(wanted_loads), [PHASE] = COUNT(phases),
    [STEP] = COUNT(steps),
};

struct input {
    uint8_t at[WAY_COUNT]; /* which of each way */
};

/* ---- states ---- */

struct node {
    struct safety safety; /* its times are those at NOW_MS */
    struct oracle oracle;
    uint32_t data_age_ms;
    int32_t power_w, cadence_rpm;
    uint32_t parent;
    struct input input; /* that led here */
};

struct search {
    struct limits limits;
    uint8_t sizes[WAY_COUNT]; /* how many of each way are tried, from the first */
    struct node *nodes;
    uint32_t *slots;
    uint32_t count;
    uint64_t step_count;
};

static uint64_t aged(uint64_t since_ms, uint64_t t_ms)
{
    const uint64_t age = t_ms - since_ms;
    return NOW_MS - (age < AGE_CAP_MS ? age : AGE_CAP_MS);
}

static struct stretch stretch_at_now(struct stretch stretch, uint64_t t_ms)
{
    return stretch.stands ? (struct stretch){true, aged(stretch.since_ms, t_ms)}
                          : (struct stretch){0};
}

/* Times that only count as differences are moved to NOW_MS, so that equal states are equal. */
static struct safety safety_at_now(const struct safety *safety, uint64_t t_ms)
{
    return (struct safety){
        .cut_off = safety->cut_off,
        .load = safety->load,
        .climbs = safety->climbs,
        .climb_t_ms = safety->climbs ? aged(safety->climb_t_ms, t_ms) : 0,
        .power_over = stretch_at_now(safety->power_over, t_ms),
        .cadence_over = stretch_at_now(safety->cadence_over, t_ms),
        .cadence_low = stretch_at_now(safety->cadence_low, t_ms),
        .legs_still = stretch_at_now(safety->legs_still, t_ms),
        .collapsed = safety->collapsed,
    };
}

#define KEY_WORDS 24
/* Everything that tells one state from another. */
static void key_of(const struct node *node, uint64_t key[KEY_WORDS])
{
    const struct safety *s = &node->safety;
    const struct oracle *o = &node->oracle;
    const uint64_t words[KEY_WORDS] = {
        s->cut_off,
        s->load.kind,
        (uint32_t)s->load.value,
        s->climbs,
        s->climb_t_ms,
        s->power_over.since_ms,
        s->cadence_over.since_ms,
        s->cadence_low.since_ms,
        s->legs_still.since_ms,
        s->power_over.stands,
        s->cadence_over.stands,
        s->cadence_low.stands,
        s->legs_still.stands,
        s->collapsed,
        (uint32_t)o->carry_thousandths,
        ((uint64_t)(uint32_t)o->load_kind << 32) | (uint32_t)o->load_value,
        (uint32_t)o->cut_off,
        ((uint64_t)(uint32_t)o->fast_ms << 32) | (uint32_t)o->strong_ms,
        ((uint64_t)(uint32_t)o->slow_ms << 32) | (uint32_t)o->still_ms,
        (uint32_t)o->must_turn,
        node->data_age_ms,
        (uint32_t)node->power_w,
        (uint32_t)node->cadence_rpm,
    };
    memcpy(key, words, sizeof words);
}

static uint32_t slot_of(const uint64_t key[KEY_WORDS])
{
    uint64_t hash = 0;

    for (size_t i = 0; i < KEY_WORDS; i++)
        hash = (hash ^ key[i]) * UINT64_C(0x9E3779B97F4A7C15) + (hash >> 29);
    return (uint32_t)(hash >> 40) % SLOTS;
}

/* True: it is a new one. */
static bool add(struct search *search, const struct node *node)
{
    uint64_t key[KEY_WORDS], other[KEY_WORDS];

    key_of(node, key);
    uint32_t slot = slot_of(key);
    for (; search->slots[slot] != 0; slot = (slot + 1) % SLOTS) {
        key_of(&search->nodes[search->slots[slot] - 1], other);
        if (memcmp(key, other, sizeof key) == 0)
            return false;
    }
    if (search->count == NODES_MAX)
        fail_msg("more than %u states", NODES_MAX);
    search->nodes[search->count++] = *node;
    search->slots[slot] = search->count;
    return true;
}

/* ---- one step ---- */

static struct safety_inputs inputs_of(const struct node *node, const struct input *input,
                                      uint64_t t_ms)
{
    const uint8_t *at = input->at;

    return (struct safety_inputs){
        .t_ms = t_ms,
        .phase = phases[at[PHASE]].phase,
        .hold = phases[at[PHASE]].hold,
        .in_work = steps[at[STEP]].in_work,
        .may_coast = steps[at[STEP]].may_coast,
        .has_control = machines[at[MACHINE]].has_control,
        .safety_key = machines[at[MACHINE]].safety_key,
        .link_lost = machines[at[MACHINE]].link_lost,
        .link_lost_ms = machines[at[MACHINE]].link_lost_ms,
        .control_fault = machines[at[MACHINE]].fault,
        .data_age_ms = node->data_age_ms,
        .silence_ms = node->data_age_ms,
        .power_w = node->power_w,
        .cadence_rpm = node->cadence_rpm < 0 ? 0 : node->cadence_rpm,
        .cadence_known = node->cadence_rpm >= 0 && node->data_age_ms <= search_limits.data_stale_ms,
        .heart_was_known = hearts[at[HEART]].was_known,
        .heart_age_ms = hearts[at[HEART]].age_ms,
        .heart_bpm = hearts[at[HEART]].bpm,
        .heart_median_bpm = hearts[at[HEART]].median_bpm,
        .since_start_ms = phases[at[PHASE]].since_start_ms,
        .rest_load = steps[at[STEP]].rest,
    };
}

/* Gives NULL or the broken rule; the node becomes the next state. */
static const char *take_step(const struct search *search, struct node *node,
                             const struct input *input)
{
    const uint32_t passed_ms = dts_ms[input->at[DT]];
    const uint32_t age_before_ms = node->data_age_ms;
    const uint64_t t_ms = NOW_MS + passed_ms;

    if (readings[input->at[READING]]) {
        node->data_age_ms = 0;
        node->power_w = powers_w[input->at[POWER]];
        node->cadence_rpm = cadences_rpm[input->at[CADENCE]];
    } else {
        node->data_age_ms += passed_ms;
    }
    if (node->data_age_ms > AGE_CAP_MS)
        node->data_age_ms = AGE_CAP_MS;
    /* By how much the newest reading is newer than the one before. */
    const uint32_t newer_ms = readings[input->at[READING]] ? age_before_ms + passed_ms : 0;
    const struct safety_inputs in = inputs_of(node, input, t_ms);
    const struct load wanted = wanted_loads[input->at[WANTED]];

    const struct safety_verdict verdict = safety_step(&node->safety, &search->limits, &in, wanted);
    const char *broken =
        oracle_check(&node->oracle, &search->limits, passed_ms, newer_ms, &in, wanted, &verdict);
    node->safety = safety_at_now(&node->safety, t_ms);
    return broken;
}

/* What a wish comes to when nothing stands in its way. */
static struct load granted(const struct limits *limits, struct load wanted)
{
    const bool is_level = wanted.kind == LOAD_LEVEL;
    const int32_t most = is_level ? limits->load_max_tenths : limits->load_max_w;
    const int32_t least = is_level ? limits->load_min_tenths : limits->load_min_w;

    if (wanted.kind == LOAD_RELEASED || wanted.value <= 0 || wanted.value < least)
        return (struct load){0};
    return (struct load){wanted.kind, wanted.value < most ? wanted.value : most};
}

/* A climb begins at nothing, so the first step may give nothing yet. */
static int steps_to(const struct limits *limits, struct load load)
{
    const int32_t rate = load.kind == LOAD_LEVEL ? limits->ramp_tenths_per_s : limits->ramp_w_per_s;
    const int32_t gain = rate * (int32_t)dts_ms[0] / 1000;

    return 1 + (load.value + gain - 1) / gain;
}

/* With nothing wrong any more the load comes back, by the ramp and in no more time than that: a
 * controller that always lets go, or dawdles, is no use. */
static const char *come_back_to(const struct search *search, struct node node, uint8_t wanted_at)
{
    const struct input all_well = {{[WANTED] = wanted_at}};
    const struct load goal = granted(&search->limits, wanted_loads[wanted_at]);

    for (int i = steps_to(&search->limits, goal); i > 0; i--) {
        const char *broken = take_step(search, &node, &all_well);
        if (broken != NULL)
            return broken;
    }
    if (node.oracle.load_kind != (int32_t)goal.kind || node.oracle.load_value != goal.value)
        return "load-comes-back";
    return NULL;
}

static const char *come_back(const struct search *search, const struct node *node)
{
    const char *broken = NULL;

    if (node->oracle.cut_off != CUT_OFF_NONE)
        return NULL;
    for (uint8_t at = 0; at < search->sizes[WANTED] && broken == NULL; at++)
        broken = come_back_to(search, *node, at);
    return broken;
}

/* ---- the search ---- */

static bool next_input(const struct search *search, struct input *input)
{
    for (size_t way = 0; way < WAY_COUNT; way++) {
        if (++input->at[way] < search->sizes[way])
            return true;
        input->at[way] = 0;
    }
    return false;
}

static void print_step(const struct node *node)
{
    static const char *const names[WAY_COUNT] = {"dt",      "reading", "power", "cadence", "heart",
                                                 "machine", "wanted",  "phase", "step"};

    for (size_t way = 0; way < WAY_COUNT; way++)
        print_error("%s %u  ", names[way], node->input.at[way]);
    print_error("-> load %d %d, cut-off %d\n", node->oracle.load_kind, node->oracle.load_value,
                node->oracle.cut_off);
}

static void fail_with_way(const struct search *search, const struct node *bad, const char *rule)
{
    uint32_t way[64];
    size_t length = 0;

    for (uint32_t i = bad->parent; i != 0 && length < COUNT(way); i = search->nodes[i].parent)
        way[length++] = i;
    print_error("broken rule: %s; the shortest way there (numbers are rows of the tables):\n",
                rule);
    while (length > 0)
        print_step(&search->nodes[way[--length]]);
    print_step(bad);
    fail_msg("broken rule: %s", rule);
}

static void try_all(struct search *search, uint32_t at)
{
    struct input input = {{0}};

    do {
        struct node node = search->nodes[at];
        node.parent = at;
        node.input = input;
        const char *broken = take_step(search, &node, &input);
        search->step_count++;
        if (broken == NULL && add(search, &node))
            broken = come_back(search, &node);
        if (broken != NULL)
            fail_with_way(search, &node, broken);
    } while (next_input(search, &input));
}

struct family {
    const char *name;
    uint8_t sizes[WAY_COUNT]; /* 0 counts as 1 */
    int32_t load_min_w;
};

/* The small ones first. */
static struct family families[] = {
    {"loads", {[DT] = 5, [HEART] = 5, [WANTED] = 12, [PHASE] = 2, [STEP] = 4}, 0},
    {"causes",
     {[DT] = 3, [READING] = 2, [HEART] = 6, [MACHINE] = 8, [WANTED] = 2, [PHASE] = 10, [STEP] = 2},
     0},
    {"a machine with a least load",
     {[DT] = 5, [READING] = 2, [WANTED] = 12, [MACHINE] = 2, [STEP] = 2},
     20},
    {"legs",
     {[DT] = 3, [READING] = 2, [POWER] = 3, [CADENCE] = 12, [WANTED] = 2, [PHASE] = 3, [STEP] = 2},
     0},
    {"excess", {[DT] = 3, [READING] = 2, [POWER] = 5, [CADENCE] = 12, [PHASE] = 3}, 0},
};

static void no_reachable_state_breaks_a_rule(void **state)
{
    const struct family *family = *state;
    struct search search = {.limits = search_limits};
    struct node first = {.data_age_ms = AGE_CAP_MS};

    search.limits.load_min_w = family->load_min_w;
    for (size_t way = 0; way < WAY_COUNT; way++) {
        search.sizes[way] = family->sizes[way] == 0 ? 1 : family->sizes[way];
        assert_true(search.sizes[way] <= way_sizes[way]);
    }
    search.nodes = malloc(sizeof *search.nodes * NODES_MAX);
    search.slots = calloc(SLOTS, sizeof *search.slots);
    assert_non_null(search.nodes);
    assert_non_null(search.slots);
    oracle_init(&first.oracle);
    (void)add(&search, &first);
    for (uint32_t i = 0; i < search.count; i++)
        try_all(&search, i);
    print_message("%s: %u states, %llu steps\n", family->name, search.count,
                  (unsigned long long)search.step_count);
    free(search.nodes);
    free(search.slots);
}

/* Events closer together than a watt's worth of the ramp still add up: to half of it at least. */
static void close_events_climb_too(void **state)
{
    const struct search search = {.limits = search_limits};
    const struct input close = {{[DT] = COUNT(dts_ms) - 1}};
    struct node node = {.data_age_ms = AGE_CAP_MS};

    (void)state;
    oracle_init(&node.oracle);
    assert_null(take_step(&search, &node, &(struct input){{0}}));
    for (uint32_t passed_ms = 0; passed_ms < 700; passed_ms += dts_ms[COUNT(dts_ms) - 1])
        assert_null(take_step(&search, &node, &close));
    assert_in_range(node.oracle.load_value, 35, 60);
}

int main(void)
{
    struct CMUnitTest tests[COUNT(families) + 1] = {[COUNT(families)] =
                                                        cmocka_unit_test(close_events_climb_too)};

    for (size_t i = 0; i < COUNT(families); i++)
        tests[i] = (struct CMUnitTest){families[i].name, no_reachable_state_breaks_a_rule, NULL,
                                       NULL, &families[i]};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
