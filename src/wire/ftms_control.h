/*
 * The control point of an ftms_client: which command goes out next, and what its answer means.
 */
#ifndef WIRE_FTMS_CONTROL_H
#define WIRE_FTMS_CONTROL_H

#include "wire/ftms_client.h"

void ftms_control_add(struct ftms_client *client, const struct ftms_command *command);
/* Hands the next command down to gatt_client when it may go out. */
void ftms_control_send(struct ftms_client *client);
/* A Write Response for the control point, or the error in its place. */
void ftms_control_written(struct ftms_client *client, uint64_t t_ms, uint8_t att_error);
/* An indication from the control point. */
void ftms_control_indicated(struct ftms_client *client, const uint8_t *value, size_t length);
void ftms_control_tick(struct ftms_client *client, uint64_t t_ms);

/* In ftms_client.c: hands an event to the user. */
void ftms_client_emit(struct ftms_client *client, const struct ftms_client_event *event);

#endif
