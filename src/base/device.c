#include "base/device.h"

#include <string.h>

bool device_address_is(const struct device_address *a, const struct device_address *b)
{
    return a->type == b->type && memcmp(a->octets, b->octets, sizeof a->octets) == 0;
}

bool device_address_changes(const struct device_address *address)
{
    return address->type == ADDRESS_RANDOM && address->octets[ADDRESS_OCTETS - 1] < 0x80;
}

static void put_usb(struct text_writer *writer, uint16_t number)
{
    text_put(writer, number != 0 ? "usb:" : "usb");
    if (number != 0)
        text_put_unsigned(writer, number);
}

void device_address_put(struct text_writer *writer, const struct device_address *address)
{
    static const char digits[] = "0123456789ABCDEF";

    if (address->type == ADDRESS_USB) {
        put_usb(writer, device_address_usb(address));
        return;
    }
    for (size_t i = ADDRESS_OCTETS; i-- > 0;) {
        text_put_char(writer, digits[address->octets[i] >> 4]);
        text_put_char(writer, digits[address->octets[i] & 0x0F]);
        text_put(writer, i > 0 ? ":" : "");
    }
}

/* 16 for what is no digit. */
static uint8_t digit_value(char digit)
{
    if (digit >= '0' && digit <= '9')
        return (uint8_t)(digit - '0');
    if (digit >= 'a' && digit <= 'f')
        return (uint8_t)(digit - 'a' + 10);
    if (digit >= 'A' && digit <= 'F')
        return (uint8_t)(digit - 'A' + 10);
    return 16;
}

bool device_address_read(const char *text, size_t length, struct device_address *ret)
{
    uint8_t octets[ADDRESS_OCTETS];
    if (length != 3 * ADDRESS_OCTETS - 1)
        return false;
    for (size_t i = 0; i < ADDRESS_OCTETS; i++) {
        const char *pair = text + 3 * i;
        uint8_t high = digit_value(pair[0]), low = digit_value(pair[1]);
        bool parted = i + 1 == ADDRESS_OCTETS || pair[2] == ':';
        if (high > 15 || low > 15 || !parted)
            return false;
        octets[ADDRESS_OCTETS - 1 - i] = (uint8_t)(high << 4 | low);
    }
    memcpy(ret->octets, octets, sizeof octets);
    return true;
}

bool device_address_read_usb(const char *text, size_t length, struct device_address *ret)
{
    static const char head[] = "usb:";
    const size_t head_length = sizeof head - 1;
    uint32_t number = 0;

    if (length < head_length - 1 || memcmp(text, head, length < head_length ? 3 : 4) != 0 ||
        length == head_length)
        return false;
    for (size_t i = head_length; i < length; i++) {
        if (text[i] < '0' || text[i] > '9' || number > UINT16_MAX)
            return false;
        number = 10 * number + (uint32_t)(text[i] - '0');
    }
    if (number > UINT16_MAX || (number == 0 && length > head_length))
        return false;
    *ret = (struct device_address){{(uint8_t)number, (uint8_t)(number >> 8)}, ADDRESS_USB};
    return true;
}

uint16_t device_address_usb(const struct device_address *address)
{
    return (uint16_t)(address->octets[0] | address->octets[1] << 8);
}

const char *device_kind_name(enum device_kind kind)
{
    switch (kind) {
    case DEVICE_MACHINE: return "machine";
    case DEVICE_STRAP: return "strap";
    case DEVICE_POWER: return "power";
    case DEVICE_CADENCE: return "cadence";
    case DEVICE_KIND_COUNT: break;
    }
    return "unknown";
}

const char *address_type_name(enum address_type type)
{
    switch (type) {
    case ADDRESS_PUBLIC: return "public";
    case ADDRESS_RANDOM: return "random";
    case ADDRESS_USB: return "usb";
    case ADDRESS_NONE: break;
    }
    return "none";
}
