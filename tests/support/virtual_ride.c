#include "support/virtual_ride.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "io/virtual_config.h"

const char *ride_file(const char *path, size_t *ret_length)
{
    static char text[8192];
    FILE *file = fopen(path, "rb");
    if (file == NULL)
        fail_msg("%s cannot be opened", path);
    *ret_length = fread(text, 1, sizeof(text), file);
    assert_int_equal(fclose(file), 0);
    assert_true(*ret_length < sizeof(text));
    return text;
}

static struct virtual_machine_config machine_named(const char *name)
{
    struct virtual_machine_config config = virtual_machine_default();
    struct text_fault fault = {0};
    char path[128];
    size_t length = 0;
    if (name == NULL)
        return config;
    (void)snprintf(path, sizeof(path), "tests/machines/%s.machine", name);
    const char *text = ride_file(path, &length);
    if (virtual_machine_read(text, length, &config, &fault) != RESULT_OK)
        fail_msg("%s:%u:%u: %s", path, fault.line, fault.column, fault.message);
    return config;
}

static struct virtual_rider_config rider_named(const char *name)
{
    struct virtual_rider_config config = virtual_rider_default();
    struct text_fault fault = {0};
    char path[128];
    size_t length = 0;
    if (name == NULL)
        return config;
    (void)snprintf(path, sizeof(path), "tests/riders/%s.rider", name);
    const char *text = ride_file(path, &length);
    if (virtual_rider_read(text, length, &config, &fault) != RESULT_OK)
        fail_msg("%s:%u:%u: %s", path, fault.line, fault.column, fault.message);
    return config;
}

static void keep_record(struct virtual_ride *ride, const struct ftms_bike_data *data)
{
    const uint32_t wanted = FTMS_BIKE_SPEED | FTMS_BIKE_CADENCE | FTMS_BIKE_POWER |
                            FTMS_BIKE_DISTANCE | FTMS_BIKE_ELAPSED | FTMS_BIKE_HEART_RATE;
    if ((data->has & ~(uint32_t)FTMS_BIKE_RESISTANCE) != wanted ||
        ride->record_count == RIDE_RECORDS_MAX) {
        ride->odd_frame_count++;
        return;
    }
    ride->records[ride->record_count++] =
        (struct ride_record){.t_ms = (uint32_t)ride->t_ms,
                             .power_w = data->power_w,
                             .cadence_rpm = data->cadence_half_rpm / 2.0,
                             .heart_bpm = data->heart_bpm,
                             .distance_m = data->distance_m,
                             .level = data->resistance,
                             .elapsed_s = data->elapsed_s};
}

static void hear(struct virtual_ride *ride, const struct ftms_client_event *event)
{
    switch (event->kind) {
    case FTMS_CLIENT_READY:
        ride->is_ready = true;
        ride->machine = event->machine;
        break;
    case FTMS_CLIENT_DATA:
        ride->frame_count++;
        ride->frame = event->data;
        break;
    case FTMS_CLIENT_RECORD: keep_record(ride, &event->data); break;
    case FTMS_CLIENT_ANSWER:
        ride->answer_count++;
        ride->answer = *event;
        ride->answer_t_ms = ride->t_ms;
        break;
    case FTMS_CLIENT_STATUS:
        ride->status_count[event->status.opcode]++;
        ride->last_status = event->status;
        break;
    case FTMS_CLIENT_TRAINING: ride->training_status = event->training_status; break;
    case FTMS_CLIENT_FAILED: ride->has_failed = true; break;
    }
}

static void hear_all(struct virtual_ride *ride)
{
    struct ftms_client_event event;
    while (ftms_client_next_event(&ride->client, &event))
        hear(ride, &event);
}

/* FNV-1a. */
static void mix(uint64_t *hash, const uint8_t *octets, size_t length)
{
    for (size_t i = 0; i < length; i++)
        *hash = (*hash ^ octets[i]) * 0x100000001B3u;
}

