/*
 * What becomes of a ride's links that are lost: who is called again, and when.
 */
#ifndef APP_RIDE_LINKS_AGAIN_H
#define APP_RIDE_LINKS_AGAIN_H

#include "ride_links.h"

/* Before any link is opened: what is spoken with the machine, and who is asked when a link is lost.
 */
void ride_links_set_up_calls(struct ride_links *links, const struct ride_options *options);

/* The link, or the capture before it. */
struct link *ride_links_tapped(struct capture_tap *tap, struct link *link);

#endif
