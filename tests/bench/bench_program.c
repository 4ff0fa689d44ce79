/*
 * Whole rides of the real program: peak memory, time, size of the store.
 * Usage: bench_program PROGRAM PROFILE, with XDG_DATA_HOME set to a folder of its own.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "child.h"
#include "common.h"

#define TRIES 5u
#define MIB   1024.0 /* KiB */

struct rides {
    double took_ns, peak_kib; /* medians */
};

static struct rides ride(const char *program, const char *profile, const char *option)
{
    const char *const arguments[CHILD_ARGUMENTS_MAX] = {program,  "ride",  profile, "--jsonl",
                                                        "--rate", "10000", option,  NULL};
    uint64_t took_ns[TRIES], peak_kib[TRIES];

    for (size_t i = 0; i < TRIES; i++) {
        size_t peak = 0;
        const uint64_t began_ns = bench_now_ns();
        if (child_wait(child_start(arguments), &peak) != 0)
            bench_fail("the ride did not come to its end");
        took_ns[i] = bench_now_ns() - began_ns;
        peak_kib[i] = peak;
    }
    return (struct rides){bench_median(took_ns, TRIES), bench_median(peak_kib, TRIES)};
}

static double store_octets(void)
{
    static const char *const files[] = {"rides.db", "rides.db-wal"};
    const char *folder = getenv("XDG_DATA_HOME");
    double octets = 0;

    for (size_t i = 0; folder != NULL && i < sizeof files / sizeof files[0]; i++) {
        struct stat status;
        char path[4096];
        (void)snprintf(path, sizeof path, "%s/afterset/%s", folder, files[i]);
        if (stat(path, &status) == 0)
            octets += (double)status.st_size;
    }
    return octets;
}

int main(int argc, char **argv)
{
    if (argc != 3)
        bench_fail("usage: bench_program PROGRAM PROFILE");
    const struct rides unrecorded = ride(argv[1], argv[2], "--unrecorded");
    (void)ride(argv[1], argv[2], NULL);
    const double before = store_octets();
    const struct rides recorded = ride(argv[1], argv[2], NULL);
    const double grown_kb = (store_octets() - before) / TRIES / 1000.0;

    bench_row("peak memory of a whole ride", bench_text("%.1f MiB", recorded.peak_kib / MIB).text,
              "< 8 MiB", "%.2f times one that is not recorded (%.1f MiB)",
              recorded.peak_kib / unrecorded.peak_kib, unrecorded.peak_kib / MIB);
    bench_row("the ride itself, --rate 10000", bench_time(recorded.took_ns).text, "",
              "%.1f times one that is not recorded", recorded.took_ns / unrecorded.took_ns);
    bench_row("store, for each ride more", bench_text("%.0f kB", grown_kb).text, "",
              "mean of %u rides", TRIES);
    return 0;
}
