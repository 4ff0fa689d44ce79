/*
 * Remembered devices whose addresses change: found again before a ride by what they offer and their
 * name, and remembered under the address that they keep once they are paired.
 */
#ifndef APP_FIND_AGAIN_H
#define APP_FIND_AGAIN_H

#include "ride_links.h"

/* Looks for them where a ride is to call some, 8 s at most, and puts the addresses that they have
 * now into the options and the file of remembered devices. What is not found is left as it was: the
 * call that follows has words for that. */
void find_again(struct ride_options *options);
/* Behind a ride, before its links are closed: remembers what they were called by in the end. */
void find_again_keep(struct ride_options *options, const struct ride_links *links);

#endif
