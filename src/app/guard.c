#include "guard.h"

#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/signalfd.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#include "app/command.h"
#include "keys.h"

/* Two beats of 250 ms and what a busy computer may take for each: with the release behind it well
 * under a second. A rate below 1 stretches the beats. */
#define BEAT_MS  250u
#define SLACK_MS 450u

enum outcome { NOTHING_ON, RELEASED, UNCONFIRMED };

struct guard {
    pid_t ride;
    int channel, signals;
    atomic_uint *taken; /* see guard_order.h */
    struct guard_order order;
    int link; /* -1: there is nothing to let go of */
    uint32_t link_number;
    enum outcome outcome; /* of the last letting go */
    uint64_t heard_ms, let_go_ms;
    bool is_still, is_stopped; /* silent for too long, and let go of; stopped by a signal */
    bool has_terminal;
    struct termios before;
};

static uint64_t now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000 + (uint64_t)now.tv_nsec / 1000000;
}

/* ---- what the ride says ---- */

static int attached(struct msghdr *message)
{
    const struct cmsghdr *header = CMSG_FIRSTHDR(message);
    int fd;

    if (header == NULL || header->cmsg_level != SOL_SOCKET || header->cmsg_type != SCM_RIGHTS)
        return -1;
    memcpy(&fd, CMSG_DATA(header), sizeof fd);
    return fd;
}

static void drop_link(struct guard *guard)
{
    if (guard->link >= 0)
        (void)close(guard->link);
    guard->link = -1;
}

/* There may be something on the brake that only the rider can take off, for all the guard can do.
 */
static bool is_for_rider(const struct guard_order *order)
{
    return order->is_by_hand || (order->link == 0 && order->is_left_on);
}

/* A link whose number was let go of stays gone: what the ride says of it is older than that, or
 * said by a ride that has not seen it yet, and no sign that it stands still no more. */
static void take(struct guard *guard, const struct guard_order *order, int fd)
{
    guard->order = *order;
    guard->heard_ms = now_ms();
    guard->is_stopped = false;
    if (is_for_rider(order))
        guard->is_still = false; /* no link tells old signs of life from new ones, nor needs to */
    if (order->link != guard->link_number) {
        guard->is_still = false;
        drop_link(guard);
    }
    if (fd < 0)
        return;
    guard->link = fd;
    guard->link_number = order->link;
    guard->outcome = NOTHING_ON;
}

static bool take_one(struct guard *guard)
{
    union {
        struct cmsghdr align;
        char octets[CMSG_SPACE(sizeof(int))];
    } control;
    struct guard_order order;
    struct iovec part = {&order, sizeof order};
    struct msghdr message = {.msg_iov = &part,
                             .msg_iovlen = 1,
                             .msg_control = control.octets,
                             .msg_controllen = sizeof control.octets};

    const ssize_t length = recvmsg(guard->channel, &message, MSG_DONTWAIT | MSG_CMSG_CLOEXEC);
    if (length == (ssize_t)sizeof order)
        take(guard, &order, attached(&message));
    if (length == 0) {
        (void)close(guard->channel);
        guard->channel = -1; /* it is about to end, or forgot to: no more reason to wake up */
    }
    return length > 0;
}

static void take_all(struct guard *guard)
{
    while (take_one(guard))
        ;
}

/* ---- letting go ---- */

static void let_go(struct guard *guard)
{
    atomic_store(guard->taken, guard->link_number);
    guard->outcome = letting_go(guard->link, &guard->order.letting_go) ? RELEASED : UNCONFIRMED;
    drop_link(guard);
}

/* Stopped meanwhile, so that it does not wake up and read the answers. One that somebody else has
 * stopped stays so. One that somebody else wakes up finds the link taken, and writes nothing. */
