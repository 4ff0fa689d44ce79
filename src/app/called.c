#include "called.h"

#include <stdio.h>
#include <string.h>

static void put_address(const struct device *device, char ret[DEVICE_NAME_SIZE])
{
    struct text_writer writer = text_writer(ret, DEVICE_NAME_SIZE);

    device_address_put(&writer, &device->address);
}

void called_device(struct store *store, enum store_device kind, const struct device *device,
                   char *ret)
{
    const bool stays = !device_address_changes(&device->address);
    char address[DEVICE_NAME_SIZE];

    device_label(device, ret);
    if (store == NULL || device->address.type == ADDRESS_USB || (!stays && device->name[0] == '\0'))
        return;
    put_address(device, address);
    (void)!store_call_device(store, kind, stays ? address : "", device->name, ret);
}

/* `label` is that of a remembered one, or empty. */
static void call(struct store *store, enum store_device kind, const struct link_address *address,
                 const char *named, const char *label, char *ret)
{
    struct device device = {.address = address->device};

    (void)snprintf(ret, STORE_BIKE_MAX + 1, "%s", named);
    if (address->kind != LINK_ADDRESS_BLUETOOTH)
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

void called_power_sensor(struct store *store, const struct ride_options *options, char *ret)
{
    const struct ride_sensor *sensor = &options->sensors[SENSOR_POWER];

    call(store, STORE_POWER_SENSOR, &sensor->address, sensor->name != NULL ? sensor->name : "",
         sensor->text, ret);
}
