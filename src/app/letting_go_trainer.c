#include "letting_go_ways.h"

#include <errno.h>
#include <poll.h>
#include <sys/socket.h>
#include <time.h>

#include "io/usbfs.h"
#include "wire/usb_equipment.h"

/* Receivers take a message within a millisecond or two (common practice); what they have to say
 * waits for nothing. */
#define WRITE_MS 50u
#define READ_MS  20u
#define QUIET_MS 5u
#define STALE_MS 100u
/* A trainer has its turn four times a second (Fitness Equipment, D00001231 Rev 5.0, 4.2.1: from
 * memory), and the receiver says at once what came of it. */
#define REPEAT_MS 300u
/* Nothing is heard later, and no release said so late that it has no turn. */
#define LIMIT_MS 1200u
#define PAUSE_MS 5 /* where reading or writing fails at once */

#define PACKET_MAX 1024u /* of a bulk pipe (USB 3.2, 9.6.6) */
#define CHANNEL_AT 3u    /* in a frame: behind its beginning, length and message */
#define PAGE_AT    4u

struct talk {
    int fd;
    const struct letting_go *it;
    uint64_t until_ms;
    struct usb_decoder decoder;
    unsigned ended; /* transfers, however they went, since a release was first said, or said anew */
    bool is_heard;  /* it was acknowledged */
    bool is_passed, is_refused; /* as the trainer's status of it says, or said last */
    bool is_gone;
};

static uint64_t now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000 + (uint64_t)now.tv_nsec / 1000000;
}

/* The first transfer that ends may be that of the last load of the program that is gone, or of a
 * request for the status: nothing in what is told of it tells them apart. A channel has one at a
 * time, so the next is a release. */
static void on_event(struct talk *talk, uint8_t code)
{
    if (talk->is_heard || (code != USB_CODE_TRANSFERRED && code != USB_CODE_NOT_TRANSFERRED))
        return;
    talk->is_heard = code == USB_CODE_TRANSFERRED && talk->ended > 0;
    talk->ended++;
}

/* What was heard may yet be refused: then it is to be said anew. Nothing but a release has 0. */
static void on_page(struct talk *talk, const uint8_t page[USB_PAGE_SIZE])
{
    struct usb_command_status status;

    if (!talk->is_heard || usb_command_status_decode(page, &status) != RESULT_OK ||
        status.command.page != talk->it->release.octets[PAGE_AT] || status.command.value != 0 ||
        status.result == USB_COMMAND_PENDING || status.result == USB_COMMAND_NONE)
        return;
    talk->is_passed = status.result == USB_COMMAND_PASSED;
    talk->is_refused = !talk->is_passed;
    talk->is_heard = talk->is_passed;
    talk->ended = 0;
}

static void judge(struct talk *talk, const struct usb_frame *frame)
{
    if (frame->payload[0] != talk->it->release.octets[CHANNEL_AT])
        return;
    if (frame->message == USB_RESPONSE && frame->length >= 3 &&
        frame->payload[1] == USB_ABOUT_EVENT)
        on_event(talk, frame->payload[2]);
    else if (frame->message == USB_BROADCAST && frame->length >= 1 + USB_PAGE_SIZE)
        on_page(talk, frame->payload + 1);
}

static void settle(struct talk *talk, enum result result)
{
    talk->is_gone = talk->is_gone || result == RESULT_CLOSED;
    if (result == RESULT_IO)
        (void)poll(NULL, 0, PAUSE_MS);
}

static enum result receive(const struct talk *talk, unsigned limit_ms, uint8_t *ret, size_t size,
                           size_t *ret_length)
{
    const struct link_way *way = &talk->it->way;
    struct pollfd polled = {.fd = talk->fd, .events = POLLIN};

    if (way->is_usb)
        return usbfs_read(talk->fd, way->in, size < way->in_size ? size : way->in_size, limit_ms,
                          ret, ret_length);
    if (poll(&polled, 1, (int)limit_ms) <= 0)
        return RESULT_TIMEOUT;
    const ssize_t length = recv(talk->fd, ret, size, MSG_DONTWAIT);
    if (length <= 0)
        return length < 0 && (errno == EAGAIN || errno == EINTR) ? RESULT_TIMEOUT : RESULT_CLOSED;
    *ret_length = (size_t)length;
    return RESULT_OK;
}

