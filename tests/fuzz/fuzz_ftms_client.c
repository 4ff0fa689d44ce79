/* What a peer may say to the client of a fitness machine, which takes control, starts, sets a load,
 * and stops when it is told of a status. */
#include "fuzz.h"
#include "wire/ftms_client.h"

struct talk {
    struct ftms_client client;
    bool ready, failed;
    unsigned waiting; /* commands without an answer */
};

static void command(struct talk *talk, uint8_t opcode, int16_t value, bool now)
{
    const struct ftms_command wanted = {.opcode = opcode, .value = value, .now = now};
    if (ftms_client_command(&talk->client, &wanted) == RESULT_OK)
        talk->waiting++;
}

static void hear(struct talk *talk, const struct ftms_client_event *event)
{
    FUZZ_CHECK(!talk->failed); /* nothing follows */
    switch (event->kind) {
    case FTMS_CLIENT_READY:
        FUZZ_CHECK(!talk->ready);
        talk->ready = true;
        if (event->machine.has_power_range)
            FUZZ_CHECK(event->machine.power_w.minimum < event->machine.power_w.maximum);
        command(talk, FTMS_REQUEST_CONTROL, 0, false);
        command(talk, FTMS_START_OR_RESUME, 0, false);
        command(talk, FTMS_SET_POWER, 150, false);
        break;
    case FTMS_CLIENT_ANSWER:
        FUZZ_CHECK(talk->waiting > 0); /* no more answers than questions */
        talk->waiting--;
        break;
    case FTMS_CLIENT_STATUS: command(talk, FTMS_STOP_OR_PAUSE, FTMS_STOP, true); break;
    case FTMS_CLIENT_FAILED:
        FUZZ_CHECK(event->reason != NULL);
        talk->failed = true;
        break;
    case FTMS_CLIENT_DATA:
    case FTMS_CLIENT_RECORD:
    case FTMS_CLIENT_TRAINING: break;
    }
}

static void drain(struct talk *talk)
{
    uint8_t pdu[ATT_PDU_BUFFER];
    struct ftms_client_event event;
    size_t length;
    while (ftms_client_next_event(&talk->client, &event))
        hear(talk, &event);
    while ((length = ftms_client_next_pdu(&talk->client, pdu)) > 0)
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
    ftms_client_start(&talk.client, t_ms);
    drain(&talk);
    while (fuzz_next_pdu(&reader, &pdu)) {
        t_ms += pdu.pause_ms;
        ftms_client_tick(&talk.client, t_ms);
        drain(&talk);
        ftms_client_receive(&talk.client, t_ms, pdu.octets, pdu.length);
        fuzz_pdu_free(&pdu);
        drain(&talk);
    }
    return 0;
}
