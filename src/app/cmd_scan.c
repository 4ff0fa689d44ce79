#include <errno.h>
#include <getopt.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include "app/command.h"
#include "app/devices_file.h"
#include "app/settings_file.h"
#include "discovery.h"
#include "keys.h"
#include "scan_list.h"
#include "usb_key.h"
#include "usb_scan.h"
#include "values.h"

enum { DRAW_EVERY_MS = 250, UNWATCHED_MS = 10000, ROWS_ASSUMED = 24, ROWS_BESIDE_LIST = 3 };

struct scan_options {
    uint32_t for_ms; /* 0: until a key */
    bool keep, jsonl;
    struct discovery_wish wish;
    bool is_usb_alone;
    struct link_address receiver;
};

struct scan_run {
    struct scan_options options;
    struct loop *loop;
    struct sightings sightings;
    enum scan_trouble trouble; /* of Bluetooth */
    struct usb_scan usb;
    bool hears_usb;
    uint16_t index;
    bool live, with_colour, is_new;
    size_t lines_drawn;
};

/* ---- options ---- */

static bool take_way(const char *word, struct scan_options *ret)
{
    ret->is_usb_alone = link_address_read(word, &ret->receiver) &&
                        ret->receiver.kind == LINK_ADDRESS_USB &&
                        device_address_usb(&ret->receiver.device) == 0;
    if (strcmp(word, "bluetoothd") == 0)
        ret->wish.way = DISCOVERY_BY_BLUETOOTHD;
    else if (strcmp(word, "kernel") == 0)
        ret->wish.way = DISCOVERY_BY_KERNEL;
    else if (!ret->is_usb_alone)
        complain("--through wants bluetoothd, kernel or usb, not '%s'", word);
    return ret->wish.way != DISCOVERY_BY_ANY || ret->is_usb_alone;
}

static bool read_options(int argc, char **argv, struct scan_options *ret)
{
    static const struct option known[] = {
        {"for", required_argument, NULL, 'f'},     {"keep", no_argument, NULL, 'k'},
        {"jsonl", no_argument, NULL, 'j'},         {"through", required_argument, NULL, 't'},
        {"adapter", required_argument, NULL, 'a'}, {NULL, 0, NULL, 0}};
    int option;
    opterr = 0;
    while ((option = getopt_long(argc, argv, ":", known, NULL)) != -1) {
        bool fine = true;
        switch (option) {
        case 'f': fine = take_seconds("--for", optarg, &ret->for_ms); break;
        case 'k': ret->keep = true; break;
        case 'j': ret->jsonl = true; break;
        case 't': fine = take_way(optarg, ret); break;
        case 'a':
            ret->wish.has_adapter = true;
            fine = take_adapter("--adapter", optarg, &ret->wish.adapter);
            break;
        case ':': complain("scan: %s needs a value", argv[optind - 1]); return false;
        default:
            complain("scan: unknown option %s; see afterset scan --help", argv[optind - 1]);
            return false;
        }
        if (!fine)
            return false;
    }
    if (optind < argc)
        complain("scan: '%s' is one too many; see afterset scan --help", argv[optind]);
    return optind >= argc;
}

/* ---- the list ---- */

static size_t terminal_rows(void)
{
    struct winsize size;
    if (ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) != 0 || size.ws_row <= ROWS_BESIDE_LIST)
        return ROWS_ASSUMED - ROWS_BESIDE_LIST;
    return (size_t)(size.ws_row - ROWS_BESIDE_LIST);
}

static size_t put_text(const char *text)
{
    size_t lines = 0;
    for (const char *at = text; *at != '\0'; at++)
        lines += *at == '\n' ? 1 : 0;
    fputs(text, stdout);
    return lines;
}

static void put_where(const struct scan_run *run)
{
    const bool is_in_the_air = !run->options.is_usb_alone && run->trouble == SCAN_WORKS;

    fputs("Looking on ", stdout);
    if (is_in_the_air)
        printf("hci%u%s", run->index, run->hears_usb ? " and " : "");
    printf("%s; any key ends.\n", run->hears_usb ? "USB" : "");
}

