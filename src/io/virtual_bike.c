#include "io/virtual_bike.h"

#include <math.h>
#include <string.h>

#include "base/bytes.h"
#include "virtual_bike_parts.h"
#include "wire/cadence.h"
#include "wire/cycling_power.h"
#include "wire/ftms_bike_data.h"
#include "wire/heart_rate.h"

#define STRAP_INTERVAL_MS 1000u
#define GAP_MAX_MS        600000u

enum result virtual_bike_init(struct virtual_bike *bike,
                              const struct virtual_machine_config *machine,
                              const struct virtual_rider_config *rider, uint64_t seed)
{
    struct virtual_random seeds = {.state = seed};
    memset(bike, 0, sizeof(*bike));
    virtual_rider_init(&bike->rider, rider, virtual_random_next(&seeds));
    virtual_machine_init(&bike->machine, machine, virtual_random_next(&seeds));
    bike->chance.state = virtual_random_next(&seeds);
    virtual_table_fill(&bike->table, &bike->machine.config);
    return gatt_server_init(&bike->server, bike->table.attributes, bike->table.count,
                            (uint16_t)machine->mtu);
}

uint32_t virtual_ride_ms(const struct virtual_bike *bike)
{
    return (uint32_t)(bike->now_ms - bike->began_ms);
}

void virtual_bike_connect(struct virtual_bike *bike, uint64_t t_ms)
{
    if (!bike->began) {
        bike->began = true;
        bike->began_ms = bike->now_ms = t_ms;
    }
    virtual_bike_advance(bike, t_ms);
    virtual_control_forget(bike);
    bike->stray_length = 0;
    bike->next_data_ms = bike->now_ms + bike->machine.config.data_interval_ms;
    bike->next_strap_ms = bike->now_ms + STRAP_INTERVAL_MS;
    bike->linked = true;
    /* The same table as in init, where the caller saw the result. */
    bike->wants_close = gatt_server_init(&bike->server, bike->table.attributes, bike->table.count,
                                         (uint16_t)bike->machine.config.mtu) != RESULT_OK;
}

void virtual_bike_disconnect(struct virtual_bike *bike, uint64_t t_ms)
{
    virtual_bike_advance(bike, t_ms);
    virtual_control_forget(bike);
    bike->linked = false;
    bike->wants_close = false;
}

/* ---- what it sends ---- */

static bool is_silent(const struct virtual_bike *bike)
{
    const struct virtual_machine_config *config = &bike->machine.config;
    uint32_t ride_ms = virtual_ride_ms(bike);
    if (config->silent_after_ms == 0 || ride_ms < config->silent_after_ms)
        return false;
    return config->silent_for_ms == 0 || ride_ms - config->silent_after_ms < config->silent_for_ms;
}

static void fill_with_chance(struct virtual_bike *bike, uint8_t *octets, size_t length)
{
    for (size_t i = 0; i < length; i++)
        octets[i] = (uint8_t)virtual_random_below(&bike->chance, 256);
}

/* A PDU from nowhere. Requests, commands and opcodes that do not exist, but no response and no
 * indication: those would answer for the server itself. Responses have odd opcodes. */
static void make_stray(struct virtual_bike *bike)
{
    bike->stray_length = 1 + virtual_random_below(&bike->chance, sizeof(bike->stray));
    fill_with_chance(bike, bike->stray, bike->stray_length);
    bike->stray[0] &= 0xFEu;
}

static void notify_garbage(struct virtual_bike *bike, uint16_t handle)
{
    uint8_t octets[ATT_MTU_MAX];
    size_t length = virtual_random_below(&bike->chance, gatt_server_mtu(&bike->server) - 3u + 1u);
    fill_with_chance(bike, octets, length);
    if (gatt_server_notify(&bike->server, handle, octets, length) != RESULT_OK)
        bike->unsent++;
    make_stray(bike);
}

void virtual_notify(struct virtual_bike *bike, uint16_t handle, const uint8_t *value, size_t length)
{
    double garbage_share = bike->machine.config.garbage_share;
    if (handle == 0 || !bike->linked || is_silent(bike))
        return;
    if (garbage_share > 0 && virtual_random_share(&bike->chance) < garbage_share)
        notify_garbage(bike, handle);
    else if (gatt_server_notify(&bike->server, handle, value, length) != RESULT_OK)
        bike->unsent++;
}

static void notify_data(struct virtual_bike *bike, const struct ftms_bike_data *data)
{
    uint8_t octets[FTMS_BIKE_DATA_MAX];
    size_t length = ftms_encode_bike_data(data, octets);
    const uint32_t cut_at = bike->machine.config.cut_at;
    if (cut_at > 0 && length > cut_at)
        length = cut_at;
    virtual_notify(bike, bike->table.data, octets, length);
}

