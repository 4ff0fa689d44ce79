#include "text/devices.h"

#include <string.h>

#include "text/utf8.h"

static bool find_kind(struct text_word word, enum device_kind *ret)
{
    for (enum device_kind kind = DEVICE_MACHINE; kind < DEVICE_KIND_COUNT; kind++) {
        if (text_word_is(word, device_kind_name(kind))) {
            *ret = kind;
            return true;
        }
    }
    return false;
}

static bool read_type(struct text_word word, enum address_type *ret)
{
    for (enum address_type type = ADDRESS_PUBLIC; type <= ADDRESS_RANDOM; type++) {
        if (text_word_is(word, address_type_name(type))) {
            *ret = type;
            return true;
        }
    }
    return false;
}

static bool read_address(struct text_lines *lines, struct device_address *ret,
                         struct text_fault *ret_fault)
{
    struct text_word word = text_lines_word(lines);

    if (device_address_read_usb(word.text, word.length, ret))
        return true;
    if (!device_address_read(word.text, word.length, ret)) {
        text_fault_word(ret_fault, word, "an address such as F0:AA:1B:01:00:01, or usb:12345");
        return false;
    }
    word = text_lines_word(lines);
    if (!read_type(word, &ret->type)) {
        text_fault_word(ret_fault, word, "public or random");
        return false;
    }
    return true;
}

static enum result read_device(struct text_lines *lines, struct devices *devices,
                               struct text_fault *ret_fault)
{
    struct device device = {0};
    enum device_kind kind;
    struct text_word word = text_lines_word(lines);
    if (!find_kind(word, &kind)) {
        text_fault_word(ret_fault, word, "machine, strap, power or cadence");
        return RESULT_INVALID;
    }
    if (devices->list[kind].address.type != ADDRESS_NONE) {
        text_fault_at(ret_fault, word, "each kind once", "it a second time");
        return RESULT_INVALID;
    }
    if (!read_address(lines, &device.address, ret_fault))
        return RESULT_INVALID;
    word = text_lines_rest(lines);
    device_name_from(word.text, word.length, device.name);
    devices->list[kind] = device;
    return RESULT_OK;
}

enum result devices_read(const char *text, size_t length, struct devices *ret,
                         struct text_fault *ret_fault)
{
    struct text_lines lines;
    struct devices devices = {0};
    enum result result = text_lines_open(text, length, &lines, ret_fault);
    while (result == RESULT_OK && text_lines_next(&lines))
        result = read_device(&lines, &devices, ret_fault);
    if (result == RESULT_OK)
        *ret = devices;
    return result;
}

static void put_name(struct text_writer *writer, const char *name)
{
    text_put(writer, name[0] != '\0' ? " " : "");
    for (; *name != '\0'; name++)
        text_put_part(writer, *name == '#' ? "?" : name, 1);
}

enum result devices_write(const struct devices *devices, char *ret, size_t size)
{
    struct text_writer writer = text_writer(ret, size);
    text_put(&writer, "# Written by afterset scan --keep; may be edited by hand.\n");
    for (enum device_kind kind = DEVICE_MACHINE; kind < DEVICE_KIND_COUNT; kind++) {
        const struct device *device = &devices->list[kind];
        if (device->address.type == ADDRESS_NONE)
            continue;
        text_put(&writer, device_kind_name(kind));
        text_put_char(&writer, ' ');
        device_address_put(&writer, &device->address);
        if (device->address.type != ADDRESS_USB) {
            text_put_char(&writer, ' ');
            text_put(&writer, address_type_name(device->address.type));
        }
        put_name(&writer, device->name);
        text_put_char(&writer, '\n');
    }
    return writer.failed ? RESULT_FULL : RESULT_OK;
}

void device_label(const struct device *device, char *ret)
{
    struct text_writer writer = text_writer(ret, DEVICE_NAME_SIZE);
    if (device->address.type != ADDRESS_USB && device->name[0] != '\0')
        text_put(&writer, device->name);
    else
        device_address_put(&writer, &device->address);
}

/* Some devices pad their names with NULs. */
static bool is_padding(char octet)
{
    return octet == ' ' || octet == '\0' || octet == '\t';
}

void device_name_from(const char *octets, size_t length, char *ret)
{
    struct text_writer writer = text_writer(ret, DEVICE_NAME_SIZE);
    while (length > 0 && is_padding(octets[0])) {
        octets++;
        length--;
    }
    while (length > 0 && is_padding(octets[length - 1]))
        length--;
    for (size_t at = 0; at < length && !writer.failed;) {
        size_t character = utf8_character(octets + at, length - at);
        if (character > 0 && octets[at] != '\t')
            text_put_part(&writer, octets + at, character);
        else
            text_put_char(&writer, '?');
        at += character > 0 ? character : 1;
    }
}
