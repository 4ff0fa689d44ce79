#include "io/virtual_bike_serve.h"

#include <errno.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

struct virtual_bike_host {
    struct virtual_bike bike;
    struct loop *loop;
    int link_fd, link_watch;     /* -1 and 0: nobody is connected */
    int listen_fd, listen_watch; /* -1 and 0: does not listen */
    int timer;                   /* 0: none */
    struct sockaddr_un address;  /* of the file to take away; family 0: there is none */
};

static void drop_link(struct virtual_bike_host *host)
{
    if (host->link_fd < 0)
        return;
    virtual_bike_disconnect(&host->bike, loop_now_ms(host->loop));
    loop_unwatch(host->loop, host->link_watch);
    (void)close(host->link_fd);
    host->link_fd = -1;
}

/* False when the central is gone, or has not read for so long that its buffer is full. */
static bool send_waiting(struct virtual_bike_host *host)
{
    uint8_t pdu[ATT_MTU_MAX];
    size_t length;
    while ((length = virtual_bike_next_pdu(&host->bike, pdu)) > 0)
        if (send(host->link_fd, pdu, length, MSG_DONTWAIT | MSG_NOSIGNAL) < 0)
            return false;
    return true;
}

static void advance(void *user);

/* After whatever happened: send, close if that is wanted, wait for the next thing. */
static void settle(struct virtual_bike_host *host)
{
    if (host->link_fd >= 0 && (!send_waiting(host) || virtual_bike_wants_close(&host->bike)))
        drop_link(host);
    loop_cancel_timer(host->loop, host->timer);
    host->timer = 0;
    uint64_t next_ms = virtual_bike_next_ms(&host->bike);
    if (next_ms != VIRTUAL_BIKE_NEVER)
        host->timer = loop_set_timer(host->loop, next_ms, advance, host);
}

static void advance(void *user)
{
    struct virtual_bike_host *host = user;
    virtual_bike_advance(&host->bike, loop_now_ms(host->loop));
    settle(host);
}

static void receive(void *user, int fd, short revents)
{
    struct virtual_bike_host *host = user;
    uint8_t pdu[ATT_PDU_BUFFER];
    (void)revents; /* a link that broke shows in recv as well */
    ssize_t length = recv(fd, pdu, sizeof(pdu), MSG_DONTWAIT);
    if (length > 0)
        virtual_bike_receive(&host->bike, loop_now_ms(host->loop), pdu, (size_t)length);
    else if (length == 0 || (errno != EAGAIN && errno != EINTR))
        drop_link(host);
    settle(host);
}

static enum result take_link(struct virtual_bike_host *host, int fd)
{
    int watch = loop_watch(host->loop, fd, POLLIN, receive, host);
    if (watch == 0)
        return RESULT_FULL;
    host->link_fd = fd;
    host->link_watch = watch;
    virtual_bike_connect(&host->bike, loop_now_ms(host->loop));
    settle(host);
    return RESULT_OK;
}

static void accept_link(void *user, int listen_fd, short revents)
{
    struct virtual_bike_host *host = user;
    (void)revents;
    int fd = accept4(listen_fd, NULL, NULL, SOCK_CLOEXEC | SOCK_NONBLOCK);
    if (fd >= 0 && (host->link_fd >= 0 || take_link(host, fd) != RESULT_OK))
        (void)close(fd);
}

static enum result new_host(struct loop *loop, const struct virtual_bike_setup *setup,
                            struct virtual_bike_host **ret)
{
    struct virtual_bike_host *host = calloc(1, sizeof(*host));
    if (host == NULL)
        return RESULT_FULL;
    host->loop = loop;
    host->link_fd = host->listen_fd = -1;
    enum result result =
        virtual_bike_init(&host->bike, &setup->machine, &setup->rider, setup->seed);
    if (result == RESULT_OK)
        *ret = host;
    else
        free(host);
    return result;
}

