#include "io/usb_replay.h"

#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>

#include "wire/usb_trace.h"

#define UNSENT_MS   1000u
#define HEAD_OCTETS 4u /* of a message, with its channel or network */

struct transfer {
    int64_t time_us;
    const uint8_t *octets;
    size_t length;
    bool by_receiver, is_sent; /* again */
};

struct usb_replay {
    struct link link;
    struct loop *loop;
    struct link_user user;
    uint8_t *file;
    struct transfer *transfers;
    size_t count, next;
    bool is_open, is_waiting; /* for `next` to be sent */
    uint64_t base_t_ms;       /* now, and in the capture */
    int64_t base_us;
    int timer;
    bool in_callback, is_closed; /* within it: freed behind it */
};

static struct usb_replay *from_link(struct link *link)
{
    return (struct usb_replay *)link;
}

static void destroy(struct usb_replay *replay)
{
    if (replay->timer != 0)
        loop_cancel_timer(replay->loop, replay->timer);
    free(replay->transfers);
    free(replay->file);
    free(replay);
}

/* ---- the file ---- */

bool usb_replay_is_file(const char *path)
{
    struct stat status;
    return stat(path, &status) == 0 && S_ISREG(status.st_mode);
}

static const char *read_whole(const char *path, uint8_t **ret, size_t *ret_length)
{
    FILE *file = fopen(path, "rbe");
    const char *why = "there is no such file, or it cannot be read";

    if (file == NULL)
        return why;
    if (fseek(file, 0, SEEK_END) == 0) {
        const long length = ftell(file);
        *ret = length > 0 && (size_t)length <= USB_REPLAY_FILE_MAX ? malloc((size_t)length) : NULL;
        rewind(file);
        if (*ret != NULL && fread(*ret, 1, (size_t)length, file) == (size_t)length) {
            *ret_length = (size_t)length;
            why = NULL;
        } else {
            why = "it is empty, too long, or cannot be read";
        }
    }
    (void)fclose(file);
    return why;
}

/* A file that breaks off, as after a crash, is played as far as it goes. */
static void take_transfers(struct usb_replay *replay, struct usb_trace_reader *reader)
{
    struct usb_trace_record record;

    while (usb_trace_next(reader, &record) == RESULT_OK)
        if (record.is_transfer)
            replay->transfers[replay->count++] = (struct transfer){
                record.time_us, record.octets, record.length, record.by_receiver, false};
}

static const char *load(struct usb_replay *replay, const char *path)
{
    struct usb_trace_reader reader;
    size_t length = 0;
    const char *why = read_whole(path, &replay->file, &length);

    if (why != NULL)
        return why;
    if (usb_trace_open(replay->file, length, &reader) != RESULT_OK)
        return "that is no capture of USB: a pcap file of link type 220 is one";
    replay->transfers = calloc(length / USB_TRACE_LEAST_OCTETS + 1, sizeof replay->transfers[0]);
    if (replay->transfers == NULL)
        return "out of memory";
    take_transfers(replay, &reader);
    return replay->count > 0 ? NULL : "nothing of a receiver is in that capture";
}

/* ---- playing ---- */

static void go_on(void *user);

static void go_on_at(struct usb_replay *replay, uint64_t t_ms)
{
    replay->timer = loop_set_timer(replay->loop, t_ms, go_on, replay);
}

static uint64_t due_ms(const struct usb_replay *replay, const struct transfer *transfer)
{
    const int64_t after_us = transfer->time_us - replay->base_us;

    return replay->base_t_ms + (after_us > 0 ? (uint64_t)after_us / 1000 : 0);
}

static void play(struct usb_replay *replay, const struct transfer *transfer)
{
    replay->next++;
    replay->is_waiting = false;
    if (transfer->by_receiver)
        replay->user.received(replay->user.user, transfer->octets, transfer->length);
}

/* One at a time, so that whatever comes of it has come before the next. */
static void go_on(void *user)
{
    struct usb_replay *replay = user;
    const uint64_t now_ms = loop_now_ms(replay->loop);

    replay->timer = 0;
    replay->in_callback = true;
    if (!replay->is_open) {
        replay->is_open = true;
        replay->user.opened(replay->user.user);
    } else if (replay->next < replay->count) {
        const struct transfer *transfer = &replay->transfers[replay->next];
        if (!transfer->by_receiver && !transfer->is_sent && !replay->is_waiting)
            replay->is_waiting = true;
        else
            play(replay, transfer);
    }
    replay->in_callback = false;
    if (replay->is_closed) {
        destroy(replay);
        return;
    }
    if (replay->timer != 0 || replay->next == replay->count)
        return;
    const uint64_t at_ms = due_ms(replay, &replay->transfers[replay->next]);
    const uint64_t least_ms = at_ms > now_ms ? at_ms : now_ms;
    go_on_at(replay, least_ms + (replay->is_waiting ? UNSENT_MS : 0));
}

/* ---- operations ---- */

static bool is_same(const struct transfer *transfer, const uint8_t *octets, size_t length)
{
    return !transfer->by_receiver && !transfer->is_sent && transfer->length >= HEAD_OCTETS &&
           length >= HEAD_OCTETS && transfer->octets[2] == octets[2] &&
           transfer->octets[3] == octets[3];
}

/* What it was waited with goes on from now. */
static void note_sent(struct usb_replay *replay, size_t index)
{
    struct transfer *transfer = &replay->transfers[index];

    transfer->is_sent = true;
    if (index != replay->next)
        return;
    replay->base_t_ms = loop_now_ms(replay->loop);
    replay->base_us = transfer->time_us;
    if (replay->timer != 0)
        loop_cancel_timer(replay->loop, replay->timer);
    go_on_at(replay, replay->base_t_ms);
}

static enum result send_octets(struct link *link, const uint8_t *octets, size_t length)
{
    struct usb_replay *replay = from_link(link);

    for (size_t i = replay->next; i < replay->count; i++) {
        if (is_same(&replay->transfers[i], octets, length)) {
            note_sent(replay, i);
            break;
        }
    }
    return RESULT_OK;
}

static enum result secure(struct link *link)
{
    (void)link;
    return RESULT_UNSUPPORTED;
}

static void close_replay(struct link *link)
{
    struct usb_replay *replay = from_link(link);

    if (replay->in_callback)
        replay->is_closed = true;
    else
        destroy(replay);
}

static const struct link_operations operations = {send_octets, secure, close_replay, NULL, NULL};

struct link *usb_replay_open(struct loop *loop, const char *path, const struct link_user *user,
                             const char **ret_why)
{
    struct usb_replay *replay = calloc(1, sizeof *replay);
    const char *why = replay == NULL ? "out of memory" : load(replay, path);

    if (why != NULL) {
        *ret_why = why;
        if (replay != NULL)
            destroy(replay);
        return NULL;
    }
    replay->link.operations = &operations;
    replay->loop = loop;
    replay->user = *user;
    replay->base_t_ms = loop_now_ms(loop);
    replay->base_us = replay->transfers[0].time_us;
    go_on_at(replay, replay->base_t_ms);
    return &replay->link;
}
