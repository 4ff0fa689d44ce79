#include "support/unwrap.h"

#include <string.h>

void unwrap(char *text)
{
    for (char *at = strstr(text, "\n  "); at != NULL; at = strstr(at, "\n  "))
        memmove(at, at + 2, strlen(at + 2) + 1);
}
