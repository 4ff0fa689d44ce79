/* The attributes of the virtual bike. */
#include <assert.h>
#include <string.h>

#include "base/bytes.h"
#include "virtual_bike_parts.h"
#include "wire/cadence.h"
#include "wire/cycling_power.h"
#include "wire/heart_rate.h"

enum {
    GENERIC_ACCESS = 0x1800,
    GENERIC_ATTRIBUTE = 0x1801,
    DEVICE_INFORMATION = 0x180A,
    DEVICE_NAME = 0x2A00,
    APPEARANCE = 0x2A01,
    MODEL_NUMBER = 0x2A24,
    FIRMWARE_REVISION = 0x2A26,
    MANUFACTURER_NAME = 0x2A29
};

static const uint8_t appearance_cycling[] = {0x80, 0x04};
static const uint8_t chest[] = {1}; /* Heart Rate Service 1.0, body sensor location */
static const uint8_t counts_crank[] = {8, 0, 0, 0}; /* Cycling Power Feature, bit 3 */
static const uint8_t left_crank[] = {5};            /* Sensor Location */
static const uint8_t crank_alone[] = {2, 0};        /* CSC Feature, bit 1 */
static const uint8_t nobody_subscribed[] = {0, 0};
static const char maker[] = "Invented, no product";
static const char firmware[] = "1";

/* The table is the same for every run of one machine file, so a full one is a programming error. */
static const uint8_t *keep(struct virtual_table *table, const uint8_t *octets, size_t length)
{
    assert(length <= VIRTUAL_OCTETS_MAX - table->octet_count);
    uint8_t *kept = table->octets + table->octet_count;
    memcpy(kept, octets, length);
    table->octet_count += length;
    return kept;
}

static uint16_t add(struct virtual_table *table, uint16_t type, uint8_t access,
                    const uint8_t *value, size_t length)
{
    assert(table->count < VIRTUAL_ATTRIBUTES_MAX);
    uint16_t handle = (uint16_t)(table->count + 1);
    table->attributes[table->count++] = (struct gatt_attribute){.handle = handle,
                                                                .type = {.assigned = type},
                                                                .access = access,
                                                                .length = (uint16_t)length,
                                                                .value = value};
    return handle;
}

static const uint8_t *keep_u16(struct virtual_table *table, uint16_t value)
{
    return keep(table, (const uint8_t[]){(uint8_t)value, (uint8_t)(value >> 8)}, 2);
}

static void begin_service(struct virtual_table *table, uint16_t uuid)
{
    add(table, GATT_PRIMARY_SERVICE, GATT_ACCESS_READ, keep_u16(table, uuid), 2);
}

static void end_service(struct virtual_table *table)
{
    size_t at = table->count - 1;
    while (table->attributes[at].type.assigned != GATT_PRIMARY_SERVICE)
        at--;
    table->attributes[at].group_end = table->attributes[table->count - 1].handle;
}

/* Gives the handle of the value. */
static uint16_t add_characteristic(struct virtual_table *table, uint16_t uuid, uint8_t properties,
                                   const uint8_t *value, size_t length)
{
    uint16_t handle = (uint16_t)(table->count + 2);
    uint8_t declaration[] = {properties, (uint8_t)handle, (uint8_t)(handle >> 8), (uint8_t)uuid,
                             (uint8_t)(uuid >> 8)};
    add(table, GATT_CHARACTERISTIC, GATT_ACCESS_READ, keep(table, declaration, sizeof(declaration)),
        sizeof(declaration));
    unsigned access = (properties & GATT_READ) != 0 ? GATT_ACCESS_READ : 0;
    access |= (properties & GATT_WRITE) != 0 ? GATT_ACCESS_WRITE : 0;
    access |= (properties & GATT_WRITE_NO_RESPONSE) != 0 ? GATT_ACCESS_WRITE_COMMAND : 0;
    add(table, uuid, (uint8_t)access, value, length);
    if ((properties & (GATT_NOTIFY | GATT_INDICATE)) != 0)
        add(table, GATT_CLIENT_CONFIG, GATT_ACCESS_READ | GATT_ACCESS_WRITE, nobody_subscribed,
            sizeof(nobody_subscribed));
    return handle;
}

static void add_text(struct virtual_table *table, uint16_t uuid, const char *text)
{
    add_characteristic(table, uuid, GATT_READ, (const uint8_t *)text, strlen(text));
}

static void add_feature(struct virtual_table *table, const struct virtual_machine_config *config)
{
    uint32_t machine = FTMS_HAS_CADENCE | FTMS_HAS_TOTAL_DISTANCE | FTMS_HAS_ELAPSED_TIME;
    machine |= config->sends_power ? FTMS_HAS_POWER : 0;
    machine |= config->sends_heart ? FTMS_HAS_HEART_RATE : 0;
    machine |= config->takes_level ? FTMS_HAS_RESISTANCE_LEVEL : 0;
    uint32_t target = config->takes_power ? FTMS_TAKES_POWER : 0;
    target |= config->takes_level ? FTMS_TAKES_RESISTANCE : 0;
    uint8_t octets[8];
    struct bytes_writer writer = bytes_writer(octets, sizeof(octets));
    bytes_put_u32(&writer, machine);
    bytes_put_u32(&writer, target);
    add_characteristic(table, FTMS_FEATURE, GATT_READ, keep(table, octets, writer.length),
                       writer.length);
}

