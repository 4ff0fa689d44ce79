/*
 * What goes to a control point, and how an ftms_client keeps track of it, so that the client can
 * live in its owner's memory. The command is the owner's; the rest belongs to ftms_control.c.
 */
#ifndef WIRE_FTMS_CLIENT_LAYOUT_H
#define WIRE_FTMS_CLIENT_LAYOUT_H

#include "wire/ftms.h"

struct ftms_command {
    uint8_t opcode; /* FTMS_REQUEST_CONTROL, _START_OR_RESUME, _STOP_OR_PAUSE, _SET_POWER,
                       _SET_RESISTANCE */
    int16_t value;  /* watts, tenths of a level; enum ftms_stop */
    bool now;
};

enum ftms_phase {
    FTMS_PHASE_QUEUED,   /* to be written (again) */
    FTMS_PHASE_WRITING,  /* its Write Response is awaited */
    FTMS_PHASE_PAUSING,  /* refused for now; again at repeat_at_ms */
    FTMS_PHASE_AWAITING, /* accepted; its indication is awaited */
    FTMS_PHASE_GIVEN_UP  /* nobody waits any more; it may come all the same */
};
struct ftms_procedure {
    struct ftms_command command;
    enum ftms_phase phase;
    bool was_repeated, was_resized;
    bool is_outdated; /* another load was asked for since */
    bool is_answered; /* FTMS_PHASE_WRITING: with `result`, which counts once it is written */
    uint8_t result;
    uint8_t att_error; /* with which it was refused last */
    uint64_t repeat_at_ms;
    uint64_t expires_at_ms; /* of the last two phases; 0: not set yet */
};

/* How long an indication is waited for. The profile allows 30 s (from memory); what hangs so long
 * is no use here. So long, though, it is no answer to a later write. */
#define FTMS_ANSWER_MS   3000u
#define FTMS_GIVEN_UP_MS 27000u

#define FTMS_COMMAND_KINDS 4u
/* Room for a release and a stop, each said again every 3 s, for as long as an answer is owed. */
#define FTMS_PROCEDURES_MAX 24u

struct ftms_queue {
    struct ftms_command commands[FTMS_COMMAND_KINDS]; /* oldest first, one of each kind */
    uint8_t count;
};
struct ftms_control {
    uint16_t handle;     /* 0: the machine takes no commands */
    bool by_command;     /* it only has Write Command */
    bool is_writing;     /* a Write Request of ours is not answered yet */
    bool width_is_known; /* a resistance was accepted in this width */
    uint8_t resistance_octets;
    struct ftms_queue urgent, waiting;
    struct ftms_command newest_load;
    struct ftms_procedure open[FTMS_PROCEDURES_MAX]; /* oldest first; only the last is unsent */
    uint8_t open_count;
};

#endif
