/*
 * What of a ride is to be heard, and where.
 */
#ifndef APP_RIDE_SOUND_H
#define APP_RIDE_SOUND_H

#include "ride_options.h"
#include "session.h"
#include "text/settings.h"

/* After the session has its output. False: see sound_open(). */
bool ride_sound_open(struct session *session, const struct ride_options *options,
                     const struct settings *settings);

#endif
