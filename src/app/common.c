#include "app/command.h"

#include <ctype.h>
#include <errno.h>
#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "io/output.h"
#include "text/lines.h"
#include "ui/wrap.h"

static void put_stdout(void *user, const char *text, size_t length)
{
    (void)user;
    (void)fwrite(text, 1, length, stdout);
}

static unsigned columns_of_stdout(void *user)
{
    (void)user;
    return output_columns(STDOUT_FILENO);
}

struct sink stdout_sink(void)
{
    return (struct sink){put_stdout, NULL, columns_of_stdout};
}

static void __attribute__((format(printf, 2, 0)))
say_in(size_t indent, const char *format, va_list arguments)
{
    char *text = NULL;
    const int length = vasprintf(&text, format, arguments);

    if (length >= 0)
        wrap_put(stdout_sink(), text, (size_t)length, indent);
    free(text);
}

void say(const char *format, ...)
{
    va_list arguments;

    va_start(arguments, format);
    say_in(0, format, arguments);
    va_end(arguments);
}

void say_item(const char *format, ...)
{
    va_list arguments;

    va_start(arguments, format);
    say_in(2, format, arguments);
    va_end(arguments);
}

/* ---- complaints ---- */

static struct sink complaints; /* zeroed: they go to stderr */

void complain_to(struct sink sink)
{
    complaints = sink;
}

/* One line whatever the text holds: a file name may have a newline in it. In one piece, for others
 * may write there as well. `line` has room for the newline. */
static void put_complaint(char *line)
{
    for (char *at = line; *at != '\0'; at++)
        if (iscntrl((unsigned char)*at))
            *at = '?';
    const size_t length = strlen(line);
    line[length] = '\n';
    line[length + 1] = '\0';
    if (complaints.put != NULL)
        complaints.put(complaints.user, line, length + 1);
    else
        (void)fputs(line, stderr);
}

void complain(const char *format, ...)
{
    char line[1024] = "afterset: ";
    const size_t begin = strlen(line);
    va_list arguments;

    va_start(arguments, format);
    (void)vsnprintf(line + begin, sizeof line - begin - 1, format, arguments);
    va_end(arguments);
    put_complaint(line);
}

void complain_at(const char *path, const struct text_fault *fault, const char *advice)
{
    char line[4096 + sizeof fault->message + 256];

    (void)snprintf(line, sizeof line - 1, "%s:%" PRIu32 ":%" PRIu32 ": %s%s", path, fault->line,
                   fault->column, fault->message, advice);
    put_complaint(line);
}

static char *read_stream(FILE *file, const char *path, size_t limit, size_t *ret_length)
{
    char *text = malloc(limit + 1);
    if (text == NULL) {
        complain("%s: not enough memory to read it", path);
        return NULL;
    }
    /* One octet more than allowed shows that there is more. */
    const size_t length = fread(text, 1, limit + 1, file);
    if (ferror(file) || length > limit) {
        if (length > limit)
            complain("%s: larger than %zu octets, so it is not what it should be", path, limit);
        else
            complain("%s: cannot be read: %s", path, strerror(errno));
        free(text);
        return NULL;
    }
    text[length] = '\0';
    *ret_length = length;
    return text;
}

char *read_file(const char *path, size_t limit, size_t *ret_length)
{
    FILE *file = fopen(path, "rbe");
    if (file == NULL) {
        complain("%s: cannot be opened: %s", path[0] != '\0' ? path : "''", strerror(errno));
        return NULL;
    }
    char *text = read_stream(file, path, limit, ret_length);
    (void)fclose(file);
    return text;
}

/* Every missing folder on the way, 0700. */
static bool make_folders(char *path)
{
    for (char *slash = strchr(path + 1, '/'); slash != NULL; slash = strchr(slash + 1, '/')) {
        *slash = '\0';
        const bool failed = mkdir(path, 0700) != 0 && errno != EEXIST;
        if (failed)
            complain("%s: cannot be made: %s; choose another place with XDG_DATA_HOME and "
                     "XDG_CONFIG_HOME",
                     path, strerror(errno));
        *slash = '/';
        if (failed)
            return false;
    }
    return true;
}

static bool xdg_path(const char *variable, const char *below_home, const char *name, char *ret,
                     size_t size)
{
    const char *base = getenv(variable);
    const char *home = getenv("HOME");
    int length;

    /* The base directory specification: a relative path is to be ignored. */
    if (base != NULL && base[0] == '/')
        length = snprintf(ret, size, "%s/afterset/%s", base, name);
    else if (home != NULL && home[0] == '/')
        length = snprintf(ret, size, "%s/%s/afterset/%s", home, below_home, name);
    else
        length = -1;
    if (length < 0 || (size_t)length >= size) {
        complain("neither HOME nor %s names a folder to keep things in", variable);
        return false;
    }
    return true;
}

bool data_path(const char *name, char *ret, size_t size)
{
    return xdg_path("XDG_DATA_HOME", ".local/share", name, ret, size);
}

bool config_path(const char *name, char *ret, size_t size)
{
    return xdg_path("XDG_CONFIG_HOME", ".config", name, ret, size);
}

bool cache_path(const char *name, char *ret, size_t size)
{
    return xdg_path("XDG_CACHE_HOME", ".cache", name, ret, size);
}

bool make_folders_for(const char *path)
{
    char *copy = strdup(path);

    if (copy == NULL) {
        complain("out of memory");
        return false;
    }
    const bool made = make_folders(copy);
    free(copy);
    return made;
}
