/*
 * Ten years of blocks: what the store takes, and how long it takes to look into it.
 * Usage: bench_history PROGRAM FOLDER
 */
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>

#include <sqlite3.h>

#include "app/recorder.h"
#include "child.h"
#include "common.h"
#include "io/store_sqlite.h"
#include "port/store_history.h"
#include "rehearsal.h"

#define BLOCKS        1600u
#define BLOCKS_FEW    160u
#define KINDS         8u   /* of blocks that differ in every reading; the others are copies */
#define DATA_EVERY_MS 160u /* in five minutes 1875 readings, in 1600 blocks three million */
#define DAY_S         86400
#define TRIES         9u

struct history {
    char home[4096]; /* its data folder */
    uint32_t blocks;
    double made_ns, octets;
    uint64_t readings;
};

/* ---- made ---- */

static void add_kind(struct store *store, unsigned kind, struct history *history)
{
    struct rehearsal rehearsal = {
        .data_every_ms = DATA_EVERY_MS, .seed = kind + 1, .keeps_journal = true};
    struct store_ride ride = {.started_unix_s = 1700000000 + kind * (int64_t)DAY_S,
                              .title = "20/10",
                              .bike = "virtual",
                              .length_ms = 240000,
                              .is_fresh = kind % 4 == 3,
                              .state = STORE_FINISHED};
    int64_t id;

    rehearsal_run(&rehearsal);
    summary_for_store(&rehearsal.summary, &ride.summary);
    if (store_add(store, &ride, rehearsal.journal, rehearsal.journal_length, &id) != RESULT_OK)
        bench_fail("the store takes no ride");
    free(rehearsal.journal);
    history->readings += rehearsal.reading_count * (history->blocks / KINDS);
}

/* The rest in one go: as the first ones, days later and with a little more or less work. */
static void add_copies(const char *path, uint32_t blocks)
{
    static const char sql[] =
        "BEGIN;"
        "CREATE TEMP TABLE copy AS SELECT * FROM ride WHERE id <= %u;"
        "UPDATE copy SET work_j = work_j + (id * %u * 7919) %% 4001 - 2000,"
        " started_unix_s = started_unix_s + %u * 172800, id = id + %u;"
        "INSERT INTO ride SELECT * FROM copy;"
        "INSERT INTO journal SELECT ride_id + %u, length, packed FROM journal WHERE ride_id <= %u;"
        "DROP TABLE copy;"
        "COMMIT;";
    sqlite3 *database = NULL;

    if (sqlite3_open(path, &database) != SQLITE_OK)
        bench_fail("the store cannot be opened");
    for (uint32_t from = KINDS; from < blocks; from += KINDS) {
        char text[1024];
        (void)snprintf(text, sizeof text, sql, KINDS, from, from, from, from, KINDS);
        if (sqlite3_exec(database, text, NULL, NULL, NULL) != SQLITE_OK)
            bench_fail(sqlite3_errmsg(database));
    }
    (void)sqlite3_close(database);
}

static struct history make(const char *folder, uint32_t blocks)
{
    struct history history = {.blocks = blocks};
    struct store *store = NULL;
    struct stat about;
    char path[4096 + 64], why[256];
    const uint64_t began_ns = bench_now_ns();

    (void)snprintf(history.home, sizeof history.home, "%s/%u", folder, blocks);
    (void)snprintf(path, sizeof path, "%s/afterset", history.home);
    if (mkdir(history.home, 0700) != 0 || mkdir(path, 0700) != 0)
        bench_fail("the folder takes no folder");
    (void)snprintf(path, sizeof path, "%s/afterset/" STORE_FILE_NAME, history.home);
    if (store_open(path, STORE_CREATE, why, sizeof why, &store) != RESULT_OK ||
        store_add_begin(store) != RESULT_OK)
        bench_fail("the store cannot be made");
    for (unsigned kind = 0; kind < KINDS; kind++)
        add_kind(store, kind, &history);
    if (store_add_end(store, true) != RESULT_OK)
        bench_fail("the store cannot be saved");
    store_close(store);
    add_copies(path, blocks);
    history.made_ns = (double)(bench_now_ns() - began_ns);
    history.octets = stat(path, &about) == 0 ? (double)about.st_size : 0;
    return history;
}

/* ---- looked into ---- */

static double time_command(const char *program, const char *verb, const struct history *history)
{
    const char *const arguments[CHILD_ARGUMENTS_MAX] = {program, verb, NULL};
    uint64_t took_ns[TRIES];

    if (setenv("XDG_DATA_HOME", history->home, 1) != 0)
        bench_fail("no memory for the environment");
    for (size_t i = 0; i < TRIES; i++) {
        size_t peak_kib = 0;
        const uint64_t began_ns = bench_now_ns();
        if (child_wait(child_start(arguments), &peak_kib) != 0)
            bench_fail("the program did not come to its end");
        took_ns[i] = bench_now_ns() - began_ns;
    }
    return bench_median(took_ns, TRIES);
}

static void row(const char *what, const char *program, const char *verb, const char *aim,
                const struct history *many, const struct history *few)
{
    const double many_ns = time_command(program, verb, many);
    const double few_ns = time_command(program, verb, few);

    bench_row(what, bench_time(many_ns).text, aim, "%.2f times that over %u blocks (%s)",
              many_ns / few_ns, few->blocks, bench_time(few_ns).text);
}

int main(int argc, char **argv)
{
    if (argc != 3)
        bench_fail("usage: bench_history PROGRAM FOLDER");
    const struct history few = make(argv[2], BLOCKS_FEW);
    const struct history many = make(argv[2], BLOCKS);

    bench_row("ten years: the store", bench_text("%.1f MB", many.octets / 1e6).text, "< 40 MB",
              "%u blocks, %.1f million readings; made in %.1f s", many.blocks,
              (double)many.readings / 1e6, many.made_ns / 1e9);
    row("  afterset: today", argv[1], NULL, "< 50 ms", &many, &few);
    row("  afterset log", argv[1], "log", "", &many, &few);
    row("  afterset rider: a critical-power fit", argv[1], "rider", "", &many, &few);
    return 0;
}
