/*
 * Numbers of the Generic Attribute Profile, for client and server.
 *
 * Source: Bluetooth Core, Vol 3 Part G; Bluetooth Assigned Numbers.
 */
#ifndef WIRE_GATT_H
#define WIRE_GATT_H

#include "wire/att.h"

#define GATT_SERVICE 0x1801u

/* Attribute types. */
#define GATT_PRIMARY_SERVICE   0x2800u
#define GATT_SECONDARY_SERVICE 0x2801u
#define GATT_INCLUDE           0x2802u
#define GATT_CHARACTERISTIC    0x2803u
#define GATT_USER_DESCRIPTION  0x2901u
#define GATT_CLIENT_CONFIG     0x2902u /* the CCCD: 1 notify, 2 indicate */
#define GATT_SERVICE_CHANGED   0x2A05u
#define GATT_DATABASE_HASH     0x2B2Au

enum gatt_property {
    GATT_BROADCAST = 0x01,
    GATT_READ = 0x02,
    GATT_WRITE_NO_RESPONSE = 0x04,
    GATT_WRITE = 0x08,
    GATT_NOTIFY = 0x10,
    GATT_INDICATE = 0x20
};

#endif
