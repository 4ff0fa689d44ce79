/* Profiles written back: nothing of a file is lost, and what is written says what was meant. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "io/virtual_random.h"
#include "text/profile.h"

static char written[PROFILE_FILE_MAX];

static struct profile read_good(const char *text)
{
    static struct profile profile;
    struct text_fault fault = {0};
    enum result result = profile_read(text, strlen(text), &profile, &fault);

    if (result != RESULT_OK)
        print_error("%u:%u: %s\n%s\n", fault.line, fault.column, fault.message, text);
    assert_int_equal(result, RESULT_OK);
    return profile;
}

static const char *write_over(const struct profile *profile, const char *text)
{
    struct text_writer writer = text_writer(written, sizeof written);

    assert_int_equal(profile_write(profile, text, strlen(text), &writer), RESULT_OK);
    return written;
}

static const char whole[] = "# Squats first.\n"
                            "title     20/10 x 8   # the rest is comment\n"
                            "\n"
                            "\tlength  3:00..7:00\t# what it may come to\n"
                            "floor 8 x 3010   cue   Squats\n"
                            "  # Then mount.\n"
                            "warm-up   1:00  power 40..55 to 80..90%cp\n"
                            "\n"
                            "rounds 8  # of half a minute\n"
                            "  work\t0:20  power 115..125%cp effort 5..7\n"
                            "# easy\n"
                            "  rest    0:10 until 100.0kJ\n"
                            "end#\n"
                            "cool-down 03:00 cue Keep turning\n"
                            "\n"
                            "# The end.\n";

/* ---- what was not changed ---- */

static void an_unchanged_file_stays_as_it_is(void **state)
{
    static const char *const texts[] = {
        whole,
        "title A\nlength 3:00..7:00\nwork 4:00",
        "length 3:00..7:00\n#\ntitle A\nwork 4:00#x",
        "title A\r\nlength 3:00..7:00\r\n\r\nwork 4:00\r\n# \r\n",
        "title A\r\nlength 3:00..7:00\r\nwork 4:00\r",
        "\xEF\xBB\xBFtitle A\nlength 3:00..7:00\nwork 4:00\n\n\n",
        "\xEF\xBB\xBF\n\ntitle A\nlength 3:00..7:00\n rounds fit \nwork 1:00\nend\n#",
        "title A\tB\nlength 3:00..7:00\nwork 4:00 cue \xC3\xBC\tx",
    };

    (void)state;
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        const struct profile profile = read_good(texts[i]);
        assert_string_equal(write_over(&profile, texts[i]), texts[i]);
    }
}

/* ---- what was ---- */

static void only_what_changed_is_written_anew(void **state)
{
    struct profile profile = read_good(whole);

    (void)state;
    (void)snprintf(profile.title, sizeof profile.title, "Thirds");
    profile.length_max_ms = 360000;
    profile.items[0].reps.reps = 6;
    profile.items[0].duration_ms = 24000;
    profile.items[2].rounds = 9;
    profile.items[4].targets.cadence_rpm = (struct target_range){true, 80, 90};
    assert_string_equal(write_over(&profile, whole),
                        "# Squats first.\n"
                        "title     Thirds   # the rest is comment\n"
                        "\n"
                        "length    3:00..6:00\t# what it may come to\n"
                        "floor     6 x 3010  cue Squats\n"
                        "  # Then mount.\n"
                        "warm-up   1:00  power 40..55 to 80..90%cp\n"
                        "\n"
                        "rounds 9  # of half a minute\n"
                        "  work\t0:20  power 115..125%cp effort 5..7\n"
                        "# easy\n"
                        "  rest    0:10 until 100 kJ  cadence 80..90 rpm\n"
                        "end#\n"
                        "cool-down 03:00 cue Keep turning\n"
                        "\n"
                        "# The end.\n");
}

static void take_out(struct profile *profile, size_t item)
{
    memmove(&profile->items[item], &profile->items[item + 1],
            (profile->item_count - item - 1) * sizeof profile->items[0]);
    profile->item_count--;
}

