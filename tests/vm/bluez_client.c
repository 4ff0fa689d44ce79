/*
 * One who rides through bluetoothd's D-Bus interface would do this (BlueZ, doc/device-api.txt and
 * doc/gatt-api.txt): connect, wait for the services, subscribe, wait for the first value. It says
 * how many milliseconds each took since the call, so that our own way can be held beside it.
 * Usage: bluez_client ADAPTER-PATH DEVICE-PATH CHARACTERISTIC-PATH
 */
#include <errno.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <systemd/sd-bus.h>

#define BLUEZ      "org.bluez"
#define ADAPTER    "org.bluez.Adapter1"
#define DEVICE     "org.bluez.Device1"
#define ATTRIBUTE  "org.bluez.GattCharacteristic1"
#define PROPERTIES "org.freedesktop.DBus.Properties"
#define LIMIT_MS   60000.0

static double now_ms(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec * 1e3 + (double)now.tv_nsec / 1e6;
}

static void check(int result, const char *what)
{
    if (result >= 0)
        return;
    (void)fprintf(stderr, "bluez_client: %s: %s\n", what, strerror(-result));
    exit(1);
}

static void call(sd_bus *bus, const char *path, const char *interface, const char *method)
{
    check(sd_bus_call_method(bus, BLUEZ, path, interface, method, NULL, NULL, ""), method);
}

static bool is_resolved(sd_bus *bus, const char *device)
{
    int resolved = 0;
    return sd_bus_get_property_trivial(bus, BLUEZ, device, DEVICE, "ServicesResolved", NULL, 'b',
                                       &resolved) >= 0 &&
           resolved != 0;
}

static bool is_known(sd_bus *bus, const char *device)
{
    int connected = 0;
    return sd_bus_get_property_trivial(bus, BLUEZ, device, DEVICE, "Connected", NULL, 'b',
                                       &connected) >= 0;
}

/* Asked again and again: what asks so seldom costs next to nothing beside the radio. */
static void await(sd_bus *bus, const char *device, bool (*is_so)(sd_bus *, const char *))
{
    const struct timespec pause = {.tv_nsec = 5000000};
    const double give_up = now_ms() + LIMIT_MS;

    while (!is_so(bus, device)) {
        check(now_ms() < give_up ? 0 : -ETIMEDOUT, device);
        (void)nanosleep(&pause, NULL);
    }
}

static int on_changed(sd_bus_message *message, void *user, sd_bus_error *error)
{
    bool *has_value = user;
    const char *interface, *property;

    (void)error;
    if (sd_bus_message_read(message, "s", &interface) < 0 ||
        sd_bus_message_enter_container(message, 'a', "{sv}") < 0)
        return 0;
    while (sd_bus_message_enter_container(message, 'e', "sv") > 0) {
        if (sd_bus_message_read(message, "s", &property) >= 0 && strcmp(property, "Value") == 0)
            *has_value = true;
        if (sd_bus_message_skip(message, "v") < 0 || sd_bus_message_exit_container(message) < 0)
            break;
    }
    return 0;
}

static void await_value(sd_bus *bus, const bool *has_value)
{
    const double give_up = now_ms() + LIMIT_MS;

    while (!*has_value) {
        const int done = sd_bus_process(bus, NULL);
        check(done, "the bus");
        check(now_ms() < give_up ? 0 : -ETIMEDOUT, "the first value");
        if (done == 0)
            check(sd_bus_wait(bus, 100000), "the bus");
    }
}

int main(int argc, char **argv)
{
    sd_bus *bus = NULL;
    bool has_value = false;

    if (argc != 4)
        return 2;
    const char *adapter = argv[1], *device = argv[2], *attribute = argv[3];
    check(sd_bus_open_system(&bus), "the system bus");
    check(sd_bus_match_signal(bus, NULL, BLUEZ, attribute, PROPERTIES, "PropertiesChanged",
                              on_changed, &has_value),
          "listening");
    if (!is_known(bus, device)) {
        call(bus, adapter, ADAPTER, "StartDiscovery");
        await(bus, device, is_known);
        call(bus, adapter, ADAPTER, "StopDiscovery");
    }
    const double begun = now_ms();
    call(bus, device, DEVICE, "Connect");
    const double linked = now_ms();
    await(bus, device, is_resolved);
    const double resolved = now_ms();
    call(bus, attribute, ATTRIBUTE, "StartNotify");
    await_value(bus, &has_value);
    (void)printf("connected %.1f resolved %.1f value %.1f\n", linked - begun, resolved - begun,
                 now_ms() - begun);
    call(bus, device, DEVICE, "Disconnect");
    sd_bus_unref(bus);
    return 0;
}
