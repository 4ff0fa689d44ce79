#include "io/peripheral.h"

#include <errno.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include <bluetooth/bluetooth.h>
#include <bluetooth/l2cap.h>

#include "io/link_l2cap.h"
#include "io/mgmt.h"
#include "wire/peripheral_data.h"

enum {
    INSTANCE = 1,
    ANSWER_WAIT_MS = 5000, /* switching on takes an adapter a second or so */
    CONNECTABLE = 1u << 0, /* flags of Add Advertising */
    DISCOVERABLE = 1u << 1,
    KERNEL_ADDS_FLAGS = 1u << 3
};

struct peripheral {
    struct loop *loop;
    struct peripheral_setup setup;
    int fd, watch; /* of the management socket */
    bool is_powered;
};

/* ---- asking the kernel ---- */

static const char *status_words(uint8_t status)
{
    switch (status) {
    case MGMT_PERMISSION_DENIED:
        return "this needs the right to manage adapters: 'sudo setcap cap_net_admin+ep' on this "
               "program grants it, or run it with sudo";
    case MGMT_INVALID_INDEX: return "there is no such adapter";
    case MGMT_RFKILLED: return "the adapter is blocked; 'rfkill unblock bluetooth' frees it";
    case MGMT_NOT_SUPPORTED: return "the adapter cannot do this: it has no Low Energy";
    case MGMT_BUSY: return "the adapter is busy; try again";
    default: return "the kernel refused to set the adapter up";
    }
}

static const char *ask(int fd, const uint8_t *command, size_t length)
{
    uint8_t frame[MGMT_FRAME_MAX];
    struct mgmt_event answer;

    if (mgmt_ask(fd, command, length, ANSWER_WAIT_MS, frame, &answer) != RESULT_OK)
        return "the kernel does not answer for the adapter";
    return answer.status == MGMT_OK ? NULL : status_words(answer.status);
}

static const char *ask_on(int fd, enum mgmt_command command, uint16_t index)
{
    uint8_t frame[MGMT_COMMAND_MAX];
    return ask(fd, frame, mgmt_encode_octet(command, index, 1, frame));
}

static size_t encode_advertising(const struct peripheral_setup *setup, uint8_t *ret)
{
    uint8_t data[PERIPHERAL_DATA_MAX], response[PERIPHERAL_DATA_MAX];
    const struct mgmt_advertising advertising = {
        .instance = INSTANCE,
        .flags = CONNECTABLE | DISCOVERABLE | KERNEL_ADDS_FLAGS,
        .data_length = (uint8_t)peripheral_data_encode(setup->offers, data),
        .response_length = (uint8_t)peripheral_response_encode(setup->name, response),
        .data = data,
        .response = response,
    };
    return mgmt_encode_advertising(setup->index, &advertising, ret);
}

/* ---- what happens at the adapter ---- */

static void advertise_again(const struct peripheral *peripheral)
{
    uint8_t command[MGMT_COMMAND_MAX];
    const size_t length = encode_advertising(&peripheral->setup, command);
    (void)!mgmt_send(peripheral->fd, command, length);
}

/* Whoever wants encryption may have it: there is nothing to protect here. */
static void confirm_pairing(const struct peripheral *peripheral, const struct mgmt_event *event)
{
    uint8_t command[MGMT_COMMAND_MAX];
    const size_t length = mgmt_encode_address(MGMT_CONFIRM_PAIRING, peripheral->setup.index,
                                              &event->address, command);
    (void)!mgmt_send(peripheral->fd, command, length);
}

/* The system's Bluetooth service, when it starts, removes whatever is advertised. */
static void take_event(struct peripheral *peripheral, const struct mgmt_event *event)
{
    const bool was_powered = peripheral->is_powered;

    if (event->code == MGMT_NEW_SETTINGS)
        peripheral->is_powered = (event->settings & MGMT_POWERED) != 0;
    if (event->code == MGMT_DEVICE_DISCONNECTED || event->code == MGMT_ADVERTISING_REMOVED ||
        (peripheral->is_powered && !was_powered))
        advertise_again(peripheral);
    else if (event->code == MGMT_PAIRING_CONFIRMATION)
        confirm_pairing(peripheral, event);
}