static void put_in(struct profile *profile, size_t item, struct profile_item what)
{
    memmove(&profile->items[item + 1], &profile->items[item],
            (profile->item_count - item) * sizeof profile->items[0]);
    profile->items[item] = what;
    profile->item_count++;
}

static void comments_outlive_their_lines(void **state)
{
    struct profile profile = read_good(whole);

    (void)state;
    take_out(&profile, 6); /* cool-down */
    take_out(&profile, 5); /* end, rest, work and rounds, as an editor would unwrap them */
    take_out(&profile, 4);
    take_out(&profile, 3);
    take_out(&profile, 2);
    take_out(&profile, 1);
    assert_string_equal(write_over(&profile, whole), "# Squats first.\n"
                                                     "title     20/10 x 8   # the rest is comment\n"
                                                     "\n"
                                                     "\tlength  3:00..7:00\t# what it may come to\n"
                                                     "floor 8 x 3010   cue   Squats\n"
                                                     "  # Then mount.\n"
                                                     "\n"
                                                     "# of half a minute\n"
                                                     "# easy\n"
                                                     "#\n"
                                                     "\n"
                                                     "# The end.\n");
}

static void lines_move_with_their_comments_and_are_indented(void **state)
{
    static const char text[] = "title A\nlength 3:00..7:00\n# one\nwork 2:00 # hard\n"
                               "# two\nrest 2:00\ncool-down 1:00\n";
    struct profile profile = read_good(text);
    const struct profile_item work = profile.items[0];

    (void)state;
    take_out(&profile, 0);
    put_in(&profile, 1, work);
    put_in(&profile, 0, (struct profile_item){.kind = PROFILE_ROUNDS, .rounds = 1});
    put_in(&profile, 3, (struct profile_item){.kind = PROFILE_END});
    put_in(&profile, 3,
           (struct profile_item){
               .step = STEP_REST, .duration_ms = 30000, .targets.level_tenths = {true, 25, 30}});
    assert_string_equal(write_over(&profile, text),
                        "title A\nlength 3:00..7:00\nrounds 1\n# two\n  rest 2:00\n# one\n"
                        "  work 2:00 # hard\n  rest    0:30  level 2.5..3\nend\n"
                        "cool-down 1:00\n");
}

static void a_new_file_reads_like_one_that_a_person_wrote(void **state)
{
    struct profile profile = read_good(whole);

    (void)state;
    profile.title_line = profile.length_line = 0;
    for (size_t i = 0; i < profile.item_count; i++)
        profile.items[i].line = 0;
    profile.items[2].fits = true;
    assert_string_equal(write_over(&profile, ""),
                        "title     20/10 x 8\n"
                        "length    3:00..7:00\n"
                        "\n"
                        "floor     8 x 3010  cue Squats\n"
                        "warm-up   1:00  power 40..55 to 80..90 %cp\n"
                        "rounds fit\n"
                        "  work    0:20  power 115..125 %cp  effort hard\n"
                        "  rest    0:10 until 100 kJ\n"
                        "end\n"
                        "cool-down 3:00  cue Keep turning\n");
}

static void line_breaks_are_those_of_the_file(void **state)
{
    static const char text[] = "title A\r\nlength 3:00..7:00\r\nwork 4:00";
    struct profile profile = read_good(text);

    (void)state;
    put_in(&profile, 1, (struct profile_item){.step = STEP_REST, .duration_ms = 30000});
    assert_string_equal(write_over(&profile, text),
                        "title A\r\nlength 3:00..7:00\r\nwork 4:00\r\nrest      0:30\r\n");
}

/* ---- what cannot be written ---- */

