/*
 * A link over a Unix socket that keeps packets apart (SOCK_SEQPACKET): the virtual bike's, in this
 * process or another, or any program that speaks the attribute protocol.
 */
#ifndef IO_LINK_SOCKET_H
#define IO_LINK_SOCKET_H

#include "io/loop.h"
#include "port/link.h"

/* Connects to the socket at `path`. On failure NULL, and *ret_why says why in words for the rider
 * (static). */
struct link *link_socket_connect(struct loop *loop, const char *path, const struct link_user *user,
                                 const char **ret_why);
/* Takes over a connected descriptor; closes it when it cannot. */
struct link *link_socket_adopt(struct loop *loop, int fd, const struct link_user *user);
/* Whether the program at the other end is this very one: then it is the virtual bike. */
bool link_socket_is_ours(const struct link *link);

#endif
