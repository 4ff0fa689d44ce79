/*
 * A peer may refuse a request until the link is encrypted. This notices it and keeps the request,
 * so that whoever owns the link can encrypt it and ask once more without the client's knowing.
 *
 * Once a link: a peer that refuses an encrypted request means it. Bluetooth Core, Vol 3 Part F
 * 3.4.1.1, as BlueZ's src/shared/att.c does it.
 */
#ifndef WIRE_ATT_SECURITY_H
#define WIRE_ATT_SECURITY_H

#include <stdbool.h>

#include "wire/att.h"

/* Zeroed: a new link. */
struct att_security {
    uint8_t request[ATT_MTU_MAX]; /* the last that was sent */
    size_t length;                /* 0: it was answered */
    bool was_asked;
};

void att_security_sent(struct att_security *security, const uint8_t *pdu, size_t length);
/* For every PDU that arrives. True: encrypt the link and send `request` again, and keep this PDU
 * from the client. */
bool att_security_is_asked(struct att_security *security, const uint8_t *pdu, size_t length);

#endif
