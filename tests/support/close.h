/*
 * cmocka 1.1.5 compares floats only, so doubles have their own check.
 */
#ifndef SUPPORT_CLOSE_H
#define SUPPORT_CLOSE_H

#include <math.h>

/* Include cmocka.h first. */
#define assert_close(value, expected, tolerance)                                        \
    do {                                                                                \
        double close_value = (value), close_expected = (expected);                      \
        if (!(fabs(close_value - close_expected) <= (tolerance)))                       \
            fail_msg("%s is %.9g, expected %.9g", #value, close_value, close_expected); \
    } while (0)

#endif
