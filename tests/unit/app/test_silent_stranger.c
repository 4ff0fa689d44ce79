/*
 * A machine that was never met before takes the link and says nothing: how long it is waited for,
 * and that it is called again without the ride's knowing.
 */
#include "app/machine_ftms.h"
#include "app/machine_peer.h"

#include <setjmp.h>
#include <stdarg.h>
#include <string.h>

#include <cmocka.h>

static struct machine_peer under_test;
static struct machine_ftms spoken;
static bool is_encrypting;
static unsigned calls, ups, downs;

static enum result to_nobody(struct link *link, const uint8_t *pdu, size_t length)
{
    (void)link, (void)pdu, (void)length;
    return RESULT_OK;
}

static void close_nothing(struct link *link)
{
    (void)link;
}

static bool is_securing(const struct link *link)
{
    (void)link;
    return is_encrypting;
}

static const struct link_operations operations = {
    .send = to_nobody, .close = close_nothing, .is_securing = is_securing};
static struct link nobody = {&operations};

static void on_event(void *user, const struct event *event)
{
    assert_ptr_equal(user, &under_test);
    assert_int_equal(event->kind, EVENT_LINK);
    ups += event->link.up;
    downs += !event->link.up;
}

static void on_call_anew(void *user)
{
    assert_ptr_equal(user, &calls);
    calls++;
}

static void meet(bool is_on_air)
{
    calls = ups = downs = 0;
    is_encrypting = false;
    loop_free(under_test.loop);
    spoken = (struct machine_ftms){0};
    under_test = (struct machine_peer){.loop = loop_new(LOOP_STEPPED, 1e6),
                                       .protocol = &machine_ftms,
                                       .state = &spoken,
                                       .on_event = on_event,
                                       .user = &under_test,
                                       .call_anew = on_call_anew,
                                       .call_user = &calls,
                                       .is_on_air = is_on_air,
                                       .may_have_past = is_on_air,
                                       .link = &nobody};
    assert_non_null(under_test.loop);
    machine_peer_user(&under_test).opened(&under_test);
    machine_peer_tick(&under_test); /* the wait begins */
}

static int tear_down(void **state)
{
    (void)state;
    loop_free(under_test.loop);
    under_test.loop = NULL;
    return 0;
}

static void stop_loop(void *user)
{
    loop_stop(user);
}

static void wait_for_ms(uint64_t ms)
{
    struct loop *loop = under_test.loop;

    (void)loop_set_timer(loop, loop_now_ms(loop) + ms, stop_loop, loop);
    loop_run(loop);
    machine_peer_tick(&under_test);
}

static void it_is_called_anew_after_6_s(void **state)
{
    (void)state;
    meet(false);
    wait_for_ms(5900);
    assert_int_equal(calls, 0);
    wait_for_ms(100);
    assert_int_equal(calls, 1);
    assert_null(under_test.link);
    assert_string_equal(under_test.failure, "the machine has stopped answering");
    assert_int_equal(ups, 1);
    assert_int_equal(downs, 0);
}

/* A person agrees to pairing in his own time. */
static void while_the_link_is_being_encrypted_it_is_waited_for(void **state)
{
    (void)state;
    meet(true);
    is_encrypting = true;
    for (unsigned s = 0; s < 60; s++)
        wait_for_ms(1000);
    assert_int_equal(calls, 0);
    is_encrypting = false;
    machine_peer_tick(&under_test);
    wait_for_ms(5900);
    assert_int_equal(calls, 0);
    wait_for_ms(100);
    assert_int_equal(calls, 1);
}

/* A radio may lose a link in its first second; a socket that closes is closed on purpose. */
static void a_link_that_is_lost_over_the_air_is_called_anew(void **state)
{
    (void)state;
    for (unsigned on_air = 0; on_air < 2; on_air++) {
        meet(on_air != 0);
        machine_peer_user(&under_test).closed(&under_test, "gone");
        assert_int_equal(calls, on_air);
        assert_int_equal(downs, on_air != 0 ? 0 : 1);
    }
}

static void a_call_that_came_to_nothing_is_the_end(void **state)
{
    (void)state;
    meet(true);
    machine_peer_close(&under_test);
    machine_peer_user(&under_test).closed(&under_test, "never there");
    assert_int_equal(calls, 0);
    assert_int_equal(downs, 1);
    assert_string_equal(under_test.failure, "never there");
}

static void ask_for_control(void)
{
    machine_peer_command(&under_test, COMMAND_REQUEST_CONTROL, (struct load){0}, false);
}

/* Its last indication, on that link, was told to somebody else and never confirmed: it may tell no
 * other before (Bluetooth Core 5.1, Vol 3 Part F 3.3.2). A new link has none that waits. */
static void a_link_with_a_past_is_left_once(void **state)
{
    (void)state;
    meet(true);
    ask_for_control();
    assert_int_equal(downs, 0);
    ask_for_control();
    assert_int_equal(downs, 1);
    assert_null(under_test.link);
    assert_string_equal(under_test.failure, "it does not answer what it is asked to do");
    under_test.link = &nobody;
    machine_peer_user(&under_test).opened(&under_test);
    ask_for_control();
    ask_for_control();
    assert_int_equal(downs, 1);
    /* Nobody had a socket before us. */
    meet(false);
    ask_for_control();
    ask_for_control();
    assert_int_equal(downs, 0);
}

#define TEST(test) cmocka_unit_test_teardown(test, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(it_is_called_anew_after_6_s),
        TEST(while_the_link_is_being_encrypted_it_is_waited_for),
        TEST(a_link_that_is_lost_over_the_air_is_called_anew),
        TEST(a_call_that_came_to_nothing_is_the_end),
        TEST(a_link_with_a_past_is_left_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
