/* Every frame of the management socket and every report of the air, and what we send of either. */
#include "unknown.h"
#include "wire/advertisement.h"
#include "wire/mgmt_frame.h"
#include "wire/peripheral_data.h"

enum { REPORT_MAX = UINT8_MAX, NAME_SIZE = 64 };

static uint8_t frame[MGMT_FRAME_MAX];

static void take_mgmt(void)
{
    struct mgmt_event event;
    struct mgmt_indexes indexes;
    struct mgmt_info info;
    uint8_t version;
    uint16_t revision;

    if (mgmt_event_decode(frame, any_size(sizeof frame), &event) == RESULT_OK)
        mgmt_event_answers(&event, (enum mgmt_command)any_int(0, UINT16_MAX), 0);
    (void)mgmt_version_decode(frame, any_size(sizeof frame), &version, &revision);
    (void)mgmt_indexes_decode(frame, any_size(sizeof frame), &indexes);
    (void)mgmt_info_decode(frame, any_size(sizeof frame), &info);
}

static void send_mgmt(void)
{
    const uint16_t number = (uint16_t)any_int(0, UINT16_MAX);
    const uint8_t octet = (uint8_t)any_int(0, UINT8_MAX);
    struct device_address address;
    uint8_t sent[MGMT_COMMAND_MAX];

    MAKE_UNKNOWN(address);
    const struct mgmt_connection connection = {address, number, number, number, number};
    const struct mgmt_advertising advertising = {octet, any_u32(), octet, octet, frame, frame};

    mgmt_encode(MGMT_READ_INFO, number, sent);
    mgmt_encode_octet(MGMT_SET_LE, number, octet, sent);
    mgmt_encode_address(MGMT_DISCONNECT, number, &address, sent);
    mgmt_encode_connection(number, &connection, sent);
    mgmt_encode_advertising(number, &advertising, sent);
}

static void take_reports(void)
{
    struct advertisement known = {0};

    while (any_bool())
        advertisement_read(&known, frame, any_size(REPORT_MAX));
}

static void advertise(void)
{
    uint8_t sent[PERIPHERAL_DATA_MAX];
    char name[NAME_SIZE];

    MAKE_UNKNOWN(name);
    name[NAME_SIZE - 1] = '\0';
    peripheral_data_encode(any_u32(), sent);
    peripheral_response_encode(name, sent);
}

int main(void)
{
    MAKE_UNKNOWN(frame);
    take_mgmt();
    send_mgmt();
    take_reports();
    advertise();
    return 0;
}
