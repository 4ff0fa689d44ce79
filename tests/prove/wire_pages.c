/* Pages of sensors of any kind and content. */
#include "unknown.h"
#include "wire/usb_effort.h"
#include "wire/usb_trainer.h"

static uint8_t page[USB_PAGE_SIZE];

static enum usb_device_type any_type(void)
{
    const enum usb_device_type types[] = {USB_TYPE_POWER, USB_TYPE_EQUIPMENT, USB_TYPE_HEART,
                                          USB_TYPE_SPEED_CADENCE, USB_TYPE_CADENCE};

    return types[any_int(0, sizeof types / sizeof types[0] - 1)];
}

/* Of one sensor: its type stays. */
static void take_pages(void)
{
    struct usb_effort effort = {0};
    struct usb_pulse pulse = {0};
    struct sensor_effort told;
    const enum usb_device_type type = any_type();
    uint16_t bpm;

    while (any_bool()) {
        const uint64_t t_ms = any_u64();
        MAKE_UNKNOWN(page);
        usb_effort_take(&effort, type, t_ms, page, &told);
        usb_pulse_take(&pulse, t_ms, page, &bpm);
    }
}

/* Of equipment with control, and what it is told. */
static void talk_with_trainer(void)
{
    struct usb_general general;
    struct usb_capabilities able;
    struct usb_command_status status;
    struct usb_command command;
    struct usb_trainer trainer;
    uint8_t frame[USB_FRAME_MAX];

    MAKE_UNKNOWN(page);
    (void)!usb_general_decode(page, &general);
    (void)!usb_capabilities_decode(page, &able);
    (void)!usb_command_status_decode(page, &status);
    MAKE_UNKNOWN(command);
    usb_command_encode(&command, page);
    usb_request_encode(USB_PAGE_CAPABILITIES, page);
    usb_trainer_start(&trainer, (uint8_t)any_int(0, UINT8_MAX), any_u64());
    usb_trainer_encode(&trainer, &command, frame);
}

int main(void)
{
    usb_type_period((uint8_t)any_int(0, UINT8_MAX));
    take_pages();
    talk_with_trainer();
    return 0;
}
