#include "io/bluez_device.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "wire/ftms.h"
#include "wire/mgmt_frame.h"

/* "0000XXXX-0000-1000-8000-00805f9b34fb" is a service of the standards. */
static bool service_of(const char *uuid, uint16_t *ret)
{
    char *end;
    unsigned long service = strtoul(uuid, &end, 16);
    if (end != uuid + 8 || service > UINT16_MAX ||
        strcasecmp(end, "-0000-1000-8000-00805f9b34fb") != 0)
        return false;
    *ret = (uint16_t)service;
    return true;
}

static int take_services(sd_bus_message *message, struct bluez_device *state)
{
    const char *uuid;
    uint16_t service;
    int result = sd_bus_message_enter_container(message, 'a', "s");
    while (result >= 0 && (result = sd_bus_message_read(message, "s", &uuid)) > 0)
        if (service_of(uuid, &service))
            advertisement_add_service(&state->said, service);
    return result < 0 ? result : sd_bus_message_exit_container(message);
}

static int take_one_service_data(sd_bus_message *message, struct bluez_device *state)
{
    const char *uuid;
    const void *data = NULL;
    size_t length = 0;
    uint16_t service;
    int result = sd_bus_message_read(message, "s", &uuid);
    if (result >= 0)
        result = sd_bus_message_enter_container(message, 'v', "ay");
    if (result >= 0)
        result = sd_bus_message_read_array(message, 'y', &data, &length);
    if (result >= 0 && service_of(uuid, &service) && service == FTMS_SERVICE)
        advertisement_add_machine(&state->said, data, length);
    return result < 0 ? result : sd_bus_message_exit_container(message);
}

static int take_service_data(sd_bus_message *message, struct bluez_device *state)
{
    int result = sd_bus_message_enter_container(message, 'a', "{sv}");
    while (result >= 0 && (result = sd_bus_message_enter_container(message, 'e', "sv")) > 0) {
        result = take_one_service_data(message, state);
        if (result >= 0)
            result = sd_bus_message_exit_container(message);
    }
    return result < 0 ? result : sd_bus_message_exit_container(message);
}

static int take_word(sd_bus_message *message, const char *key, struct bluez_device *state)
{
    const char *word;
    int result = sd_bus_message_read(message, "s", &word);
    if (result < 0)
        return result;
    if (strcmp(key, "Address") == 0)
        (void)device_address_read(word, strlen(word), &state->address);
    else if (strcmp(key, "Name") == 0)
        advertisement_add_name(&state->said, word, strlen(word), true);
    else if (strcmp(word, "random") == 0)
        state->address.type = ADDRESS_RANDOM;
    else if (strcmp(word, "public") == 0)
        state->address.type = ADDRESS_PUBLIC;
    return 0;
}

static int take_signal(sd_bus_message *message, struct bluez_device *state)
{
    int16_t signal_dbm;
    int result = sd_bus_message_read(message, "n", &signal_dbm);
    if (result < 0)
        return result;
    state->has_signal = true;
    if (signal_dbm != MGMT_RSSI_UNKNOWN)
        state->signal_dbm = signal_dbm;
    return 0;
}

static int take_value(sd_bus_message *message, const char *key, const char *type,
                      struct bluez_device *state)
{
    if (strcmp(type, "n") == 0)
        return take_signal(message, state);
    if (strcmp(type, "as") == 0)
        return take_services(message, state);
    if (strcmp(type, "s") == 0)
        return take_word(message, key, state);
    return take_service_data(message, state);
}

/* The type that a property must have to be read; NULL for those that are passed over. */
static const char *type_of(const char *key)
{
    static const struct {
        const char *key, *type;
    } known[] = {{"Address", "s"}, {"AddressType", "s"}, {"Name", "s"},
                 {"RSSI", "n"},    {"UUIDs", "as"},      {"ServiceData", "a{sv}"}};
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
        if (strcmp(known[i].key, key) == 0)
            return known[i].type;
    return NULL;
}

static int take_property(sd_bus_message *message, struct bluez_device *state)
{
    const char *key;
    int result = sd_bus_message_read(message, "s", &key);
    if (result < 0)
        return result;
    const char *type = type_of(key);
    if (type == NULL)
        return sd_bus_message_skip(message, "v");
    result = sd_bus_message_enter_container(message, 'v', type);
    if (result >= 0)
        result = take_value(message, key, type, state);
    return result < 0 ? result : sd_bus_message_exit_container(message);
}

int bluez_device_take(sd_bus_message *message, struct bluez_device *state)
{
    int result = sd_bus_message_enter_container(message, 'a', "{sv}");
    while (result >= 0 && (result = sd_bus_message_enter_container(message, 'e', "sv")) > 0) {
        result = take_property(message, state);
        if (result >= 0)
            result = sd_bus_message_exit_container(message);
    }
    return result < 0 ? result : sd_bus_message_exit_container(message);
}
