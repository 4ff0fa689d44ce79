#include "json_line.h"

#include <stdio.h>
#include <stdlib.h>

bool json_line_print(json_t *object)
{
    char *line = object != NULL ? json_dumps(object, JSON_COMPACT) : NULL;

    json_decref(object);
    if (line == NULL)
        return false;
    puts(line);
    free(line);
    return true;
}
