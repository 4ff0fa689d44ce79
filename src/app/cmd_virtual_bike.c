#include <errno.h>
#include <getopt.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/signalfd.h>
#include <unistd.h>

#include "app/command.h"
#include "io/peripheral.h"
#include "values.h"
#include "virtual_files.h"

struct options {
    const char *path; /* of the socket; NULL: over the air */
    bool has_adapter;
    uint16_t adapter;
    enum virtual_only only;
    bool no_strap, is_two; /* of which there can be one */
    double rate;
    struct virtual_bike_setup setup;
};

static int status_of(bool is_taken)
{
    return is_taken ? EXIT_DONE : EXIT_WRONG_USE;
}

static int take_only(struct options *options, enum virtual_only only)
{
    options->is_two = options->only != VIRTUAL_WHOLE_BIKE && options->only != only;
    options->only = only;
    return EXIT_DONE;
}

static int take_option(int option, struct options *options)
{
    switch (option) {
    case 'l': return status_of(take_socket_path("--listen", optarg, &options->path));
    case 'm':
        return load_virtual_machine(optarg, &options->setup.machine) ? EXIT_DONE : EXIT_FAILED;
    case 'r': return load_virtual_rider(optarg, &options->setup.rider) ? EXIT_DONE : EXIT_FAILED;
    case 'a':
        options->has_adapter = true;
        return status_of(take_adapter("--adapter", optarg, &options->adapter));
    case 'o': return take_only(options, VIRTUAL_STRAP_ONLY);
    case 'p': return take_only(options, VIRTUAL_POWER_ONLY);
    case 'c': return take_only(options, VIRTUAL_CADENCE_ONLY);
    case 'n': options->no_strap = true; return EXIT_DONE;
    case 's': return status_of(take_seed("--seed", optarg, &options->setup.seed));
    case 't': return status_of(take_rate("--rate", optarg, &options->rate));
    default: return EXIT_WRONG_USE;
    }
}

static int check_options(const struct options *options)
{
    const char *fault = NULL;

    if ((options->path != NULL) == options->has_adapter)
        fault = "virtual-bike wants one of --listen unix:PATH and --adapter hciN";
    else if (options->only == VIRTUAL_STRAP_ONLY && options->no_strap)
        fault = "--strap-only and --no-strap leave nothing";
    else if (options->is_two)
        fault = "one of --strap-only, --power-only and --cadence-only: each is a device of its own";
    else if (options->has_adapter && options->rate != 1.0)
        fault = "--rate goes with --listen; over the air time runs as it does";
    if (fault == NULL)
        return EXIT_DONE;
    complain("%s", fault);
    return EXIT_WRONG_USE;
}

static int read_options(int argc, char **argv, struct options *ret)
{
    static const struct option known[] = {{"listen", required_argument, NULL, 'l'},
                                          {"adapter", required_argument, NULL, 'a'},
                                          {"strap-only", no_argument, NULL, 'o'},
                                          {"power-only", no_argument, NULL, 'p'},
                                          {"cadence-only", no_argument, NULL, 'c'},
                                          {"no-strap", no_argument, NULL, 'n'},
                                          {"machine", required_argument, NULL, 'm'},
                                          {"rider", required_argument, NULL, 'r'},
                                          {"seed", required_argument, NULL, 's'},
                                          {"rate", required_argument, NULL, 't'},
                                          {NULL, 0, NULL, 0}};
    int option;
    opterr = 0;
    optind = 1;
    while ((option = getopt_long(argc, argv, ":", known, NULL)) != -1) {
        if (option == '?' || option == ':') {
            complain("%s '%s'; see 'afterset virtual-bike --help'",
                     option == '?' ? "unknown option" : "a value is missing after",
                     argv[optind - 1]);
            return EXIT_WRONG_USE;
        }
        const int status = take_option(option, ret);
        if (status != EXIT_DONE)
            return status;
    }
    if (optind < argc) {
        complain("virtual-bike takes no argument '%s'", argv[optind]);
        return EXIT_WRONG_USE;
    }
    return check_options(ret);
}

static void end_by_signal(void *user, int fd, short revents)
{
    (void)fd;
    (void)revents;
    loop_stop(user);
}

/* A descriptor that becomes readable on SIGINT and SIGTERM, which then no longer kill; or -1. */
static int watch_signals(struct loop *loop)
{
    sigset_t signals;
    sigemptyset(&signals);
    sigaddset(&signals, SIGINT);
    sigaddset(&signals, SIGTERM);
    if (sigprocmask(SIG_BLOCK, &signals, NULL) != 0)
        return -1;
    int fd = signalfd(-1, &signals, SFD_CLOEXEC | SFD_NONBLOCK);
    if (fd >= 0 && loop_watch(loop, fd, POLLIN, end_by_signal, loop) == 0) {
        (void)close(fd);
        return -1;
    }
    return fd;
}

