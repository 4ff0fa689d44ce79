/* Every value that a device can send, of each service, and what we send of them. */
#include "unknown.h"
#include "wire/att.h"
#include "wire/cadence.h"
#include "wire/cycling_power.h"
#include "wire/ftms.h"
#include "wire/heart_rate.h"

static uint8_t value[ATT_VALUE_MAX];

static void take_heart_rate(size_t length)
{
    struct heart_rate heart;
    uint8_t sent[HEART_FRAME_MAX];

    if (heart_rate_decode(value, length, &heart) != RESULT_OK)
        return;
    heart_rate_encode(&heart, sent);
    heart_rr_ms((uint16_t)any_int(0, UINT16_MAX));
}

static void take_power(size_t length)
{
    struct cycling_power power;
    uint8_t sent[CYCLING_POWER_FRAME_MAX];

    if (cycling_power_decode(value, length, &power) == RESULT_OK)
        cycling_power_encode(&power, sent);
}

static void take_cadence(size_t length)
{
    struct cadence_frame frame;
    uint8_t sent[CADENCE_FRAME_MAX];
    bool counts_crank;

    if (cadence_decode(value, length, &frame) == RESULT_OK)
        cadence_encode(frame.crank, sent);
    (void)cadence_feature_decode(value, length, &counts_crank);
}

/* Times never go back. */
static void turn_crank(void)
{
    struct crank crank = {0};
    uint64_t t_ms = 0;
    int32_t rpm;

    while (any_bool()) {
        const struct crank_count count = {(uint16_t)any_int(0, UINT16_MAX),
                                          (uint16_t)any_int(0, UINT16_MAX)};
        t_ms = any_u64();
        crank_take(&crank, t_ms, count, &rpm);
    }
}

/* Records may come in parts without an end. */
static void take_bike_data(void)
{
    struct ftms_record record = {0};
    struct ftms_bike_data data;
    uint8_t sent[FTMS_BIKE_DATA_MAX];

    while (any_bool()) {
        MAKE_UNKNOWN(value);
        if (ftms_decode_bike_data(value, any_size(sizeof value), &data) != RESULT_OK)
            continue;
        ftms_encode_bike_data(&data, sent);
        ftms_record_add(&record, &data, &data);
    }
}

static void take_machine(size_t length)
{
    struct ftms_feature feature;
    struct ftms_range range;
    struct ftms_status status;
    struct ftms_training_status training;
    struct ftms_response response;
    const uint16_t characteristic = (uint16_t)any_int(0, UINT16_MAX);

    (void)ftms_decode_feature(value, length, &feature);
    (void)ftms_decode_range(characteristic, value, length, &range);
    (void)ftms_decode_status(value, length, &status);
    if (ftms_decode_training_status(value, length, &training) == RESULT_OK)
        ftms_training_text(training.status);
    if (ftms_decode_response(value, length, (uint8_t)any_int(0, UINT8_MAX), &response) == RESULT_OK)
        ftms_result_text(response.result);
}

static void send_to_machine(void)
{
    const uint8_t octet = (uint8_t)any_int(0, UINT8_MAX);
    const int16_t number = (int16_t)any_int(INT16_MIN, INT16_MAX);
    uint8_t sent[FTMS_COMMAND_MAX];

    ftms_encode_plain(octet, sent);
    ftms_encode_stop(any_bool(), sent);
    ftms_encode_power(number, sent);
    ftms_encode_resistance(number, (unsigned)any_int(1, 2), sent);
    ftms_encode_response(octet, octet, sent);
    ftms_encode_status(octet, sent);
}

int main(void)
{
    MAKE_UNKNOWN(value);
    take_heart_rate(any_size(sizeof value));
    take_power(any_size(sizeof value));
    take_cadence(any_size(sizeof value));
    take_machine(any_size(sizeof value));
    take_bike_data();
    turn_crank();
    send_to_machine();
    return 0;
}
