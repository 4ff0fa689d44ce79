/*
 * The rider's file, in the configuration folder.
 */
#ifndef APP_SETTINGS_FILE_H
#define APP_SETTINGS_FILE_H

#include <stdbool.h>

#include "text/settings.h"

/* No file yet is no fault: nothing is known of the rider then. Complains and gives false when there
 * is one that cannot be read or understood; the file stays as it is. */
bool load_settings(struct settings *ret);

/* Whole or not at all, also when the power fails: the old file stays until the new one is on disk.
 * For the owner's eyes only. Complains and gives false on failure. */
bool save_settings(const struct settings *settings);

#endif
