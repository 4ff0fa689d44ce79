/*
 * What is known of a device's attributes: the tables that discovery fills, so that a later link to
 * the same device need not fill them again; and their form as octets, to be kept.
 *
 * Handles outlive a link only together with the Database Hash that the device gave with them: it
 * covers every service, characteristic and descriptor with its handle (Bluetooth Core 5.1, Vol 3
 * Part G 7.3). Without one, the standard lets only bonded devices rely on what they remember, for
 * only these are sure to be told of changes (Part G 2.5.2); we do not bond.
 */
#ifndef WIRE_GATT_KNOWN_H
#define WIRE_GATT_KNOWN_H

#include <stddef.h>

#include "base/result.h"
#include "wire/gatt.h"

#define GATT_SERVICES_MAX        24u
#define GATT_CHARACTERISTICS_MAX 96u
#define GATT_HASH_OCTETS         16u

struct gatt_service {
    struct att_uuid uuid;
    uint16_t first_handle, last_handle;
};

struct gatt_characteristic {
    struct att_uuid uuid;
    uint8_t service;    /* index of the service it is in */
    uint8_t properties; /* enum gatt_property */
    uint16_t declaration_handle;
    uint16_t value_handle;
    uint16_t client_config_handle; /* 0: has none */
};

/* Zeroed: nothing is known. */
struct gatt_known {
    struct gatt_service services[GATT_SERVICES_MAX];
    struct gatt_characteristic characteristics[GATT_CHARACTERISTICS_MAX];
    uint8_t service_count, characteristic_count;
    bool is_cut;   /* there is more: than the tables hold, or than the device told */
    bool has_hash; /* the device gave one */
    uint8_t hash[GATT_HASH_OCTETS];
};

/* A length octet and 16 of a UUID at most; a service has 4 more, a characteristic 8. */
#define GATT_KNOWN_OCTETS_MAX \
    (1u + GATT_HASH_OCTETS + 2u + GATT_SERVICES_MAX * 21u + GATT_CHARACTERISTICS_MAX * 25u)

/* Writes at most GATT_KNOWN_OCTETS_MAX octets to `ret`. 0: without a hash, or cut, it is not worth
 * keeping. */
size_t gatt_known_encode(const struct gatt_known *known, uint8_t *ret);
/* From octets of any origin. RESULT_INVALID when they are no such form, or say what no discovery
 * finds: handles that do not rise, that lie outside of their service, or more than the tables hold.
 */
MUST_USE enum result gatt_known_decode(const uint8_t *octets, size_t length,
                                       struct gatt_known *ret);

#endif
