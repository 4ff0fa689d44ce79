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
#include "io/adapter.h"
#include "io/speaker_alsa.h"
#include "io/store_sqlite.h"
#include "ready_lines.h"
#include "ready_usb.h"
#include "ride_options.h"
#include "sightings.h"
#include "usb_scan.h"
#include "values.h"

enum { COLUMNS_WANTED = 80, ROWS_WANTED = 24 };

struct ready_run {
    uint32_t for_ms; /* 0: do not look for devices */
    bool resets;     /* the adapter, and nothing else */
    struct ready_lines lines;
    struct devices devices;
    uint64_t network_key; /* of the settings; 0: none */
    struct loop *loop;
    struct sightings sightings;
    enum scan_trouble trouble;
    struct usb_scan usb;
    bool hears_usb;
};

/* ---- this machine ---- */

/* Whether a file could be made there: its folder is writable, or the folder above that is missing
 * can be made. */
static bool can_make(const char *path)
{
    char *folder = strdup(path);
    bool can = false;
    for (char *slash = folder != NULL ? strrchr(folder, '/') : NULL; slash != NULL && !can;
         slash = strrchr(folder, '/')) {
        *slash = '\0';
        can = access(folder[0] != '\0' ? folder : "/", W_OK) == 0;
        if (!can && errno != ENOENT)
            break;
    }
    free(folder);
    return can;
}

static void check_store(struct ready_run *run)
{
    char path[4096], why[4096 + 160];
    struct store *store = NULL;
    if (!data_path(STORE_FILE_NAME, path, sizeof path)) {
        ready_tell(&run->lines, STATE_MISSING, "store", "no folder to keep rides in; set HOME");
        return;
    }
    enum result result = store_open(path, STORE_EXISTING, why, sizeof why, &store);
    store_close(store);
    if (result != RESULT_OK && result != RESULT_NOT_FOUND)
        ready_tell(&run->lines, STATE_MISSING, "store", "%s", why);
    else if (!can_make(path) || (result == RESULT_OK && access(path, W_OK) != 0))
        ready_tell(&run->lines, STATE_MISSING, "store",
                   "%s cannot be written: %s; set XDG_DATA_HOME", path, strerror(errno));
    else
        ready_tell(&run->lines, STATE_OK, "store", "%s%s", path,
                   result == RESULT_OK ? "" : ", at the first ride");
}

static void check_rider(struct ready_run *run)
{
    struct settings settings = {0};
    const bool is_loaded = load_settings(&settings);
    run->network_key = is_loaded ? settings.usb_key : 0;
    if (!is_loaded)
        ready_tell(&run->lines, STATE_MISSING, "rider",
                   "the file cannot be read; mend or remove it");
    else if (!setting_is_known(&settings, SETTING_CRITICAL_POWER))
        ready_tell(&run->lines, STATE_TO_DO, "rider",
                   "critical power is not known; afterset rider critical-power 180");
    else
        ready_tell(&run->lines, STATE_OK, "rider", "critical power %u W",
                   settings.rider.critical_power_w);
}

static void check_terminal(struct ready_run *run)
{
    struct winsize size;
    if (ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) != 0)
        ready_tell(&run->lines, STATE_TO_DO, "terminal",
                   "this is none; rides are shown as plain lines");
    else if (size.ws_col < COLUMNS_WANTED || size.ws_row < ROWS_WANTED)
        ready_tell(&run->lines, STATE_TO_DO, "terminal", "%u x %u; make it at least %d x %d",
                   size.ws_col, size.ws_row, COLUMNS_WANTED, ROWS_WANTED);
    else
        ready_tell(&run->lines, STATE_OK, "terminal", "%u x %u", size.ws_col, size.ws_row);
}

static void check_sound(struct ready_run *run)
{
    struct speaker *speaker = NULL;
    const char *why = NULL;
    /* What it would ask of the loop is asked while it plays, and it does not. */
    if (speaker_alsa_open(NULL, &speaker, &why) != RESULT_OK) {
        ready_tell(&run->lines, STATE_TO_DO, "sound",
                   "%s; plug one in or end what holds it, until then the terminal's bell rings",
                   why);
        return;
    }
    speaker->operations->close(speaker, 0);
    ready_tell(&run->lines, STATE_OK, "sound",
               "the default device of ALSA; hear it: afterset cues");
}

/* ---- Bluetooth ---- */

static bool remembers(const struct devices *devices, bool only_usb)
{
    for (size_t i = 0; i < DEVICE_KIND_COUNT; i++) {
        const enum address_type type = devices->list[i].address.type;
        if (only_usb ? type == ADDRESS_USB : type != ADDRESS_NONE)
            return true;
    }
    return false;
}

