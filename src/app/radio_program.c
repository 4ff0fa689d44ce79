#include "radio_program.h"

#include <errno.h>
#include <spawn.h>
#include <stdio.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "io/link_timing.h"

enum { STATUS_REFUSED = 3 }; /* of main_radio.c */

/* Beside ours where it was built, in libexec where it was
 * installed. Nowhere else, and never by PATH: it is to be this one. */
bool radio_program_find(char ret[PATH_MAX])
{
    static const char *const places[] = {"afterset-radio", "../libexec/afterset-radio"};
    char folder[PATH_MAX - 32];
    ssize_t length = readlink("/proc/self/exe", folder, sizeof folder - 1);
    if (length <= 0)
        return false;
    folder[length] = '\0';
    *strrchr(folder, '/') = '\0';
    for (size_t i = 0; i < sizeof places / sizeof places[0]; i++) {
        (void)snprintf(ret, PATH_MAX, "%s/%s", folder, places[i]);
        if (access(ret, X_OK) == 0)
            return true;
    }
    return false;
}

static enum result ask_program(const struct device_address *device)
{
    char path[PATH_MAX], address[24];
    char name[] = "afterset-radio", verb[] = "link", type[8];
    char *arguments[] = {name, verb, address, type, NULL}, *environment[] = {NULL};
    struct text_writer writer = text_writer(address, sizeof address);
    pid_t program;
    int status;
    if (!radio_program_find(path))
        return RESULT_NOT_FOUND;
    device_address_put(&writer, device);
    (void)snprintf(type, sizeof type, "%s", address_type_name(device->type));
    if (posix_spawn(&program, path, NULL, NULL, arguments, environment) != 0)
        return RESULT_REFUSED;
    while (waitpid(program, &status, 0) < 0)
        if (errno != EINTR)
            return RESULT_IO;
    if (WIFEXITED(status) && WEXITSTATUS(status) == STATUS_REFUSED)
        return RESULT_REFUSED;
    return WIFEXITED(status) && WEXITSTATUS(status) == 0 ? RESULT_OK : RESULT_IO;
}

enum result radio_program_set_timing(const struct device_address *device)
{
    const enum result result = link_timing_set(device);
    return result == RESULT_REFUSED ? ask_program(device) : result;
}
