/*
 * A ride on the virtual bike for tests: the bike on one side, the real client on the other, and
 * nothing but their PDUs between.
 */
#ifndef TESTS_SUPPORT_VIRTUAL_RIDE_H
#define TESTS_SUPPORT_VIRTUAL_RIDE_H

#include "io/virtual_bike.h"
#include "wire/ftms_client.h"

#define RIDE_RECORDS_MAX 4096u

struct ride_record {
    uint32_t t_ms;
    double power_w, cadence_rpm;
    unsigned heart_bpm;
    uint32_t distance_m;
    int16_t level; /* raw */
    uint16_t elapsed_s;
};

struct virtual_ride {
    struct virtual_bike bike;
    struct ftms_client client;
    uint64_t t_ms;
    bool is_ready, has_failed;
    struct ftms_machine machine;
    struct ride_record records[RIDE_RECORDS_MAX];
    size_t record_count, frame_count, odd_frame_count; /* odd: cannot have come from this bike */
    struct ftms_bike_data frame;                       /* the last one */
    unsigned status_count[256];                        /* by opcode */
    struct ftms_status last_status;
    uint8_t training_status;
    unsigned answer_count;
    struct ftms_client_event answer; /* the last one */
    uint64_t answer_t_ms;
    uint64_t octets_hash; /* of all that the bike sent */
};

/* Files of tests/machines and tests/riders without their ending; NULL: the built-in one. Connects
 * at time 0. Fails the test when a file is not right. */
void ride_begin(struct virtual_ride *ride, const char *machine, const char *rider, uint64_t seed);
void ride_reconnect(struct virtual_ride *ride);
void ride_until(struct virtual_ride *ride, uint64_t t_ms);
/* Sends it and rides until it is answered: 0, or the result octet, or the error of the attribute
 * protocol plus 0x100. 0 when there is no answer within 3 s. */
unsigned ride_command(struct virtual_ride *ride, uint8_t opcode, int16_t value);
/* Control, start, and a target; at time t_ms, which is not over yet. */
void ride_start_at(struct virtual_ride *ride, uint64_t t_ms, uint8_t opcode, int16_t value);
/* Mean over the records of [from, to). Fails the test without any. */
double ride_mean_power_w(const struct virtual_ride *ride, uint64_t from_ms, uint64_t to_ms);
double ride_mean_cadence_rpm(const struct virtual_ride *ride, uint64_t from_ms, uint64_t to_ms);
size_t ride_records_between(const struct virtual_ride *ride, uint64_t from_ms, uint64_t to_ms);

/* The whole file, static and until the next call. Fails the test when it cannot be read. */
const char *ride_file(const char *path, size_t *ret_length);

#endif