static void let_go_for_living(struct guard *guard)
{
    if (!guard->is_stopped)
        (void)kill(guard->ride, SIGSTOP);
    let_go(guard);
    const struct guard_note note = {guard->link_number, guard->outcome == RELEASED};
    (void)send(guard->channel, &note, sizeof note, MSG_NOSIGNAL | MSG_DONTWAIT);
    guard->is_still = true;
    if (!guard->is_stopped)
        (void)kill(guard->ride, SIGCONT);
}

/* ---- waiting ---- */

/* When the ride has been silent for too long; 0: it may be. */
static uint64_t limit_ms(const struct guard *guard)
{
    if (guard->link >= 0 || (is_for_rider(&guard->order) && !guard->is_still))
        return guard->is_stopped ? guard->heard_ms : guard->heard_ms + guard->order.patience_ms;
    return guard->is_still && !guard->is_stopped ? guard->let_go_ms + GUARD_WAKE_MS : 0;
}

static void judge(struct guard *guard)
{
    const uint64_t limit = limit_ms(guard);

    if (limit == 0 || now_ms() < limit)
        return;
    if (guard->link >= 0)
        let_go_for_living(guard);
    else if (!guard->is_still)
        guard->is_still = true;
    else
        (void)kill(guard->ride, SIGKILL);
    guard->let_go_ms = now_ms();
}

/* What the terminal sends goes to the whole group of processes, the ride included, except for a
 * hang-up. A ride that stands still cannot end itself. */
static void pass_on(const struct guard *guard, const struct signalfd_siginfo *information)
{
    const int number = (int)information->ssi_signo;

    if (guard->is_still && number != SIGTSTP && number != SIGWINCH && number != SIGCONT)
        (void)kill(guard->ride, SIGKILL);
    else if (information->ssi_code != SI_KERNEL || number == SIGHUP)
        (void)kill(guard->ride, number);
}

static void take_signals(struct guard *guard)
{
    struct signalfd_siginfo information;

    while (read(guard->signals, &information, sizeof information) == (ssize_t)sizeof information)
        if (information.ssi_signo != SIGCHLD)
            pass_on(guard, &information);
}

/* Whether the ride is over. */
static bool has_ended(struct guard *guard, int *ret_status)
{
    if (waitpid(guard->ride, ret_status, WNOHANG | WUNTRACED) != guard->ride)
        return false;
    if (!WIFSTOPPED(*ret_status))
        return true;
    guard->is_stopped = true;
    return false;
}

static int watch(struct guard *guard)
{
    int status = 0;

    for (;;) {
        struct pollfd polled[] = {{.fd = guard->channel, .events = POLLIN},
                                  {.fd = guard->signals, .events = POLLIN}};
        const uint64_t limit = limit_ms(guard), now = now_ms();
        const int wait_ms = limit == 0 ? -1 : limit > now ? (int)(limit - now) : 0;

        if (poll(polled, 2, wait_ms) < 0 && errno != EINTR)
            return status;
        take_all(guard);
        take_signals(guard);
        if (has_ended(guard, &status))
            return status;
        judge(guard);
    }
}

/* ---- the end ---- */

static void restore_terminal(const struct guard *guard)
{
    const char *text = guard->order.restore;

    if (!guard->has_terminal || tcgetpgrp(STDIN_FILENO) != getpgrp())
        return;
    if (text[0] != '\0' && isatty(STDOUT_FILENO))
        (void)!write(STDOUT_FILENO, text, strnlen(text, GUARD_RESTORE_MAX));
    (void)tcsetattr(STDIN_FILENO, TCSAFLUSH, &guard->before);
}

static const char *words_of(const struct guard *guard)
{
    switch (guard->outcome) {
    case RELEASED:
        return guard->order.letting_go.stop.length > 0
                   ? "its guard has released the load and stopped the bike"
                   : "its guard has released the load";
    case UNCONFIRMED:
        return "the bike did not confirm that its load is off; turn its resistance down by hand";
    case NOTHING_ON:
    default:
        return guard->order.is_by_hand ? "nothing but your hand takes the load off, ease the knob"
                                       : "nothing was on the brake";
    }
}

