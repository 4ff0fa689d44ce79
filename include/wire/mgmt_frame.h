/*
 * Frames of the kernel's Bluetooth management socket: octets to structs and back.
 *
 * A frame is code u16, adapter index u16, length u16, then the parameters. Answers come as events
 * among all others: a command is answered by the Command Complete or Command Status with its code
 * and its index. Events of what other programs do arrive too.
 *
 * Source: "Bluetooth Management API", doc/mgmt-api.txt of BlueZ 5.66, as libbluetooth-dev brings
 * it.
 */
#ifndef WIRE_MGMT_FRAME_H
#define WIRE_MGMT_FRAME_H

#include "base/device.h"
#include "base/result.h"

#define MGMT_NO_INDEX      0xFFFFu
#define MGMT_HEADER_OCTETS 6u
#define MGMT_INDEXES_MAX   16u
#define MGMT_NAME_MAX      248u
#define MGMT_COMMAND_MAX   544u  /* octets of the longest command below */
#define MGMT_FRAME_MAX     4096u /* enough for every event that is read here */
#define MGMT_RSSI_UNKNOWN  127
#define MGMT_DISCOVER_LE   0x06u /* public and random addresses */

enum mgmt_command {
    MGMT_READ_INDEX_LIST = 0x0003,
    MGMT_READ_INFO = 0x0004,
    MGMT_SET_POWERED = 0x0005,
    MGMT_SET_CONNECTABLE = 0x0007,
    MGMT_SET_LE = 0x000D,
    MGMT_DISCONNECT = 0x0014,
    MGMT_CONFIRM_PAIRING = 0x001C, /* User Confirmation Reply */
    MGMT_START_DISCOVERY = 0x0023,
    MGMT_STOP_DISCOVERY = 0x0024,
    MGMT_LOAD_CONNECTION_PARAMETERS = 0x0035,
    MGMT_ADD_ADVERTISING = 0x003E,
    MGMT_REMOVE_ADVERTISING = 0x003F
};

enum mgmt_event_code {
    MGMT_COMMAND_COMPLETE = 0x0001,
    MGMT_COMMAND_STATUS = 0x0002,
    MGMT_INDEX_ADDED = 0x0004,
    MGMT_INDEX_REMOVED = 0x0005,
    MGMT_NEW_SETTINGS = 0x0006,
    MGMT_DEVICE_CONNECTED = 0x000B,
    MGMT_DEVICE_DISCONNECTED = 0x000C,
    MGMT_CONNECT_FAILED = 0x000D,
    MGMT_PAIRING_CONFIRMATION = 0x000F, /* User Confirmation Request */
    MGMT_DEVICE_FOUND = 0x0012,
    MGMT_DISCOVERING = 0x0013,
    MGMT_ADVERTISING_REMOVED = 0x0024
};

enum mgmt_status {
    MGMT_OK = 0x00,
    MGMT_TIMEOUT = 0x08, /* of the adapter */
    MGMT_BUSY = 0x0A,
    MGMT_REJECTED = 0x0B,
    MGMT_NOT_SUPPORTED = 0x0C,
    MGMT_NOT_POWERED = 0x0F,
    MGMT_INVALID_INDEX = 0x11,
    MGMT_RFKILLED = 0x12,
    MGMT_PERMISSION_DENIED = 0x14
};

/* Bits of the settings words. */
enum mgmt_setting { MGMT_POWERED = 1u << 0, MGMT_LE = 1u << 9 };

struct mgmt_event {
    uint16_t code, index;
    uint16_t command;              /* answers: what is answered */
    uint8_t status;                /* answers, connect failed */
    uint8_t reason;                /* disconnected: 1 timeout, 2 here, 3 there, 4 auth, 5 suspend */
    bool is_on;                    /* discovering */
    uint32_t settings;             /* new settings */
    uint32_t flags;                /* device found, connected */
    int8_t rssi_dbm;               /* device found */
    struct device_address address; /* everything about a device; type NONE for BR/EDR */
    const uint8_t *data;           /* answers: parameters; found, connected: advertising data */
    size_t length;                 /* of `data`, which is borrowed from the frame */
};

/* RESULT_UNSUPPORTED: a whole frame with another code; code and index are given then, too.
 * RESULT_INVALID: less than its header or its code says; nothing is given. */
MUST_USE enum result mgmt_event_decode(const uint8_t *frame, size_t length, struct mgmt_event *ret);
/* Whether the event is the answer to that command. */
bool mgmt_event_answers(const struct mgmt_event *event, enum mgmt_command command, uint16_t index);

struct mgmt_info {
    struct device_address address; /* public, unless all zero: then type NONE */
    uint32_t supported, settings;
    char name[MGMT_NAME_MAX + 1]; /* octets as they came, up to the first NUL */
};

struct mgmt_indexes {
    size_t count; /* those past MGMT_INDEXES_MAX are left out */
    uint16_t list[MGMT_INDEXES_MAX];
};

/* What the answers to the reading commands hold. RESULT_INVALID: too short. */
MUST_USE enum result mgmt_indexes_decode(const uint8_t *data, size_t length,
                                         struct mgmt_indexes *ret);
MUST_USE enum result mgmt_info_decode(const uint8_t *data, size_t length, struct mgmt_info *ret);

/* Each puts a command into `ret`, which has room for MGMT_COMMAND_MAX octets, and gives its length.
 * The first is for commands without parameters, the second for those with one octet (Set …, Start
 * and Stop Discovery, Remove Advertising), the third for those with an address. */
size_t mgmt_encode(enum mgmt_command command, uint16_t index, uint8_t *ret);
size_t mgmt_encode_octet(enum mgmt_command command, uint16_t index, uint8_t value, uint8_t *ret);
size_t mgmt_encode_address(enum mgmt_command command, uint16_t index,
                           const struct device_address *address, uint8_t *ret);

/* The kernel's own limits: interval 6 to 3200, time-out 10 to 3200 and above
 * interval_max * (1 + latency) * 2 in the same unit. */
struct mgmt_connection {
    struct device_address address;
    uint16_t interval_min_1250us, interval_max_1250us, latency, timeout_10ms;
};

/* One device a command: a longer list makes the kernel forget others. */
size_t mgmt_encode_connection(uint16_t index, const struct mgmt_connection *connection,
                              uint8_t *ret);

/* Flags: 1 connectable, 2 discoverable, 8 the kernel adds the flags to the data. */
struct mgmt_advertising {
    uint8_t instance; /* from 1 */
    uint32_t flags;
    uint8_t data_length, response_length;
    const uint8_t *data, *response; /* advertising structures */
};

size_t mgmt_encode_advertising(uint16_t index, const struct mgmt_advertising *advertising,
                               uint8_t *ret);

#endif
