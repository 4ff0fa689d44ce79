/*
 * Which way devices are discovered on this machine, and what to do when there is none.
 */
#ifndef APP_DISCOVERY_H
#define APP_DISCOVERY_H

#include "io/loop.h"
#include "port/scan.h"

enum discovery_way {
    DISCOVERY_BY_ANY, /* bluetoothd when it runs, else the kernel */
    DISCOVERY_BY_BLUETOOTHD,
    DISCOVERY_BY_KERNEL
};

/* Zeroed: any way, and the first adapter that works. */
struct discovery_wish {
    enum discovery_way way;
    bool has_adapter;
    uint16_t adapter;
};

/* Finds an adapter and begins. `*ret_index` is the adapter's number, when there is one. */
enum scan_trouble discovery_open(struct loop *loop, const struct discovery_wish *wish,
                                 const struct scan_user *user, uint16_t *ret_index,
                                 struct scan **ret);

/* Whether discovery is permitted, as far as that can be told without beginning it: SCAN_WORKS,
 * SCAN_NOT_ALLOWED or SCAN_NO_HELPER. `*ret_by` names who would do it. */
enum scan_trouble discovery_permission(const char **ret_by);

#define DISCOVERY_ADVICE_MAX 4500u /* octets: two sentences with a path in them */

/* What is wrong and what to do about it, one line without a full stop. */
void discovery_advice(enum scan_trouble trouble, uint16_t index, char ret[DISCOVERY_ADVICE_MAX]);

#endif