static void report(const struct guard *guard, int status)
{
    char cause[48], record[96] = "";

    if (WIFSIGNALED(status))
        (void)snprintf(cause, sizeof cause, "signal %d", WTERMSIG(status));
    else
        (void)snprintf(cause, sizeof cause, "status %d", WEXITSTATUS(status));
    if (guard->order.ride_id > 0)
        (void)snprintf(record, sizeof record,
                       "; ride %lld is saved up to its last second, the next start recovers it",
                       (long long)guard->order.ride_id);
    complain("the ride %s (%s): %s%s", guard->is_still ? "stood still and was ended" : "died",
             cause, words_of(guard), record);
}

/* Before the ride takes signals, at the question about the cautions for example. */
static bool ends_politely(int status)
{
    return WIFSIGNALED(status) && (WTERMSIG(status) == SIGINT || WTERMSIG(status) == SIGTERM ||
                                   WTERMSIG(status) == SIGHUP);
}

/* As if there had been no guard. */
static void die_of(int number)
{
    sigset_t set;

    (void)signal(number, SIG_DFL);
    (void)sigemptyset(&set);
    (void)sigaddset(&set, number);
    (void)kill(getpid(), number);
    (void)sigprocmask(SIG_UNBLOCK, &set, NULL);
}

static int end(struct guard *guard, int status)
{
    take_all(guard); /* its last words may have come since the guard looked */
    if (guard->link >= 0)
        let_go(guard);
    else if (WIFEXITED(status))
        return WEXITSTATUS(status);
    else if (guard->outcome == NOTHING_ON && guard->order.is_left_on)
        guard->outcome = UNCONFIRMED; /* on a link that was lost */
    restore_terminal(guard);
    if (guard->outcome == NOTHING_ON && ends_politely(status))
        die_of(WTERMSIG(status));
    report(guard, status);
    return WIFEXITED(status) && WEXITSTATUS(status) != 0 ? WEXITSTATUS(status) : EXIT_FAILED;
}

/* ---- the beginning ---- */

/* What the guard holds on to from before there is a ride. */
static bool prepare(struct guard *guard, int ends[2], sigset_t *ret_before)
{
    sigset_t signals;

    keys_signals(&signals);
    (void)sigaddset(&signals, SIGCHLD);
    guard->has_terminal = isatty(STDIN_FILENO) && tcgetattr(STDIN_FILENO, &guard->before) == 0;
    guard->signals = signalfd(-1, &signals, SFD_CLOEXEC | SFD_NONBLOCK);
    guard->taken =
        mmap(NULL, sizeof *guard->taken, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    if (guard->signals < 0 || guard->taken == MAP_FAILED ||
        socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, ends) != 0)
        return false;
    guard->channel = ends[0];
    (void)sigprocmask(SIG_BLOCK, &signals, ret_before);
    guard->ride = fork();
    if (guard->ride != 0)
        (void)close(ends[1]);
    if (guard->ride < 0)
        (void)sigprocmask(SIG_SETMASK, ret_before, NULL);
    return guard->ride >= 0;
}

bool guard_start(double rate, struct guarded *ret, int *ret_status)
{
    struct guard guard = {.link = -1};
    sigset_t before;
    int ends[2];

    *ret_status = EXIT_FAILED;
    if (!prepare(&guard, ends, &before)) {
        complain("the system allows no guard for the ride: %s", strerror(errno));
        return false;
    }
    if (guard.ride > 0) {
        *ret_status = end(&guard, watch(&guard));
        return false;
    }
    (void)close(guard.signals);
    (void)close(guard.channel);
    (void)sigprocmask(SIG_SETMASK, &before, NULL);
    *ret = (struct guarded){.is_guarded = true, .channel = ends[1], .taken = guard.taken, .fd = -1};
    ret->order.patience_ms = SLACK_MS + (uint32_t)(rate < 1.0 ? BEAT_MS / rate : BEAT_MS);
    return true;
}
