/*
 * A minute of a ride on a terminal of 80x24, at the bike's four readings a second: processor,
 * wake-ups, octets drawn. The same with --plain runs beside it.
 * Usage: bench_screen PROGRAM PROFILE, with XDG_DATA_HOME set to a folder of its own.
 */
#include <poll.h>
#include <pty.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "common.h"

#define WARM_UP_NS 3000000000u
#define RIDE_NS    60000000000u

struct ride {
    pid_t child;
    int terminal;
    size_t octets;
};

struct spent {
    double cpu_ns, wake_ups, octets;
};

static struct ride start(const char *program, const char *profile, const char *option)
{
    const struct winsize size = {.ws_row = 24, .ws_col = 80};
    struct ride ride = {0};

    ride.child = forkpty(&ride.terminal, NULL, NULL, &size);
    if (ride.child < 0)
        bench_fail("no terminal for the program");
    if (ride.child > 0)
        return ride;
    (void)setenv("TERM", "xterm-256color", 1);
    (void)setenv("LC_ALL", "C.UTF-8", 1);
    (void)execl(program, program, "ride", profile, "--bike", "virtual", "--unrecorded", option,
                NULL);
    _exit(127);
}

static void read_until(struct ride *rides, size_t count, uint64_t until_ns)
{
    char drawn[65536];

    for (uint64_t now = bench_now_ns(); now < until_ns; now = bench_now_ns()) {
        struct pollfd polled[2];
        for (size_t i = 0; i < count; i++)
            polled[i] = (struct pollfd){.fd = rides[i].terminal, .events = POLLIN};
        (void)poll(polled, count, (int)((until_ns - now) / 1000000) + 1);
        for (size_t i = 0; i < count; i++) {
            if (polled[i].revents == 0)
                continue;
            const ssize_t octets = read(rides[i].terminal, drawn, sizeof drawn);
            if (octets <= 0)
                bench_fail("the ride has ended before its time");
            rides[i].octets += (size_t)octets;
        }
    }
}

static double wake_ups_of(pid_t child)
{
    char path[64], line[128];
    double count = -1;

    (void)snprintf(path, sizeof path, "/proc/%d/status", (int)child);
    FILE *file = fopen(path, "r");
    while (file != NULL && fgets(line, sizeof line, file) != NULL)
        if (strncmp(line, "voluntary_ctxt_switches:", 24) == 0)
            count = strtod(line + 24, NULL);
    if (file == NULL || count < 0)
        bench_fail("no wake-ups in /proc");
    (void)fclose(file);
    return count;
}

static struct spent spent_by(const struct ride *ride)
{
    struct timespec cpu;
    clockid_t clock;

    if (clock_getcpuclockid(ride->child, &clock) != 0 || clock_gettime(clock, &cpu) != 0)
        bench_fail("no processor time of the ride");
    return (struct spent){(double)cpu.tv_sec * 1e9 + (double)cpu.tv_nsec, wake_ups_of(ride->child),
                          (double)ride->octets};
}

static void end(struct ride *ride)
{
    (void)kill(ride->child, SIGKILL);
    (void)waitpid(ride->child, NULL, 0);
    (void)close(ride->terminal);
}

int main(int argc, char **argv)
{
    struct spent before[2], spent[2];

    if (argc != 3)
        bench_fail("usage: bench_screen PROGRAM PROFILE");
    struct ride rides[2] = {start(argv[1], argv[2], NULL), start(argv[1], argv[2], "--plain")};
    const uint64_t began_ns = bench_now_ns();
    read_until(rides, 2, began_ns + WARM_UP_NS);
    for (int i = 0; i < 2; i++)
        before[i] = spent_by(&rides[i]);
    read_until(rides, 2, began_ns + WARM_UP_NS + RIDE_NS);
    for (int i = 0; i < 2; i++) {
        const struct spent now = spent_by(&rides[i]);
        spent[i] = (struct spent){now.cpu_ns - before[i].cpu_ns, now.wake_ups - before[i].wake_ups,
                                  now.octets - before[i].octets};
        end(&rides[i]);
    }
    bench_row("a minute on the screen: processor",
              bench_text("%.2f %%", 100 * spent[0].cpu_ns / RIDE_NS).text, "< 0.5 %",
              "--plain %.2f %%; the virtual bike included", 100 * spent[1].cpu_ns / RIDE_NS);
    bench_row("  wake-ups a second", bench_text("%.1f", spent[0].wake_ups * 1e9 / RIDE_NS).text,
              "< 15", "--plain %.1f", spent[1].wake_ups * 1e9 / RIDE_NS);
    bench_row("  drawn", bench_text("%.1f kB", spent[0].octets / 1000).text, "",
              "%.0f octets a second; --plain %.1f kB", spent[0].octets * 1e9 / RIDE_NS,
              spent[1].octets / 1000);
    return 0;
}
