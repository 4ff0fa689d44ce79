#include "reach.h"

#include <stdio.h>

#include "discovery.h"

static void tell(const struct reach *reach)
{
    if (reach->changed != NULL)
        reach->changed(reach->user);
}

static void on_seen(void *user, const struct sighting *report)
{
    struct reach *reach = user;
    const struct sighting *found;
    bool is_news = false;

    (void)sightings_add(&reach->sightings, report);
    for (enum device_kind kind = DEVICE_MACHINE; kind < DEVICE_KIND_COUNT; kind++) {
        if (sightings_find(&reach->sightings, &reach->devices->list[kind], kind, &found) == 0)
            continue;
        is_news = is_news || !reach->is_seen[kind];
        reach->is_seen[kind] = true;
        reach->signal_dbm[kind] = found->signal_dbm;
    }
    if (is_news)
        tell(reach);
}

static void on_stopped(void *user, enum scan_trouble trouble)
{
    struct reach *reach = user; /* the scan is still at work and is closed at the end */

    reach->trouble = trouble;
    tell(reach);
}

static void on_silence(void *user)
{
    struct reach *reach = user;

    reach->timer = 0;
    reach->is_silent = true;
    tell(reach);
}

void reach_begin(struct reach *reach, const struct devices *devices, struct loop *loop,
                 void (*changed)(void *user), void *user)
{
    const struct scan_user scan_user = {on_seen, on_stopped, reach};
    const struct discovery_wish wish = {0};
    uint16_t index;

    *reach = (struct reach){.devices = devices, .loop = loop, .changed = changed, .user = user};
    reach->trouble = discovery_open(loop, &wish, &scan_user, &index, &reach->scan);
    if (reach->trouble == SCAN_WORKS)
        reach->timer = loop_set_timer(loop, loop_now_ms(loop) + REACH_SILENT_MS, on_silence, reach);
    tell(reach);
}

void reach_end(struct reach *reach)
{
    if (reach->timer != 0)
        loop_cancel_timer(reach->loop, reach->timer);
    reach->timer = 0;
    scan_close(reach->scan);
    reach->scan = NULL;
}

/* Without the right to look, a call is what tells; without an adapter there is none to make. */
static const char *words_of(const struct reach *reach, const struct device *device)
{
    if (device->address.type == ADDRESS_USB)
        return "heard through a receiver on USB when you ride";
    switch (reach->trouble) {
    case SCAN_WORKS:
        return reach->is_silent      ? "not heard; turn the pedals, or wet the strap, to wake it"
               : reach->scan != NULL ? "looking for it"
                                     : "remembered";
    case SCAN_NO_BLUETOOTH:
    case SCAN_NO_ADAPTER:
    case SCAN_BLOCKED:
    case SCAN_NOT_POWERED:
    case SCAN_LE_OFF:
    case SCAN_SILENT: return "out of reach: no Bluetooth adapter that works";
    case SCAN_NOT_ALLOWED:
    case SCAN_NO_HELPER:
    case SCAN_NO_DAEMON:
    case SCAN_LOST:
    case SCAN_FAILED:
    case SCAN_TROUBLE_COUNT: break;
    }
    return "remembered; called when you ride";
}

void reach_describe(const struct reach *reach, const struct devices *devices, enum device_kind kind,
                    char ret[REACH_LINE_MAX])
{
    const struct device *device = &devices->list[kind];
    char address[24], strength[24] = "";
    struct text_writer writer = text_writer(address, sizeof address);

    device_address_put(&writer, &device->address);
    if (reach->is_seen[kind] && reach->signal_dbm[kind] != 0)
        (void)snprintf(strength, sizeof strength, " (%d dBm)", reach->signal_dbm[kind]);
    (void)snprintf(ret, REACH_LINE_MAX, "%s%s%s, %s%s", device->name,
                   device->name[0] != '\0' ? ", " : "", address,
                   reach->is_seen[kind] ? "in reach" : words_of(reach, device), strength);
}
