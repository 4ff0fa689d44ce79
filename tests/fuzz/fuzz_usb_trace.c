/* A capture of what goes over USB: what is a transfer lies within the file. */
#include "fuzz.h"
#include "wire/usb_trace.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct usb_trace_reader reader;
    struct usb_trace_record record;
    size_t transfers = 0;

    if (usb_trace_open(data, size, &reader) != RESULT_OK)
        return 0;
    while (usb_trace_next(&reader, &record) == RESULT_OK) {
        if (!record.is_transfer)
            continue;
        transfers++;
        FUZZ_CHECK(record.length > 0 && record.time_us >= 0);
        FUZZ_CHECK(record.octets > data && record.octets + record.length <= data + size);
    }
    FUZZ_CHECK(transfers * USB_TRACE_LEAST_OCTETS <= size);
    return 0;
}
