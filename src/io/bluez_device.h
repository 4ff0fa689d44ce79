/*
 * What bluetoothd says of a device: the properties of org.bluez.Device1 that concern us.
 */
#ifndef IO_BLUEZ_DEVICE_H
#define IO_BLUEZ_DEVICE_H

#include <systemd/sd-bus.h>

#include "base/device.h"
#include "wire/advertisement.h"

struct bluez_device {
    struct advertisement said;
    struct device_address address;
    bool has_signal;    /* it was heard since the last discovery began */
    int16_t signal_dbm; /* 0: the adapter cannot tell */
};

/* Adds the properties that the message has next, "a{sv}". Negative: as sd-bus has it. */
int bluez_device_take(sd_bus_message *message, struct bluez_device *device);

#endif
