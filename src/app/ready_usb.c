#include "ready_usb.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "app/command.h"
#include "io/adapter.h"
#include "io/usb_list.h"

#define INSTALL \
    "'make install' puts udev/70-afterset.rules in place, then unplug it and plug it in again"

/* ---- receivers ---- */

static void tell_receiver(struct ready_lines *lines, const struct usb_entry *entry)
{
    if (entry->kind == USB_RECEIVER_OLDER)
        ready_tell(
            lines, STATE_TO_DO, "receiver",
            "the one at %s speaks through a serial bridge, which afterset does not; it takes "
            "a newer one",
            entry->place);
    else if (!entry->may_open)
        ready_tell(lines, STATE_TO_DO, "receiver", "this user may not use the one at %s; " INSTALL,
                   entry->place);
    else
        ready_tell(lines, STATE_OK, "receiver", "USB %s", entry->place);
}

static void tell_key(struct ready_lines *lines, uint64_t network_key)
{
    if (network_key != 0)
        ready_tell(lines, STATE_OK, "network key", "is set");
    else
        ready_tell(lines, STATE_TO_DO, "network key",
                   "is not set: no sensor is heard through a receiver; where you have the key, "
                   "which its owner licenses: afterset rider usb-network-key 0123456789ABCDEF; "
                   "bikes and sensors that speak Bluetooth work without");
}

void ready_tell_receivers(struct ready_lines *lines, uint64_t network_key, bool is_wanted)
{
    struct usb_list list;
    bool is_any = false;

    if (usb_list(&list) != RESULT_OK) {
        ready_tell(lines, STATE_TO_DO, "receiver",
                   "this system has no USB; sensors that speak Bluetooth need none");
        return;
    }
    for (size_t i = 0; i < list.count; i++)
        if (list.entries[i].kind != USB_BLUETOOTH) {
            is_any = true;
            tell_receiver(lines, &list.entries[i]);
        }
    if (is_any || is_wanted || network_key != 0)
        tell_key(lines, network_key);
    if (!is_any)
        ready_tell(lines, STATE_TO_DO, "receiver",
                   is_wanted ? "none is plugged in: remembered sensors on USB are not heard"
                             : "none is plugged in; sensors that speak Bluetooth need none");
}

/* ---- adapters ---- */

/* Linux, Documentation/driver-api/usb/power-management.rst: "auto" lets it fall asleep. */
static bool may_sleep(const char *place)
{
    char path[64 + USB_PLACE_SIZE], word[8] = "";

    (void)snprintf(path, sizeof path, "/sys/bus/usb/devices/%s/power/control", place);
    FILE *file = fopen(path, "re");
    if (file == NULL)
        return false;
    const bool is_read = fgets(word, sizeof word, file) != NULL;
    (void)fclose(file);
    return is_read && strcmp(word, "auto\n") == 0;
}

void ready_tell_adapters(struct ready_lines *lines, bool has_bluetooth)
{
    struct usb_list list = {0};

    if (usb_list(&list) != RESULT_OK)
        return;
    for (size_t i = 0; i < list.count; i++) {
        const struct usb_entry *entry = &list.entries[i];
        if (entry->kind != USB_BLUETOOTH)
            continue;
        if (!has_bluetooth)
            ready_tell(lines, STATE_TO_DO, "usb adapter",
                       "one is plugged in at %s, and the kernel does not use it; sudo modprobe "
                       "btusb, or afterset ready --reset-adapter",
                       entry->place);
        else if (may_sleep(entry->place))
            ready_tell(lines, STATE_TO_DO, "usb adapter",
                       "the one at %s may fall asleep and drop a link; " INSTALL, entry->place);
        else
            ready_tell(lines, STATE_OK, "usb adapter", "USB %s, kept awake", entry->place);
    }
}

/* ---- an adapter that no longer answers ---- */

static bool reset(const char *place)
{
    const char *why = NULL;

    if (usb_reset_adapter(place, &why)) {
        say("The Bluetooth adapter at %s was reset; see whether it works: afterset ready\n", place);
        return true;
    }
    complain("ready: the adapter at %s was not reset: %s", place, why);
    return false;
}

static bool agrees(uint16_t index)
{
    char answer[16];

    if (!isatty(STDIN_FILENO) || !isatty(STDOUT_FILENO))
        return false;
    (void)fflush(stdout);
    fprintf(stderr, "Reset the Bluetooth adapter hci%u? Links over it end. [y/n] ", index);
    return fgets(answer, sizeof answer, stdin) != NULL && (answer[0] == 'y' || answer[0] == 'Y');
}

void ready_tell_silent(struct ready_lines *lines, uint16_t index)
{
    char place[USB_PLACE_SIZE];

    if (!adapter_usb_place(index, place)) {
        ready_tell(lines, STATE_MISSING, "answer",
                   "adapter hci%u no longer answers, and is not on USB; start the computer anew",
                   index);
        return;
    }
    ready_tell(lines, STATE_MISSING, "answer",
               "adapter hci%u no longer answers; afterset ready --reset-adapter, or unplug it and "
               "plug it in again",
               index);
    if (!lines->jsonl && agrees(index))
        (void)reset(place);
}

bool ready_reset_adapters(void)
{
    struct usb_list list = {0};
    size_t found = 0, done = 0;

    if (usb_list(&list) == RESULT_OK)
        for (size_t i = 0; i < list.count; i++)
            if (list.entries[i].kind == USB_BLUETOOTH) {
                found++;
                done += reset(list.entries[i].place);
            }
    if (found == 0)
        complain("ready: no Bluetooth adapter is plugged in on USB; there is nothing to reset");
    return found > 0 && done == found;
}
