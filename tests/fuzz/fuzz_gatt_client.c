/* What a peer may say to the attribute client: it discovers, reads and writes what it finds. */
#include "fuzz.h"
#include "wire/gatt_client.h"

static void drain(struct gatt_client *client, bool *dead)
{
    uint8_t pdu[ATT_PDU_BUFFER];
    struct gatt_event event;
    size_t length;
    while (gatt_client_next_event(client, &event)) {
        FUZZ_CHECK(!*dead); /* nothing follows */
        FUZZ_CHECK(event.length <= ATT_VALUE_MAX);
        *dead = event.kind == GATT_DEAD;
        if (event.kind == GATT_DISCOVERED) {
            const uint8_t value[] = {1, 0};
            FUZZ_CHECK(gatt_client_read(client, 3) == RESULT_OK);
            FUZZ_CHECK(gatt_client_write(client, 5, value, sizeof value) == RESULT_OK);
        }
    }
    while ((length = gatt_client_next_pdu(client, pdu)) > 0)
        FUZZ_CHECK(length <= ATT_MTU_MAX);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct gatt_client client;
    struct bytes_reader reader = bytes_reader(data, size);
    struct fuzz_pdu pdu;
    uint64_t t_ms = 0;
    bool dead = false;
    gatt_client_start(&client, t_ms);
    drain(&client, &dead);
    while (fuzz_next_pdu(&reader, &pdu)) {
        t_ms += pdu.pause_ms;
        gatt_client_tick(&client, t_ms);
        drain(&client, &dead);
        gatt_client_receive(&client, t_ms, pdu.octets, pdu.length);
        fuzz_pdu_free(&pdu);
        drain(&client, &dead);
        FUZZ_CHECK(client.dropped_pdus == 0);
    }
    return 0;
}