static void draw(struct scan_run *run, bool is_last)
{
    char text[SIGHTINGS_MAX * 320u];
    struct text_writer writer = text_writer(text, sizeof text);
    scan_list_put(&writer, &run->sightings, is_last ? SIGHTINGS_MAX : terminal_rows(),
                  run->with_colour);
    if (run->lines_drawn > 0)
        printf("\033[%zuA\r\033[J", run->lines_drawn);
    run->lines_drawn = put_text(text);
    if (!is_last) {
        put_where(run);
        run->lines_drawn++;
    }
    (void)fflush(stdout);
}

static void on_draw(void *user)
{
    struct scan_run *run = user;
    if (run->is_new)
        draw(run, false);
    run->is_new = false;
    (void)loop_set_timer(run->loop, loop_now_ms(run->loop) + DRAW_EVERY_MS, on_draw, run);
}

/* ---- what happens ---- */

static void on_seen(void *user, const struct sighting *report)
{
    struct scan_run *run = user;
    const struct sighting *known = sightings_add(&run->sightings, report);
    if (known == NULL)
        return;
    run->is_new = true;
    if (run->options.jsonl && (!scan_list_print_json(known) || fflush(stdout) != 0))
        loop_stop(run->loop);
}

static void on_stopped(void *user, enum scan_trouble trouble)
{
    struct scan_run *run = user;
    run->trouble = trouble;
    loop_stop(run->loop);
}

static void on_key(void *user, enum ride_key key)
{
    struct scan_run *run = user;
    (void)key;
    loop_stop(run->loop);
}

static void on_typed(void *user, char character)
{
    (void)character;
    on_key(user, KEY_STOP);
}

static void on_time(void *user)
{
    struct scan_run *run = user;
    loop_stop(run->loop);
}

/* The lines are as many as were counted only while none of them wraps. */
static void wrap_lines(bool wrap)
{
    fputs(wrap ? "\033[?7h" : "\033[?7l", stdout);
}

/* Where that is wished for alone it is said why not; else sensors in the air are enough. */
static bool open_usb(struct scan_run *run)
{
    const struct link_address any = {.kind = LINK_ADDRESS_USB};
    const bool is_alone = run->options.is_usb_alone;
    struct settings settings = {0};

    if (run->options.wish.way != DISCOVERY_BY_ANY || !load_settings(&settings))
        return false;
    if (settings.usb_key == 0) {
        if (is_alone)
            usb_key_complain("");
        return false;
    }
    run->usb = (struct usb_scan){.loop = run->loop, .seen = on_seen, .user = run};
    if (usb_scan_begin(&run->usb, is_alone ? &run->options.receiver : &any, settings.usb_key))
        return true;
    if (is_alone)
        complain("scan: %s", usb_scan_problem(&run->usb));
    return false;
}

static void look(struct scan_run *run)
{
    const struct scan_user user = {on_seen, on_stopped, run};
    struct scan *scan = NULL;
    run->hears_usb = open_usb(run);
    if (!run->options.is_usb_alone)
        run->trouble = discovery_open(run->loop, &run->options.wish, &user, &run->index, &scan);
    if (!run->hears_usb && (run->options.is_usb_alone || run->trouble != SCAN_WORKS))
        return;
    if (run->options.for_ms > 0)
        (void)loop_set_timer(run->loop, run->options.for_ms, on_time, run);
    run->is_new = true;
    if (run->live) {
        wrap_lines(false);
        on_draw(run);
    }
    loop_run(run->loop);
    scan_close(scan);
    usb_scan_end(&run->usb);
    if (run->live) {
        draw(run, true);
        wrap_lines(true);
    }
}

/* ---- afterwards ---- */

static void tell_kept(const struct devices *devices)
{
    puts("Remembered:");
    for (enum device_kind kind = DEVICE_MACHINE; kind < DEVICE_KIND_COUNT; kind++) {
        const struct device *device = &devices->list[kind];
        char address[24];
        struct text_writer writer = text_writer(address, sizeof address);
        if (device->address.type == ADDRESS_NONE)
            continue;
        device_address_put(&writer, &device->address);
        say("  %-8s %s %s  %s\n", device_kind_name(kind), address,
            address_type_name(device->address.type), device->name);
        if (!device_address_changes(&device->address))
            continue;
        if (device->name[0] != '\0')
            say("           This address changes within the hour; rides find it by its name.\n");
        else
            say("           This address changes within the hour, and it has no name to be found "
                "by. Paired once it keeps one: bluetoothctl --agent NoInputNoOutput pair %s, "
                "then scan --keep again\n",
                address);
    }
}

