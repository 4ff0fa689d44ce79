#include "letting_go_ways.h"

#include <errno.h>
#include <poll.h>
#include <sys/socket.h>
#include <time.h>

#include "wire/ftms_control_point.h"

#define TRIES 2u
#define STALE_MAX                                                                                  \
    64u                 /* packets; more than a machine says in the time that a ride may be silent \
                         */
#define REPEAT_MS  250u /* as wire/ftms_client repeats what must not wait */
#define REFUSED_MS 500u /* a release that is refused is said again, no later */

#define WRITE_HEADER 3u /* opcode and handle, of a write as of an indication */
#define ERROR_SIZE   5u /* opcode, what it answers, handle, enum att_error */

enum heard { HEARD_NOTHING, HEARD_YES, HEARD_NO, HEARD_END };

static uint64_t now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000 + (uint64_t)now.tv_nsec / 1000000;
}

/* Errors are not judged: one may answer a write of the program that is gone, "in progress" passes,
 * and for the others there is nothing better to do than to ask once more. */
static enum heard judge(const struct letting_go_pdu *asked, const uint8_t *pdu, size_t length)
{
    struct ftms_response response;

    if (length <= WRITE_HEADER || pdu[0] != ATT_INDICATION || pdu[1] != asked->octets[1] ||
        pdu[2] != asked->octets[2])
        return HEARD_NOTHING;
    const uint8_t opcode = asked->octets[WRITE_HEADER];
    if (ftms_decode_response(pdu + WRITE_HEADER, length - WRITE_HEADER, opcode, &response) !=
            RESULT_OK ||
        response.request != opcode)
        return HEARD_NOTHING;
    return response.result == FTMS_SUCCESS ? HEARD_YES : HEARD_NO;
}

/* The program that is gone may have read an answer and not confirmed it: the machine then waits for
 * that before it takes anything. One that is busy for another reason does not mind (common
 * practice). */
static bool wants_confirmation(const struct letting_go_pdu *asked, const uint8_t *pdu,
                               size_t length)
{
    return pdu[0] == ATT_INDICATION ||
           (length == ERROR_SIZE && pdu[0] == ATT_ERROR_RESPONSE && pdu[2] == asked->octets[1] &&
            pdu[3] == asked->octets[2] && pdu[4] == ATT_PROCEDURE_IN_PROGRESS);
}

static enum heard receive(int fd, const struct letting_go_pdu *asked)
{
    static const uint8_t confirmation = ATT_CONFIRMATION;
    uint8_t pdu[ATT_PDU_BUFFER];
    const ssize_t length = recv(fd, pdu, sizeof pdu, MSG_DONTWAIT);

    if (length < 0 && (errno == EAGAIN || errno == EINTR))
        return HEARD_NOTHING;
    if (length <= 0)
        return HEARD_END;
    /* Unconfirmed, it would be the last one that the machine may send. */
    if (wants_confirmation(asked, pdu, (size_t)length))
        (void)send(fd, &confirmation, sizeof confirmation, MSG_NOSIGNAL | MSG_DONTWAIT);
    return judge(asked, pdu, (size_t)length);
}

static enum heard listen_until(int fd, const struct letting_go_pdu *asked, uint64_t until_ms)
{
    enum heard heard = HEARD_NOTHING;

    for (uint64_t now; heard == HEARD_NOTHING && (now = now_ms()) < until_ms;) {
        struct pollfd polled = {.fd = fd, .events = POLLIN};
        if (poll(&polled, 1, (int)(until_ms - now)) > 0)
            heard = receive(fd, asked);
    }
    return heard;
}

/* A request of the program that is gone may be open, and the standard allows one at a time (Core,
 * Vol 3 Part F, 3.3.2). It is written all the same: its answer may never come, and a machine that
 * drops a second request does no worse than one that is not asked. */
static enum heard ask(int fd, const struct letting_go_pdu *pdu)
{
    enum heard heard = HEARD_NOTHING;

    for (unsigned i = 0; i < TRIES && heard == HEARD_NOTHING; i++) {
        if (send(fd, pdu->octets, pdu->length, MSG_NOSIGNAL | MSG_DONTWAIT) < 0 && errno != EAGAIN)
            return HEARD_END;
        heard = listen_until(fd, pdu, now_ms() + REPEAT_MS);
    }
    return heard;
}

/* What is there already is no answer to what is only now asked for. */
static void pass_over(int fd, const struct letting_go_pdu *pdu)
{
    struct pollfd polled = {.fd = fd, .events = POLLIN};

    for (unsigned i = 0; i < STALE_MAX && poll(&polled, 1, 0) > 0; i++)
        if (receive(fd, pdu) == HEARD_END)
            return;
}

/* It goes out twice, as the first answer may be that to the last load of the program that is gone:
 * nothing in it tells the two apart. Refused, it is said on while there is time: what the machine
 * is busy with may be over. */
static enum heard ask_for_release(int fd, const struct letting_go_pdu *release)
{
    const uint64_t until_ms = now_ms() + REFUSED_MS;
    enum heard heard = ask(fd, release);

    if (heard == HEARD_YES || heard == HEARD_NO)
        heard = ask(fd, release);
    while (heard == HEARD_NO && now_ms() < until_ms) {
        (void)poll(NULL, 0, REPEAT_MS);
        heard = ask(fd, release);
    }
    return heard;
}

bool letting_go_ftms(int fd, const struct letting_go *it)
{
    pass_over(fd, &it->release);
    const enum heard heard = ask_for_release(fd, &it->release);

    if (heard != HEARD_END)
        (void)ask(fd, &it->stop);
    (void)shutdown(fd, SHUT_RDWR); /* of the link; close() is of a descriptor */
    return heard == HEARD_YES;
}
