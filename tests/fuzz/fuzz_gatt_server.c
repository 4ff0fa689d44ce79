/* What a central may say to the virtual bike: a conversation against the attribute server, its
 * table, and the machine behind it. */
#include "fuzz.h"
#include "io/virtual_bike.h"
#include "io/virtual_config.h"

static void drain(struct virtual_bike *bike)
{
    uint8_t pdu[ATT_MTU_MAX];
    size_t length;
    while ((length = virtual_bike_next_pdu(bike, pdu)) > 0)
        FUZZ_CHECK(length <= gatt_server_mtu(&bike->server));
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct virtual_bike bike;
    struct virtual_machine_config machine = virtual_machine_default();
    const struct virtual_rider_config rider = virtual_rider_default();
    struct bytes_reader reader = bytes_reader(data, size);
    struct fuzz_pdu pdu;
    uint64_t t_ms = 0;
    machine.has_strap = machine.takes_level = true;
    FUZZ_CHECK(virtual_bike_init(&bike, &machine, &rider, 1) == RESULT_OK);
    virtual_bike_connect(&bike, t_ms);
    while (fuzz_next_pdu(&reader, &pdu)) {
        t_ms += pdu.pause_ms;
        virtual_bike_advance(&bike, t_ms);
        drain(&bike);
        virtual_bike_receive(&bike, t_ms, pdu.octets, pdu.length);
        drain(&bike);
        fuzz_pdu_free(&pdu);
        FUZZ_CHECK(bike.server.dropped_pdus == 0);
        if (bike.machine.load == VIRTUAL_LOAD_POWER)
            FUZZ_CHECK(bike.control.granted && bike.machine.load_value >= machine.power_w.minimum &&
                       bike.machine.load_value <= machine.power_w.maximum);
    }
    return 0;
}
