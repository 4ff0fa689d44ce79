/* Frames of the Bluetooth management socket, and what the answers in them hold. */
#include <string.h>

#include "fuzz.h"
#include "wire/mgmt_frame.h"

static void read_answers(const uint8_t *data, size_t length)
{
    struct mgmt_indexes indexes;
    struct mgmt_info info;
    if (mgmt_indexes_decode(data, length, &indexes) == RESULT_OK)
        FUZZ_CHECK(indexes.count <= MGMT_INDEXES_MAX && indexes.count * 2 + 2 <= length);
    if (mgmt_info_decode(data, length, &info) == RESULT_OK)
        FUZZ_CHECK(memchr(info.name, 0, sizeof info.name) != NULL);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct mgmt_event event;
    if (mgmt_event_decode(data, size, &event) != RESULT_OK)
        return 0;
    FUZZ_CHECK(size >= MGMT_HEADER_OCTETS);
    if (event.length > 0)
        FUZZ_CHECK(event.data >= data && event.length <= (size_t)(data + size - event.data));
    if (event.code == MGMT_COMMAND_COMPLETE)
        read_answers(event.data, event.length);
    (void)mgmt_event_answers(&event, MGMT_READ_INFO, event.index);
    return 0;
}