static enum result transmit(const struct talk *talk, const uint8_t *octets, size_t length)
{
    if (talk->it->way.is_usb)
        return usbfs_write(talk->fd, talk->it->way.out, octets, length, WRITE_MS);
    if (send(talk->fd, octets, length, MSG_NOSIGNAL | MSG_DONTWAIT) < 0)
        return errno == EAGAIN ? RESULT_TIMEOUT : RESULT_CLOSED;
    return RESULT_OK;
}

/* Whether anything came. */
static bool hear(struct talk *talk, unsigned limit_ms)
{
    struct usb_frame frame;
    uint8_t octets[PACKET_MAX];
    size_t length = 0;
    const enum result result = receive(talk, limit_ms, octets, sizeof octets, &length);

    settle(talk, result);
    for (size_t i = 0; i < length; i++) {
        usb_decoder_put(&talk->decoder, octets[i]);
        while (usb_decoder_next(&talk->decoder, &frame))
            judge(talk, &frame);
    }
    return result == RESULT_OK;
}

/* What is there already is no answer to what is only now said. */
static void pass_over(struct talk *talk)
{
    const uint64_t until_ms = now_ms() + STALE_MS;

    while (now_ms() < until_ms && hear(talk, QUIET_MS))
        ;
    talk->ended = 0;
    talk->is_heard = talk->is_passed = talk->is_refused = false;
}

static void say(struct talk *talk, const struct usb_frame *frame)
{
    uint8_t octets[USB_FRAME_MAX];
    const size_t length = usb_frame_encode(frame, octets);

    settle(talk, transmit(talk, octets, length));
}

/* A release until it was heard, and then what the trainer makes of it. One that never tells that is
 * believed by its having heard. */
static void say_next(struct talk *talk)
{
    const struct letting_go_pdu *release = &talk->it->release;
    struct usb_frame ask = {USB_ACKNOWLEDGED, 1 + USB_PAGE_SIZE, {release->octets[CHANNEL_AT]}};

    if (!talk->is_heard) {
        settle(talk, transmit(talk, release->octets, release->length));
        return;
    }
    usb_request_encode(USB_PAGE_COMMAND_STATUS, ask.payload + 1);
    say(talk, &ask);
}

/* Until something came of it. */
static void hear_out(struct talk *talk)
{
    const uint64_t repeat_ms = now_ms() + REPEAT_MS;
    const unsigned ended = talk->ended;
    const bool was_heard = talk->is_heard;

    while (talk->ended == ended && talk->is_heard == was_heard && !talk->is_passed &&
           !talk->is_gone && now_ms() < repeat_ms && now_ms() < talk->until_ms)
        (void)hear(talk, READ_MS);
}

/* A ride that was stopped with a load on its lips may still say it to the receiver, which the
 * kernel gives back to whoever writes to it next: it is refused on a channel that is closed. */
static void end(struct talk *talk)
{
    const struct usb_frame close = {USB_CLOSE, 1, {talk->it->release.octets[CHANNEL_AT]}};

    if (!talk->is_gone)
        say(talk, &close);
    if (!talk->it->way.is_usb)
        (void)shutdown(talk->fd, SHUT_RDWR);
}

/* While a transfer is under way the receiver refuses the next one; then, as when one failed or is
 * told of by nobody, there is nothing better to do than to say it once more. */
bool letting_go_trainer(int fd, const struct letting_go *it)
{
    struct talk talk = {.fd = fd, .it = it, .until_ms = now_ms() + LIMIT_MS};

    if (it->way.is_usb && usbfs_take(fd, it->way.interface) != RESULT_OK)
        return false;
    pass_over(&talk);
    while (!talk.is_passed && !talk.is_gone &&
           now_ms() + (talk.is_heard ? 0 : REPEAT_MS) < talk.until_ms) {
        say_next(&talk);
        hear_out(&talk);
    }
    end(&talk);
    return talk.is_heard && !talk.is_refused;
}
