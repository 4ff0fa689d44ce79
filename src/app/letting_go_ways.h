/*
 * The inside of letting_go(): what it is for each kind of machine.
 */
#ifndef LETTING_GO_WAYS_H
#define LETTING_GO_WAYS_H

#include "letting_go.h"

bool letting_go_ftms(int fd, const struct letting_go *it);
bool letting_go_trainer(int fd, const struct letting_go *it);

#endif
