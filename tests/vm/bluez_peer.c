/*
 * A bike and a strap whose attribute server is bluetoothd's: this program only registers values
 * with it, over D-Bus (BlueZ, doc/gatt-api.txt and doc/advertising-api.txt), and says on standard
 * output what it told and was told. It knows nothing of afterset; octets are written here by hand.
 * Usage: bluez_peer hciN [--encrypted] [--agent]
 */
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <systemd/sd-bus.h>

#define ROOT      "/peer"
#define MACHINE   ROOT "/machine"
#define STRAP     ROOT "/strap"
#define VALUE_MAX 20
#define FLAGS_MAX 3
#define TICK_US   250000u

enum { FEATURE, BIKE_DATA, TRAINING, POWER_RANGE, CONTROL_POINT, STATUS, HEART, VALUE_COUNT };

/* A service, or a characteristic of one. */
struct entry {
    const char *path, *uuid, *service;
    const char *flags[FLAGS_MAX], *encrypted_flags[FLAGS_MAX];
    uint8_t value[VALUE_MAX];
    size_t length;
    struct peer *peer;
};

struct peer {
    sd_bus *bus;
    bool is_encrypted;
    struct entry values[VALUE_COUNT];
    unsigned tick;
    int load_w;
    unsigned done; /* of what was asked of bluetoothd */
};

#define UUID(number) "0000" number "-0000-1000-8000-00805f9b34fb"

static struct entry services[] = {{.path = MACHINE, .uuid = UUID("1826")},
                                  {.path = STRAP, .uuid = UUID("180d")}};

/* Fitness Machine Service 1.0.1, tables 4.3 (cadence, total distance, power), 4.13 (power target),
 * 4.12 (idle) and 4.14 (10 to 800 W by 1). */
static struct peer peer = {
    .values = {
        [FEATURE] = {MACHINE "/v0",
                     UUID("2acc"),
                     MACHINE,
                     {"read"},
                     {"encrypt-read"},
                     {0x06, 0x40, 0, 0, 0x08, 0, 0, 0},
                     8,
                     NULL},
        [BIKE_DATA] = {MACHINE "/v1", UUID("2ad2"), MACHINE, {"notify"}, {0}, {0}, 11, NULL},
        [TRAINING] =
            {MACHINE "/v2", UUID("2ad3"), MACHINE, {"read", "notify"}, {0}, {0x00, 0x01}, 2, NULL},
        [POWER_RANGE] = {MACHINE "/v3",
                         UUID("2ad8"),
                         MACHINE,
                         {"read"},
                         {0},
                         {0x0a, 0x00, 0x20, 0x03, 0x01, 0x00},
                         6,
                         NULL},
        [CONTROL_POINT] = {MACHINE "/v4",
                           UUID("2ad9"),
                           MACHINE,
                           {"write", "indicate"},
                           {"encrypt-write", "indicate"},
                           {0},
                           3,
                           NULL},
        [STATUS] = {MACHINE "/v5", UUID("2ada"), MACHINE, {"notify"}, {0}, {0}, 1, NULL},
        [HEART] = {STRAP "/v0", UUID("2a37"), STRAP, {"notify"}, {0}, {0}, 2, NULL},
    }};

static void check(int result, const char *what)
{
    if (result >= 0)
        return;
    (void)fprintf(stderr, "bluez_peer: %s: %s\n", what, strerror(-result));
    exit(1);
}

/* ---- what bluetoothd asks ---- */

static int get_uuid(sd_bus *bus, const char *path, const char *interface, const char *property,
                    sd_bus_message *reply, void *user, sd_bus_error *error)
{
    const struct entry *entry = user;
    (void)bus, (void)path, (void)interface, (void)property, (void)error;
    return sd_bus_message_append(reply, "s", entry->uuid);
}

static int get_service(sd_bus *bus, const char *path, const char *interface, const char *property,
                       sd_bus_message *reply, void *user, sd_bus_error *error)
{
    const struct entry *entry = user;
    (void)bus, (void)path, (void)interface, (void)property, (void)error;
    return sd_bus_message_append(reply, "o", entry->service);
}

