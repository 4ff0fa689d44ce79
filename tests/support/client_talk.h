/*
 * Conversations with a GATT client, line by line: ">" is what it must send next, "<" is what the
 * peer sends. A lone ">" means that it has nothing to send.
 */
#ifndef TESTS_SUPPORT_CLIENT_TALK_H
#define TESTS_SUPPORT_CLIENT_TALK_H

#include "support/octets.h"
#include "wire/gatt_client.h"

struct talk {
    struct gatt_client client;
    uint64_t now_ms;
};

extern struct talk talk;

void talk_start(void);
/* To the end of discovery of a peer that has nothing, at the default MTU. */
void talk_start_ready(void);

void talk_receive(const char *text);
void talk_play(const char *const *lines, size_t count);
void talk_expect_pdu(const char *text);
void talk_expect_event(enum gatt_event_kind kind, uint16_t handle, uint8_t error,
                       const char *value);
void talk_expect_no_event(void);

#define TALK(...)                                            \
    do {                                                     \
        static const char *const lines_[] = {__VA_ARGS__};   \
        talk_play(lines_, sizeof lines_ / sizeof lines_[0]); \
    } while (0)

/* Building a list of tests in `tests` and `count`, a row of a table being a test. */
#define ROWS(function, rows)                                    \
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows)[0]; i++) \
        tests[count++] = (struct CMUnitTest){#function, function, NULL, NULL, &(rows)[i]};
#define ONE(function) tests[count++] = (struct CMUnitTest)cmocka_unit_test(function);

#endif
