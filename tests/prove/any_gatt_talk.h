/*
 * What the clients of services hear of the air, whatever is said there. They reach a GATT client
 * through its calls alone, and wire_gatt_client shows of each call, from any state that
 * make_any_gatt_client() makes, that it does nothing wrong and ends in such a state again. So here
 * a call that takes something in leaves any of them, with any events in it: gatt_client_receive.c
 * is left out, and these two stand in for it. All else is the real one, but for the sending, which
 * has nothing to do with services: what it may touch is believed.
 */
#ifndef PROVE_ANY_GATT_TALK_H
#define PROVE_ANY_GATT_TALK_H

#include "any_gatt_client.h"

/*@ requires \valid(ret + (0 .. ATT_MTU_MAX - 1));
    assigns *client \from indirect:*client;
    assigns ret[0 .. ATT_MTU_MAX - 1] \from indirect:*client;
    assigns \result \from indirect:*client;
*/
size_t gatt_client_next_pdu(struct gatt_client *client, uint8_t *ret);

void gatt_client_tick(struct gatt_client *client, uint64_t t_ms)
{
    (void)t_ms;
    make_any_gatt_client(client, client->earlier);
}

void gatt_client_receive(struct gatt_client *client, uint64_t t_ms, const uint8_t *pdu,
                         size_t length)
{
    /*@ assert \valid_read(pdu + (0 .. length - 1)); */
    (void)pdu;
    (void)length;
    gatt_client_tick(client, t_ms);
}

/* Why something failed, if it did. */
static inline const char *any_reason(void)
{
    return any_bool() ? "it failed" : NULL;
}

#endif
