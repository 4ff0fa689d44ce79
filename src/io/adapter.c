#include "io/adapter.h"

#include <glob.h>
#include <limits.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include <bluetooth/bluetooth.h>
#include <bluetooth/hci.h>

#include "io/mgmt.h"

#define ANSWER_WAIT_MS 2500

static bool is_set(const char *path)
{
    FILE *file = fopen(path, "re");
    if (file == NULL)
        return false;
    int first = fgetc(file);
    (void)fclose(file);
    return first == '1';
}

/* By a switch or by software; the adapter's rfkill folder has a file for each. */
static bool is_blocked(uint16_t index)
{
    char pattern[96];
    glob_t found = {0};
    bool blocked = false;
    (void)snprintf(pattern, sizeof pattern, "/sys/class/bluetooth/hci%u/rfkill*/[sh][oa][fr][td]",
                   index);
    if (glob(pattern, GLOB_NOSORT, NULL, &found) == 0)
        for (size_t i = 0; i < found.gl_pathc; i++)
            blocked = blocked || is_set(found.gl_pathv[i]);
    globfree(&found);
    return blocked;
}

static enum scan_trouble examine(int fd, uint16_t index)
{
    struct mgmt_info info;
    if (mgmt_read_info(fd, index, &info) != RESULT_OK)
        return SCAN_NO_ADAPTER;
    if (is_blocked(index))
        return SCAN_BLOCKED;
    if ((info.settings & MGMT_POWERED) == 0)
        return SCAN_NOT_POWERED;
    return (info.settings & MGMT_LE) != 0 ? SCAN_WORKS : SCAN_LE_OFF;
}

/* The kernel lists them in no order that a person would expect. */
static void sort(struct mgmt_indexes *indexes)
{
    for (size_t i = 1; i < indexes->count; i++) {
        uint16_t index = indexes->list[i];
        size_t at = i;
        for (; at > 0 && indexes->list[at - 1] > index; at--)
            indexes->list[at] = indexes->list[at - 1];
        indexes->list[at] = index;
    }
}

static enum scan_trouble choose(int fd, uint16_t *ret_index)
{
    struct mgmt_indexes indexes;
    enum scan_trouble first = SCAN_NO_ADAPTER;
    if (mgmt_read_indexes(fd, &indexes) != RESULT_OK)
        return SCAN_NO_BLUETOOTH;
    sort(&indexes);
    for (size_t i = 0; i < indexes.count; i++) {
        enum scan_trouble trouble = examine(fd, indexes.list[i]);
        if (trouble == SCAN_NO_ADAPTER || (trouble != SCAN_WORKS && first != SCAN_NO_ADAPTER))
            continue;
        *ret_index = indexes.list[i];
        first = trouble;
        if (trouble == SCAN_WORKS)
            break;
    }
    return first;
}

enum scan_trouble adapter_check(uint16_t index)
{
    int fd = mgmt_open();
    if (fd < 0)
        return SCAN_NO_BLUETOOTH;
    enum scan_trouble trouble = examine(fd, index);
    (void)close(fd);
    return trouble;
}

bool adapter_address(uint16_t index, struct device_address *ret)
{
    struct mgmt_info info = {0};
    int fd = mgmt_open();
    if (fd < 0)
        return false;
    bool is_known =
        mgmt_read_info(fd, index, &info) == RESULT_OK && info.address.type != ADDRESS_NONE;
    (void)close(fd);
    if (is_known)
        *ret = info.address;
    return is_known;
}

enum scan_trouble adapter_find(uint16_t *ret_index)
{
    int fd = mgmt_open();
    if (fd < 0)
        return SCAN_NO_BLUETOOTH;
    enum scan_trouble trouble = choose(fd, ret_index);
    (void)close(fd);
    return trouble;
}

/* ---- whether it answers ---- */

static int open_raw(uint16_t index)
{
    const struct sockaddr_hci address = {
        .hci_family = AF_BLUETOOTH, .hci_dev = index, .hci_channel = HCI_CHANNEL_RAW};
    const struct hci_filter wanted = {.type_mask = 1u << HCI_EVENT_PKT,
                                      .event_mask = {1u << EVT_CMD_COMPLETE}};
    int fd = socket(AF_BLUETOOTH, SOCK_RAW | SOCK_CLOEXEC | SOCK_NONBLOCK, BTPROTO_HCI);
    if (fd < 0)
        return -1;
    if (setsockopt(fd, SOL_HCI, HCI_FILTER, &wanted, sizeof wanted) == 0 &&
        bind(fd, (const struct sockaddr *)&address, sizeof address) == 0)
        return fd;
    (void)close(fd);
    return -1;
}

static int64_t now_ms(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

/* What other programs ask is answered among it: packet type, event, length, credits, opcode
 * (Bluetooth Core, Vol 4 Part E 7.7.14). */
static bool hears_answer(int fd, const uint8_t *command)
{
    const int64_t until_ms = now_ms() + ANSWER_WAIT_MS;

    for (int64_t left_ms = ANSWER_WAIT_MS; left_ms > 0; left_ms = until_ms - now_ms()) {
        struct pollfd polled = {.fd = fd, .events = POLLIN};
        uint8_t event[HCI_MAX_EVENT_SIZE];
        if (poll(&polled, 1, (int)left_ms) > 0 && read(fd, event, sizeof event) >= 6 &&
            event[1] == EVT_CMD_COMPLETE && memcmp(&event[4], &command[1], 2) == 0)
            return true;
    }
    return false;
}

enum scan_trouble adapter_answers(uint16_t index)
{
    /* Read Local Version Information: Vol 4 Part E 7.4.1. */
    static const uint8_t command[] = {HCI_COMMAND_PKT, 0x01, 0x10, 0};
    enum scan_trouble trouble = SCAN_FAILED;
    int fd = open_raw(index);
    if (fd < 0)
        return SCAN_FAILED;
    if (write(fd, command, sizeof command) == (ssize_t)sizeof command)
        trouble = hears_answer(fd, command) ? SCAN_WORKS : SCAN_SILENT;
    (void)close(fd);
    return trouble;
}

/* Its parent is an interface, "1-2.3:1.0" of the device "1-2.3". */
bool adapter_usb_place(uint16_t index, char ret[USB_PLACE_SIZE])
{
    char link[64], path[PATH_MAX];

    (void)snprintf(link, sizeof link, "/sys/class/bluetooth/hci%u/device", index);
    if (realpath(link, path) == NULL)
        return false;
    const char *name = strrchr(path, '/') + 1;
    const size_t length = strcspn(name, ":");
    if (name[length] == '\0' || length >= USB_PLACE_SIZE || strchr(name, '-') == NULL)
        return false;
    memcpy(ret, name, length);
    ret[length] = '\0';
    return true;
}
