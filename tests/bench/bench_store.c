/*
 * What the ride waits for once a second: a second of journal on its way to the disk.
 * Usage: bench_store FOLDER
 */
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "common.h"
#include "io/store_sqlite.h"

#define SECONDS 300u

/* What a second with ten readings comes to, in its usual form. */
static const char second_of_journal[] =
    "> 61000 data has=15 power_w=231 cadence_rpm=92 distance_m=541 heart_bpm=148\n"
    "< sample has=15 power_w=231 cadence_rpm=92 distance_m=512 heart_bpm=148\n"
    "> 61250 tick\n"
    "> 61250 answer command=load kind=power value=230\n";
#define REPEATS 8u

struct times {
    double median_ns, longest_ns;
};

static struct times times_of(uint64_t *took_ns)
{
    const double median_ns = bench_median(took_ns, SECONDS);
    return (struct times){median_ns, (double)took_ns[SECONDS - 1]};
}

static struct times time_commits(const char *folder)
{
    const struct store_ride ride = {.started_unix_s = 1, .title = "bench", .bike = "virtual"};
    static uint64_t took_ns[SECONDS];
    char path[4096], why[256];
    struct store *store = NULL;
    int64_t id = 0;

    (void)snprintf(path, sizeof path, "%s/bench.db", folder);
    if (store_open(path, STORE_CREATE, why, sizeof why, &store) != RESULT_OK ||
        store_begin(store, &ride, &id) != RESULT_OK)
        bench_fail("the store cannot be opened");
    for (size_t i = 0; i < SECONDS; i++) {
        for (size_t repeat = 0; repeat < REPEATS; repeat++)
            if (store_append(store, second_of_journal, sizeof second_of_journal - 1) != RESULT_OK)
                bench_fail("the store takes no lines");
        const uint64_t began_ns = bench_now_ns();
        if (store_commit(store) != RESULT_OK)
            bench_fail("the store cannot save");
        took_ns[i] = bench_now_ns() - began_ns;
    }
    store_close(store);
    return times_of(took_ns);
}

/* The least that could be done: as many octets at the end of a file. The store, too, leaves it to
 * the system when a second reaches the disk, see store_sqlite.c. */
static struct times time_writes(const char *folder)
{
    static uint64_t took_ns[SECONDS];
    static char octets[REPEATS * sizeof second_of_journal];
    char path[4096];

    (void)snprintf(path, sizeof path, "%s/bench.plain", folder);
    const int fd = open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600);
    for (size_t i = 0; i < SECONDS; i++) {
        const uint64_t began_ns = bench_now_ns();
        if (write(fd, octets, sizeof octets) < 0)
            bench_fail("the folder takes no file");
        took_ns[i] = bench_now_ns() - began_ns;
    }
    (void)close(fd);
    return times_of(took_ns);
}

int main(int argc, char **argv)
{
    if (argc != 2)
        bench_fail("usage: bench_store FOLDER");
    const struct times commit = time_commits(argv[1]);
    const struct times plain = time_writes(argv[1]);

    bench_row("saving a second of the ride", bench_time(commit.median_ns).text, "",
              "%.1f times a write of as much (%s); the longest %s",
              commit.median_ns / plain.median_ns, bench_time(plain.median_ns).text,
              bench_time(commit.longest_ns).text);
    return 0;
}
