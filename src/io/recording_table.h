/*
 * The attributes of a recorded peer, as far as the recorded answers tell of them.
 */
#ifndef RECORDING_TABLE_H
#define RECORDING_TABLE_H

#include "io/recording.h"

/* Fills the attributes, so that gatt_server_init() takes them. */
void recording_learn_table(struct recording *recording);

#endif