static void check_adapter(struct ready_run *run)
{
    uint16_t index = 0;
    char advice[DISCOVERY_ADVICE_MAX];
    enum scan_trouble trouble = adapter_find(&index);
    enum ready_state state = remembers(&run->devices, false) ? STATE_MISSING : STATE_TO_DO;
    bool is_there = trouble != SCAN_NO_BLUETOOTH && trouble != SCAN_NO_ADAPTER;
    discovery_advice(trouble, index, advice);
    if (is_there)
        ready_tell(&run->lines, STATE_OK, "adapter", "hci%u", index);
    else
        ready_tell(&run->lines, state, "adapter", "%s", advice);
    if (trouble == SCAN_BLOCKED || trouble == SCAN_NOT_POWERED)
        ready_tell(&run->lines, state, "power", "%s", advice);
    else if (is_there)
        ready_tell(&run->lines, STATE_OK, "power", "on");
    if (trouble == SCAN_LE_OFF)
        ready_tell(&run->lines, state, "low energy", "%s", advice);
    else if (trouble == SCAN_WORKS)
        ready_tell(&run->lines, STATE_OK, "low energy", "on");
    if (trouble == SCAN_WORKS && adapter_answers(index) == SCAN_SILENT)
        ready_tell_silent(&run->lines, index);
    ready_tell_adapters(&run->lines, is_there);
}

static void check_permission(struct ready_run *run)
{
    const char *by = "";
    char advice[DISCOVERY_ADVICE_MAX];
    enum scan_trouble trouble = discovery_permission(&by);
    discovery_advice(trouble, 0, advice);
    if (trouble == SCAN_WORKS)
        ready_tell(&run->lines, STATE_OK, "discovery", "by %s", by);
    else
        ready_tell(&run->lines, STATE_TO_DO, "discovery", "%s", advice);
}

/* ---- remembered devices ---- */

static bool is_on_usb(const struct device_address *address)
{
    return address->type == ADDRESS_USB;
}

static bool is_seen(const struct ready_run *run, enum device_kind kind)
{
    const struct sighting *seen;
    return sightings_find(&run->sightings, &run->devices.list[kind], kind, &seen) > 0;
}

/* Whoever looks for it does look. */
static bool is_looked_for(const struct ready_run *run, const struct device_address *address)
{
    return is_on_usb(address) ? run->hears_usb : run->trouble == SCAN_WORKS;
}

static bool saw_all(const struct ready_run *run)
{
    for (enum device_kind kind = DEVICE_MACHINE; kind < DEVICE_KIND_COUNT; kind++) {
        const struct device_address *address = &run->devices.list[kind].address;
        if (address->type != ADDRESS_NONE && is_looked_for(run, address) && !is_seen(run, kind))
            return false;
    }
    return true;
}

static void on_seen(void *user, const struct sighting *report)
{
    struct ready_run *run = user;
    (void)sightings_add(&run->sightings, report);
    if (saw_all(run))
        loop_stop(run->loop);
}

static void on_stopped(void *user, enum scan_trouble trouble)
{
    struct ready_run *run = user;
    run->trouble = trouble;
    loop_stop(run->loop);
}

static void on_time(void *user)
{
    struct ready_run *run = user;
    loop_stop(run->loop);
}

/* What keeps a receiver from it is told of the receiver. */
static void listen_on_usb(struct ready_run *run)
{
    const struct link_address any = {.kind = LINK_ADDRESS_USB};
    bool is_any = false;

    run->usb = (struct usb_scan){.loop = run->loop, .seen = on_seen, .user = run};
    for (unsigned i = 0; i < USB_CHANNEL_COUNT; i++) {
        const enum device_kind kind =
            i == USB_CHANNEL_MACHINE ? DEVICE_MACHINE : ride_sensor_names[i].device;
        const struct device_address *address = &run->devices.list[kind].address;
        run->usb.setup.is_wanted[i] = is_on_usb(address);
        run->usb.setup.ids[i].number = is_on_usb(address) ? device_address_usb(address) : 0;
        is_any = is_any || is_on_usb(address);
    }
    run->hears_usb =
        is_any && run->network_key != 0 && usb_scan_begin(&run->usb, &any, run->network_key);
}

