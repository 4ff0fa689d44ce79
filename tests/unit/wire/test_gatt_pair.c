/*
 * The GATT client and the GATT server back to back: first as they should, then with a server whose
 * octets are bent on the way, then with octets from nowhere. Seeds are fixed; a failure repeats.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "wire/gatt_client.h"
#include "wire/gatt_server.h"

#define LONG_LENGTH 300u

static const uint8_t service[] = {0x26, 0x18};
static const uint8_t data_declaration[] = {0x10, 0x03, 0x00, 0xD2, 0x2A};
static const uint8_t words_declaration[] = {0x02, 0x07, 0x00, 0xD3, 0x2A};
static const uint8_t control_declaration[] = {0x2C, 0x09, 0x00, 0xD9, 0x2A};
static uint8_t words[LONG_LENGTH];

#define TYPE(number)         \
    {                        \
        .assigned = (number) \
    }

static const struct gatt_attribute table[] = {
    {1, 10, TYPE(0x2800), 0, sizeof service, service},
    {2, 0, TYPE(0x2803), 0, sizeof data_declaration, data_declaration},
    {3, 0, TYPE(0x2AD2), 0, 0, NULL},
    {4, 0, TYPE(0x2901), GATT_ACCESS_READ, 0, NULL},
    {5, 0, TYPE(0x2902), 0, 0, NULL},
    {6, 0, TYPE(0x2803), 0, sizeof words_declaration, words_declaration},
    {7, 0, TYPE(0x2AD3), GATT_ACCESS_READ, sizeof words, words},
    {8, 0, TYPE(0x2803), 0, sizeof control_declaration, control_declaration},
    {9, 0, TYPE(0x2AD9), GATT_ACCESS_WRITE | GATT_ACCESS_WRITE_COMMAND, 0, NULL},
    {10, 0, TYPE(0x2902), 0, 0, NULL},
};

static struct gatt_client client;
static struct gatt_server server;
static uint64_t now_ms;

static void link_up(uint16_t server_mtu)
{
    for (size_t i = 0; i < sizeof words; i++)
        words[i] = (uint8_t)(i * 7);
    now_ms = 1;
    gatt_client_start(&client, now_ms);
    assert_int_equal(gatt_server_init(&server, table, sizeof table / sizeof table[0], server_mtu),
                     RESULT_OK);
}

/* ---- as it should be ---- */

/* Carries PDUs both ways until nothing moves. */
static void pump(void)
{
    uint8_t pdu[ATT_MTU_MAX];
    size_t length = 1, carried = 0;
    while (length > 0) {
        assert_true(carried++ < 200);
        length = gatt_client_next_pdu(&client, pdu);
        if (length > 0) {
            gatt_server_receive(&server, pdu, length);
            continue;
        }
        length = gatt_server_next_pdu(&server, pdu);
        if (length > 0)
            gatt_client_receive(&client, now_ms, pdu, length);
    }
}

static struct gatt_event client_event(enum gatt_event_kind kind)
{
    struct gatt_event event;
    assert_true(gatt_client_next_event(&client, &event));
    assert_int_equal(event.kind, kind);
    assert_int_equal(event.error, 0);
    return event;
}

static struct gatt_server_event server_event(enum gatt_server_event_kind kind)
{
    struct gatt_server_event event;
    assert_true(gatt_server_next_event(&server, &event));
    assert_int_equal(event.kind, kind);
    return event;
}

static void subscribe(uint16_t handle, uint8_t bits)
{
    const uint8_t config[] = {bits, 0};
    assert_int_equal(gatt_client_write(&client, handle, config, sizeof config), RESULT_OK);
    pump();
    client_event(GATT_WRITE_DONE);
    server_event(GATT_SERVER_SUBSCRIBED);
}

static uint16_t mtus[] = {23, 24, 100, 185, 517};

