#include "child.h"

#include <fcntl.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include "common.h"

pid_t child_start(const char *const arguments[CHILD_ARGUMENTS_MAX])
{
    char *own[CHILD_ARGUMENTS_MAX]; /* execv() promises not to write, in words only */
    const pid_t child = fork();

    if (child < 0)
        bench_fail("no process for the program");
    if (child > 0)
        return child;
    memcpy(own, arguments, sizeof own);
    const int nowhere = open("/dev/null", O_RDWR);
    if (nowhere >= 0 && dup2(nowhere, STDIN_FILENO) >= 0 && dup2(nowhere, STDOUT_FILENO) >= 0 &&
        dup2(nowhere, STDERR_FILENO) >= 0)
        (void)execv(own[0], own);
    _exit(127);
}

int child_wait(pid_t child, size_t *ret_peak_kib)
{
    struct rusage usage;
    int status;

    if (wait4(child, &status, 0, &usage) != child)
        bench_fail("the program cannot be waited for");
    *ret_peak_kib = (size_t)usage.ru_maxrss;
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}
