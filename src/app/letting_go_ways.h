/*
 * The inside of letting_go(): what it is for each kind of machine.
 */
#ifndef LETTING_GO_WAYS_H
#define LETTING_GO_WAYS_H

#include "letting_go.h"

/* A fitness machine at the other end of a socket. */
bool letting_go_att(int fd, const struct letting_go *it);
/* A trainer that an ANT receiver on USB speaks with. There is no stop. */
bool letting_go_usb(int fd, const struct letting_go *it);

#endif
