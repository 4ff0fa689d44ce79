#include "io/capture.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "wire/att_trace.h"
#include "wire/usb_trace.h"

#define LAST_WAIT_MS 500 /* for a slow reader at the end */

struct capture {
    enum capture_kind kind;
    struct loop *loop;
    int fd;
    struct output *output;
    int64_t start_us; /* since 1970, when the loop's time was 0 */
    const char *path; /* of a file that was made here; else NULL */
    bool has_links;
};

/* ---- the file ---- */

/* What somebody recorded before is not written over. */
static int open_file(const char *path, bool *ret_is_new)
{
    const int flags = O_WRONLY | O_NONBLOCK | O_NOCTTY | O_CLOEXEC;
    const int fd = open(path, flags | O_CREAT | O_EXCL, 0600);
    struct stat status;

    *ret_is_new = fd >= 0;
    if (fd >= 0 || errno != EEXIST)
        return fd;
    if (stat(path, &status) == 0 && !S_ISREG(status.st_mode))
        return open(path, flags);
    errno = EEXIST;
    return -1;
}

static int64_t calendar_us(void)
{
    struct timespec now;
    clock_gettime(CLOCK_REALTIME, &now);
    return (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

static void put(struct capture *capture, const struct bytes_writer *writer)
{
    output_keep(capture->output, writer->data, writer->length);
}

static void put_header(struct capture *capture)
{
    uint8_t octets[USB_TRACE_HEADER_OCTETS];
    struct bytes_writer header = bytes_writer(octets, sizeof octets);

    _Static_assert(BTSNOOP_HEADER_OCTETS <= sizeof octets, "either fits");
    if (capture->kind == CAPTURE_USB)
        usb_trace_put_header(&header);
    else
        btsnoop_put_header(&header);
    put(capture, &header);
}

struct capture *capture_new(struct loop *loop, const char *path, enum capture_kind kind,
                            output_ended_func *ended, void *user)
{
    struct capture *capture = calloc(1, sizeof *capture);
    bool is_new;

    if (capture == NULL)
        return NULL;
    capture->kind = kind;
    capture->loop = loop;
    capture->start_us = calendar_us() - (int64_t)loop_now_ms(loop) * 1000;
    capture->fd = open_file(path, &is_new);
    capture->path = is_new ? path : NULL;
    if (capture->fd >= 0)
        capture->output = output_new(loop, capture->fd, ended, user);
    if (capture->output == NULL) {
        const int why = capture->fd < 0 ? errno : ENOMEM;
        capture_free(capture);
        errno = why;
        return NULL;
    }
    put_header(capture);
    return capture;
}

bool capture_is_file(const struct capture *capture)
{
    return capture->path != NULL;
}

void capture_free(struct capture *capture)
{
    if (capture == NULL)
        return;
    output_flush(capture->output, LAST_WAIT_MS);
    output_free(capture->output);
    if (capture->fd >= 0)
        (void)close(capture->fd);
    /* A ride that never began leaves no empty file in the way of the next one. */
    if (capture->path != NULL && !capture->has_links)
        (void)unlink(capture->path);
    free(capture);
}

/* ---- what goes into it ---- */

/* In the order and the time of the loop, however fast it runs. */
static int64_t now_us(const struct capture *capture)
{
    return capture->start_us + (int64_t)loop_now_ms(capture->loop) * 1000;
}

/* As controllers number their links. */
static uint16_t handle_of(const struct capture_tap *tap)
{
    return (uint16_t)(0x0040 + tap->number);
}

static void note_up(struct capture_tap *tap)
{
    const struct device_address invented = {{(uint8_t)(tap->number + 1)}, ADDRESS_PUBLIC};
    uint8_t octets[ATT_TRACE_RECORD_MAX];
    struct bytes_writer writer = bytes_writer(octets, sizeof octets);

    tap->is_up = tap->capture->has_links = true;
    if (tap->capture->kind == CAPTURE_USB)
        return;
    att_trace_put_up(&writer, now_us(tap->capture), handle_of(tap), &invented);
    put(tap->capture, &writer);
}

static void note_down(struct capture_tap *tap, bool by_peer)
{
    uint8_t octets[ATT_TRACE_RECORD_MAX];
    struct bytes_writer writer = bytes_writer(octets, sizeof octets);

    if (!tap->is_up)
        return;
    tap->is_up = false;
    if (tap->capture->kind == CAPTURE_USB)
        return;
    att_trace_put_down(&writer, now_us(tap->capture), handle_of(tap), by_peer);
    put(tap->capture, &writer);
}

static void note_pdu(const struct capture_tap *tap, bool by_peer, const uint8_t *pdu, size_t length)
{
    const bool is_usb = tap->capture->kind == CAPTURE_USB;
    uint8_t octets[ATT_TRACE_RECORD_MAX];
    struct bytes_writer writer = bytes_writer(octets, sizeof octets);

    _Static_assert(USB_TRACE_RECORD_MAX <= sizeof octets, "either fits");
    if (!tap->is_up || length > (is_usb ? USB_TRACE_DATA_MAX : ATT_TRACE_PDU_MAX))
        return;
    if (is_usb)
        usb_trace_put(&writer, now_us(tap->capture), by_peer, pdu, length);
    else
        att_trace_put_pdu(&writer, now_us(tap->capture), handle_of(tap), by_peer, pdu, length);
    put(tap->capture, &writer);
}

/* ---- the tap ---- */

static enum result send_through(struct link *link, const uint8_t *pdu, size_t length)
{
    const struct capture_tap *tap = (const struct capture_tap *)link;
    const enum result result =
        tap->below == NULL ? RESULT_CLOSED : link_send(tap->below, pdu, length);

    if (result == RESULT_OK)
        note_pdu(tap, false, pdu, length);
    return result;
}

static enum result secure_through(struct link *link)
{
    const struct capture_tap *tap = (const struct capture_tap *)link;
    return tap->below == NULL ? RESULT_CLOSED : link_secure(tap->below);
}

static void close_through(struct link *link)
{
    struct capture_tap *tap = (struct capture_tap *)link;

    link_close(tap->below);
    tap->below = NULL;
    note_down(tap, false);
}

static int descriptor_below(const struct link *link, struct link_way *ret)
{
    const struct capture_tap *tap = (const struct capture_tap *)link;
    return tap->below == NULL ? -1 : link_descriptor(tap->below, ret);
}

static bool is_securing_below(const struct link *link)
{
    const struct capture_tap *tap = (const struct capture_tap *)link;
    return tap->below != NULL && link_is_securing(tap->below);
}

static const struct link_operations operations = {send_through, secure_through, close_through,
                                                  descriptor_below, is_securing_below};

static void on_opened(void *user)
{
    struct capture_tap *tap = user;
    note_up(tap);
    tap->user.opened(tap->user.user);
}

static void on_received(void *user, const uint8_t *pdu, size_t length)
{
    struct capture_tap *tap = user;
    note_pdu(tap, true, pdu, length);
    tap->user.received(tap->user.user, pdu, length);
}

static void on_closed(void *user, const char *why)
{
    struct capture_tap *tap = user;
    note_down(tap, true);
    tap->user.closed(tap->user.user, why);
}

struct link_user capture_tap_user(struct capture_tap *tap)
{
    return (struct link_user){on_opened, on_received, on_closed, tap};
}

struct link *capture_tap_over(struct capture_tap *tap, struct link *below)
{
    tap->link.operations = &operations;
    tap->below = below;
    return below == NULL ? NULL : &tap->link;
}
