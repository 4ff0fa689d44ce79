#include "usb_key.h"

#include <limits.h>

#include "app/command.h"

void usb_key_complain(const char *behind)
{
    char path[PATH_MAX] = "the settings file";

    (void)!config_path("rider", path, sizeof path);
    complain("sensors on USB need the network key of their makers, who license it; where you have "
             "it, 'afterset rider usb-network-key 0123456789ABCDEF' keeps it in %s%s",
             path, behind);
}

void usb_key_put(uint64_t key, uint8_t ret[USB_KEY_SIZE])
{
    for (size_t i = USB_KEY_SIZE; i-- > 0; key >>= 8)
        ret[i] = (uint8_t)key;
}