static void on_event(void *user, int fd, short revents)
{
    struct peripheral *peripheral = user;
    uint8_t frame[MGMT_FRAME_MAX];
    struct mgmt_event event;

    (void)revents;
    const enum result result = mgmt_receive(fd, frame, &event);
    if (result == RESULT_IO) {
        loop_unwatch(peripheral->loop, peripheral->watch);
        peripheral->watch = 0;
    }
    if (result != RESULT_OK || event.index != peripheral->setup.index)
        return;
    take_event(peripheral, &event);
}

/* ---- opening ---- */

static const char *switch_on(int fd, uint16_t index, struct device_address *ret)
{
    struct mgmt_info info;
    const char *why = NULL;
    const enum result result = mgmt_read_info(fd, index, &info);

    if (result != RESULT_OK)
        return result == RESULT_REFUSED ? status_words(MGMT_INVALID_INDEX)
                                        : "the kernel does not answer for the adapter";
    if (info.address.type == ADDRESS_NONE)
        return "the adapter has no public address";
    if ((info.settings & MGMT_LE) == 0)
        why = ask_on(fd, MGMT_SET_LE, index);
    /* Also where it is on: a kernel that nobody asked switches an idle adapter off. */
    if (why == NULL)
        why = ask_on(fd, MGMT_SET_POWERED, index);
    *ret = info.address;
    return why;
}

static int listen_on(const struct device_address *adapter)
{
    struct sockaddr_l2 address = {.l2_family = AF_BLUETOOTH,
                                  .l2_cid = htobs(LINK_L2CAP_CHANNEL),
                                  .l2_bdaddr_type = (uint8_t)adapter->type};
    const int fd =
        socket(AF_BLUETOOTH, SOCK_SEQPACKET | SOCK_CLOEXEC | SOCK_NONBLOCK, BTPROTO_L2CAP);

    memcpy(&address.l2_bdaddr, adapter->octets, sizeof address.l2_bdaddr);
    if (fd < 0)
        return -1;
    if (bind(fd, (const struct sockaddr *)&address, sizeof address) == 0 && listen(fd, 1) == 0)
        return fd;
    (void)close(fd);
    return -1;
}

static const char *set_up(struct peripheral *peripheral, int *ret_fd)
{
    uint8_t command[MGMT_COMMAND_MAX];
    struct device_address adapter = {0};
    const char *why = switch_on(peripheral->fd, peripheral->setup.index, &adapter);

    if (why != NULL)
        return why;
    peripheral->is_powered = true;
    const int fd = listen_on(&adapter);
    if (fd < 0)
        return "another program serves attributes on this adapter";
    why = ask(peripheral->fd, command, encode_advertising(&peripheral->setup, command));
    if (why == NULL) {
        peripheral->watch =
            loop_watch(peripheral->loop, peripheral->fd, POLLIN, on_event, peripheral);
        why = peripheral->watch != 0 ? NULL : "out of memory";
    }
    if (why == NULL)
        *ret_fd = fd;
    else
        (void)close(fd);
    return why;
}

struct peripheral *peripheral_open(struct loop *loop, const struct peripheral_setup *setup,
                                   int *ret_fd, const char **ret_why)
{
    struct peripheral *peripheral = calloc(1, sizeof *peripheral);

    if (peripheral == NULL) {
        *ret_why = "out of memory";
        return NULL;
    }
    *peripheral = (struct peripheral){.loop = loop, .setup = *setup, .fd = mgmt_open()};
    const char *why =
        peripheral->fd < 0 ? link_l2cap_connect_words(errno) : set_up(peripheral, ret_fd);
    if (why == NULL)
        return peripheral;
    *ret_why = why;
    if (peripheral->fd >= 0)
        (void)close(peripheral->fd);
    free(peripheral);
    return NULL;
}

void peripheral_close(struct peripheral *peripheral)
{
    uint8_t command[MGMT_COMMAND_MAX];

    if (peripheral == NULL)
        return;
    const size_t length =
        mgmt_encode_octet(MGMT_REMOVE_ADVERTISING, peripheral->setup.index, INSTANCE, command);
    (void)!mgmt_send(peripheral->fd, command, length);
    loop_unwatch(peripheral->loop, peripheral->watch);
    (void)close(peripheral->fd);
    free(peripheral);
}
