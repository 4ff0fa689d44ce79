#include "io/link_socket.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include "link_packets.h"

/* Connecting does not wait, so what fails afterwards is that the other side thought better of it.
 */
static const char *opening_words(int error)
{
    (void)error;
    return "it closed the connection; another ride may be on it";
}

static const char *lost_words(const struct link_packets *packets)
{
    if (!packets->has_received)
        return opening_words(packets->error);
    return packets->error == 0 ? "the other side closed the connection" : "the connection broke";
}

static const char *connect_error(int error)
{
    switch (error) {
    case ENOENT: return "there is no such socket; start what listens there first";
    case ECONNREFUSED: return "nobody listens there any more; start it again";
    case EACCES: return "this user may not use that socket";
    case EPROTOTYPE: return "that socket does not keep packets apart (it must be SOCK_SEQPACKET)";
    case EAGAIN: return "it is busy with another rider";
    default: return "connecting failed";
    }
}

/* The system says the same of a file that is no socket as of a socket without a listener. */
static const char *connect_error_at(const char *path, int error)
{
    struct stat status;

    return stat(path, &status) == 0 && !S_ISSOCK(status.st_mode) ? "that is no socket"
                                                                 : connect_error(error);
}

static const struct packet_family family = {opening_words, lost_words, NULL, NULL};

struct link *link_socket_adopt(struct loop *loop, int fd, const struct link_user *user)
{
    return link_packets_new(loop, fd, &family, 0, user);
}

struct link *link_socket_connect(struct loop *loop, const char *path, const struct link_user *user,
                                 const char **ret_why)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};

    if (strlen(path) >= sizeof address.sun_path) {
        *ret_why = "the path is too long for a socket";
        return NULL;
    }
    memcpy(address.sun_path, path, strlen(path));
    const int fd = socket(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (fd < 0) {
        *ret_why = "the system gives no socket";
        return NULL;
    }
    if (connect(fd, (const struct sockaddr *)&address, sizeof address) != 0) {
        *ret_why = connect_error_at(path, errno);
        close(fd);
        return NULL;
    }
    struct link *link = link_socket_adopt(loop, fd, user);
    if (link == NULL)
        *ret_why = "out of memory";
    return link;
}

bool link_socket_is_ours(const struct link *link)
{
    const struct link_packets *packets = (const struct link_packets *)link;
    struct ucred peer;
    socklen_t size = sizeof peer;
    struct stat own, other;
    char path[64];

    if (getsockopt(packets->fd, SOL_SOCKET, SO_PEERCRED, &peer, &size) != 0)
        return false;
    (void)snprintf(path, sizeof path, "/proc/%ld/exe", (long)peer.pid);
    return stat("/proc/self/exe", &own) == 0 && stat(path, &other) == 0 &&
           own.st_dev == other.st_dev && own.st_ino == other.st_ino;
}
