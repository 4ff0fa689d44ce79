/* Requests that a peer wants to see again encrypted. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "support/octets.h"
#include "wire/att_security.h"

static struct att_security security;

static void sent(const char *octets)
{
    uint8_t pdu[ATT_PDU_BUFFER];
    size_t length = octets_from_text(octets, pdu, sizeof pdu);
    att_security_sent(&security, pdu, length);
}

static bool is_asked(const char *octets)
{
    uint8_t pdu[ATT_PDU_BUFFER];
    size_t length = octets_from_text(octets, pdu, sizeof pdu);
    return att_security_is_asked(&security, pdu, length);
}

static int forget(void **state)
{
    (void)state;
    security = (struct att_security){0};
    return 0;
}

/* Error Response: 01, the request's opcode, handle, code; 05 authentication, 0F encryption. */
static void refused_for_want_of_encryption(void **state)
{
    (void)state;
    sent("12 20 00 02 00");
    assert_true(is_asked("01 12 20 00 0F"));
    assert_octets(security.request, security.length, "12 20 00 02 00");
}

static void refused_for_want_of_authentication(void **state)
{
    (void)state;
    sent("0A 03 00");
    assert_true(is_asked("01 0A 03 00 05"));
    assert_octets(security.request, security.length, "0A 03 00");
}

static void asked_once_only(void **state)
{
    (void)state;
    sent("0A 03 00");
    assert_true(is_asked("01 0A 03 00 05"));
    assert_false(is_asked("01 0A 03 00 05"));
    sent("0A 05 00");
    assert_false(is_asked("01 0A 05 00 0F"));
}

static void what_comes_between_does_not_matter(void **state)
{
    (void)state;
    sent("12 20 00 02 00");
    sent("1E");             /* a confirmation */
    sent("52 21 00 01");    /* a command */
    sent("01 04 01 00 0A"); /* an answer to the peer's own request */
    assert_false(is_asked("1B 13 00 44 00"));
    assert_false(is_asked("1D 20 00 80"));
    assert_false(is_asked("02 00 02")); /* the peer's own request */
    assert_true(is_asked("01 12 20 00 0F"));
    assert_octets(security.request, security.length, "12 20 00 02 00");
}

static void other_answers_are_the_clients(void **state)
{
    static const char *const others[] = {
        "",
        "01 12 20 00 80",    /* another error */
        "01 12 20 00 08",    /* authorisation, which encryption does not bring */
        "01 0A 20 00 0F",    /* of another request */
        "01 12 20 00",       /* cut short */
        "01 12 20 00 0F 00", /* too long */
        "13",
    };
    (void)state;
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++) {
        security = (struct att_security){0};
        sent("12 20 00 02 00");
        assert_false(is_asked(others[i]));
    }
}

static void an_answered_request_is_not_asked_again(void **state)
{
    (void)state;
    assert_false(is_asked("01 12 20 00 0F")); /* nothing was sent */
    sent("12 20 00 02 00");
    assert_false(is_asked("13"));
    assert_false(is_asked("01 12 20 00 0F"));
}

#define TEST(test) cmocka_unit_test_setup(test, forget)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(refused_for_want_of_encryption),
        TEST(refused_for_want_of_authentication),
        TEST(asked_once_only),
        TEST(what_comes_between_does_not_matter),
        TEST(other_answers_are_the_clients),
        TEST(an_answered_request_is_not_asked_again),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
