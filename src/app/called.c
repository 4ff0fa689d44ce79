#include "called.h"

#include <stdio.h>
#include <string.h>

#include "app/command.h"

static void put_address(const struct device *device, char ret[DEVICE_NAME_SIZE])
{
    struct text_writer writer = text_writer(ret, DEVICE_NAME_SIZE);

    device_address_put(&writer, &device->address);
}

void called_device(struct store *store, enum store_device kind, const struct device *device,
                   char *ret)
{
    const bool stays = !device_address_changes(&device->address);
    const char *name = device->address.type != ADDRESS_USB ? device->name : "";
    char address[DEVICE_NAME_SIZE];

    device_label(device, ret);
    if (store == NULL || (!stays && name[0] == '\0'))
        return;
    put_address(device, address);
    (void)!store_call_device(store, kind, stays ? address : "", name, ret);
}

/* Which receiver hears it is told with some, and then kept with it. */
static bool is_behind_any_receiver(const struct link_address *address)
{
    return address->kind == LINK_ADDRESS_USB && address->path == NULL && address->place == NULL;
}

/* `label` is that of a remembered one, or empty. */
static void call(struct store *store, enum store_device kind, const struct link_address *address,
                 const char *named, const char *label, char *ret)
{
    struct device device = {.address = address->device};

    (void)snprintf(ret, STORE_BIKE_MAX + 1, "%s", named);
    if (address->kind != LINK_ADDRESS_BLUETOOTH && !is_behind_any_receiver(address))
        return;
    put_address(&device, device.name);
    const bool has_name = strcmp(label, device.name) != 0;
    (void)snprintf(device.name, sizeof device.name, "%s", has_name ? label : "");
    called_device(store, kind, &device, ret);
}

void called_bike(struct store *store, const struct ride_options *options, char *ret)
{
    call(store, STORE_BIKE, &options->bike_address, options->bike, options->bike_text, ret);
}

void called_bike_found(struct store *store, int64_t id, const struct ride_options *options,
                       uint16_t number, char *bike)
{
    const struct link_address *asked = &options->bike_address;
    char name[DEVICE_NAME_SIZE];

    if (store == NULL || !is_behind_any_receiver(asked) || number == 0 ||
        device_address_usb(&asked->device) != 0)
        return;
    (void)snprintf(name, sizeof name, "usb:%u", number);
    if (store_bike_answered(store, id, "usb", name) == RESULT_OK)
        memcpy(bike, name, sizeof name);
    else
        complain("the ride is kept under %s, and not under %s, which it was on: %s", bike, name,
                 store_problem(store));
}

void called_power_sensor(struct store *store, const struct ride_options *options, char *ret)
{
    const struct ride_sensor *sensor = &options->sensors[SENSOR_POWER];

    call(store, STORE_POWER_SENSOR, &sensor->address, sensor->name != NULL ? sensor->name : "",
         sensor->text, ret);
}