enum result virtual_bike_attach(struct loop *loop, int fd, const struct virtual_bike_setup *setup,
                                struct virtual_bike_host **ret)
{
    struct virtual_bike_host *host = NULL;
    enum result result = new_host(loop, setup, &host);
    if (result == RESULT_OK)
        result = take_link(host, fd);
    if (result == RESULT_OK) {
        *ret = host;
        return RESULT_OK;
    }
    (void)close(fd);
    free(host);
    return result;
}

struct virtual_bike *virtual_bike_of(struct virtual_bike_host *host)
{
    return &host->bike;
}

/* ---- listening ---- */

static enum result bind_once(int fd, const struct sockaddr_un *address)
{
    mode_t before = umask(0177);
    int status = bind(fd, (const struct sockaddr *)address, sizeof(*address));
    int why = errno;
    (void)umask(before);
    errno = why;
    return status == 0 ? RESULT_OK : RESULT_IO;
}

/* RESULT_OK when a socket stands at the address and nobody listens on it. */
static enum result check_stale(const struct sockaddr_un *address)
{
    struct stat status;
    if (lstat(address->sun_path, &status) != 0)
        return RESULT_IO;
    if (!S_ISSOCK(status.st_mode)) {
        errno = EADDRINUSE;
        return RESULT_IO;
    }
    int fd = socket(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (fd < 0)
        return RESULT_IO;
    int connected = connect(fd, (const struct sockaddr *)address, sizeof(*address));
    bool refused = connected != 0 && errno == ECONNREFUSED;
    (void)close(fd);
    return refused ? RESULT_OK : RESULT_BUSY;
}

static enum result bind_path(int fd, const struct sockaddr_un *address)
{
    enum result result = bind_once(fd, address);
    if (result == RESULT_OK || errno != EADDRINUSE)
        return result;
    result = check_stale(address);
    if (result != RESULT_OK)
        return result;
    if (unlink(address->sun_path) != 0)
        return RESULT_IO;
    return bind_once(fd, address);
}

static enum result listen_at(const struct sockaddr_un *address, int *ret_fd)
{
    int fd = socket(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (fd < 0)
        return RESULT_IO;
    enum result result = bind_path(fd, address);
    if (result == RESULT_OK && listen(fd, 4) == 0) {
        *ret_fd = fd;
        return RESULT_OK;
    }
    int why = errno;
    if (result == RESULT_OK)
        (void)unlink(address->sun_path);
    (void)close(fd);
    errno = why;
    return result == RESULT_OK ? RESULT_IO : result;
}

enum result virtual_bike_accept(struct loop *loop, int fd, const struct virtual_bike_setup *setup,
                                struct virtual_bike_host **ret)
{
    struct virtual_bike_host *host = NULL;
    enum result result = new_host(loop, setup, &host);
    if (result == RESULT_OK) {
        host->listen_watch = loop_watch(loop, fd, POLLIN, accept_link, host);
        result = host->listen_watch != 0 ? RESULT_OK : RESULT_FULL;
    }
    if (result == RESULT_OK) {
        host->listen_fd = fd;
        *ret = host;
        return RESULT_OK;
    }
    (void)close(fd);
    free(host);
    return result;
}

enum result virtual_bike_listen(struct loop *loop, const char *path,
                                const struct virtual_bike_setup *setup,
                                struct virtual_bike_host **ret)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    size_t length = strlen(path);
    int fd = -1;
    if (length == 0 || length >= sizeof(address.sun_path))
        return RESULT_RANGE;
    memcpy(address.sun_path, path, length + 1);
    enum result result = listen_at(&address, &fd);
    if (result != RESULT_OK)
        return result;
    result = virtual_bike_accept(loop, fd, setup, ret);
    if (result == RESULT_OK)
        (*ret)->address = address;
    else
        (void)unlink(path);
    return result;
}

void virtual_bike_host_free(struct virtual_bike_host *host)
{
    if (host == NULL)
        return;
    drop_link(host);
    loop_cancel_timer(host->loop, host->timer);
    if (host->listen_fd >= 0) {
        loop_unwatch(host->loop, host->listen_watch);
        (void)close(host->listen_fd);
    }
    if (host->address.sun_family == AF_UNIX)
        (void)unlink(host->address.sun_path);
    free(host);
}
