/*
 * Critical power out of the rider's own best efforts.
 */
#ifndef APP_OWN_POWER_H
#define APP_OWN_POWER_H

/* Two lines on stdout, after leg work and fresh: what the last rides come to, or why nothing. Says
 * nothing when no ride is remembered. */
void print_own_power(void);

#endif
