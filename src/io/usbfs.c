#include "io/usbfs.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <sys/ioctl.h>

#include <linux/usbdevice_fs.h>

#define NODE_SIZE 40

/* USB 2.0, 9.4.1 and tables 9-2, 9-4, 9-6. */
#define TO_ENDPOINT   0x02
#define CLEAR_FEATURE 1
#define ENDPOINT_HALT 0

int usbfs_open(unsigned bus, unsigned address)
{
    char node[NODE_SIZE];

    (void)snprintf(node, sizeof node, "/dev/bus/usb/%03u/%03u", bus, address);
    return open(node, O_RDWR | O_CLOEXEC);
}

static enum result result_of(int error)
{
    switch (error) {
    case ENODEV:
    case ESHUTDOWN: return RESULT_CLOSED;
    case ETIMEDOUT: return RESULT_TIMEOUT;
    default: return RESULT_IO;
    }
}

/* Without a flag it takes the interface from a driver of any name, that of other programs too. */
enum result usbfs_take(int fd, uint8_t interface)
{
    struct usbdevfs_disconnect_claim claim = {.interface = interface};

    return ioctl(fd, USBDEVFS_DISCONNECT_CLAIM, &claim) == 0 ? RESULT_OK : result_of(errno);
}

/* USBDEVFS_CLEAR_HALT is both of these, with a limit of its own that is far too long (5 s). */
static void resume(int fd, uint8_t pipe, unsigned limit_ms)
{
    struct usbdevfs_ctrltransfer clear = {.bRequestType = TO_ENDPOINT,
                                          .bRequest = CLEAR_FEATURE,
                                          .wValue = ENDPOINT_HALT,
                                          .wIndex = pipe,
                                          .timeout = limit_ms};
    unsigned number = pipe;

    if (ioctl(fd, USBDEVFS_CONTROL, &clear) >= 0)
        (void)ioctl(fd, USBDEVFS_RESETEP, &number);
}

/* The octets that went, or -1. */
static int transfer(int fd, struct usbdevfs_bulktransfer *bulk)
{
    const int done = ioctl(fd, USBDEVFS_BULK, bulk);

    if (done >= 0 || errno != EPIPE)
        return done;
    resume(fd, (uint8_t)bulk->ep, bulk->timeout);
    return ioctl(fd, USBDEVFS_BULK, bulk);
}

enum result usbfs_write(int fd, uint8_t pipe, const uint8_t *octets, size_t length,
                        unsigned limit_ms)
{
    struct usbdevfs_bulktransfer bulk = {.ep = pipe,
                                         .len = (unsigned)length,
                                         .timeout = limit_ms,
                                         .data = (void *)(uintptr_t)octets};
    const int done = transfer(fd, &bulk);

    if (done < 0)
        return result_of(errno);
    return (size_t)done == length ? RESULT_OK : RESULT_IO;
}

enum result usbfs_read(int fd, uint8_t pipe, size_t size, unsigned limit_ms, uint8_t *ret,
                       size_t *ret_length)
{
    struct usbdevfs_bulktransfer bulk = {
        .ep = pipe, .len = (unsigned)size, .timeout = limit_ms, .data = ret};
    const int done = transfer(fd, &bulk);

    if (done < 0)
        return result_of(errno);
    *ret_length = (size_t)done;
    return RESULT_OK;
}