static void discover_and_read(void **state)
{
    const uint16_t *mtu = *state;
    link_up(*mtu);
    pump();
    client_event(GATT_DISCOVERED);
    assert_int_equal(gatt_client_mtu(&client), *mtu);
    assert_int_equal(gatt_server_mtu(&server), *mtu);
    assert_int_equal(client.known.service_count, 1);
    assert_int_equal(client.known.characteristic_count, 3);
    assert_int_equal(gatt_client_find(&client, 0x1826, 0x2AD2)->client_config_handle, 5);
    assert_int_equal(gatt_client_find(&client, 0x1826, 0x2AD3)->client_config_handle, 0);
    assert_int_equal(gatt_client_find(&client, 0x1826, 0x2AD9)->client_config_handle, 10);
    assert_int_equal(gatt_client_read(&client, 7), RESULT_OK);
    pump();
    struct gatt_event event = client_event(GATT_READ_DONE);
    assert_int_equal(event.length, LONG_LENGTH);
    assert_memory_equal(event.value, words, LONG_LENGTH);
}

static void write_notify_and_indicate(void **state)
{
    const uint16_t *mtu = *state;
    const uint8_t command[] = {0x05, 0xFA, 0x00}, answer[] = {0x80, 0x05, 0x01};
    link_up(*mtu);
    pump();
    client_event(GATT_DISCOVERED);
    subscribe(5, 1);
    subscribe(10, 2);
    assert_int_equal(gatt_client_write(&client, 9, command, sizeof command), RESULT_OK);
    pump();
    assert_memory_equal(server_event(GATT_SERVER_WRITTEN).value, command, sizeof command);
    gatt_server_answer_write(&server, ATT_OK);
    assert_int_equal(gatt_server_indicate(&server, 9, answer, sizeof answer), RESULT_OK);
    assert_int_equal(gatt_server_notify(&server, 3, command, sizeof command), RESULT_OK);
    pump();
    assert_int_equal(client_event(GATT_WRITE_DONE).handle, 9);
    struct gatt_event event = client_event(GATT_NOTIFIED);
    assert_true(event.indicated);
    assert_memory_equal(event.value, answer, sizeof answer);
    event = client_event(GATT_NOTIFIED);
    assert_false(event.indicated);
    assert_int_equal(event.handle, 3);
    assert_int_equal(server_event(GATT_SERVER_CONFIRMED).handle, 9);
    assert_int_equal(gatt_client_write_command(&client, 9, command, sizeof command), RESULT_OK);
    pump();
    assert_true(server_event(GATT_SERVER_WRITTEN).is_command);
}

/* ---- as it should not be ---- */

static uint32_t random_state;

/* Marsaglia 2003, xorshift, the triple 13, 17, 5 */
static uint32_t any(uint32_t below)
{
    random_state ^= random_state << 13;
    random_state ^= random_state >> 17;
    random_state ^= random_state << 5;
    return random_state % below;
}

/* Octets from nowhere, but often with an opcode that means something and a handle that is near. */
static size_t make_pdu(uint8_t *pdu)
{
    size_t length = any(8) == 0 ? any(ATT_PDU_BUFFER + 1) : any(30);
    for (size_t i = 0; i < length; i++)
        pdu[i] = (uint8_t)any(256);
    if (length > 0 && any(4) != 0)
        pdu[0] = (uint8_t)any(0x24);
    for (size_t i = 1; i < length && i < 5 && any(3) != 0; i++)
        pdu[i] = i % 2 == 1 ? (uint8_t)any(13) : 0;
    return length;
}

static void bend(uint8_t *pdu, size_t *length)
{
    if (any(3) != 0)
        return;
    if (any(4) == 0)
        *length = any((uint32_t)*length + 1);
    else if (*length > 0)
        pdu[any((uint32_t)*length)] ^= (uint8_t)(1u << any(8));
}

/* What a peer may count on, kept from outside. */
struct watch {
    bool is_outstanding, is_dead;
    unsigned discovered, deaths, finished;
};

