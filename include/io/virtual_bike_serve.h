/*
 * The virtual bike on descriptors: one that is already connected, or a listening socket of any
 * family that keeps packets apart, one central at a time.
 *
 * When a central leaves, the bike releases its load and rides on; the next one may come.
 */
#ifndef IO_VIRTUAL_BIKE_SERVE_H
#define IO_VIRTUAL_BIKE_SERVE_H

#include "io/loop.h"
#include "io/virtual_bike.h"

struct virtual_bike_host;

/* What a bike is made of; copied. */
struct virtual_bike_setup {
    struct virtual_machine_config machine;
    struct virtual_rider_config rider;
    uint64_t seed;
};

/* Serves the other end of `fd`, a connected SOCK_SEQPACKET socket, from now on. Owns `fd`, also on
 * failure. RESULT_FULL: no memory or no place in the loop. RESULT_INVALID: see
 * virtual_bike_init(). */
MUST_USE enum result virtual_bike_attach(struct loop *loop, int fd,
                                         const struct virtual_bike_setup *setup,
                                         struct virtual_bike_host **ret);
/* Accepts on `fd`, a listening socket that does not block. Owns it as above. */
MUST_USE enum result virtual_bike_accept(struct loop *loop, int fd,
                                         const struct virtual_bike_setup *setup,
                                         struct virtual_bike_host **ret);
/* Listens at `path`, mode 0600. A socket that nobody listens on is replaced. RESULT_RANGE: the path
 * is empty or too long for a socket. RESULT_BUSY: somebody listens there. RESULT_IO: errno says
 * why; EADDRINUSE for a file that is no socket. */
MUST_USE enum result virtual_bike_listen(struct loop *loop, const char *path,
                                         const struct virtual_bike_setup *setup,
                                         struct virtual_bike_host **ret);
/* The bike itself, for whoever rides it in the same process. */
struct virtual_bike *virtual_bike_of(struct virtual_bike_host *host);
/* Closes the link, and the listening socket with its file. NULL is fine. */
void virtual_bike_host_free(struct virtual_bike_host *host);

#endif
