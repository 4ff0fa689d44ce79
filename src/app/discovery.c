#include "discovery.h"

#include <limits.h>
#include <stdio.h>
#include <string.h>
#include <sys/xattr.h>
#include <unistd.h>

#include "io/adapter.h"
#include "io/scan_bluez.h"
#include "io/scan_mgmt.h"
#include "radio_program.h"

static enum scan_trouble open_kernel(struct loop *loop, uint16_t index,
                                     const struct scan_user *user, struct scan **ret)
{
    char radio[PATH_MAX];
    return radio_program_find(radio) ? scan_mgmt_open(loop, index, radio, user, ret)
                                     : SCAN_NO_HELPER;
}

static enum scan_trouble choose_adapter(const struct discovery_wish *wish, uint16_t *ret_index)
{
    if (!wish->has_adapter)
        return adapter_find(ret_index);
    *ret_index = wish->adapter;
    return adapter_check(wish->adapter);
}

enum scan_trouble discovery_open(struct loop *loop, const struct discovery_wish *wish,
                                 const struct scan_user *user, uint16_t *ret_index,
                                 struct scan **ret)
{
    const enum discovery_way way = wish->way;
    enum scan_trouble trouble = choose_adapter(wish, ret_index);
    if (trouble != SCAN_WORKS)
        return trouble;
    if (way != DISCOVERY_BY_KERNEL)
        trouble = scan_bluez_open(loop, *ret_index, user, ret);
    if (way == DISCOVERY_BY_KERNEL || (way == DISCOVERY_BY_ANY && trouble == SCAN_NO_DAEMON))
        trouble = open_kernel(loop, *ret_index, user, ret);
    return trouble;
}

enum scan_trouble discovery_permission(const char **ret_by)
{
    char radio[PATH_MAX];
    if (scan_bluez_runs()) {
        *ret_by = "bluetoothd";
        return SCAN_WORKS;
    }
    if (!radio_program_find(radio))
        return SCAN_NO_HELPER;
    if (geteuid() != 0 && getxattr(radio, "security.capability", NULL, 0) <= 0)
        return SCAN_NOT_ALLOWED;
    *ret_by = "afterset-radio";
    return SCAN_WORKS;
}

static void put_permission(char ret[DISCOVERY_ADVICE_MAX])
{
    char radio[PATH_MAX];
    if (!radio_program_find(radio))
        (void)snprintf(radio, sizeof radio, "afterset-radio");
    (void)snprintf(ret, DISCOVERY_ADVICE_MAX,
                   "looking for devices needs a right that is missing; once: "
                   "sudo setcap cap_net_admin+ep %s (or start bluetoothd, then nobody needs it)",
                   radio);
}

void discovery_advice(enum scan_trouble trouble, uint16_t index, char ret[DISCOVERY_ADVICE_MAX])
{
    static const struct {
        const char *wrong, *cure;
    } plain[SCAN_TROUBLE_COUNT] = {
        [SCAN_WORKS] = {"nothing is wrong", "ride"},
        [SCAN_NO_BLUETOOTH] = {"this system has no Bluetooth",
                               "ride with --bike virtual, or try sudo modprobe bluetooth"},
        [SCAN_NO_ADAPTER] = {"there is no Bluetooth adapter",
                             "plug one in, or ride with --bike virtual"},
        [SCAN_NO_HELPER] = {"afterset-radio, which looks for devices, is not where afterset is",
                            "make install puts it there (or start bluetoothd, which looks, too)"},
        [SCAN_NO_DAEMON] = {"bluetoothd does not run", "sudo systemctl start bluetooth"},
        [SCAN_SILENT] = {"the Bluetooth adapter no longer answers",
                         "afterset ready --reset-adapter, or unplug it and plug it in again"},
        [SCAN_LOST] = {"the adapter went away", "plug it in and begin again"},
        [SCAN_FAILED] = {"the adapter refused to look for devices", "switch it off and on again"},
    };
    if (trouble == SCAN_NOT_ALLOWED)
        put_permission(ret);
    else if (trouble == SCAN_BLOCKED)
        (void)snprintf(ret, DISCOVERY_ADVICE_MAX,
                       "adapter hci%u is blocked; rfkill unblock bluetooth, or its switch", index);
    else if (trouble == SCAN_NOT_POWERED)
        (void)snprintf(ret, DISCOVERY_ADVICE_MAX,
                       "adapter hci%u is off; bluetoothctl power on, or without bluetoothd "
                       "sudo btmgmt --index %u power on",
                       index, index);
    else if (trouble == SCAN_LE_OFF)
        (void)snprintf(ret, DISCOVERY_ADVICE_MAX,
                       "adapter hci%u has Low Energy off; sudo btmgmt --index %u le on", index,
                       index);
    else
        (void)snprintf(ret, DISCOVERY_ADVICE_MAX, "%s; %s", plain[trouble].wrong,
                       plain[trouble].cure);
}
