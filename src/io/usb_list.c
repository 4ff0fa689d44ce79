#include "io/usb_list.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "usb_device.h"

static int by_place(const void *left, const void *right)
{
    return usb_device_compare(*(libusb_device *const *)left, *(libusb_device *const *)right);
}

static void describe(libusb_device *device, enum usb_kind kind, struct usb_entry *ret)
{
    ret->kind = kind;
    usb_device_place(device, ret->place);
    (void)snprintf(ret->node, sizeof ret->node, "/dev/bus/usb/%03u/%03u",
                   libusb_get_bus_number(device), libusb_get_device_address(device));
    ret->may_open = access(ret->node, R_OK | W_OK) == 0;
}

static void collect(libusb_device **all, size_t count, struct usb_list *ret)
{
    enum usb_kind kind;

    qsort(all, count, sizeof(void *), by_place);
    for (size_t i = 0; i < count && ret->count < USB_LIST_MAX; i++)
        if (usb_device_kind(all[i], &kind))
            describe(all[i], kind, &ret->entries[ret->count++]);
}

enum result usb_list(struct usb_list *ret)
{
    libusb_context *context = NULL;
    libusb_device **all = NULL;

    if (libusb_init(&context) != LIBUSB_SUCCESS)
        return RESULT_UNSUPPORTED;
    const ssize_t count = libusb_get_device_list(context, &all);
    *ret = (struct usb_list){0};
    if (count > 0)
        collect(all, (size_t)count, ret);
    if (all != NULL)
        libusb_free_device_list(all, 1);
    libusb_exit(context);
    return RESULT_OK;
}

static bool is_adapter_at(libusb_device *device, const char *place)
{
    enum usb_kind kind;
    char its[USB_PLACE_SIZE];

    usb_device_place(device, its);
    return strcmp(its, place) == 0 && usb_device_kind(device, &kind) && kind == USB_BLUETOOTH;
}

/* LIBUSB_ERROR_NOT_FOUND: it came back as another device, or is not there. */
static int reset_at(libusb_context *context, const char *place)
{
    libusb_device **all = NULL;
    const ssize_t count = libusb_get_device_list(context, &all);
    libusb_device_handle *handle = NULL;
    int error = LIBUSB_ERROR_NO_DEVICE;

    for (ssize_t i = 0; i < count && error == LIBUSB_ERROR_NO_DEVICE; i++)
        if (is_adapter_at(all[i], place))
            error = libusb_open(all[i], &handle);
    if (handle != NULL) {
        error = libusb_reset_device(handle);
        libusb_close(handle);
    }
    if (all != NULL)
        libusb_free_device_list(all, 1);
    return error;
}

bool usb_reset_adapter(const char *place, const char **ret_why)
{
    libusb_context *context = NULL;

    *ret_why = "this system has no USB";
    if (libusb_init(&context) != LIBUSB_SUCCESS)
        return false;
    const int error = reset_at(context, place);
    libusb_exit(context);
    switch (error) {
    case LIBUSB_ERROR_ACCESS:
        *ret_why = "this user may not; sudo afterset ready --reset-adapter";
        break;
    case LIBUSB_ERROR_NO_DEVICE: *ret_why = "no Bluetooth adapter is plugged in there"; break;
    default: *ret_why = "it does not take it; unplug it and plug it in again"; break;
    }
    return error == LIBUSB_SUCCESS || error == LIBUSB_ERROR_NOT_FOUND;
}
