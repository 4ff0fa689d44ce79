/*
 * One ride under way: events from links, clock, keys and signals go through the controller, its
 * effects go to the machine, the journal and the screen.
 */
#ifndef APP_SESSION_H
#define APP_SESSION_H

#include "hands.h"
#include "io/output.h"
#include "machine_ftms.h"
#include "machine_peer.h"
#include "machine_trainer.h"
#include "port/screen.h"
#include "recorder.h"
#include "sensor_peer.h"
#include "sound.h"
#include "usb_peer.h"
#include "virtual_hand.h"

#define SESSION_QUEUE_MAX 64u

/* Zero it, set what is marked, then session_run(). */
struct session {
    struct loop *loop;       /* set */
    struct output *output;   /* set */
    int output_error;        /* why it could not be written; 0: it could, or nobody reads it */
    struct guarded guarded;  /* may be set */
    struct screen screen;    /* set */
    struct ride_facts facts; /* set */
    /* set, or NULL: asked to call again when a link is lost in mid-ride */
    void (*call_again)(void *user, enum link_source source);
    void *call_again_user;
    struct sound sound; /* set up with sound_open(), or zeroed */
    struct recorder recorder;
    struct reserve_run reserve; /* may be set */
    bool has_passed_mark;
    struct ride ride; /* set up with ride_init() */
    struct machine_peer machine;
    struct machine_ftms ftms; /* what is spoken with it, this or that */
    struct machine_trainer trainer;
    struct sensor_peer sensors[SENSOR_KIND_COUNT];
    struct usb_peer usb; /* through which some of them may be heard */
    struct hands hands;
    struct virtual_hand virtual_hand; /* may be set, but for who hears of it */
    struct effects effects;
    /* An effect may cause an event: it waits here until its turn. */
    struct event queue[SESSION_QUEUE_MAX];
    size_t queue_first, queue_count;
    bool is_stepping;
    uint64_t tick_ms;      /* when the next tick is due */
    int edge_timer;        /* before that, at the edge of a step */
    uint64_t second_ms;    /* when the next whole second is shown and saved */
    struct effect summary; /* EFFECT_SUMMARY, once it has ended */
    bool has_ended;
    enum result saved;
};

/* Wires the peers to the session; before their links are opened. */
void session_prepare(struct session *session);
void session_key(struct session *session, enum ride_key key);
/* A key of the keyboard; see hands_press(). */
void session_press(struct session *session, uint32_t character);
/* What hands and eyes go by, whatever the rate of the ride. */
uint64_t session_wall_ms(void);
/* Harmless when done before. */
void session_close_peers(struct session *session);
/* Runs the loop until the ride has ended, then saves it and shows what it came to. */
void session_run(struct session *session);

#endif
