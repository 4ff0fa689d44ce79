/*
 * Discovery of devices in the air, whoever does it for us.
 */
#ifndef PORT_SCAN_H
#define PORT_SCAN_H

#include "base/device.h"

/* What one report said; what it did not say is zero. */
struct sighting {
    struct device_address address;
    uint32_t offers;        /* 1 << enum device_kind */
    int16_t signal_dbm;     /* 0: not known */
    bool has_machine_types; /* then the next two count */
    bool is_available;
    uint16_t machine_types;      /* Fitness Machine Service: bit 5 is an indoor bike */
    char name[DEVICE_NAME_SIZE]; /* UTF-8 without controls */
};

enum scan_trouble {
    SCAN_WORKS,
    SCAN_NO_BLUETOOTH, /* the kernel has none */
    SCAN_NO_ADAPTER,
    SCAN_BLOCKED, /* by rfkill */
    SCAN_NOT_POWERED,
    SCAN_LE_OFF,
    SCAN_NOT_ALLOWED,
    SCAN_NO_HELPER, /* the program that is allowed is not there */
    SCAN_NO_DAEMON, /* bluetoothd does not run */
    SCAN_SILENT,    /* the adapter answers nothing any more */
    SCAN_LOST,      /* it went on, and then the adapter or the helper was gone */
    SCAN_FAILED,    /* refused for a reason that is not ours to know */
    SCAN_TROUBLE_COUNT
};

/* `stopped` is called once, last, and not after scan_close(). */
struct scan_user {
    void (*seen)(void *user, const struct sighting *sighting);
    void (*stopped)(void *user, enum scan_trouble trouble);
    void *user;
};

struct scan;

struct scan_operations {
    void (*close)(struct scan *scan); /* ends discovery, frees it */
};

struct scan {
    const struct scan_operations *operations;
};

static inline void scan_close(struct scan *scan)
{
    if (scan != NULL)
        scan->operations->close(scan);
}

#endif
