/* What a peer may say to the client of a strap or a sensor. */
#include "fuzz.h"
#include "wire/sensor_client.h"

struct talk {
    struct sensor_client client;
    bool ready, failed;
};

static void drain(struct talk *talk)
{
    uint8_t pdu[ATT_PDU_BUFFER];
    struct sensor_client_event event;
    size_t length;
    while (sensor_client_next_event(&talk->client, &event)) {
        FUZZ_CHECK(!talk->failed);
        if (event.kind == SENSOR_CLIENT_READY) {
            FUZZ_CHECK(!talk->ready);
            talk->ready = true;
        } else if (event.kind == SENSOR_CLIENT_FAILED) {
            FUZZ_CHECK(event.reason != NULL);
            talk->failed = true;
        } else if (event.kind == SENSOR_CLIENT_EFFORT && event.effort.has_cadence) {
            FUZZ_CHECK(event.effort.cadence_rpm >= 0 && event.effort.cadence_rpm <= CRANK_RPM_MAX);
        }
    }
    while ((length = sensor_client_next_pdu(&talk->client, pdu)) > 0)
        FUZZ_CHECK(length <= ATT_MTU_MAX);
    FUZZ_CHECK(talk->client.lost_events == 0);
}

static void run(enum sensor_kind sensor, const uint8_t *data, size_t size)
{
    static struct talk talk;
    struct bytes_reader reader = bytes_reader(data, size);
    struct fuzz_pdu pdu;
    uint64_t t_ms = 0;
    talk = (struct talk){0};
    sensor_client_start(&talk.client, sensor, t_ms);
    drain(&talk);
    while (fuzz_next_pdu(&reader, &pdu)) {
        t_ms += pdu.pause_ms;
        sensor_client_tick(&talk.client, t_ms);
        drain(&talk);
        sensor_client_receive(&talk.client, t_ms, pdu.octets, pdu.length);
        fuzz_pdu_free(&pdu);
        drain(&talk);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    for (enum sensor_kind sensor = SENSOR_STRAP; sensor < SENSOR_KIND_COUNT; sensor++)
        run(sensor, data, size);
    return 0;
}