static int get_flags(sd_bus *bus, const char *path, const char *interface, const char *property,
                     sd_bus_message *reply, void *user, sd_bus_error *error)
{
    struct entry *entry = user;
    const bool hides = entry->peer->is_encrypted && entry->encrypted_flags[0] != NULL;
    (void)bus, (void)path, (void)interface, (void)property, (void)error;
    const char *const *flags = hides ? entry->encrypted_flags : entry->flags;
    return sd_bus_message_append(reply, "as", flags[1] == NULL ? 1 : 2, flags[0], flags[1]);
}

static int get_value(sd_bus *bus, const char *path, const char *interface, const char *property,
                     sd_bus_message *reply, void *user, sd_bus_error *error)
{
    const struct entry *entry = user;
    (void)bus, (void)path, (void)interface, (void)property, (void)error;
    return sd_bus_message_append_array(reply, 'y', entry->value, entry->length);
}

static int get_true(sd_bus *bus, const char *path, const char *interface, const char *property,
                    sd_bus_message *reply, void *user, sd_bus_error *error)
{
    (void)bus, (void)path, (void)interface, (void)property, (void)user, (void)error;
    return sd_bus_message_append(reply, "b", 1);
}

static int read_value(sd_bus_message *message, void *user, sd_bus_error *error)
{
    const struct entry *entry = user;
    sd_bus_message *reply = NULL;
    (void)error;
    int result = sd_bus_message_new_method_return(message, &reply);
    if (result >= 0)
        result = sd_bus_message_append_array(reply, 'y', entry->value, entry->length);
    if (result >= 0)
        result = sd_bus_send(NULL, reply, NULL);
    sd_bus_message_unref(reply);
    return result;
}

static int take_nothing(sd_bus_message *message, void *user, sd_bus_error *error)
{
    (void)user, (void)error;
    return sd_bus_reply_method_return(message, "");
}

static void notify(int which, const uint8_t *octets, size_t length)
{
    struct entry *entry = &peer.values[which];
    memcpy(entry->value, octets, length);
    entry->length = length;
    check(sd_bus_emit_properties_changed(peer.bus, entry->path, "org.bluez.GattCharacteristic1",
                                         "Value", NULL),
          "telling a value");
}

static void tell_training(uint8_t status)
{
    if (peer.values[TRAINING].value[1] == status)
        return;
    notify(TRAINING, (const uint8_t[]){0x00, status}, 2);
    printf("training %d\n", status);
}

/* Table 4.15: 0x00 request control, 0x05 set target power, 0x07 start or resume, 0x08 stop or
 * pause. Tables 4.12 and 4.16 for what follows them. */
static void obey(const uint8_t *command, size_t length)
{
    if (command[0] == 0x05 && length == 3) {
        peer.load_w = (int16_t)(command[1] | command[2] << 8);
        notify(STATUS, (const uint8_t[]){0x08, command[1], command[2]}, 3);
        tell_training(0x0c);
    } else if (command[0] == 0x07) {
        notify(STATUS, (const uint8_t[]){0x04}, 1);
        tell_training(0x0d);
    } else if (command[0] == 0x08) {
        notify(STATUS, (const uint8_t[]){0x02, 0x01}, 2);
        tell_training(0x01);
    }
}

static int write_value(sd_bus_message *message, void *user, sd_bus_error *error)
{
    const struct entry *entry = user;
    const void *octets = NULL;
    size_t length = 0;
    int result = sd_bus_message_read_array(message, 'y', &octets, &length);
    (void)error;
    if (result < 0 || length == 0 || entry != &peer.values[CONTROL_POINT])
        return sd_bus_reply_method_errorf(message, "org.bluez.Error.NotSupported", "no");
    const uint8_t *command = octets;
    printf("command");
    for (size_t i = 0; i < length; i++)
        printf("%s%02x", i == 0 ? " " : "", command[i]);
    printf("\n");
    result = sd_bus_reply_method_return(message, "");
    notify(CONTROL_POINT, (const uint8_t[]){0x80, command[0], 0x01}, 3);
    obey(command, length);
    return result;
}

static const sd_bus_vtable service_table[] = {
    SD_BUS_VTABLE_START(0), SD_BUS_PROPERTY("UUID", "s", get_uuid, 0, SD_BUS_VTABLE_PROPERTY_CONST),
    SD_BUS_PROPERTY("Primary", "b", get_true, 0, SD_BUS_VTABLE_PROPERTY_CONST), SD_BUS_VTABLE_END};