static uint16_t rounded_u16(double value)
{
    if (value >= UINT16_MAX)
        return UINT16_MAX;
    long rounded = lround(value);
    return rounded > 0 ? (uint16_t)rounded : 0;
}

static void add_level(const struct virtual_machine *machine, struct ftms_bike_data *data)
{
    data->has |= FTMS_BIKE_RESISTANCE;
    data->resistance = virtual_machine_level_tenths(machine);
    data->resistance_octets = (uint8_t)machine->config.level_octets;
}

static int16_t power_told_w(const struct virtual_machine *machine)
{
    const double told_w = virtual_machine_power_w(machine) * machine->config.power_told;

    return (int16_t)rounded_u16(fmin(told_w, INT16_MAX));
}

static void send_record(struct virtual_bike *bike)
{
    const struct virtual_machine *machine = &bike->machine;
    const double cadence_told_rpm =
        virtual_machine_cadence_rpm(machine) * machine->config.cadence_told;
    struct ftms_bike_data data = {
        .has = FTMS_BIKE_SPEED | FTMS_BIKE_CADENCE | FTMS_BIKE_DISTANCE | FTMS_BIKE_POWER |
               FTMS_BIKE_ELAPSED,
        .speed_ckmh = rounded_u16(virtual_machine_speed_kmh(machine) * 100.0),
        .cadence_half_rpm = rounded_u16(cadence_told_rpm * 2.0),
        .distance_m = (uint32_t)machine->distance_m & 0xFFFFFFu,
        .power_w = power_told_w(machine),
        .heart_bpm = bike->heart_bpm,
        .elapsed_s = (uint16_t)(bike->elapsed_ms / 1000u),
    };
    if (!machine->config.sends_speed)
        data.has &= ~(uint32_t)FTMS_BIKE_SPEED;
    if (!machine->config.sends_power)
        data.has &= ~(uint32_t)FTMS_BIKE_POWER;
    if (machine->config.sends_heart)
        data.has |= FTMS_BIKE_HEART_RATE;
    if (machine->config.takes_level)
        add_level(machine, &data);
    if (machine->config.splits_records) {
        struct ftms_bike_data first = data;
        first.has &= FTMS_BIKE_CADENCE | FTMS_BIKE_POWER;
        data.has &= ~first.has;
        notify_data(bike, &first);
    }
    notify_data(bike, &data);
}

static void read_strap(struct virtual_bike *bike)
{
    uint32_t lost_at_ms = bike->machine.config.strap_lost_at_ms;
    uint8_t octets[HEART_FRAME_MAX];
    bike->heart_bpm = 0;
    if (lost_at_ms > 0 && virtual_ride_ms(bike) >= lost_at_ms)
        return;
    bike->heart_bpm = virtual_rider_strap_bpm(&bike->rider);
    struct heart_rate heart = {.heart_bpm = bike->heart_bpm, .contact = HEART_CONTACT_GOOD};
    virtual_notify(bike, bike->table.strap, octets, heart_rate_encode(&heart, octets));
}

/* The last whole turn, and when it was done. */
static void count_turns(struct virtual_bike *bike)
{
    const struct virtual_machine *machine = &bike->machine;
    const double turns = virtual_machine_turns(machine);
    const double whole = floor(turns);
    const double turns_per_s = virtual_machine_cadence_rpm(machine) / 60.0;

    if ((uint16_t)(uint64_t)whole == bike->crank.turns || turns_per_s <= 0)
        return;
    const double done_s = virtual_ride_ms(bike) / 1000.0 - (turns - whole) / turns_per_s;
    bike->crank.turns = (uint16_t)(uint64_t)whole;
    bike->crank.t_1024 = (uint16_t)(uint64_t)(fmax(done_s, 0) * 1024.0);
}

static void read_sensors(struct virtual_bike *bike)
{
    uint8_t octets[CYCLING_POWER_FRAME_MAX];

    count_turns(bike);
    const struct cycling_power power = {power_told_w(&bike->machine), true, bike->crank};
    virtual_notify(bike, bike->table.power, octets, cycling_power_encode(&power, octets));
    virtual_notify(bike, bike->table.cadence, octets, cadence_encode(bike->crank, octets));
}

/* ---- time ---- */

static void serve_link(struct virtual_bike *bike)
{
    uint32_t dropped_at_ms = bike->machine.config.link_dropped_at_ms;
    if (bike->now_ms >= bike->next_strap_ms) {
        read_strap(bike);
        read_sensors(bike);
        bike->next_strap_ms += STRAP_INTERVAL_MS;
    }
    if (bike->now_ms >= bike->next_data_ms) {
        send_record(bike);
        bike->next_data_ms += bike->machine.config.data_interval_ms;
    }
    if (dropped_at_ms > 0 && virtual_ride_ms(bike) >= dropped_at_ms &&
        virtual_ride_ms(bike) - dropped_at_ms < VIRTUAL_STEP_MS)
        bike->wants_close = true;
}

