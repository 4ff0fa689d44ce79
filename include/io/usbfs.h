/*
 * A device on USB by its node alone: for a process that allocates nothing and is to have the device
 * whoever else does. No call takes longer than it is told.
 *
 * Source: Linux, Documentation/driver-api/usb/usb.rst, "The USB character device nodes", and
 * include/uapi/linux/usbdevice_fs.h.
 */
#ifndef IO_USBFS_H
#define IO_USBFS_H

#include <stddef.h>
#include <stdint.h>

#include "base/result.h"

/* The node by the numbers of bus and address, for who closes it; or -1, see errno. Open, it takes
 * nothing from anybody, and stays open to a user who loses the right to open it. */
int usbfs_open(unsigned bus, unsigned address);

/* Takes an interface from whoever has it, a driver of the kernel or another program: what that had
 * in flight ends, and what it writes from now on is refused. It is given back with close().
 * RESULT_CLOSED: the device is gone; so below. */
MUST_USE enum result usbfs_take(int fd, uint8_t interface);

/* One transfer over a bulk pipe. RESULT_TIMEOUT: nothing went within `limit_ms`, which is not 0. A
 * pipe that is halted is set going again, which may take as long, and is tried once more. */
MUST_USE enum result usbfs_write(int fd, uint8_t pipe, const uint8_t *octets, size_t length,
                                 unsigned limit_ms);
/* `size`: one packet of that pipe; of a larger transfer the limit would lose what has come. */
MUST_USE enum result usbfs_read(int fd, uint8_t pipe, size_t size, unsigned limit_ms, uint8_t *ret,
                                size_t *ret_length);

#endif