static void look(struct ready_run *run)
{
    const struct scan_user user = {on_seen, on_stopped, run};
    const struct discovery_wish wish = {0};
    struct scan *scan = NULL;
    uint16_t index;
    run->loop = loop_new(LOOP_REAL, 1.0);
    run->trouble = SCAN_FAILED;
    if (run->loop == NULL)
        return;
    run->trouble = discovery_open(run->loop, &wish, &user, &index, &scan);
    listen_on_usb(run);
    if (run->trouble == SCAN_WORKS || run->hears_usb) {
        (void)loop_set_timer(run->loop, run->for_ms, on_time, run);
        loop_run(run->loop);
    }
    usb_scan_end(&run->usb);
    scan_close(scan);
    loop_free(run->loop);
}

static void tell_device(struct ready_run *run, enum device_kind kind)
{
    const struct device *device = &run->devices.list[kind];
    const char *thing = device_kind_name(kind);
    char words[24 + 8 + DEVICE_NAME_SIZE];
    struct text_writer writer = text_writer(words, sizeof words);
    device_address_put(&writer, &device->address);
    text_put(&writer, device->name[0] != '\0' ? " " : "");
    text_put(&writer, device->name);
    if (run->for_ms == 0)
        ready_tell(&run->lines, STATE_OK, thing, "%s is remembered", words);
    else if (!is_looked_for(run, &device->address))
        ready_tell(&run->lines, STATE_TO_DO, thing, "%s was not looked for", words);
    else if (is_seen(run, kind))
        ready_tell(&run->lines, STATE_OK, thing, "%s is in reach", words);
    else
        ready_tell(&run->lines, STATE_MISSING, thing,
                   "%s is not in reach; wake it, come closer, end other programs that hold it",
                   words);
}

static void check_devices(struct ready_run *run)
{
    if (!remembers(&run->devices, false)) {
        ready_tell(&run->lines, STATE_TO_DO, "devices", "none is remembered; afterset scan --keep");
        return;
    }
    if (run->for_ms > 0)
        look(run);
    for (enum device_kind kind = DEVICE_MACHINE; kind < DEVICE_KIND_COUNT; kind++)
        if (run->devices.list[kind].address.type != ADDRESS_NONE)
            tell_device(run, kind);
}

/* ---- the command ---- */

static bool read_options(int argc, char **argv, struct ready_run *ret)
{
    static const struct option known[] = {{"for", required_argument, NULL, 'f'},
                                          {"jsonl", no_argument, NULL, 'j'},
                                          {"reset-adapter", no_argument, NULL, 'r'},
                                          {NULL, 0, NULL, 0}};
    int option;
    opterr = 0;
    while ((option = getopt_long(argc, argv, ":", known, NULL)) != -1) {
        switch (option) {
        case 'f':
            if (!take_seconds("--for", optarg, &ret->for_ms))
                return false;
            break;
        case 'j': ret->lines.jsonl = true; break;
        case 'r': ret->resets = true; break;
        case ':': complain("ready: %s needs a value", argv[optind - 1]); return false;
        default:
            complain("ready: unknown option %s; see afterset ready --help", argv[optind - 1]);
            return false;
        }
    }
    if (optind < argc)
        complain("ready: '%s' is one too many; see afterset ready --help", argv[optind]);
    return optind >= argc;
}

static int run_ready(int argc, char **argv)
{
    struct ready_run run = {0};
    if (!read_options(argc, argv, &run))
        return EXIT_WRONG_USE;
    if (run.resets)
        return ready_reset_adapters() ? EXIT_DONE : EXIT_FAILED;
    check_store(&run);
    check_rider(&run);
    check_terminal(&run);
    check_sound(&run);
    if (load_devices(&run.devices)) {
        check_adapter(&run);
        check_permission(&run);
        check_devices(&run);
    } else {
        ready_tell(&run.lines, STATE_MISSING, "devices",
                   "the file cannot be read; mend or remove it");
    }
    ready_tell_receivers(&run.lines, run.network_key, remembers(&run.devices, true));
    if (fflush(stdout) != 0) {
        complain("ready: the list cannot be written: %s", strerror(errno));
        return EXIT_FAILED;
    }
    return run.lines.failed ? EXIT_FAILED : EXIT_DONE;
}

const struct command command_ready = {
    .name = "ready",
    .arguments = "[--for 5s] [--jsonl] [--reset-adapter]",
    .purpose = "say what works for a ride, and what to do about the rest",
    .help = "  --for 5s  look so long for the remembered devices, too\n"
            "  --jsonl   one JSON object a thing and line\n"
            "  --reset-adapter\n"
            "            only reset the Bluetooth adapters on USB, as if unplugged; may take sudo\n"
            "\n"
            "ok: fine; to do: one can ride without it; missing: a ride needs it, and the exit "
            "status is 1.\n",
    .run = run_ready,
};
