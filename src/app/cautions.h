/*
 * The cautions before the first ride.
 */
#ifndef APP_CAUTIONS_H
#define APP_CAUTIONS_H

#include "text/settings.h"

/* True when they were accepted before, or by the option, or are now. Acceptance is saved. Without a
 * terminal nobody can be asked: complains, false. */
bool cautions_accepted(struct settings *settings, bool by_option);

#endif
