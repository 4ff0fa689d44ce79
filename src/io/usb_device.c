#include "usb_device.h"

#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/usbfs.h"

#define PORTS_MAX 7 /* USB 3.2, 10.16.2.2 */

/* The numbers under which receivers enumerate: those that the kernel knows for a plain pair of bulk
 * pipes (Linux, drivers/usb/serial/usb-serial-simple.c), and those behind a serial bridge
 * (drivers/usb/serial/cp210x.c). udev/70-afterset.rules has the first ones too. */
static const struct {
    uint16_t vendor, product;
    enum usb_kind kind;
} receivers[] = {
    {0x0FCF, 0x1008, USB_RECEIVER},
    {0x0FCF, 0x1009, USB_RECEIVER},
    {0x0FCF, 0x1004, USB_RECEIVER_OLDER},
};

/* ---- which ---- */

/* Class, subclass and protocol of Bluetooth (USB-IF, defined class codes), of the device or of its
 * first interface: an adapter that is also something else says it there. */
static bool is_bluetooth(uint8_t class, uint8_t subclass, uint8_t protocol)
{
    return class == LIBUSB_CLASS_WIRELESS && subclass == 0x01 && protocol == 0x01;
}

static bool has_bluetooth_interface(libusb_device *device)
{
    struct libusb_config_descriptor *config = NULL;
    bool is = false;

    if (libusb_get_active_config_descriptor(device, &config) != LIBUSB_SUCCESS)
        return false;
    for (int i = 0; i < config->bNumInterfaces && !is; i++) {
        const struct libusb_interface *interface = &config->interface[i];
        const struct libusb_interface_descriptor *first = interface->altsetting;
        is = interface->num_altsetting > 0 &&
             is_bluetooth(first->bInterfaceClass, first->bInterfaceSubClass,
                          first->bInterfaceProtocol);
    }
    libusb_free_config_descriptor(config);
    return is;
}

bool usb_device_kind(libusb_device *device, enum usb_kind *ret)
{
    struct libusb_device_descriptor it;

    if (libusb_get_device_descriptor(device, &it) != LIBUSB_SUCCESS)
        return false;
    for (size_t i = 0; i < sizeof receivers / sizeof receivers[0]; i++)
        if (it.idVendor == receivers[i].vendor && it.idProduct == receivers[i].product) {
            *ret = receivers[i].kind;
            return true;
        }
    if (!is_bluetooth(it.bDeviceClass, it.bDeviceSubClass, it.bDeviceProtocol) &&
        !has_bluetooth_interface(device))
        return false;
    *ret = USB_BLUETOOTH;
    return true;
}

void usb_device_place(libusb_device *device, char ret[USB_PLACE_SIZE])
{
    uint8_t ports[PORTS_MAX];
    const int count = libusb_get_port_numbers(device, ports, PORTS_MAX);
    int length = snprintf(ret, USB_PLACE_SIZE, "%u", libusb_get_bus_number(device));

    if (count <= 0)
        ret[0] = '\0';
    for (int i = 0; i < count; i++)
        length += snprintf(&ret[length], USB_PLACE_SIZE - (size_t)length, "%c%u",
                           i == 0 ? '-' : '.', ports[i]);
}

int usb_device_compare(libusb_device *left, libusb_device *right)
{
    uint8_t lefts[PORTS_MAX] = {0}, rights[PORTS_MAX] = {0};
    const int buses = (int)libusb_get_bus_number(left) - (int)libusb_get_bus_number(right);

    (void)libusb_get_port_numbers(left, lefts, PORTS_MAX);
    (void)libusb_get_port_numbers(right, rights, PORTS_MAX);
    return buses != 0 ? buses : memcmp(lefts, rights, PORTS_MAX);
}

/* ---- a receiver ---- */

const char *usb_device_words(int error)
{
    switch (error) {
    case LIBUSB_ERROR_ACCESS:
        return "this user may not use the receiver; 'afterset ready' says what to install";
    case LIBUSB_ERROR_BUSY: return "another program has the receiver; end that one";
    case LIBUSB_ERROR_NO_DEVICE: return "the receiver was unplugged; plug it in again";
    case LIBUSB_ERROR_NO_MEM: return "out of memory";
    case LIBUSB_ERROR_NOT_SUPPORTED:
        return "a driver of the kernel keeps the receiver; unplug it and plug it in again";
    default: return "the receiver does not answer; unplug it and plug it in again";
    }
}