/* Drains after a call and gives how many confirmations came out of it. */
static unsigned drain_client(struct watch *watch)
{
    uint8_t pdu[ATT_MTU_MAX];
    struct gatt_event event;
    unsigned confirmations = 0, events = 0;
    size_t length;
    while ((length = gatt_client_next_pdu(&client, pdu)) > 0) {
        assert_false(watch->is_dead);
        assert_true(length <= gatt_client_mtu(&client));
        confirmations += pdu[0] == ATT_CONFIRMATION;
        if (att_kind(pdu[0]) == ATT_KIND_REQUEST) {
            assert_false(watch->is_outstanding);
            watch->is_outstanding = true;
        }
        gatt_server_receive(&server, pdu, length);
    }
    while (gatt_client_next_event(&client, &event)) {
        assert_int_equal(events++, 0);
        assert_false(watch->is_dead);
        assert_true(event.length <= ATT_VALUE_MAX);
        watch->is_dead = event.kind == GATT_DEAD;
        watch->deaths += event.kind == GATT_DEAD;
        watch->discovered += event.kind == GATT_DISCOVERED;
        watch->finished += event.kind == GATT_READ_DONE || event.kind == GATT_WRITE_DONE;
    }
    return confirmations;
}

static void feed_client(struct watch *watch, const uint8_t *pdu, size_t length)
{
    bool was_dead = watch->is_dead;
    gatt_client_receive(&client, now_ms, pdu, length);
    if (length > 0 && att_kind(pdu[0]) == ATT_KIND_RESPONSE)
        watch->is_outstanding = false;
    unsigned confirmations = drain_client(watch);
    if (!was_dead && !watch->is_dead)
        assert_int_equal(confirmations, length > 0 && pdu[0] == ATT_INDICATION);
}

static void use_client(struct watch *watch)
{
    uint8_t value[GATT_WRITE_MAX + 2] = {0};
    uint16_t handle = (uint16_t)any(12);
    size_t length = any(sizeof value + 1);
    enum result result = RESULT_OK;
    switch (any(4)) {
    case 0: result = gatt_client_read(&client, handle); break;
    case 1: result = gatt_client_write(&client, handle, value, length); break;
    case 2: result = gatt_client_write_first(&client, handle, value, length); break;
    default: result = gatt_client_write_command(&client, handle, value, length); break;
    }
    assert_true(watch->is_dead == (result == RESULT_CLOSED));
    drain_client(watch);
}

static void use_server(void)
{
    struct gatt_server_event event;
    while (gatt_server_next_event(&server, &event))
        assert_true(event.length <= ATT_VALUE_MAX);
    gatt_server_answer_write(&server, any(2) == 0 ? ATT_OK : ATT_UNLIKELY_ERROR);
    if (any(2) == 0)
        (void)!gatt_server_notify(&server, 3, words, any(sizeof words));
    else
        (void)!gatt_server_indicate(&server, 9, words, any(sizeof words));
}

static void pass_time(struct watch *watch)
{
    now_ms += any(400) == 0 ? 40000 : any(200);
    gatt_client_tick(&client, now_ms);
    drain_client(watch);
}

/* One PDU in `noise` is made up; the others are the server's, some of them bent. */
static void torment_client(struct watch *watch, uint32_t noise)
{
    uint8_t pdu[ATT_PDU_BUFFER];
    for (unsigned i = 0; i < 30000; i++) {
        if (i % 500 == 0 || (watch->is_dead && any(20) == 0)) {
            link_up((uint16_t)(23 + any(500)));
            watch->is_dead = watch->is_outstanding = false;
        }
        size_t length = any(noise) == 0 ? make_pdu(pdu) : gatt_server_next_pdu(&server, pdu);
        if (any(5) == 0)
            bend(pdu, &length);
        feed_client(watch, pdu, length);
        use_server();
        if (any(10) == 0)
            use_client(watch);
        pass_time(watch);
    }
}

