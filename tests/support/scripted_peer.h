/*
 * A peer for the tests of the clients in wire: one service, answers as told, and a log of what it
 * was asked. Characteristic i has its declaration at 2 + 3i, its value and its client configuration
 * right behind.
 */
#ifndef TESTS_SUPPORT_SCRIPTED_PEER_H
#define TESTS_SUPPORT_SCRIPTED_PEER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define SCRIPTED_MAX 8u

struct scripted_characteristic {
    uint16_t number;       /* assigned; 0 ends the table */
    uint8_t properties;    /* enum gatt_property in wire/gatt.h; notify or indicate gives it a
                              configuration */
    const char *value;     /* octets as text; NULL: reading is not permitted */
    uint8_t config_error;  /* the answer to a subscription; 0: accepted */
    uint8_t config_errors; /* how often, before it is accepted */
};

struct scripted_peer {
    uint16_t service;
    struct scripted_characteristic characteristics[SCRIPTED_MAX];
    uint8_t write_errors[SCRIPTED_MAX]; /* the answers to the next writes of values; then 0 */
    size_t write_error;                 /* the next one */
    bool is_silent;                     /* answers no write of a value; see the tests */
    const char *hash;                   /* its Database Hash, octets as text; NULL: has none */
    uint8_t moved;                      /* every handle is so much higher */
    unsigned openings; /* requests it was asked before the first of those in the log */
    /* What it was asked, in order: "2AD9c=02 00|" subscribed, "2ACC?|" read, "2AD9=07|" written,
     * "2AD9!08 01|" by Write Command, "confirmed|". Discovery is not logged. */
    char log[1024];
};

uint16_t scripted_value_handle(const struct scripted_peer *peer, uint16_t number);
/* The answer's length, or 0. `ret` holds 64 octets. */
size_t scripted_peer_answer(struct scripted_peer *peer, const uint8_t *pdu, size_t length,
                            uint8_t *ret);

#endif