static void exchange(struct virtual_ride *ride)
{
    uint8_t pdu[ATT_PDU_BUFFER];
    bool moved = true;
    while (moved) {
        size_t length;
        moved = false;
        while ((length = ftms_client_next_pdu(&ride->client, pdu)) > 0) {
            virtual_bike_receive(&ride->bike, ride->t_ms, pdu, length);
            moved = true;
        }
        while ((length = virtual_bike_next_pdu(&ride->bike, pdu)) > 0) {
            mix(&ride->octets_hash, pdu, length);
            ftms_client_receive(&ride->client, ride->t_ms, pdu, length);
            hear_all(ride);
            moved = true;
        }
    }
}

void ride_begin(struct virtual_ride *ride, const char *machine, const char *rider, uint64_t seed)
{
    struct virtual_machine_config machine_config = machine_named(machine);
    struct virtual_rider_config rider_config = rider_named(rider);
    memset(ride, 0, sizeof(*ride));
    ride->octets_hash = 0xCBF29CE484222325u;
    assert_int_equal(virtual_bike_init(&ride->bike, &machine_config, &rider_config, seed),
                     RESULT_OK);
    virtual_bike_connect(&ride->bike, 0);
    ftms_client_start(&ride->client, 0);
    exchange(ride);
}

void ride_reconnect(struct virtual_ride *ride)
{
    virtual_bike_disconnect(&ride->bike, ride->t_ms);
    virtual_bike_connect(&ride->bike, ride->t_ms);
    ftms_client_start(&ride->client, ride->t_ms);
    exchange(ride);
}

void ride_until(struct virtual_ride *ride, uint64_t t_ms)
{
    while (ride->t_ms < t_ms) {
        uint64_t next_ms = virtual_bike_next_ms(&ride->bike);
        ride->t_ms = next_ms > ride->t_ms && next_ms < t_ms ? next_ms : t_ms;
        virtual_bike_advance(&ride->bike, ride->t_ms);
        ftms_client_tick(&ride->client, ride->t_ms);
        exchange(ride);
        hear_all(ride);
    }
}

unsigned ride_command(struct virtual_ride *ride, uint8_t opcode, int16_t value)
{
    struct ftms_command command = {.opcode = opcode, .value = value};
    unsigned before = ride->answer_count;
    uint64_t end_ms = ride->t_ms + 3000;
    assert_int_equal(ftms_client_command(&ride->client, &command), RESULT_OK);
    exchange(ride);
    while (ride->answer_count == before && ride->t_ms < end_ms)
        ride_until(ride, ride->t_ms + 10);
    if (ride->answer_count == before)
        return 0;
    assert_int_equal(ride->answer.command.opcode, opcode);
    return ride->answer.att_error != 0 ? 0x100u + ride->answer.att_error : ride->answer.result;
}

void ride_start_at(struct virtual_ride *ride, uint64_t t_ms, uint8_t opcode, int16_t value)
{
    ride_until(ride, t_ms);
    assert_int_equal(ride_command(ride, FTMS_REQUEST_CONTROL, 0), FTMS_SUCCESS);
    assert_int_equal(ride_command(ride, FTMS_START_OR_RESUME, 0), FTMS_SUCCESS);
    assert_int_equal(ride_command(ride, opcode, value), FTMS_SUCCESS);
}

size_t ride_records_between(const struct virtual_ride *ride, uint64_t from_ms, uint64_t to_ms)
{
    size_t count = 0;
    for (size_t i = 0; i < ride->record_count; i++)
        if (ride->records[i].t_ms >= from_ms && ride->records[i].t_ms < to_ms)
            count++;
    return count;
}

double ride_mean_power_w(const struct virtual_ride *ride, uint64_t from_ms, uint64_t to_ms)
{
    size_t count = ride_records_between(ride, from_ms, to_ms);
    double sum = 0;
    assert_true(count > 0);
    for (size_t i = 0; i < ride->record_count; i++)
        if (ride->records[i].t_ms >= from_ms && ride->records[i].t_ms < to_ms)
            sum += ride->records[i].power_w;
    return sum / (double)count;
}

double ride_mean_cadence_rpm(const struct virtual_ride *ride, uint64_t from_ms, uint64_t to_ms)
{
    size_t count = ride_records_between(ride, from_ms, to_ms);
    double sum = 0;
    assert_true(count > 0);
    for (size_t i = 0; i < ride->record_count; i++)
        if (ride->records[i].t_ms >= from_ms && ride->records[i].t_ms < to_ms)
            sum += ride->records[i].cadence_rpm;
    return sum / (double)count;
}
