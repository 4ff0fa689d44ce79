#include "io/scan_bluez.h"

#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <systemd/sd-bus.h>

#include "io/bluez_device.h"
#include "io/sighting.h"

#define BLUEZ   "org.bluez"
#define ADAPTER "org.bluez.Adapter1"
#define DEVICE  "org.bluez.Device1"

struct scan_bluez {
    struct scan scan;
    struct loop *loop;
    struct scan_user user;
    sd_bus *bus;
    int watch, timer;
    bool daemon_gone;
    char adapter[32]; /* its object: /org/bluez/hciN */
};

/* ---- what the bus says of a device ---- */

static void report(const struct scan_bluez *scan, const struct bluez_device *state)
{
    if (state->address.type == ADDRESS_NONE)
        return;
    const struct sighting sighting =
        sighting_from(&state->said, &state->address, state->signal_dbm);
    scan->user.seen(scan->user.user, &sighting);
}

/* An object and its interfaces: "oa{sa{sv}}". */
static int take_object(struct scan_bluez *scan, sd_bus_message *message, bool is_heard)
{
    const char *path, *interface;
    struct bluez_device state = {.has_signal = false};
    int result = sd_bus_message_read(message, "o", &path);
    if (result >= 0)
        result = sd_bus_message_enter_container(message, 'a', "{sa{sv}}");
    while (result >= 0 && (result = sd_bus_message_enter_container(message, 'e', "sa{sv}")) > 0) {
        result = sd_bus_message_read(message, "s", &interface);
        if (result >= 0)
            result = strcmp(interface, DEVICE) == 0 ? bluez_device_take(message, &state)
                                                    : sd_bus_message_skip(message, "a{sv}");
        if (result >= 0)
            result = sd_bus_message_exit_container(message);
    }
    if (result >= 0 && strncmp(path, scan->adapter, strlen(scan->adapter)) == 0 &&
        (is_heard || state.has_signal))
        report(scan, &state);
    return result < 0 ? result : sd_bus_message_exit_container(message);
}

/* ---- signals ---- */

static int on_added(sd_bus_message *message, void *user, sd_bus_error *error)
{
    (void)error;
    (void)take_object(user, message, true);
    return 0;
}

static int on_all(sd_bus_message *message, void *user, sd_bus_error *error)
{
    struct bluez_device state = {.has_signal = false};
    (void)error;
    if (sd_bus_message_is_method_error(message, NULL) == 0 &&
        bluez_device_take(message, &state) >= 0)
        report(user, &state);
    return 0;
}

/* Whether a change comes of an advertisement: its signal, or what it says. Other changes, such as
 * the signal's going when a discovery ends, say nothing of the device's being there. */
static bool is_heard(sd_bus_message *message)
{
    const char *interface;
    struct bluez_device state = {.has_signal = false};
    return sd_bus_message_read(message, "s", &interface) >= 0 &&
           bluez_device_take(message, &state) >= 0 &&
           (state.has_signal || state.said.has_machine_types || state.said.offers != 0);
}

/* A change has neither address nor type, so all is asked for. */
static int on_changed(sd_bus_message *message, void *user, sd_bus_error *error)
{
    struct scan_bluez *scan = user;
    const char *path = sd_bus_message_get_path(message);
    (void)error;
    if (strncmp(path, scan->adapter, strlen(scan->adapter)) == 0 && is_heard(message))
        (void)sd_bus_call_method_async(scan->bus, NULL, BLUEZ, path,
                                       "org.freedesktop.DBus.Properties", "GetAll", on_all, scan,
                                       "s", DEVICE);
    return 0;
}

static int on_owner(sd_bus_message *message, void *user, sd_bus_error *error)
{
    struct scan_bluez *scan = user;
    const char *name, *before, *now;
    (void)error;
    if (sd_bus_message_read(message, "sss", &name, &before, &now) >= 0 && now[0] == '\0')
        scan->daemon_gone = true;
    return 0;
}

static void stop(struct scan_bluez *scan, enum scan_trouble trouble)
{
    loop_unwatch(scan->loop, scan->watch);
    scan->watch = 0;
    scan->user.stopped(scan->user.user, trouble);
}

static void pump(struct scan_bluez *scan)
{
    int result;
    do {
        result = sd_bus_process(scan->bus, NULL);
    } while (result > 0);
    if (result < 0 || scan->daemon_gone || sd_bus_flush(scan->bus) < 0)
        stop(scan, SCAN_LOST);
}

static void on_readable(void *user, int fd, short revents)
{
    (void)fd;
    (void)revents;
    pump(user);
}

/* The calls of the beginning have read ahead; that would not wake the loop. */
static void on_begin(void *user)
{
    struct scan_bluez *scan = user;
    scan->timer = 0;
    pump(scan);
}

/* ---- begin and end ---- */

static bool has_daemon(sd_bus *bus)
{
    sd_bus_message *answer = NULL;
    int owned = 0;
    int result =
        sd_bus_call_method(bus, "org.freedesktop.DBus", "/org/freedesktop/DBus",
                           "org.freedesktop.DBus", "NameHasOwner", NULL, &answer, "s", BLUEZ);
    if (result >= 0)
        result = sd_bus_message_read(answer, "b", &owned);
    sd_bus_message_unref(answer);
    return result >= 0 && owned != 0;
}