static void client_bears_a_bent_server(void **state)
{
    (void)state;
    struct watch watch = {0};
    random_state = 0xAF7E25E7;
    torment_client(&watch, 50);
    assert_true(watch.discovered > 20); /* deep enough to mean something */
    assert_true(watch.finished > 100);
    assert_true(watch.deaths > 10);
}

static void client_bears_octets_from_nowhere(void **state)
{
    (void)state;
    struct watch watch = {0};
    random_state = 0x2AD92AD2;
    torment_client(&watch, 1);
    assert_true(watch.deaths > 10);
}

/* One PDU in: the answers that come out, everything else being a value of ours. */
static unsigned drain_server(const uint8_t *request, size_t request_length)
{
    uint8_t pdu[ATT_MTU_MAX];
    size_t length;
    unsigned answers = 0;
    while ((length = gatt_server_next_pdu(&server, pdu)) > 0) {
        assert_true(length <= gatt_server_mtu(&server));
        if (att_kind(pdu[0]) != ATT_KIND_RESPONSE)
            continue;
        answers++;
        assert_true(request_length > 0);
        if (pdu[0] == ATT_ERROR_RESPONSE) {
            assert_int_equal(length, 5);
            assert_int_equal(pdu[1], request[0]);
            assert_int_not_equal(pdu[4], ATT_OK);
        } else {
            assert_int_equal(pdu[0], request[0] + 1);
        }
    }
    return answers;
}

static void server_bears_octets_from_nowhere(void **state)
{
    (void)state;
    uint8_t pdu[ATT_PDU_BUFFER];
    unsigned answered = 0, written = 0;
    struct gatt_server_event event;
    random_state = 0x18261826;
    for (unsigned i = 0; i < 60000; i++) {
        if (i % 1000 == 0)
            link_up((uint16_t)(23 + any(500)));
        size_t length = make_pdu(pdu);
        bool is_request = length > 0 && att_kind(pdu[0]) == ATT_KIND_REQUEST;
        gatt_server_receive(&server, pdu, length);
        bool has_event = gatt_server_next_event(&server, &event);
        assert_true(!has_event || event.length <= ATT_VALUE_MAX);
        assert_false(gatt_server_next_event(&server, &event));
        if (has_event && event.kind == GATT_SERVER_WRITTEN && !event.is_command) {
            assert_int_equal(drain_server(pdu, length), 0);
            gatt_server_answer_write(&server, any(2) == 0 ? ATT_OK : ATT_UNLIKELY_ERROR);
            written++;
        }
        unsigned answers = drain_server(pdu, length);
        assert_int_equal(answers, is_request);
        answered += answers;
        (void)!gatt_server_notify(&server, 3, words, any(sizeof words));
        (void)!gatt_server_indicate(&server, 9, words, any(sizeof words));
    }
    assert_int_equal(server.early_requests + server.dropped_pdus, 0);
    assert_true(answered > 10000);
    assert_true(written > 20);
}

int main(void)
{
    static struct CMUnitTest tests[16];
    size_t count = 0;
    for (size_t i = 0; i < sizeof mtus / sizeof mtus[0]; i++) {
        tests[count++] = (struct CMUnitTest)cmocka_unit_test_prestate(discover_and_read, &mtus[i]);
        tests[count++] =
            (struct CMUnitTest)cmocka_unit_test_prestate(write_notify_and_indicate, &mtus[i]);
    }
    tests[count++] = (struct CMUnitTest)cmocka_unit_test(client_bears_a_bent_server);
    tests[count++] = (struct CMUnitTest)cmocka_unit_test(client_bears_octets_from_nowhere);
    tests[count++] = (struct CMUnitTest)cmocka_unit_test(server_bears_octets_from_nowhere);
    return _cmocka_run_group_tests("gatt_pair", tests, count, NULL, NULL);
}