static int keep(const struct scan_run *run)
{
    struct devices devices;
    if (!load_devices(&devices))
        return EXIT_FAILED;
    if (sightings_keep(&run->sightings, &devices) == 0) {
        complain("scan: nothing was found that could be remembered");
        return EXIT_FAILED;
    }
    if (!save_devices(&devices))
        return EXIT_FAILED;
    if (!run->options.jsonl)
        tell_kept(&devices);
    return EXIT_DONE;
}

static int finish(struct scan_run *run)
{
    const struct sighting *ranked[SIGHTINGS_MAX];
    bool found = sightings_ranked(&run->sightings, ranked) > 0;
    if (run->options.is_usb_alone && !run->hears_usb)
        return EXIT_FAILED;
    if (run->hears_usb && usb_scan_problem(&run->usb) != NULL)
        complain("scan: the receiver on USB: %s", usb_scan_problem(&run->usb));
    if (run->trouble != SCAN_WORKS) {
        char advice[DISCOVERY_ADVICE_MAX];
        discovery_advice(run->trouble, run->index, advice);
        complain("scan: %s", advice);
        if (!run->hears_usb)
            return EXIT_FAILED;
    }
    if (!run->options.jsonl && !run->live)
        draw(run, true);
    if (!run->options.jsonl && !found)
        say("No machine, strap or sensor in reach. Turn the pedals, wear the strap, and end other "
            "programs that hold them.\n");
    return run->options.keep ? keep(run) : EXIT_DONE;
}

static int run_scan(int argc, char **argv)
{
    struct scan_run run = {0};
    if (!read_options(argc, argv, &run.options))
        return EXIT_WRONG_USE;
    run.loop = loop_new(LOOP_REAL, 1.0);
    struct keys *keys = run.loop != NULL ? keys_open(run.loop, on_key, &run) : NULL;
    if (keys == NULL) {
        loop_free(run.loop);
        complain("scan: out of memory");
        return EXIT_FAILED;
    }
    keys_read_terminal(keys, on_typed);
    run.live = isatty(STDOUT_FILENO) != 0 && !run.options.jsonl;
    run.with_colour = run.live && getenv("NO_COLOR") == NULL;
    /* A program that reads this has no key to press. */
    if (run.options.for_ms == 0 && isatty(STDIN_FILENO) == 0)
        run.options.for_ms = UNWATCHED_MS;
    look(&run);
    keys_close(keys);
    loop_free(run.loop);
    int status = finish(&run);
    if (fflush(stdout) == 0)
        return status;
    complain("scan: the list cannot be written: %s", strerror(errno));
    return EXIT_FAILED;
}

const struct command command_scan = {
    .name = "scan",
    .arguments = "[--for 10s] [--keep] [--jsonl]\n"
                 "                     [--through bluetoothd|kernel|usb] [--adapter hciN]",
    .purpose = "list machines, straps and sensors in reach, strongest first",
    .help =
        "  --for 10s    so long; without it until a key, or 10 s where there is no keyboard\n"
        "  --keep       remember the strongest of each kind for later rides\n"
        "  --jsonl      one JSON object a line for each device that is seen or changes\n"
        "  --through W  bluetoothd, kernel or usb; without it bluetoothd when it runs, else the "
        "kernel, and besides a receiver on USB where there is one and its network key. That "
        "hears all sensors, or the first of each kind where it cannot listen to all at once\n"
        "  --adapter A  hci0, hci1 or so; without it the first that works\n"
        "\n"
        "bluetoothd looks for anybody. The kernel wants the capability cap_net_admin, with "
        "which one could switch adapters off or end other people's links, so afterset itself "
        "never has it: a small program of its own does, afterset-radio. It drops the capability "
        "once its socket is bound, looks for devices and sets the parameters of a link, and "
        "does nothing else. Once, unless make install did it:\n"
        "  sudo setcap cap_net_admin+ep /usr/local/libexec/afterset-radio\n",
    .run = run_scan,
};
