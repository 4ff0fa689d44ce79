/*
 * Whether remembered devices are in reach, watched while something else is on the screen.
 */
#ifndef APP_REACH_H
#define APP_REACH_H

#include "app/devices_file.h"
#include "io/loop.h"
#include "port/scan.h"
#include "sightings.h"

#define REACH_LINE_MAX 160u
/* Devices advertise every 1.3 s or oftener (common practice); one that was not heard for so long
 * may be asleep. */
#define REACH_SILENT_MS 10000u

/* Zero it. */
struct reach {
    const struct devices *devices; /* borrowed; set by reach_begin() */
    struct loop *loop;
    struct scan *scan;
    enum scan_trouble trouble; /* why nobody looks; SCAN_WORKS while somebody does */
    struct sightings sightings;
    int timer;
    bool is_silent; /* looked for, for REACH_SILENT_MS */
    bool is_seen[DEVICE_KIND_COUNT];
    int16_t signal_dbm[DEVICE_KIND_COUNT];
    void (*changed)(void *user);
    void *user;
};

/* Begins to look, where anything is remembered. `changed` is called when a line has changed. */
void reach_begin(struct reach *reach, const struct devices *devices, struct loop *loop,
                 void (*changed)(void *user), void *user);
/* Before a device is called. */
void reach_end(struct reach *reach);
/* "Bicik, C0:12:34:56:78:9A, in reach (-61 dBm)". Also before reach_begin(). */
void reach_describe(const struct reach *reach, const struct devices *devices, enum device_kind kind,
                    char ret[REACH_LINE_MAX]);

#endif