static void turn_knob(struct virtual_bike *bike)
{
    const struct virtual_machine_config *config = &bike->machine.config;
    const uint32_t at_ms = config->knob_then_at_ms;

    if (at_ms > 0 && virtual_ride_ms(bike) >= at_ms &&
        virtual_ride_ms(bike) - at_ms < VIRTUAL_STEP_MS)
        bike->machine.knob = config->knob_then;
}

static void step(struct virtual_bike *bike)
{
    double omega = bike->machine.brake.omega;
    virtual_rider_step(&bike->rider, virtual_ride_ms(bike), omega, VIRTUAL_STEP_S);
    virtual_machine_step(&bike->machine, bike->rider.torque_nm, bike->rider.config.stroke_ripple,
                         VIRTUAL_STEP_S);
    bike->now_ms += VIRTUAL_STEP_MS;
    turn_knob(bike);
    if (bike->control.started)
        bike->elapsed_ms += VIRTUAL_STEP_MS;
    virtual_control_step(bike);
    if (bike->linked)
        serve_link(bike);
}

/* After a gap the ride has moved on without us: whatever counts from its beginning moves along. */
static void skip_gap(struct virtual_bike *bike, uint64_t t_ms)
{
    uint64_t skipped_ms = t_ms - bike->now_ms - GAP_MAX_MS;
    bike->now_ms += skipped_ms;
    bike->began_ms += skipped_ms;
    bike->next_data_ms += skipped_ms;
    bike->next_strap_ms += skipped_ms;
    bike->control.answer_at_ms += skipped_ms;
}

void virtual_bike_advance(struct virtual_bike *bike, uint64_t t_ms)
{
    if (!bike->began || t_ms <= bike->now_ms)
        return;
    if (t_ms - bike->now_ms > GAP_MAX_MS)
        skip_gap(bike, t_ms);
    while (t_ms - bike->now_ms >= VIRTUAL_STEP_MS)
        step(bike);
}

static uint64_t earlier(uint64_t a_ms, uint64_t b_ms)
{
    return a_ms < b_ms ? a_ms : b_ms;
}

uint64_t virtual_bike_next_ms(const struct virtual_bike *bike)
{
    if (!bike->linked)
        return VIRTUAL_BIKE_NEVER;
    uint64_t next_ms = earlier(bike->next_data_ms, bike->next_strap_ms);
    next_ms = earlier(next_ms, virtual_control_next_ms(bike));
    uint32_t dropped_at_ms = bike->machine.config.link_dropped_at_ms;
    if (dropped_at_ms > virtual_ride_ms(bike))
        next_ms = earlier(next_ms, bike->began_ms + dropped_at_ms);
    /* Steps are whole: one that is due within a step ends after it. */
    return next_ms + (VIRTUAL_STEP_MS - 1u - (next_ms - bike->began_ms - 1u) % VIRTUAL_STEP_MS);
}

/* ---- the link ---- */

/* A write request to the configuration behind the training status, as if it had not come. */
static bool is_swallowed(const struct virtual_bike *bike, const uint8_t *pdu, size_t length)
{
    struct bytes_reader reader = bytes_reader(pdu, length);
    const uint8_t opcode = bytes_u8(&reader);
    const uint16_t handle = bytes_u16(&reader);

    return bike->machine.config.swallows_subscription && !reader.failed &&
           opcode == ATT_WRITE_REQUEST && handle == bike->table.training_status + 1u;
}

void virtual_bike_receive(struct virtual_bike *bike, uint64_t t_ms, const uint8_t *pdu,
                          size_t length)
{
    struct gatt_server_event event;
    virtual_bike_advance(bike, t_ms);
    if (!bike->linked || is_swallowed(bike, pdu, length))
        return;
    gatt_server_receive(&bike->server, pdu, length);
    while (gatt_server_next_event(&bike->server, &event)) {
        if (event.kind == GATT_SERVER_CONFIRMED)
            virtual_control_confirmed(bike);
        else if (event.kind == GATT_SERVER_WRITTEN && event.handle == bike->table.control_point)
            virtual_control_written(bike, &event);
    }
}

size_t virtual_bike_next_pdu(struct virtual_bike *bike, uint8_t *ret)
{
    if (!bike->linked)
        return 0;
    if (bike->stray_length > 0) {
        size_t length = bike->stray_length;
        memcpy(ret, bike->stray, length);
        bike->stray_length = 0;
        return length;
    }
    return gatt_server_next_pdu(&bike->server, ret);
}

bool virtual_bike_wants_close(const struct virtual_bike *bike)
{
    return bike->wants_close;
}
