/* What the parts of the virtual bike know of each other. */
#ifndef SRC_IO_VIRTUAL_BIKE_PARTS_H
#define SRC_IO_VIRTUAL_BIKE_PARTS_H

#include "io/virtual_bike.h"

enum virtual_training { VIRTUAL_IDLE = 0x01, VIRTUAL_WATT_CONTROL = 0x0C, VIRTUAL_MANUAL = 0x0D };

/* Fills the attribute table. The strings and ranges of `config` are pointed to, not copied. */
void virtual_table_fill(struct virtual_table *table, const struct virtual_machine_config *config);

/* Milliseconds since the first connect. */
uint32_t virtual_ride_ms(const struct virtual_bike *bike);
/* Sends it unless the machine is silent or does something worse. */
void virtual_notify(struct virtual_bike *bike, uint16_t handle, const uint8_t *value,
                    size_t length);

/* Forgets the central: control, procedures, load. */
void virtual_control_forget(struct virtual_bike *bike);
/* The central has the answer. */
void virtual_control_confirmed(struct virtual_bike *bike);
void virtual_control_written(struct virtual_bike *bike, const struct gatt_server_event *event);
/* Once for each step of the ride: what happens at the console, answers that are due. */
void virtual_control_step(struct virtual_bike *bike);
/* When one of those is due; VIRTUAL_BIKE_NEVER when none is. */
uint64_t virtual_control_next_ms(const struct virtual_bike *bike);

#endif
