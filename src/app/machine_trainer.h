/*
 * A bike or trainer on ANT, over a link that carries the messages of one channel of a receiver
 * (app/usb_peer).
 *
 * Fitness equipment knows no control that is asked for and granted, no start and no stop: whoever
 * tells it a load is obeyed. So nothing is sent for those, and each is answered at once with what
 * is true: control is had where it takes loads at all, and it has started, and stopped, already.
 *
 * What releases it is a resistance of 0 %, which asks nothing of the brake at any cadence. A target
 * of 0 W is left to the machine's own regulation, which may hold a least power and needs turning
 * legs to come down to it; it is for one that takes nothing else.
 *
 * Levels are per cent of the most that it brakes with, and end where they would add more than those
 * of a bike.
 */
#ifndef APP_MACHINE_TRAINER_H
#define APP_MACHINE_TRAINER_H

#include "machine_protocol.h"
#include "wire/usb_receiver.h"
#include "wire/usb_trainer.h"

struct machine_trainer {
    struct usb_trainer client;
    struct usb_capabilities able; /* lasts over links: it is the same trainer, by its number */
    struct load last_load;        /* what was commanded, and what it became */
    struct usb_command last;
    enum machine_command due; /* to be answered; COMMAND_NONE: none is */
};

extern const struct machine_protocol machine_trainer;

#endif
