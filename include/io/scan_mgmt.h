/*
 * Discovery through the kernel's management socket.
 *
 * Discovering takes CAP_NET_ADMIN. A small program of its own has it, afterset-radio: it starts
 * discovery and hands on the kernel's events, and that is all that the capability is good for. We
 * read the events without any privilege.
 */
#ifndef IO_SCAN_MGMT_H
#define IO_SCAN_MGMT_H

#include "io/loop.h"
#include "port/scan.h"

/* Starts `radio`, the path of the program. A refusal comes through `stopped`. */
enum scan_trouble scan_mgmt_open(struct loop *loop, uint16_t index, const char *radio,
                                 const struct scan_user *user, struct scan **ret);

#endif
