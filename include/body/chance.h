/*
 * How likely it is that chance alone stays below a value: the distribution functions, 0 to 1, that
 * what is told from noise goes by.
 */
#ifndef BODY_CHANCE_H
#define BODY_CHANCE_H

#include <stdint.h>

/* The normal one. */
double chance_normal(double z);
/* Student's. Source: Abramowitz & Stegun 1964, 26.7.3 and 26.7.4; freedom from 1 on. */
double chance_student(double t, uint32_t freedom);

#endif