static const sd_bus_vtable value_table[] = {
    SD_BUS_VTABLE_START(0),
    SD_BUS_PROPERTY("UUID", "s", get_uuid, 0, SD_BUS_VTABLE_PROPERTY_CONST),
    SD_BUS_PROPERTY("Service", "o", get_service, 0, SD_BUS_VTABLE_PROPERTY_CONST),
    SD_BUS_PROPERTY("Flags", "as", get_flags, 0, SD_BUS_VTABLE_PROPERTY_CONST),
    SD_BUS_PROPERTY("Value", "ay", get_value, 0, SD_BUS_VTABLE_PROPERTY_EMITS_CHANGE),
    SD_BUS_METHOD("ReadValue", "a{sv}", "ay", read_value, SD_BUS_VTABLE_UNPRIVILEGED),
    SD_BUS_METHOD("WriteValue", "aya{sv}", "", write_value, SD_BUS_VTABLE_UNPRIVILEGED),
    SD_BUS_METHOD("StartNotify", "", "", take_nothing, SD_BUS_VTABLE_UNPRIVILEGED),
    SD_BUS_METHOD("StopNotify", "", "", take_nothing, SD_BUS_VTABLE_UNPRIVILEGED),
    SD_BUS_METHOD("Confirm", "", "", take_nothing, SD_BUS_VTABLE_UNPRIVILEGED),
    SD_BUS_VTABLE_END};

/* ---- the advertisement, and consent to pairing ---- */

static int get_type(sd_bus *bus, const char *path, const char *interface, const char *property,
                    sd_bus_message *reply, void *user, sd_bus_error *error)
{
    (void)bus, (void)path, (void)interface, (void)property, (void)user, (void)error;
    return sd_bus_message_append(reply, "s", "peripheral");
}

static int get_uuids(sd_bus *bus, const char *path, const char *interface, const char *property,
                     sd_bus_message *reply, void *user, sd_bus_error *error)
{
    (void)bus, (void)path, (void)interface, (void)property, (void)user, (void)error;
    return sd_bus_message_append(reply, "as", 2, services[0].uuid, services[1].uuid);
}

static int get_name(sd_bus *bus, const char *path, const char *interface, const char *property,
                    sd_bus_message *reply, void *user, sd_bus_error *error)
{
    (void)bus, (void)path, (void)interface, (void)property, (void)user, (void)error;
    return sd_bus_message_append(reply, "s", "Invented bike");
}

static const sd_bus_vtable advertisement_table[] = {
    SD_BUS_VTABLE_START(0),
    SD_BUS_PROPERTY("Type", "s", get_type, 0, SD_BUS_VTABLE_PROPERTY_CONST),
    SD_BUS_PROPERTY("LocalName", "s", get_name, 0, SD_BUS_VTABLE_PROPERTY_CONST),
    SD_BUS_PROPERTY("ServiceUUIDs", "as", get_uuids, 0, SD_BUS_VTABLE_PROPERTY_CONST),
    SD_BUS_METHOD("Release", "", "", take_nothing, SD_BUS_VTABLE_UNPRIVILEGED),
    SD_BUS_VTABLE_END};

static const sd_bus_vtable agent_table[] = {
    SD_BUS_VTABLE_START(0),
    SD_BUS_METHOD("RequestAuthorization", "o", "", take_nothing, SD_BUS_VTABLE_UNPRIVILEGED),
    SD_BUS_METHOD("AuthorizeService", "os", "", take_nothing, SD_BUS_VTABLE_UNPRIVILEGED),
    SD_BUS_METHOD("Cancel", "", "", take_nothing, SD_BUS_VTABLE_UNPRIVILEGED),
    SD_BUS_METHOD("Release", "", "", take_nothing, SD_BUS_VTABLE_UNPRIVILEGED),
    SD_BUS_VTABLE_END};

/* ---- beginning ---- */

static int on_done(sd_bus_message *message, void *user, sd_bus_error *error)
{
    (void)user, (void)error;
    check(-sd_bus_message_get_errno(message), "registering with bluetoothd");
    if (++peer.done == 2)
        printf("registered\n");
    return 0;
}

static void ask_to_register(const char *adapter, const char *interface, const char *method,
                            const char *path)
{
    check(sd_bus_call_method_async(peer.bus, NULL, "org.bluez", adapter, interface, method, on_done,
                                   NULL, "oa{sv}", path, 0),
          method);
}

