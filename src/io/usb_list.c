#include "io/usb_list.h"

#include <stdio.h>
#include <stdlib.h>
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
