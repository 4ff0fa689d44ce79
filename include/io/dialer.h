/*
 * Opens a link to an address and goes on trying, with pauses of 1, 2 and then 4 s, until it stands
 * or the limit is reached. A Bluetooth device is listened for 10 s; one that was not heard is
 * called again a second later. What it is asked to dial again after `closed` it dials again.
 *
 * The dialer is itself the link that its user sends on: the one underneath may come and go. It also
 * encrypts the link and repeats the request when the peer asks for that.
 *
 * A capture gives its recorded links one after the other.
 *
 * A Bluetooth address of unknown type is tried as both, in turns, until something is heard.
 */
#ifndef IO_DIALER_H
#define IO_DIALER_H

#include "io/link_address.h"
#include "io/loop.h"
#include "io/recording.h"
#include "port/link.h"
#include "wire/att_security.h"

/* Zero it, set what is marked, then dialer_dial(). It must not move while it is in use. */
struct dialer {
    struct link link;  /* send on it; closing it hangs up and keeps the dialer */
    struct loop *loop; /* set */
    struct link_address
        address; /* set; filled in: its type, and the address it keeps, once known */
    struct device_address adapter; /* may be set: the one of ours; type NONE: any */
    struct recording *recording;   /* set for LINK_ADDRESS_CAPTURE; borrowed */
    /* set; `closed` comes after `opened` when the link is lost, or without it when the limit is
     * reached, with the words of the last failure. Either ends with another dialer_dial(). */
    struct link_user user;
    /* may be set: another try begins, as the one before failed for a reason not told yet */
    void (*retrying)(void *user, const char *why);

    /* inside */
    struct link *line; /* the link underneath; NULL: none */
    bool is_open, is_other_type;
    int timer; /* until the next try, or until the end is told */
    uint64_t until_ms, pause_ms;
    const char *problem, *told;
    unsigned useless;  /* links in a row that were dialled later */
    unsigned refusals; /* in a row, of a device that is to be paired */
    struct att_security security;
    char pairing[320]; /* words with the address in them */
};

/* Begins to dial, at once. The limit counts from now; 0: one try only. */
void dialer_dial(struct dialer *dialer, uint64_t limit_ms);
/* The same after a link that was dialled and was of no use, in words that `retrying` is told where
 * it is the second in a row, or the rider is needed: only after a pause of 3 s, than which the
 * limit is longer. */
void dialer_dial_later(struct dialer *dialer, uint64_t limit_ms, const char *why);
/* Whether the device wanted to be paired each of the last two times, so that calling it once more
 * is of no use before it is. A link that did not open is not dialled a third time then. */
bool dialer_is_refused(const struct dialer *dialer);
/* Nothing is told afterwards. Harmless on a zeroed one. */
void dialer_hang_up(struct dialer *dialer);
/* Why the last try failed, in words for the rider that last as long as the dialer; NULL while none
 * has. Right after dialer_dial() it tells of what fails at once and needs the rider: no adapter, no
 * socket. */
const char *dialer_problem(const struct dialer *dialer);
/* Whether the program at the other end is this very one: then it is the virtual bike, or a recorded
 * one. Nobody sits on either. */
bool dialer_reached_ourselves(const struct dialer *dialer);

#endif
