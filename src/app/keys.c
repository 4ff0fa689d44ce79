#include "keys.h"

#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/signalfd.h>
#include <termios.h>
#include <unistd.h>

struct keys {
    struct loop *loop;
    void (*pressed)(void *user, enum ride_key key);
    void (*typed)(void *user, char character);
    void *user;
    void (*resized)(void *user);
    void *resized_user;
    int signal_fd, signal_watch, terminal_watch;
    bool has_terminal;
    struct termios before;
    sigset_t mask_before;
};

static enum ride_key key_of_signal(uint32_t number)
{
    switch (number) {
    case SIGINT: return KEY_STOP;
    case SIGTSTP: return KEY_PAUSE;
    default: return KEY_LEAVE;
    }
}

static void on_signal(void *user, int fd, short revents)
{
    struct keys *keys = user;
    struct signalfd_siginfo information;

    (void)revents;
    if (read(fd, &information, sizeof information) != (ssize_t)sizeof information)
        return;
    if (information.ssi_signo != SIGWINCH && information.ssi_signo != SIGCONT)
        keys->pressed(keys->user, key_of_signal(information.ssi_signo));
    else if (keys->resized != NULL)
        keys->resized(keys->resized_user);
}

static void on_terminal(void *user, int fd, short revents)
{
    struct keys *keys = user;
    char typed[16];

    const ssize_t count = read(fd, typed, sizeof typed);
    if (count < 0 && errno == EINTR)
        return;
    if (count < 0 || (count == 0 && (revents & (POLLHUP | POLLERR)) != 0)) {
        /* The terminal is gone, and with it whoever could stop the ride. */
        loop_unwatch(keys->loop, keys->terminal_watch);
        keys->pressed(keys->user, KEY_LEAVE);
        return;
    }
    for (ssize_t i = 0; i < count; i++)
        keys->typed(keys->user, typed[i]);
}

/* Single keys without Enter, and no echo into the lines of the ride. A read never waits: what made
 * the terminal ready may be gone by then, since Ctrl-C throws away what was typed before it. */
void keys_read_terminal(struct keys *keys, void (*typed)(void *user, char character))
{
    struct termios raw;

    if (!isatty(STDIN_FILENO) || tcgetpgrp(STDIN_FILENO) != getpgrp() ||
        tcgetattr(STDIN_FILENO, &keys->before) != 0)
        return;
    raw = keys->before;
    raw.c_lflag &= ~(tcflag_t)(ICANON | ECHO);
    raw.c_cc[VMIN] = 0;
    raw.c_cc[VTIME] = 0;
    if (tcsetattr(STDIN_FILENO, TCSANOW, &raw) != 0)
        return;
    keys->has_terminal = true;
    keys->typed = typed;
    keys->terminal_watch = loop_watch(keys->loop, STDIN_FILENO, POLLIN, on_terminal, keys);
}

void keys_signals(sigset_t *ret)
{
    static const int signals[] = {SIGINT,  SIGTERM, SIGHUP,  SIGQUIT,   SIGTSTP,  SIGALRM, SIGUSR1,
                                  SIGUSR2, SIGXCPU, SIGPROF, SIGVTALRM, SIGWINCH, SIGCONT};

    (void)sigemptyset(ret);
    for (size_t i = 0; i < sizeof signals / sizeof signals[0]; i++)
        (void)sigaddset(ret, signals[i]);
}

struct keys *keys_open(struct loop *loop, void (*pressed)(void *user, enum ride_key key),
                       void *user)
{
    struct keys *keys = calloc(1, sizeof *keys);
    sigset_t mask;

    if (keys == NULL)
        return NULL;
    *keys = (struct keys){.loop = loop, .pressed = pressed, .user = user};
    keys_signals(&mask);
    (void)sigprocmask(SIG_BLOCK, &mask, &keys->mask_before);
    keys->signal_fd = signalfd(-1, &mask, SFD_CLOEXEC | SFD_NONBLOCK);
    if (keys->signal_fd >= 0)
        keys->signal_watch = loop_watch(loop, keys->signal_fd, POLLIN, on_signal, keys);
    if (keys->signal_watch == 0) {
        keys_close(keys);
        return NULL;
    }
    /* In the background a write to the terminal must not stop us either. */
    (void)signal(SIGTTOU, SIG_IGN);
    (void)signal(SIGTTIN, SIG_IGN);
    return keys;
}

void keys_on_resize(struct keys *keys, void (*resized)(void *user), void *user)
{
    keys->resized = resized;
    keys->resized_user = user;
}

/* At once, since waiting for the output of a terminal that stands still has no end. */
static void restore_terminal(const struct keys *keys)
{
    (void)tcsetattr(STDIN_FILENO, TCSANOW, &keys->before);
    (void)tcflush(STDIN_FILENO, TCIFLUSH); /* typed keys are not the shell's */
}

void keys_close(struct keys *keys)
{
    if (keys == NULL)
        return;
    if (keys->has_terminal)
        restore_terminal(keys);
    loop_unwatch(keys->loop, keys->signal_watch);
    loop_unwatch(keys->loop, keys->terminal_watch);
    if (keys->signal_fd >= 0)
        (void)close(keys->signal_fd);
    (void)sigprocmask(SIG_SETMASK, &keys->mask_before, NULL);
    free(keys);
}
