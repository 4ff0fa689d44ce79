/*
 * The kernel's Bluetooth management socket. wire/mgmt_frame.h has its frames.
 *
 * Anybody may open one and read what adapters there are. Whether it may change anything or discover
 * devices is settled when it is bound, by CAP_NET_ADMIN, which may be dropped afterwards.
 */
#ifndef IO_MGMT_H
#define IO_MGMT_H

#include <stddef.h>
#include <stdint.h>

#include "base/result.h"
#include "wire/mgmt_frame.h"

/* A descriptor that does not block; -1 and errno when there is none to be had (EAFNOSUPPORT: this
 * kernel has no Bluetooth). The caller closes it. */
int mgmt_open(void);

/* RESULT_IO: errno says why. A command that is refused is no error here: the answer tells. */
MUST_USE enum result mgmt_send(int fd, const uint8_t *command, size_t length);
/* One event into `ret_frame`, which has room for MGMT_FRAME_MAX octets and must outlive `ret`. What
 * is no event of ours has the code 0. RESULT_NOT_FOUND: none is waiting. RESULT_IO. */
MUST_USE enum result mgmt_receive(int fd, uint8_t *ret_frame, struct mgmt_event *ret);
/* Sends and waits for the answer; all other events are lost. RESULT_TIMEOUT, RESULT_IO. A status
 * other than MGMT_OK is the caller's to see. */
MUST_USE enum result mgmt_ask(int fd, const uint8_t *command, size_t length, int wait_ms,
                              uint8_t *ret_frame, struct mgmt_event *ret);

/* The adapters that there are, and one of them. RESULT_REFUSED: status other than MGMT_OK. */
MUST_USE enum result mgmt_read_indexes(int fd, struct mgmt_indexes *ret);
MUST_USE enum result mgmt_read_info(int fd, uint16_t index, struct mgmt_info *ret);

#endif
