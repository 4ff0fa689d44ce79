#include "terminal_restore.h"

#include <fcntl.h>
#include <signal.h>
#include <stdbool.h>
#include <string.h>
#include <unistd.h>

static const int crashes[] = {SIGSEGV, SIGBUS, SIGILL, SIGFPE, SIGABRT};
#define CRASH_COUNT (sizeof crashes / sizeof crashes[0])

/* A signal handler can be told nothing, so this is the one place with state of the process. */
static struct {
    int fd; /* does not block */
    bool is_own;
    char octets[RESTORE_OCTETS_MAX];
    size_t length;
    struct termios mode;
    struct sigaction before[CRASH_COUNT];
    stack_t stack_before;
} restore;

/* A crash may be a stack that is used up. */
static char crash_stack[16384];

/* Only what signal-safety(7) allows. What handled the signal before us gets it again. */
static void on_crash(int number)
{
    (void)!write(restore.fd, restore.octets, restore.length);
    (void)tcsetattr(STDIN_FILENO, TCSANOW, &restore.mode);
    for (size_t i = 0; i < CRASH_COUNT; i++)
        (void)sigaction(crashes[i], &restore.before[i], NULL);
    (void)raise(number);
}

void restore_on_crash(const char *octets, size_t length, const struct termios *mode)
{
    struct sigaction action = {.sa_handler = on_crash, .sa_flags = SA_ONSTACK};
    const stack_t stack = {.ss_sp = crash_stack, .ss_size = sizeof crash_stack};

    restore.length = length <= RESTORE_OCTETS_MAX ? length : 0;
    memcpy(restore.octets, octets, restore.length);
    restore.mode = *mode;
    restore.fd = open("/proc/self/fd/1", O_WRONLY | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
    restore.is_own = restore.fd >= 0;
    if (!restore.is_own)
        restore.fd = STDOUT_FILENO;
    (void)sigaltstack(&stack, &restore.stack_before);
    (void)sigemptyset(&action.sa_mask);
    for (size_t i = 0; i < CRASH_COUNT; i++)
        (void)sigaction(crashes[i], &action, &restore.before[i]);
}

void restore_no_more(void)
{
    for (size_t i = 0; i < CRASH_COUNT; i++)
        (void)sigaction(crashes[i], &restore.before[i], NULL);
    (void)sigaltstack(&restore.stack_before, NULL);
    if (restore.is_own)
        (void)close(restore.fd);
}