static void add_object(const char *path, const char *interface, const sd_bus_vtable *table,
                       void *user)
{
    check(sd_bus_add_object_vtable(peer.bus, NULL, path, interface, table, user), path);
}

static void add_objects(void)
{
    check(sd_bus_add_object_manager(peer.bus, NULL, ROOT), "object manager");
    for (size_t i = 0; i < sizeof services / sizeof services[0]; i++)
        add_object(services[i].path, "org.bluez.GattService1", service_table, &services[i]);
    for (size_t i = 0; i < VALUE_COUNT; i++) {
        peer.values[i].peer = &peer;
        add_object(peer.values[i].path, "org.bluez.GattCharacteristic1", value_table,
                   &peer.values[i]);
    }
    add_object("/advertisement", "org.bluez.LEAdvertisement1", advertisement_table, &peer);
    add_object("/agent", "org.bluez.Agent1", agent_table, &peer);
}

/* Of the whole daemon, so also for the rider's end of the link. */
static void agree_to_pairing(void)
{
    check(sd_bus_call_method(peer.bus, "org.bluez", "/org/bluez", "org.bluez.AgentManager1",
                             "RegisterAgent", NULL, NULL, "os", "/agent", "NoInputNoOutput"),
          "agent");
    check(sd_bus_call_method(peer.bus, "org.bluez", "/org/bluez", "org.bluez.AgentManager1",
                             "RequestDefaultAgent", NULL, NULL, "o", "/agent"),
          "default agent");
}

/* ---- turning the pedals ---- */

static uint64_t now_us(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000000u + (uint64_t)now.tv_nsec / 1000u;
}

/* Table 4.9: flags 0x0054 speed, cadence of 1/2 rpm, distance u24, power. Heart Rate Service 1.0,
 * 3.1.1: flags 0 and the rate as an octet. No value twice in a row. */
static void tick(void)
{
    const unsigned power_w = (unsigned)(peer.load_w > 60 ? peer.load_w : 60) + peer.tick * 5 % 7,
                   cadence_rpm = 80 + peer.tick * 3 % 10, metres = peer.tick * 2,
                   heart_bpm = 100 + peer.tick / 4 % 37;
    notify(BIKE_DATA,
           (const uint8_t[]){0x54, 0x00, 0xb8, 0x0b, (uint8_t)(cadence_rpm * 2), 0, (uint8_t)metres,
                             (uint8_t)(metres >> 8), (uint8_t)(metres >> 16), (uint8_t)power_w,
                             (uint8_t)(power_w >> 8)},
           11);
    printf("data %u %u %u\n", power_w, cadence_rpm, metres);
    if (peer.tick % 4 == 0) {
        notify(HEART, (const uint8_t[]){0x00, (uint8_t)heart_bpm}, 2);
        printf("heart %u\n", heart_bpm);
    }
    peer.tick++;
}

int main(int argc, char **argv)
{
    char adapter[64];
    bool has_agent = false;

    if (argc < 2)
        return 2;
    for (int i = 2; i < argc; i++) {
        peer.is_encrypted = peer.is_encrypted || strcmp(argv[i], "--encrypted") == 0;
        has_agent = has_agent || strcmp(argv[i], "--agent") == 0;
    }
    (void)snprintf(adapter, sizeof adapter, "/org/bluez/%s", argv[1]);
    (void)setvbuf(stdout, NULL, _IOLBF, 0);
    check(sd_bus_open_system(&peer.bus), "system bus");
    add_objects();
    if (has_agent)
        agree_to_pairing();
    ask_to_register(adapter, "org.bluez.GattManager1", "RegisterApplication", ROOT);
    ask_to_register(adapter, "org.bluez.LEAdvertisingManager1", "RegisterAdvertisement",
                    "/advertisement");
    for (uint64_t next_us = now_us(); sd_bus_is_open(peer.bus) > 0;) {
        const uint64_t now = now_us();
        const int result = sd_bus_process(peer.bus, NULL);
        check(result, "the bus");
        if (peer.done == 2 && now >= next_us) {
            tick();
            next_us += TICK_US;
        } else if (result == 0) {
            (void)sd_bus_wait(peer.bus, peer.done == 2 ? next_us - now : UINT64_MAX);
        }
    }
    return 0;
}
