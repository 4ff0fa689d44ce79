#include "io/mgmt.h"

#include <errno.h>
#include <poll.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include <bluetooth/bluetooth.h>
#include <bluetooth/hci.h>

enum { ANSWER_WAIT_MS = 2000 };

int mgmt_open(void)
{
    const struct sockaddr_hci address = {
        .hci_family = AF_BLUETOOTH, .hci_dev = HCI_DEV_NONE, .hci_channel = HCI_CHANNEL_CONTROL};
    int fd = socket(AF_BLUETOOTH, SOCK_RAW | SOCK_CLOEXEC | SOCK_NONBLOCK, BTPROTO_HCI);
    if (fd < 0)
        return -1;
    if (bind(fd, (const struct sockaddr *)&address, sizeof address) != 0) {
        int why = errno;
        (void)close(fd);
        errno = why;
        return -1;
    }
    return fd;
}

/* write() gives 0 for a command that the kernel refused at once; its answer is queued all the
 * same. */
enum result mgmt_send(int fd, const uint8_t *command, size_t length)
{
    ssize_t written;
    do {
        written = write(fd, command, length);
    } while (written < 0 && errno == EINTR);
    return written < 0 ? RESULT_IO : RESULT_OK;
}

enum result mgmt_receive(int fd, uint8_t *ret_frame, struct mgmt_event *ret)
{
    ssize_t length;
    do {
        length = read(fd, ret_frame, MGMT_FRAME_MAX);
    } while (length < 0 && errno == EINTR);
    if (length < 0)
        return errno == EAGAIN ? RESULT_NOT_FOUND : RESULT_IO;
    if (mgmt_event_decode(ret_frame, (size_t)length, ret) != RESULT_OK)
        *ret = (struct mgmt_event){.index = MGMT_NO_INDEX};
    return RESULT_OK;
}

static int64_t now_ms(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

static enum result await_answer(int fd, uint16_t command, uint16_t index, int64_t until_ms,
                                uint8_t *ret_frame, struct mgmt_event *ret)
{
    for (;;) {
        struct mgmt_event event;
        enum result result = mgmt_receive(fd, ret_frame, &event);
        if (result == RESULT_OK && mgmt_event_answers(&event, (enum mgmt_command)command, index)) {
            *ret = event;
            return RESULT_OK;
        }
        if (result == RESULT_IO)
            return RESULT_IO;
        int64_t left_ms = until_ms - now_ms();
        if (left_ms <= 0)
            return RESULT_TIMEOUT;
        struct pollfd polled = {.fd = fd, .events = POLLIN};
        if (result == RESULT_NOT_FOUND)
            (void)poll(&polled, 1, (int)left_ms);
    }
}

enum result mgmt_ask(int fd, const uint8_t *command, size_t length, int wait_ms, uint8_t *ret_frame,
                     struct mgmt_event *ret)
{
    enum result result = mgmt_send(fd, command, length);
    if (result != RESULT_OK)
        return result;
    uint16_t code = (uint16_t)(command[0] | command[1] << 8);
    uint16_t index = (uint16_t)(command[2] | command[3] << 8);
    return await_answer(fd, code, index, now_ms() + wait_ms, ret_frame, ret);
}

static enum result ask_plain(int fd, enum mgmt_command command, uint16_t index, uint8_t *ret_frame,
                             struct mgmt_event *ret)
{
    uint8_t frame[MGMT_COMMAND_MAX];
    size_t length = mgmt_encode(command, index, frame);
    enum result result = mgmt_ask(fd, frame, length, ANSWER_WAIT_MS, ret_frame, ret);
    if (result == RESULT_OK && ret->status != MGMT_OK)
        return RESULT_REFUSED;
    return result;
}

enum result mgmt_read_indexes(int fd, struct mgmt_indexes *ret)
{
    uint8_t frame[MGMT_FRAME_MAX];
    struct mgmt_event answer;
    enum result result = ask_plain(fd, MGMT_READ_INDEX_LIST, MGMT_NO_INDEX, frame, &answer);
    return result == RESULT_OK ? mgmt_indexes_decode(answer.data, answer.length, ret) : result;
}

enum result mgmt_read_info(int fd, uint16_t index, struct mgmt_info *ret)
{
    uint8_t frame[MGMT_FRAME_MAX];
    struct mgmt_event answer;
    enum result result = ask_plain(fd, MGMT_READ_INFO, index, frame, &answer);
    return result == RESULT_OK ? mgmt_info_decode(answer.data, answer.length, ret) : result;
}