static struct ftms_range as_told(const struct virtual_machine_config *config,
                                 const struct ftms_range *range)
{
    if (config->zero_ranges)
        return (struct ftms_range){0};
    if (config->swapped_ranges)
        return (struct ftms_range){range->maximum, range->minimum, range->increment};
    return *range;
}

static void add_range(struct virtual_table *table, uint16_t uuid, struct ftms_range range,
                      uint32_t width)
{
    const int32_t limits[] = {range.minimum, range.maximum, range.increment};
    uint8_t octets[6];
    struct bytes_writer writer = bytes_writer(octets, sizeof(octets));
    for (size_t i = 0; i < 3; i++) {
        if (width == 1)
            bytes_put_u8(&writer, limits[i] > UINT8_MAX ? UINT8_MAX : (uint8_t)limits[i]);
        else
            bytes_put_s16(&writer, (int16_t)limits[i]);
    }
    add_characteristic(table, uuid, GATT_READ, keep(table, octets, writer.length), writer.length);
}

static void add_training_status(struct virtual_table *table)
{
    const uint8_t idle[] = {0, VIRTUAL_IDLE};
    table->training = table->octets + table->octet_count;
    const uint8_t *value = keep(table, idle, sizeof(idle));
    table->training_status = add_characteristic(table, FTMS_TRAINING_STATUS,
                                                GATT_READ | GATT_NOTIFY, value, sizeof(idle));
}

static void add_control(struct virtual_table *table, const struct virtual_machine_config *config)
{
    const uint8_t way = config->command_only ? GATT_WRITE_NO_RESPONSE : GATT_WRITE;
    table->control_point =
        add_characteristic(table, FTMS_CONTROL_POINT, way | GATT_INDICATE, NULL, 0);
    table->machine_status = add_characteristic(table, FTMS_MACHINE_STATUS, GATT_NOTIFY, NULL, 0);
    if (config->hides_status)
        table->count--; /* its configuration */
}

static uint16_t add_power_sensor(struct virtual_table *table)
{
    begin_service(table, CYCLING_POWER_SERVICE);
    const uint16_t handle =
        add_characteristic(table, CYCLING_POWER_MEASUREMENT, GATT_NOTIFY, NULL, 0);
    add_characteristic(table, CYCLING_POWER_FEATURE, GATT_READ, counts_crank, sizeof counts_crank);
    add_characteristic(table, CYCLING_POWER_LOCATION, GATT_READ, left_crank, sizeof left_crank);
    end_service(table);
    return handle;
}

static uint16_t add_cadence_sensor(struct virtual_table *table)
{
    begin_service(table, CADENCE_SERVICE);
    const uint16_t handle = add_characteristic(table, CADENCE_MEASUREMENT, GATT_NOTIFY, NULL, 0);
    add_characteristic(table, CADENCE_FEATURE, GATT_READ, crank_alone, sizeof crank_alone);
    end_service(table);
    return handle;
}

/* Their data are never sent: who rides by the fitness machine does not ask for them. */
static void add_other_services(struct virtual_table *table)
{
    (void)add_power_sensor(table);
    (void)add_cadence_sensor(table);
}

static void add_strap(struct virtual_table *table)
{
    begin_service(table, HEART_RATE_SERVICE);
    table->strap = add_characteristic(table, HEART_RATE_MEASUREMENT, GATT_NOTIFY, NULL, 0);
    add_characteristic(table, HEART_RATE_BODY_LOCATION, GATT_READ, chest, sizeof(chest));
    end_service(table);
}

static void add_fitness_machine(struct virtual_table *table,
                                const struct virtual_machine_config *config)
{
    begin_service(table, FTMS_SERVICE);
    if (config->has_feature)
        add_feature(table, config);
    table->data = add_characteristic(table, FTMS_INDOOR_BIKE_DATA, GATT_NOTIFY, NULL, 0);
    if (config->has_training)
        add_training_status(table);
    if (config->takes_level)
        add_range(table, FTMS_RESISTANCE_RANGE, as_told(config, &config->level_tenths),
                  config->level_octets);
    if (config->takes_power)
        add_range(table, FTMS_POWER_RANGE, as_told(config, &config->power_w), 2);
    if (config->takes_power || config->takes_level)
        add_control(table, config);
    end_service(table);
}

static void add_bike(struct virtual_table *table, const struct virtual_machine_config *config)
{
    if (config->other_services)
        add_other_services(table);
    add_fitness_machine(table, config);
    if (config->has_strap)
        add_strap(table);
}

void virtual_table_fill(struct virtual_table *table, const struct virtual_machine_config *config)
{
    *table = (struct virtual_table){0};
    begin_service(table, GENERIC_ACCESS);
    add_text(table, DEVICE_NAME, config->name);
    add_characteristic(table, APPEARANCE, GATT_READ, appearance_cycling,
                       sizeof(appearance_cycling));
    end_service(table);
    begin_service(table, GENERIC_ATTRIBUTE);
    end_service(table);
    begin_service(table, DEVICE_INFORMATION);
    add_text(table, MANUFACTURER_NAME, maker);
    add_text(table, MODEL_NUMBER, config->name);
    add_text(table, FIRMWARE_REVISION, firmware);
    end_service(table);
    switch (config->only) {
    case VIRTUAL_WHOLE_BIKE: add_bike(table, config); return;
    case VIRTUAL_STRAP_ONLY: add_strap(table); return;
    case VIRTUAL_POWER_ONLY: table->power = add_power_sensor(table); return;
    case VIRTUAL_CADENCE_ONLY: table->cadence = add_cadence_sensor(table); return;
    }
}
