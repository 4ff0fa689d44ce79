/*
 * Machine and rider files of the virtual bike, read for the commands that take them.
 */
#ifndef APP_VIRTUAL_FILES_H
#define APP_VIRTUAL_FILES_H

#include "io/virtual_bike_serve.h"
#include "io/virtual_config.h"

/* What the file says on top of what `ret` holds; a path of NULL leaves it. Complains and gives
 * false when the file is faulty. */
bool load_virtual_machine(const char *path, struct virtual_machine_config *ret);
bool load_virtual_rider(const char *path, struct virtual_rider_config *ret);

#endif