bool scan_bluez_runs(void)
{
    sd_bus *bus = NULL;
    bool runs = sd_bus_open_system(&bus) >= 0 && has_daemon(bus);
    sd_bus_flush_close_unref(bus);
    return runs;
}

static enum scan_trouble trouble_of(const sd_bus_error *error)
{
    if (sd_bus_error_has_name(error, "org.bluez.Error.NotReady"))
        return SCAN_NOT_POWERED;
    if (sd_bus_error_has_name(error, "org.bluez.Error.InProgress"))
        return SCAN_WORKS;
    if (sd_bus_error_has_name(error, SD_BUS_ERROR_UNKNOWN_OBJECT) ||
        sd_bus_error_has_name(error, SD_BUS_ERROR_UNKNOWN_METHOD))
        return SCAN_NO_ADAPTER;
    if (sd_bus_error_has_name(error, SD_BUS_ERROR_ACCESS_DENIED))
        return SCAN_NOT_ALLOWED;
    return SCAN_FAILED;
}

/* No filter by service: a machine may name its own in the service data alone. */
static enum scan_trouble start(struct scan_bluez *scan)
{
    sd_bus_error error = SD_BUS_ERROR_NULL;
    enum scan_trouble trouble = SCAN_WORKS;
    int result = sd_bus_call_method(scan->bus, BLUEZ, scan->adapter, ADAPTER, "SetDiscoveryFilter",
                                    &error, NULL, "a{sv}", 1, "Transport", "s", "le");
    if (result >= 0)
        result = sd_bus_call_method(scan->bus, BLUEZ, scan->adapter, ADAPTER, "StartDiscovery",
                                    &error, NULL, "");
    if (result < 0)
        trouble = trouble_of(&error);
    sd_bus_error_free(&error);
    return trouble;
}

static bool subscribe(struct scan_bluez *scan)
{
    return sd_bus_match_signal(scan->bus, NULL, BLUEZ, "/", "org.freedesktop.DBus.ObjectManager",
                               "InterfacesAdded", on_added, scan) >= 0 &&
           sd_bus_add_match(scan->bus, NULL,
                            "type='signal',sender='" BLUEZ "',"
                            "interface='org.freedesktop.DBus.Properties',"
                            "member='PropertiesChanged',arg0='" DEVICE "'",
                            on_changed, scan) >= 0 &&
           sd_bus_add_match(scan->bus, NULL,
                            "type='signal',sender='org.freedesktop.DBus',"
                            "member='NameOwnerChanged',arg0='" BLUEZ "'",
                            on_owner, scan) >= 0;
}

static void list_known(struct scan_bluez *scan)
{
    sd_bus_message *answer = NULL;
    int result = sd_bus_call_method(scan->bus, BLUEZ, "/", "org.freedesktop.DBus.ObjectManager",
                                    "GetManagedObjects", NULL, &answer, "");
    if (result >= 0)
        result = sd_bus_message_enter_container(answer, 'a', "{oa{sa{sv}}}");
    while (result >= 0 && sd_bus_message_enter_container(answer, 'e', "oa{sa{sv}}") > 0) {
        /* A device that the daemon only remembers has no signal. */
        result = take_object(scan, answer, false);
        if (result >= 0)
            result = sd_bus_message_exit_container(answer);
    }
    sd_bus_message_unref(answer);
}

static void close_bluez(struct scan *base)
{
    struct scan_bluez *scan = (struct scan_bluez *)base;
    loop_unwatch(scan->loop, scan->watch);
    loop_cancel_timer(scan->loop, scan->timer);
    /* Waited for: a connection that comes next would wait for the end of discovery. */
    (void)sd_bus_call_method(scan->bus, BLUEZ, scan->adapter, ADAPTER, "StopDiscovery", NULL, NULL,
                             "");
    sd_bus_flush_close_unref(scan->bus);
    free(scan);
}

static enum scan_trouble begin(struct scan_bluez *scan)
{
    if (sd_bus_open_system(&scan->bus) < 0 || !has_daemon(scan->bus))
        return SCAN_NO_DAEMON;
    if (!subscribe(scan))
        return SCAN_FAILED;
    return start(scan);
}

enum scan_trouble scan_bluez_open(struct loop *loop, uint16_t index, const struct scan_user *user,
                                  struct scan **ret)
{
    static const struct scan_operations operations = {.close = close_bluez};
    struct scan_bluez *scan = calloc(1, sizeof *scan);
    if (scan == NULL)
        return SCAN_FAILED;
    scan->scan.operations = &operations;
    scan->loop = loop;
    scan->user = *user;
    (void)snprintf(scan->adapter, sizeof scan->adapter, "/org/bluez/hci%u", index);
    enum scan_trouble trouble = begin(scan);
    if (trouble != SCAN_WORKS) {
        sd_bus_flush_close_unref(scan->bus);
        free(scan);
        return trouble;
    }
    list_known(scan);
    scan->watch = loop_watch(loop, sd_bus_get_fd(scan->bus), POLLIN, on_readable, scan);
    scan->timer = loop_set_timer(loop, loop_now_ms(loop), on_begin, scan);
    *ret = &scan->scan;
    return SCAN_WORKS;
}