static void what_would_not_come_back_is_refused(void **state)
{
    const struct profile good = read_good(whole);
    struct profile bad[9];
    struct text_writer writer;

    (void)state;
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        bad[i] = good;
    bad[0].title[0] = '\0';
    bad[1].title[1] = '#';
    bad[2].title[1] = '\n';
    bad[3].items[0].cue_text[0] = ' ';
    bad[4].items[0].cue_text[0] = '\xFF';
    bad[5].items[1] = bad[5].items[0]; /* a copy that claims the line of what it copies */
    bad[6].items[1].line = 6;          /* a comment */
    bad[7].title_line = 0;
    bad[8].item_count = PROFILE_ITEMS_MAX + 1;
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        writer = text_writer(written, sizeof written);
        assert_int_equal(profile_write(&bad[i], whole, sizeof whole - 1, &writer), RESULT_INVALID);
        assert_int_equal(writer.length, 0);
    }
    assert_int_equal(profile_write(&good, "title", 5, &writer), RESULT_INVALID);
    writer = text_writer(written, sizeof whole - 1);
    assert_int_equal(profile_write(&good, whole, sizeof whole - 1, &writer), RESULT_FULL);
}

/* ---- any profile at all ---- */

static struct virtual_random chance;

static uint32_t below(uint32_t limit)
{
    return (uint32_t)(virtual_random_next(&chance) % limit);
}

static void put_words(char *text, size_t size)
{
    static const char *const words[] = {"work", "0:20", "x",   "fit", "\xC3\xBC",
                                        "cue",  "end",  "%cp", "to",  "3010"};
    struct text_writer writer = text_writer(text, size);

    text_put(&writer, words[below(10)]);
    for (uint32_t i = below(4); i > 0; i--) {
        text_put_char(&writer, ' ');
        text_put(&writer, words[below(10)]);
    }
}

static struct target_range chance_range(int32_t lowest, int32_t highest)
{
    const int32_t low = lowest + (int32_t)below((uint32_t)(highest - lowest + 1));

    return (struct target_range){true, low, low + (int32_t)below((uint32_t)(highest - low + 1))};
}

static void ask(struct target_range *range, struct target_range *to, int32_t lowest,
                int32_t highest)
{
    if (below(3) != 0)
        return;
    *range = chance_range(lowest, highest);
    if (below(3) == 0)
        *to = chance_range(lowest, highest);
}

static void ask_for_targets(struct profile_item *item)
{
    struct step_targets *targets = &item->targets, *to = &item->ramp_to;

    switch (below(4)) {
    case 0: ask(&targets->power_w, &to->power_w, 0, 2000); break;
    case 1: ask(&targets->power_cp_tenths, &to->power_cp_tenths, 0, 3000); break;
    case 2: ask(&targets->power_mark_tenths, &to->power_mark_tenths, 0, 3000); break;
    default: break;
    }
    ask(&targets->cadence_rpm, &to->cadence_rpm, 20, 200);
    ask(&targets->heart_bpm, &to->heart_bpm, 40, 220);
    ask(&targets->level_tenths, &to->level_tenths, 0, 1000);
    ask(&targets->effort, &to->effort, 0, 10);
}

static struct step_end chance_end(enum step_kind kind)
{
    switch (below(6)) {
    case 0: return (struct step_end){UNTIL_WORK, 100 * (1 + (int32_t)below(9999))};
    case 1: return (struct step_end){UNTIL_DISTANCE, 10 + (int32_t)below(19991)};
    case 2:
        if (kind != STEP_WORK)
            return (struct step_end){UNTIL_HEART, 60 + (int32_t)below(141)};
        break;
    default: break;
    }
    return (struct step_end){0};
}

static void add_step(struct profile *profile, enum step_kind kind, uint32_t seconds)
{
    struct profile_item *item = &profile->items[profile->item_count++];

    *item = (struct profile_item){.step = kind, .duration_ms = seconds * 1000};
    if (kind != STEP_FLOOR) {
        item->end = chance_end(kind);
        ask_for_targets(item);
    } else if (below(2) == 0) {
        item->reps = (struct step_reps){(uint16_t)(1 + below(20)), (uint16_t)(1 + below(9999))};
        item->duration_ms = reps_duration_ms(item->reps);
    }
    if (below(3) == 0)
        put_words(item->cue_text, sizeof item->cue_text);
}

/* Intervals of 3:00 to 7:00: rounds of rounds of half a minute, and what is around them. */
static struct profile chance_profile(void)
{
    struct profile profile = {.length_min_ms = 180000, .length_max_ms = 420000};
    const bool fits = below(3) == 0;
    const uint32_t inner = 1 + below(3);

