#include "letting_go.h"

#include "letting_go_ways.h"

bool letting_go(int fd, const struct letting_go *it)
{
    return it->way.is_usb ? letting_go_usb(fd, it) : letting_go_att(fd, it);
}
