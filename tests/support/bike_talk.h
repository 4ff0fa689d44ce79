/*
 * An ftms_client in conversation with a scripted peer, for the tests of the machine client.
 */
#ifndef TESTS_SUPPORT_BIKE_TALK_H
#define TESTS_SUPPORT_BIKE_TALK_H

#include "support/scripted_peer.h"
#include "wire/ftms_client.h"

extern struct ftms_client client;
extern struct scripted_peer peer;
extern uint64_t now_ms;
extern const char *early_data; /* sent before the subscription to bike data is answered */

/* Where whole_bike, which takes power and resistance and has both ranges, keeps its parts. */
enum { FEATURE, BIKE_DATA, TRAINING, LEVEL_RANGE, POWER_RANGE, CONTROL, STATUS };
extern const struct scripted_peer whole_bike;

int set_up(void **state); /* for cmocka: a whole bike, not met yet */
void meet(void);          /* a new link, as far as the peer lets it go */
struct ftms_machine meet_ready(void);

void pump(void); /* lets both talk until they have nothing to say */
void wait_ms(uint64_t ms);
void receive(const char *pdu);
void notify(uint16_t number, const char *value);
void indicate(const char *value); /* from the control point */
void command(uint8_t opcode, int16_t value);
void command_now(uint8_t opcode, int16_t value);

void expect_log(const char *log); /* and empties it; see scripted_peer.h */
struct ftms_client_event expect_event(enum ftms_client_event_kind kind);
void expect_no_event(void);
void expect_answer(uint8_t opcode, int16_t value, uint8_t result, uint8_t att_error);
void expect_failed(const char *reason);

#endif