    put_words(profile.title, sizeof profile.title);
    for (uint32_t i = below(3); i > 0; i--)
        add_step(&profile, STEP_FLOOR, 1 + below(1800));
    for (uint32_t i = below(3); i > 0; i--)
        add_step(&profile, STEP_WARM_UP, 1 + below(1800));
    profile.items[profile.item_count++] = (struct profile_item){
        .kind = PROFILE_ROUNDS, .rounds = (uint16_t)(12 / inner), .fits = fits};
    profile.items[profile.item_count++] =
        (struct profile_item){.kind = PROFILE_ROUNDS, .rounds = (uint16_t)inner};
    add_step(&profile, STEP_WORK, 20);
    add_step(&profile, STEP_REST, 10);
    profile.items[profile.item_count++] = (struct profile_item){.kind = PROFILE_END};
    profile.items[profile.item_count++] = (struct profile_item){.kind = PROFILE_END};
    for (uint32_t i = below(3); i > 0; i--)
        add_step(&profile, STEP_COOL_DOWN, 1 + below(1800));
    return profile;
}

/* A comment or a blank line after any line, and at the end of any. */
static const char *scatter_comments(const char *text)
{
    static char scattered[8192];
    struct text_writer writer = text_writer(scattered, sizeof scattered);

    for (; *text != '\0'; text++) {
        if (*text == '\n' && below(3) == 0)
            text_put(&writer, below(2) == 0 ? "\t# x\n#" : " \n");
        text_put_char(&writer, *text);
    }
    assert_false(writer.failed);
    return scattered;
}

static void assert_same_targets(const struct step_targets *a, const struct step_targets *b)
{
    const struct target_range *one = (const struct target_range *)a;
    const struct target_range *other = (const struct target_range *)b;

    for (size_t i = 0; i < sizeof *a / sizeof *one; i++)
        assert_true(one[i].set == other[i].set && one[i].low == other[i].low &&
                    one[i].high == other[i].high);
}

static void assert_same(const struct profile *a, const struct profile *b)
{
    assert_string_equal(a->title, b->title);
    assert_int_equal(a->item_count, b->item_count);
    for (size_t i = 0; i < a->item_count; i++) {
        const struct profile_item one = a->items[i], other = b->items[i];
        assert_int_equal(one.kind, other.kind);
        if (!one.fits) /* which the reader counts */
            assert_int_equal(one.rounds, other.rounds);
        assert_int_equal(one.fits, other.fits);
        assert_int_equal(one.step, other.step);
        assert_int_equal(one.duration_ms, other.duration_ms);
        assert_memory_equal(&one.end, &other.end, sizeof one.end);
        assert_memory_equal(&one.reps, &other.reps, sizeof one.reps);
        assert_string_equal(one.cue_text, other.cue_text);
        assert_same_targets(&one.targets, &other.targets);
        assert_same_targets(&one.ramp_to, &other.ramp_to);
    }
}

/* parse(write(parse(x))) = parse(x), and write(parse(x)) = x. */
static void any_profile_comes_back(void **state)
{
    static char first[8192];

    (void)state;
    chance.state = 6;
    for (int i = 0; i < 100000; i++) {
        const struct profile meant = chance_profile();
        (void)snprintf(first, sizeof first, "%s", write_over(&meant, ""));
        const char *text = scatter_comments(first);
        const struct profile profile = read_good(text);
        assert_same(&profile, &meant);
        assert_string_equal(write_over(&profile, text), text);
        const struct profile again = read_good(written);
        assert_same(&profile, &again);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_unchanged_file_stays_as_it_is),
        cmocka_unit_test(only_what_changed_is_written_anew),
        cmocka_unit_test(comments_outlive_their_lines),
        cmocka_unit_test(lines_move_with_their_comments_and_are_indented),
        cmocka_unit_test(a_new_file_reads_like_one_that_a_person_wrote),
        cmocka_unit_test(line_breaks_are_those_of_the_file),
        cmocka_unit_test(what_would_not_come_back_is_refused),
        cmocka_unit_test(any_profile_comes_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
