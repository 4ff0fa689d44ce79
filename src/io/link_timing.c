#include "io/link_timing.h"

#include <unistd.h>

#include "io/mgmt.h"

/* 15 to 30 ms, every interval listened to, 4 s (common practice for a sensor whose readings must be
 * fresh; the limits of all three are in "Bluetooth Management API", Load Connection Parameters). */
enum { INTERVAL_MIN_1250US = 12, INTERVAL_MAX_1250US = 24, LATENCY = 0, TIMEOUT_10MS = 400 };

enum { ANSWER_WAIT_MS = 500 }; /* the kernel answers at once */

static enum result set_on(int fd, uint16_t index, const struct device_address *device)
{
    const struct mgmt_connection connection = {*device, INTERVAL_MIN_1250US, INTERVAL_MAX_1250US,
                                               LATENCY, TIMEOUT_10MS};
    uint8_t command[MGMT_COMMAND_MAX], frame[MGMT_FRAME_MAX];
    struct mgmt_event answer;
    const size_t length = mgmt_encode_connection(index, &connection, command);
    const enum result result = mgmt_ask(fd, command, length, ANSWER_WAIT_MS, frame, &answer);

    if (result == RESULT_OK && answer.status == MGMT_PERMISSION_DENIED)
        return RESULT_REFUSED;
    return result;
}

static enum result set_types(int fd, uint16_t index, const struct device_address *device)
{
    struct device_address one = *device;

    if (device->type != ADDRESS_NONE)
        return set_on(fd, index, device);
    one.type = ADDRESS_PUBLIC;
    const enum result result = set_on(fd, index, &one);
    one.type = ADDRESS_RANDOM;
    return result == RESULT_OK ? set_on(fd, index, &one) : result;
}

enum result link_timing_set_on(int mgmt, const struct device_address *device)
{
    struct mgmt_indexes indexes;
    enum result result = mgmt_read_indexes(mgmt, &indexes);

    for (size_t i = 0; result == RESULT_OK && i < indexes.count; i++)
        result = set_types(mgmt, indexes.list[i], device);
    return result;
}

enum result link_timing_set(const struct device_address *device)
{
    const int fd = mgmt_open();

    if (fd < 0)
        return RESULT_IO;
    const enum result result = link_timing_set_on(fd, device);
    (void)close(fd);
    return result;
}
