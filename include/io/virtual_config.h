/*
 * Machine and rider files of the virtual bike: a key and its value on each line, `#` begins a
 * comment. Every number carries its unit. What a file does not say stays as `ret` had it, so a
 * personality says only where it differs from the built-in machine or rider.
 */
#ifndef IO_VIRTUAL_CONFIG_H
#define IO_VIRTUAL_CONFIG_H

#include <stddef.h>

#include "base/result.h"
#include "io/virtual_machine.h"
#include "io/virtual_rider.h"
#include "text/lines.h"

#define VIRTUAL_CONFIG_FILE_MAX 65536u /* octets; for whoever reads the file */

/* RESULT_INVALID with the first fault: unknown or repeated key, not a value of its kind, outside
 * its limits. `ret` is unchanged then. */
MUST_USE enum result virtual_machine_read(const char *text, size_t length,
                                          struct virtual_machine_config *ret,
                                          struct text_fault *ret_fault);
MUST_USE enum result virtual_rider_read(const char *text, size_t length,
                                        struct virtual_rider_config *ret,
                                        struct text_fault *ret_fault);

/* The built-in ones: tests/machines/power.machine and tests/riders/steady.rider. */
struct virtual_machine_config virtual_machine_default(void);
struct virtual_rider_config virtual_rider_default(void);

#endif
