/*
 * A receiver that halts a pipe and does not answer when that is to be cleared: neither the ride nor
 * whoever takes the receiver from it waits for that. The kernel's own call waits for 5 s, and has
 * the device alone meanwhile.
 */
#include "io/link_usb.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>
#include <errno.h>

#include "io/usbfs.h"
#include "support/usb_mock.h"

#define PULSE_MS    10u
#define PATIENCE_MS 8000u
#define SOON_MS     500u /* on a machine that is busy */

static struct usb_mock *mock;
static struct loop *loop;
static struct link *link_under_test;
static uint64_t last_ms, longest_ms; /* between two looks of the loop at its timers */
static unsigned closed, octets_taken;
static const char *why_closed;
static bool halts_out, has_halted;

static uint64_t now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000 + (uint64_t)now.tv_nsec / 1000000;
}

static int halt_once(void)
{
    const bool had_halted = has_halted;

    has_halted = true;
    return had_halted ? USB_MOCK_LATER : -EPIPE;
}

static int give(void *context, uint8_t *octets, int size)
{
    (void)context;
    (void)octets;
    (void)size;
    return halts_out ? USB_MOCK_LATER : halt_once();
}

static int take(void *context, const uint8_t *octets, int length)
{
    (void)context;
    (void)octets;
    if (halts_out && !has_halted)
        return halt_once();
    octets_taken += (unsigned)length;
    return length;
}

static const struct usb_mock_device stubborn = {.bus = 1,
                                                .port = 2,
                                                .vendor = 0x0FCF,
                                                .product = 0x1008,
                                                .model = {give, take, NULL},
                                                .ignores_clearing = true};

static void on_opened(void *user)
{
    (void)user;
    assert_int_equal(link_send(link_under_test, (const uint8_t *)"x", 1), RESULT_OK);
}

static void on_received(void *user, const uint8_t *octets, size_t length)
{
    (void)user;
    (void)octets;
    (void)length;
}

static void on_closed(void *user, const char *why)
{
    (void)user;
    closed++;
    why_closed = why;
    loop_stop(loop);
}

static void on_pulse(void *user)
{
    const uint64_t now = now_ms();

    if (now - last_ms > longest_ms)
        longest_ms = now - last_ms;
    last_ms = now;
    (void)loop_set_timer(loop, loop_now_ms(loop) + PULSE_MS, on_pulse, user);
}

static void on_end(void *user)
{
    (void)user;
    loop_stop(loop);
}

static void open_link(void)
{
    static const struct link_user user = {on_opened, on_received, on_closed, NULL};
    const char *why = NULL;

    link_under_test = link_usb_open(loop, NULL, &user, &why);
    assert_non_null(link_under_test);
}

static void run_for(uint64_t ms)
{
    const int timer = loop_set_timer(loop, loop_now_ms(loop) + ms, on_end, NULL);

    last_ms = now_ms();
    loop_run(loop);
    loop_cancel_timer(loop, timer);
}

static int set_up(void **state)
{
    halts_out = *state != NULL;
    has_halted = false;
    closed = octets_taken = 0;
    longest_ms = 0;
    last_ms = now_ms();
    mock = usb_mock_new();
    (void)usb_mock_plug(mock, &stubborn);
    loop = loop_new(LOOP_REAL, 1);
    (void)loop_set_timer(loop, 0, on_pulse, NULL);
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    link_close(link_under_test);
    loop_free(loop);
    usb_mock_free(mock);
    return 0;
}

static void holds_up_no_ride(void **state)
{
    (void)state;
    open_link();
    run_for(PATIENCE_MS);
    assert_int_equal(closed, 1);
    assert_string_equal(why_closed,
                        "the receiver takes nothing any more; unplug it and plug it in again");
    assert_in_range(longest_ms, 0, SOON_MS);
}

/* As the guard does, when the ride is killed in the middle of it. */
static void holds_up_nobody_who_takes_the_receiver(void **state)
{
    (void)state;
    open_link();
    const int node = usbfs_open(1, 2);
    assert_true(node >= 0);
    const uint64_t began_ms = now_ms();
    run_for(50);
    assert_true(has_halted);
    assert_int_equal(usbfs_take(node, 0), RESULT_OK);
    assert_in_range(now_ms() - began_ms, 0, SOON_MS);
    (void)close(node);
}

int main(void)
{
    static bool is_out = true;
    const struct CMUnitTest tests[] = {
        {"of IN, holds up no ride", holds_up_no_ride, set_up, tear_down, NULL},
        {"of OUT, holds up no ride", holds_up_no_ride, set_up, tear_down, &is_out},
        {"of IN, holds up nobody who takes the receiver", holds_up_nobody_who_takes_the_receiver,
         set_up, tear_down, NULL},
        {"of OUT, holds up nobody who takes the receiver", holds_up_nobody_who_takes_the_receiver,
         set_up, tear_down, &is_out},
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
