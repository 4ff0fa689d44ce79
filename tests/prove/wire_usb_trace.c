/* Captures of a receiver on USB: every record of every file, and the records that we write.
 * Eva: -eva-precision 4 -eva-plevel 100000 -eva-split-return full */
#include "unknown.h"
#include "wire/usb_trace.h"

enum { FILE_MAX = 4096 };

static uint8_t captured[FILE_MAX];

static void read_file(void)
{
    struct usb_trace_reader reader;
    struct usb_trace_record record;

    if (usb_trace_open(captured, any_size(sizeof captured), &reader) != RESULT_OK)
        return;
    while (usb_trace_next(&reader, &record) == RESULT_OK) {
        /*@ assert !record.is_transfer || \valid_read(record.octets + (0 .. record.length - 1)); */
    }
}

static void write_file(void)
{
    uint8_t record[USB_TRACE_RECORD_MAX];
    struct bytes_writer writer = bytes_writer(record, sizeof record);

    usb_trace_put_header(&writer);
    writer = bytes_writer(record, sizeof record);
    usb_trace_put(&writer, Frama_C_long_interval(0, INT64_MAX), any_bool(), captured,
                  any_size(USB_TRACE_DATA_MAX));
}

int main(void)
{
    MAKE_UNKNOWN(captured);
    read_file();
    write_file();
    return 0;
}
