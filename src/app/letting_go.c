#include "letting_go.h"

#include "letting_go_ways.h"

bool letting_go(int fd, const struct letting_go *it)
{
    return it->kind == LETTING_GO_TRAINER ? letting_go_trainer(fd, it) : letting_go_ftms(fd, it);
}