static bool take_pipes(const struct libusb_interface_descriptor *setting, struct usb_device *ret)
{
    const struct libusb_endpoint_descriptor *in = NULL, *out = NULL;

    for (int i = 0; i < setting->bNumEndpoints; i++) {
        const struct libusb_endpoint_descriptor *end = &setting->endpoint[i];
        const bool is_bulk =
            (end->bmAttributes & LIBUSB_TRANSFER_TYPE_MASK) == LIBUSB_TRANSFER_TYPE_BULK;
        const struct libusb_endpoint_descriptor **pipe =
            (end->bEndpointAddress & LIBUSB_ENDPOINT_IN) != 0 ? &in : &out;
        if (is_bulk && *pipe == NULL)
            *pipe = end;
    }
    if (in == NULL || out == NULL)
        return false;
    ret->interface = setting->bInterfaceNumber;
    ret->in = in->bEndpointAddress;
    ret->in_size = in->wMaxPacketSize;
    ret->out = out->bEndpointAddress;
    return true;
}

/* The first interface, as it is set at first, with a bulk pipe each way. */
static bool find_pipes(libusb_device *device, struct usb_device *ret)
{
    struct libusb_config_descriptor *config = NULL;
    bool found = false;

    if (libusb_get_active_config_descriptor(device, &config) != LIBUSB_SUCCESS)
        return false;
    for (int i = 0; i < config->bNumInterfaces && !found; i++)
        found = config->interface[i].num_altsetting > 0 &&
                take_pipes(&config->interface[i].altsetting[0], ret);
    libusb_free_config_descriptor(config);
    return found;
}

/* NULL, or why not. */
static const char *claim(libusb_device *device, struct usb_device *ret)
{
    int error;

    if (!find_pipes(device, ret))
        return "the receiver is of a kind that is not known here: it has no pair of bulk pipes";
    error = libusb_open(device, &ret->handle);
    if (error != LIBUSB_SUCCESS)
        return usb_device_words(error);
    (void)libusb_set_auto_detach_kernel_driver(ret->handle, 1);
    error = libusb_claim_interface(ret->handle, ret->interface);
    if (error == LIBUSB_SUCCESS)
        ret->node = usbfs_open(libusb_get_bus_number(device), libusb_get_device_address(device));
    if (error == LIBUSB_SUCCESS && ret->node >= 0)
        return NULL;
    libusb_close(ret->handle);
    ret->handle = NULL;
    return usb_device_words(error);
}

static bool is_wanted(libusb_device *device, const char *place)
{
    enum usb_kind kind;
    char its[USB_PLACE_SIZE];

    if (!usb_device_kind(device, &kind) || kind != USB_RECEIVER)
        return false;
    usb_device_place(device, its);
    return place == NULL || strcmp(its, place) == 0;
}

static libusb_device *next_wanted(libusb_device **all, ssize_t count, const char *place,
                                  libusb_device *after)
{
    libusb_device *next = NULL;

    for (ssize_t i = 0; i < count; i++)
        if (is_wanted(all[i], place) && (after == NULL || usb_device_compare(all[i], after) > 0) &&
            (next == NULL || usb_device_compare(all[i], next) < 0))
            next = all[i];
    return next;
}

/* NULL, or why not: the trouble of the first one. */
static const char *claim_any(const char *place, struct usb_device *ret)
{
    libusb_device **all = NULL;
    const ssize_t count = libusb_get_device_list(ret->context, &all);
    const char *why = NULL;

    for (libusb_device *device = next_wanted(all, count, place, NULL);
         device != NULL && ret->handle == NULL; device = next_wanted(all, count, place, device)) {
        const char *trouble = claim(device, ret);
        why = why == NULL ? trouble : why;
    }
    if (all != NULL)
        libusb_free_device_list(all, 1);
    if (ret->handle != NULL)
        return NULL;
    if (why == NULL)
        why = place == NULL ? "no receiver is plugged in; plug it in, or into another port"
                            : "no receiver is plugged in there; 'afterset ready' lists them";
    return why;
}

/* libusb has a thread, which would take a signal that the program reads once it has blocked it, and
 * die of it, and the ride with it. */
static int begin_without_signals(libusb_context **ret)
{
    sigset_t all, before;

    (void)sigfillset(&all);
    (void)pthread_sigmask(SIG_SETMASK, &all, &before);
    const int code = libusb_init(ret);
    (void)pthread_sigmask(SIG_SETMASK, &before, NULL);
    return code;
}

bool usb_device_open(const char *place, struct usb_device *ret, const char **ret_why)
{
    struct usb_device device = {0};
    const char *why = "this system has no USB";

    if (begin_without_signals(&device.context) == LIBUSB_SUCCESS)
        why = claim_any(place, &device);
    else
        device.context = NULL;
    if (why == NULL) {
        *ret = device;
        return true;
    }
    usb_device_close(&device);
    *ret_why = why;
    return false;
}

void usb_device_release(struct usb_device *device)
{
    if (device->handle == NULL)
        return;
    (void)libusb_release_interface(device->handle, device->interface);
    libusb_close(device->handle);
    (void)close(device->node);
    device->handle = NULL;
}

void usb_device_close(struct usb_device *device)
{
    usb_device_release(device);
    if (device->context != NULL)
        libusb_exit(device->context);
    *device = (struct usb_device){0};
}