static void complain_of_listening(const char *path, enum result result)
{
    if (result == RESULT_IO)
        complain("%s: cannot listen there: %s; choose a new name in a folder that is there", path,
                 strerror(errno));
    else if (result == RESULT_RANGE)
        complain("%s: too long for a socket; choose a shorter path", path);
    else if (result == RESULT_BUSY)
        complain("%s: somebody listens there already; stop them or choose another path", path);
    else
        complain("%s: cannot listen there: %s", path, result_text(result));
}

static int ride_until_signal(struct loop *loop, const char *place, const struct options *options)
{
    say_item("%s as '%s', ridden by '%s'; Ctrl-C ends it\n", place, options->setup.machine.name,
             options->setup.rider.name);
    (void)fflush(stdout);
    loop_run(loop);
    return EXIT_DONE;
}

static int serve_socket(struct loop *loop, const struct options *options)
{
    struct virtual_bike_host *host = NULL;
    char place[160];
    const enum result result = virtual_bike_listen(loop, options->path, &options->setup, &host);

    if (result != RESULT_OK) {
        complain_of_listening(options->path, result);
        return EXIT_FAILED;
    }
    (void)snprintf(place, sizeof place, "listening on unix:%s", options->path);
    const int status = ride_until_signal(loop, place, options);
    virtual_bike_host_free(host);
    return status;
}

static uint32_t offers_of(const struct virtual_machine_config *machine)
{
    switch (machine->only) {
    case VIRTUAL_WHOLE_BIKE: break;
    case VIRTUAL_STRAP_ONLY: return 1u << DEVICE_STRAP;
    case VIRTUAL_POWER_ONLY: return 1u << DEVICE_POWER;
    case VIRTUAL_CADENCE_ONLY: return 1u << DEVICE_CADENCE;
    }
    return 1u << DEVICE_MACHINE | (machine->has_strap ? 1u << DEVICE_STRAP : 0);
}

static int serve_air(struct loop *loop, const struct options *options)
{
    const struct virtual_machine_config *machine = &options->setup.machine;
    const struct peripheral_setup setup = {
        .index = options->adapter, .offers = offers_of(machine), .name = machine->name};
    struct virtual_bike_host *host = NULL;
    const char *why = "";
    char place[160];
    int status = EXIT_FAILED, fd = -1;

    struct peripheral *peripheral = peripheral_open(loop, &setup, &fd, &why);
    if (peripheral == NULL) {
        complain("hci%u: %s", options->adapter, why);
        return EXIT_FAILED;
    }
    const enum result result = virtual_bike_accept(loop, fd, &options->setup, &host);
    (void)snprintf(place, sizeof place, "advertising on hci%u", options->adapter);
    if (result == RESULT_OK)
        status = ride_until_signal(loop, place, options);
    else
        complain("hci%u: the virtual bike cannot be set up: %s", options->adapter,
                 result_text(result));
    virtual_bike_host_free(host);
    peripheral_close(peripheral);
    return status;
}

static int serve(struct loop *loop, struct options *options)
{
    struct virtual_machine_config *machine = &options->setup.machine;
    const int signal_fd = watch_signals(loop);

    if (signal_fd < 0) {
        complain("cannot wait for signals: %s", strerror(errno));
        return EXIT_FAILED;
    }
    machine->only = options->only;
    machine->has_strap =
        options->only == VIRTUAL_STRAP_ONLY || (machine->has_strap && !options->no_strap);
    const int status =
        options->has_adapter ? serve_air(loop, options) : serve_socket(loop, options);
    (void)close(signal_fd);
    return status;
}

static int run(int argc, char **argv)
{
    struct options options = {.rate = 1,
                              .setup = {.machine = virtual_machine_default(),
                                        .rider = virtual_rider_default(),
                                        .seed = 1}};
    int status = read_options(argc, argv, &options);
    if (status != EXIT_DONE)
        return status;
    struct loop *loop = loop_new(LOOP_REAL, options.rate);
    if (loop == NULL) {
        complain("not enough memory");
        return EXIT_FAILED;
    }
    status = serve(loop, &options);
    loop_free(loop);
    return status;
}

const struct command command_virtual_bike = {
    .name = "virtual-bike",
    .arguments = "--listen unix:PATH | --adapter hciN [OPTIONS]",
    .purpose = "offer the virtual bike to other programs, without a bike",
    .help =
        "  --listen unix:PATH  the socket to make; one program at a time may connect\n"
        "  --adapter hciN      be a Bluetooth bike on that adapter; needs sudo, or once 'sudo "
        "setcap cap_net_admin+ep' on the program\n"
        "  --strap-only        only the strap, not the bike\n"
        "  --power-only        only a sensor of power and cadence, on a bike of its own\n"
        "  --cadence-only      likewise one of cadence\n"
        "  --no-strap          only the bike, without the strap on the same link\n"
        "  --machine FILE      another machine than the built-in one\n"
        "  --rider FILE        another rider than the built-in one\n"
        "  --seed N            chance begins here; the same seed, the same ride (1)\n"
        "  --rate N            time runs N times as fast (1)\n"
        "\n"
        "It is ridden with: afterset ride PROFILE --bike unix:PATH, or --bike and its address\n",
    .run = run,
};
