/*
 * usb_mocked SOCKET PROGRAM ARGUMENT...: runs the program where a receiver is plugged in on USB,
 * and a Bluetooth adapter. What goes over the receiver's pipes goes over the socket, where
 * receiver.py serves; each time it is plugged in it connects anew. SIGUSR1 pulls the receiver out,
 * or plugs it in. Ends as the program does; "resets N" on stderr where the adapter was reset.
 */
#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <unistd.h>

#include "support/usb_mock.h"

static const char *path;
static int pipes = -1; /* -1: not plugged in */
static int receiver;

static int failed(const char *what)
{
    (void)fprintf(stderr, "usb_mocked: %s: %s\n", what, strerror(errno));
    return EXIT_FAILURE;
}

/* ---- the receiver ---- */

static int give(void *user, uint8_t *octets, int size)
{
    (void)user;
    const ssize_t length = recv(pipes, octets, (size_t)size, MSG_DONTWAIT);
    return length <= 0 ? USB_MOCK_LATER : (int)length;
}

static int take(void *user, const uint8_t *octets, int length)
{
    (void)user;
    return send(pipes, octets, (size_t)length, MSG_DONTWAIT | MSG_NOSIGNAL) == length
               ? length
               : USB_MOCK_LATER;
}

static bool plug(struct usb_mock *mock)
{
    static const struct usb_mock_device device = {.bus = 1,
                                                  .port = 2,
                                                  .vendor = 0x0FCF,
                                                  .product = 0x1008,
                                                  .is_held_by_kernel = true,
                                                  .model = {give, take, NULL}};
    struct sockaddr_un address = {.sun_family = AF_UNIX};

    pipes = socket(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0);
    (void)snprintf(address.sun_path, sizeof address.sun_path, "%s", path);
    if (pipes < 0 || connect(pipes, (const struct sockaddr *)&address, sizeof address) != 0)
        return false;
    receiver = usb_mock_plug(mock, &device);
    return true;
}

static void unplug(struct usb_mock *mock)
{
    usb_mock_unplug(mock, receiver);
    (void)close(pipes);
    pipes = -1;
}

/* ---- the program ---- */

static pid_t start(char **arguments, const sigset_t *before)
{
    const pid_t child = fork();
    if (child != 0)
        return child;
    (void)sigprocmask(SIG_SETMASK, before, NULL);
    (void)setenv("LD_PRELOAD", "libumockdev-preload.so.0", 1);
    (void)execv(arguments[0], arguments);
    _exit(failed(arguments[0]));
}

/* Its exit status. */
static int serve(struct usb_mock *mock, pid_t child, const sigset_t *awaited)
{
    int status = 0;

    for (;;) {
        const int number = sigwaitinfo(awaited, NULL);
        if (number == SIGUSR1 && pipes >= 0)
            unplug(mock);
        else if (number == SIGUSR1 && !plug(mock))
            return failed(path);
        else if (number == SIGCHLD && waitpid(child, &status, WNOHANG) == child)
            return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
        else if (number == SIGTERM || number == SIGINT)
            (void)kill(child, number);
    }
}

int main(int argc, char **argv)
{
    static const struct usb_mock_device adapter = {.bus = 1,
                                                   .port = 3,
                                                   .vendor = 0x1209,
                                                   .product = 1,
                                                   .class_code = 0xE0,
                                                   .subclass = 1,
                                                   .protocol = 1};
    sigset_t awaited, before;

    if (argc < 3)
        return EXIT_FAILURE;
    path = argv[1];
    (void)sigemptyset(&awaited);
    (void)sigaddset(&awaited, SIGUSR1);
    (void)sigaddset(&awaited, SIGCHLD);
    (void)sigaddset(&awaited, SIGTERM);
    (void)sigaddset(&awaited, SIGINT);
    (void)sigprocmask(SIG_BLOCK, &awaited, &before); /* before umockdev has its thread */
    struct usb_mock *mock = usb_mock_new();
    const int adapter_number = usb_mock_plug(mock, &adapter);
    if (!plug(mock))
        return failed(path);
    const pid_t child = start(&argv[2], &before);
    const int status = child < 0 ? failed("fork") : serve(mock, child, &awaited);
    const unsigned resets = usb_mock_counts(mock, adapter_number).resets;
    if (resets > 0)
        (void)fprintf(stderr, "resets %u\n", resets);
    usb_mock_free(mock);
    return status;
}
