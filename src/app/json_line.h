/*
 * What programs read: JSON objects on stdout, one a line.
 */
#ifndef APP_JSON_LINE_H
#define APP_JSON_LINE_H

#include <jansson.h>
#include <stdbool.h>

#include "base/result.h"

/* Takes the object over. False, and nothing is printed: no memory, for which NULL is one sign. */
MUST_USE bool json_line_print(json_t *object);

#endif
