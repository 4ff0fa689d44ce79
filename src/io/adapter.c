#include "io/adapter.h"

#include <glob.h>
#include <stdio.h>
#include <unistd.h>

#include "io/mgmt.h"

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
