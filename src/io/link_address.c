#include "io/link_address.h"

#include <string.h>

enum { ADDRESS_TEXT_LENGTH = 3 * ADDRESS_OCTETS - 1 };

static bool read_type(const char *text, enum address_type *ret)
{
    if (text[0] == '\0')
        *ret = ADDRESS_NONE;
    else if (strcmp(text, "/public") == 0)
        *ret = ADDRESS_PUBLIC;
    else if (strcmp(text, "/random") == 0)
        *ret = ADDRESS_RANDOM;
    else
        return false;
    return true;
}

static bool read_path(const char *text, const char *head, enum link_address_kind kind,
                      struct link_address *ret)
{
    const size_t length = strlen(head);

    if (strncmp(text, head, length) != 0 || text[length] == '\0')
        return false;
    *ret = (struct link_address){.kind = kind, .path = text + length};
    return true;
}

/* "1-2.3": a bus and the ports on the way, numbers with one separator between. */
static bool is_place(const char *text)
{
    const size_t bus = strspn(text, "0123456789");
    const char *rest = text + bus;

    if (bus == 0 || *rest != '-')
        return false;
    do {
        const size_t port = strspn(++rest, "0123456789");
        if (port == 0)
            return false;
        rest += port;
    } while (*rest == '.');
    return *rest == '\0';
}

static bool read_usb(const char *text, struct link_address *ret)
{
    struct link_address address = {.kind = LINK_ADDRESS_USB};
    const char *at = strchr(text, '@');
    const size_t length = at != NULL ? (size_t)(at - text) : strlen(text);

    if (!device_address_read_usb(text, length, &address.device) || (at != NULL && at[1] == '\0'))
        return false;
    if (at != NULL && is_place(at + 1))
        address.place = at + 1;
    else if (at != NULL)
        address.path = at + 1;
    *ret = address;
    return true;
}

bool link_address_read(const char *text, struct link_address *ret)
{
    struct link_address address = {.kind = LINK_ADDRESS_BLUETOOTH};

    if (read_path(text, "unix:", LINK_ADDRESS_UNIX, ret) ||
        read_path(text, "capture:", LINK_ADDRESS_CAPTURE, ret) || read_usb(text, ret))
        return true;
    if (strlen(text) < ADDRESS_TEXT_LENGTH ||
        !device_address_read(text, ADDRESS_TEXT_LENGTH, &address.device) ||
        !read_type(text + ADDRESS_TEXT_LENGTH, &address.device.type))
        return false;
    *ret = address;
    return true;
}

enum address_type address_type_likelier(const struct device_address *address)
{
    return address->octets[ADDRESS_OCTETS - 1] >= 0xC0 ? ADDRESS_RANDOM : ADDRESS_PUBLIC;
}
