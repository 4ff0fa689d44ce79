/* What a peer may say to the client of a strap. */
#include "fuzz.h"
#include "wire/heart_client.h"

struct talk {
    struct heart_client client;
    bool ready, failed;
};

static void drain(struct talk *talk)
{
    uint8_t pdu[ATT_PDU_BUFFER];
    struct heart_client_event event;
    size_t length;
    while (heart_client_next_event(&talk->client, &event)) {
        FUZZ_CHECK(!talk->failed);
        if (event.kind == HEART_CLIENT_READY) {
            FUZZ_CHECK(!talk->ready);
            talk->ready = true;
        } else if (event.kind == HEART_CLIENT_FAILED) {
            FUZZ_CHECK(event.reason != NULL);
            talk->failed = true;
        }
    }
    while ((length = heart_client_next_pdu(&talk->client, pdu)) > 0)
        FUZZ_CHECK(length <= ATT_MTU_MAX);
    FUZZ_CHECK(talk->client.lost_events == 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct talk talk;
    struct bytes_reader reader = bytes_reader(data, size);
    struct fuzz_pdu pdu;
    uint64_t t_ms = 0;
    talk = (struct talk){0};
    heart_client_start(&talk.client, t_ms);
    drain(&talk);
    while (fuzz_next_pdu(&reader, &pdu)) {
        t_ms += pdu.pause_ms;
        heart_client_tick(&talk.client, t_ms);
        drain(&talk);
        heart_client_receive(&talk.client, t_ms, pdu.octets, pdu.length);
        fuzz_pdu_free(&pdu);
        drain(&talk);
    }
    return 0;
}
