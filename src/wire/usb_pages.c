#include "wire/usb_pages.h"

#include "base/bytes.h"

enum page {
    PAGE_POWER = 0x10,
    PAGE_WHEEL_TORQUE = 0x11,
    PAGE_CRANK_TORQUE = 0x12,
    PAGE_BIKE = 0x15,
    PAGE_TRAINER = 0x19
};

#define NO_CADENCE       0xFFu
#define NO_POWER         0xFFFFu
#define NO_TRAINER_POWER 0xFFFu

uint16_t usb_type_period(uint8_t type)
{
    switch (type) {
    case USB_TYPE_HEART: return 8070;
    case USB_TYPE_POWER: return 8182;
    case USB_TYPE_SPEED_CADENCE: return 8086;
    case USB_TYPE_CADENCE: return 8102;
    case USB_TYPE_EQUIPMENT: return 8192;
    default: return 0;
    }
}

void usb_heart_decode(const uint8_t page[USB_PAGE_SIZE], struct usb_heart *ret)
{
    struct bytes_reader reader = bytes_reader(page + 4, USB_PAGE_SIZE - 4);

    ret->beat_t_1024 = bytes_u16(&reader);
    ret->beats = bytes_u8(&reader);
    ret->heart_bpm = bytes_u8(&reader);
}

void usb_cadence_decode(enum usb_device_type type, const uint8_t page[USB_PAGE_SIZE],
                        struct crank_count *ret)
{
    /* That of both has the crank first and then the wheel, and no number of a page. */
    struct bytes_reader reader = bytes_reader(page + (type == USB_TYPE_CADENCE ? 4 : 0), 4);

    ret->t_1024 = bytes_u16(&reader);
    ret->turns = bytes_u16(&reader);
}

static void decode_power(struct bytes_reader *reader, struct usb_power *ret)
{
    ret->events = bytes_u8(reader);
    (void)bytes_u8(reader); /* how the legs share it */
    ret->cadence_rpm = bytes_u8(reader);
    ret->sum_w = bytes_u16(reader);
    ret->power_w = bytes_u16(reader);
    ret->has_power = ret->has_sum = true;
}

static void decode_trainer(struct bytes_reader *reader, struct usb_power *ret)
{
    ret->events = bytes_u8(reader);
    ret->cadence_rpm = bytes_u8(reader);
    ret->sum_w = bytes_u16(reader);
    ret->power_w = bytes_u16(reader) & NO_TRAINER_POWER; /* its status above that */
    ret->has_power = ret->has_sum = ret->power_w != NO_TRAINER_POWER;
}

/* Device profile "Fitness Equipment" 4.1, 6.6.3, as public decoders quote it. */
static void decode_bike(struct bytes_reader *reader, struct usb_power *ret)
{
    (void)bytes_u24(reader); /* reserved */
    ret->cadence_rpm = bytes_u8(reader);
    ret->power_w = bytes_u16(reader);
    ret->has_power = ret->power_w != NO_POWER;
}

enum result usb_power_decode(enum usb_device_type type, const uint8_t page[USB_PAGE_SIZE],
                             struct usb_power *ret)
{
    struct bytes_reader reader = bytes_reader(page, USB_PAGE_SIZE);
    const uint8_t number = bytes_u8(&reader);

    *ret = (struct usb_power){0};
    if (type == USB_TYPE_POWER && number == PAGE_POWER)
        decode_power(&reader, ret);
    else if (type == USB_TYPE_EQUIPMENT && number == PAGE_TRAINER)
        decode_trainer(&reader, ret);
    else if (type == USB_TYPE_EQUIPMENT && number == PAGE_BIKE)
        decode_bike(&reader, ret);
    else
        return RESULT_UNSUPPORTED;
    ret->has_cadence = ret->cadence_rpm != NO_CADENCE;
    return RESULT_OK;
}

enum result usb_torque_decode(const uint8_t page[USB_PAGE_SIZE], struct usb_torque *ret)
{
    struct bytes_reader reader = bytes_reader(page, USB_PAGE_SIZE);
    const uint8_t number = bytes_u8(&reader);

    if (number != PAGE_WHEEL_TORQUE && number != PAGE_CRANK_TORQUE)
        return RESULT_UNSUPPORTED;
    *ret = (struct usb_torque){.is_crank = number == PAGE_CRANK_TORQUE};
    ret->events = bytes_u8(&reader);
    ret->turns = bytes_u8(&reader);
    ret->cadence_rpm = bytes_u8(&reader);
    ret->period_2048 = bytes_u16(&reader);
    ret->torque_32 = bytes_u16(&reader);
    ret->has_cadence = ret->cadence_rpm != NO_CADENCE;
    return RESULT_OK;
}
