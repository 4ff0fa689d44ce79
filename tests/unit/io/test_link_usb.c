/*
 * The link over USB against a device that umockdev puts before libusb: pipes that carry, stall,
 * break off, stand still and vanish, and receivers that cannot be had.
 */
#include "io/link_usb.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>
#include <errno.h>

#include "io/adapter.h"
#include "io/usb_list.h"
#include "support/usb_mock.h"

/* What would take milliseconds on a machine that is not busy is waited for so long. */
#define PATIENCE_MS 10000u

static struct usb_mock *mock;
static struct loop *loop;
static struct link *link_under_test;
static int receiver; /* its number */

/* The receiver's side. `gives` is what its IN pipe does next, in order: a number of octets, or an
 * errno, negative; then it waits. */
static struct {
    int gives[600];
    int give_count, given;
    uint8_t next_octet; /* each octet is one more than the one before */
    int oversize;       /* not 0: what it claims to have given */
    bool takes_nothing;
    int take_errors[16], take_error_count, take_errors_done;
    uint8_t taken[2048];
    int taken_count;
    unsigned transfers_taken;
} model;

/* The rider's side. */
static struct {
    unsigned opened, closed, chunks, octets;
    bool in_order;
    const char *why;
    bool closes_at_chunk, closes_at_end, sends_at_opening;
} user;

static int give(void *context, uint8_t *octets, int size)
{
    (void)context;
    if (model.given == model.give_count)
        return USB_MOCK_LATER;
    const int count = model.gives[model.given++];
    for (int i = 0; i < count && i < size; i++)
        octets[i] = model.next_octet++;
    return model.oversize != 0 ? model.oversize : count;
}

static int take(void *context, const uint8_t *octets, int length)
{
    (void)context;
    if (model.takes_nothing)
        return USB_MOCK_LATER;
    if (model.take_errors_done < model.take_error_count)
        return model.take_errors[model.take_errors_done++];
    if (model.taken_count + length <= (int)sizeof model.taken)
        memcpy(&model.taken[model.taken_count], octets, (size_t)length);
    model.taken_count += length;
    model.transfers_taken++;
    return length;
}

static const struct usb_mock_device ordinary = {
    .bus = 1, .port = 2, .vendor = 0x0FCF, .product = 0x1008, .model = {give, take, NULL}};

static void close_link(void)
{
    link_close(link_under_test);
    link_under_test = NULL;
}

static void on_opened(void *context)
{
    assert_ptr_equal(context, &user);
    assert_int_equal(user.opened++, 0);
    if (user.sends_at_opening)
        assert_int_equal(link_send(link_under_test, (const uint8_t *)"hello", 5), RESULT_OK);
}

static void on_received(void *context, const uint8_t *octets, size_t length)
{
    assert_ptr_equal(context, &user);
    assert_int_equal(user.opened, 1);
    assert_int_equal(user.closed, 0);
    for (size_t i = 0; i < length; i++)
        user.in_order = user.in_order && octets[i] == (uint8_t)(user.octets + i);
    user.octets += (unsigned)length;
    user.chunks++;
    if (user.closes_at_chunk)
        close_link();
}

static void on_closed(void *context, const char *why)
{
    assert_ptr_equal(context, &user);
    assert_int_equal(user.closed++, 0);
    user.why = why;
    if (user.closes_at_end)
        close_link();
    loop_stop(loop);
}

static const struct link_user callbacks = {on_opened, on_received, on_closed, &user};

static void open_link(void)
{
    const char *why = NULL;
    link_under_test = link_usb_open(loop, NULL, &callbacks, &why);
    if (link_under_test == NULL)
        fail_msg("%s", why);
    assert_null(why); /* written on failure alone */
}

static void on_timer(void *context)
{
    (void)context;
    loop_stop(loop);
}

static void run_for(uint64_t ms)
{
    const int timer = loop_set_timer(loop, loop_now_ms(loop) + ms, on_timer, NULL);
    assert_true(timer > 0);
    loop_run(loop);
    loop_cancel_timer(loop, timer);
}

/* And a little longer, for what should not come. */
static void run_until(const unsigned *count, unsigned enough)
{
    for (unsigned waited_ms = 0; *count < enough && waited_ms < PATIENCE_MS; waited_ms += 20)
        run_for(20);
    run_for(20);
}

static void plug(const struct usb_mock_device *device)
{
    receiver = usb_mock_plug(mock, device);
}

static int set_up(void **state)
{
    (void)state;
    memset(&model, 0, sizeof model);
    memset(&user, 0, sizeof user);
    user.in_order = true;
    mock = usb_mock_new();
    loop = loop_new(LOOP_REAL, 1);
    return loop != NULL ? 0 : -1;
}

static int tear_down(void **state)
{
    (void)state;
    close_link();
    loop_free(loop);
    usb_mock_free(mock);
    return 0;
}

static void will_give(int what)
{
    model.gives[model.give_count++] = what;
}

/* ---- what it is for ---- */

static void octets_go_both_ways_in_order(void **state)
{
    uint8_t message[16][8];
    (void)state;
    plug(&ordinary);
    for (int i = 0; i < 200; i++)
        will_give(1 + i * 7 % 64);
    user.sends_at_opening = true;
    open_link();
    assert_int_equal(user.opened, 0);
    run_until(&user.chunks, 200);
    assert_int_equal(user.opened, 1);
    assert_int_equal(user.chunks, 200);
    assert_true(user.in_order);
    assert_int_equal(usb_mock_counts(mock, receiver).in_flight_most, 4 + 1);
    assert_memory_equal(model.taken, "hello", 5);

    for (uint8_t i = 0; i < 16; i++) {
        memset(message[i], i, 8);
        assert_int_equal(link_send(link_under_test, message[i], 8), RESULT_OK);
    }
    assert_int_equal(link_send(link_under_test, message[0], 8), RESULT_FULL);
    run_until(&model.transfers_taken, 17);
    assert_int_equal(model.transfers_taken, 17);
    assert_memory_equal(&model.taken[5], message, sizeof message);
    assert_int_equal(link_send(link_under_test, message[0], 8), RESULT_OK);
    assert_int_equal(link_send(link_under_test, message[0], LINK_USB_SEND_MAX + 1), RESULT_RANGE);
    assert_int_equal(link_secure(link_under_test), RESULT_UNSUPPORTED);
    assert_int_equal(user.closed, 0);
    close_link(); /* behind it, such as behind a release to a trainer */
    assert_int_equal(model.transfers_taken, 18);
}

static void a_kernel_driver_gives_way_and_comes_back(void **state)
{
    struct usb_mock_device held = ordinary;
    (void)state;
    held.is_held_by_kernel = true;
    plug(&held);
    open_link();
    assert_int_equal(usb_mock_counts(mock, receiver).driver_detached, 1);
    close_link();
    assert_int_equal(usb_mock_counts(mock, receiver).driver_attached, 1);
    assert_int_equal(usb_mock_counts(mock, receiver).releases, 1);
}

/* ---- the end of it ---- */

static void closing_takes_back_what_is_in_flight(void **state)
{
    (void)state;
    plug(&ordinary);
    model.takes_nothing = true;
    open_link();
    run_for(20);
    assert_int_equal(link_send(link_under_test, (const uint8_t *)"x", 1), RESULT_OK);
    assert_int_equal(usb_mock_counts(mock, receiver).in_flight, 5);
    close_link();
    assert_int_equal(usb_mock_counts(mock, receiver).in_flight, 0);
    assert_int_equal(usb_mock_counts(mock, receiver).cancelled, 5);
    assert_int_equal(user.closed, 0);
}

static void may_be_closed_by_what_it_tells(void **state)
{
    (void)state;
    plug(&ordinary);
    for (int i = 0; i < 3; i++)
        will_give(9);
    user.closes_at_chunk = true;
    open_link();
    run_for(50);
    assert_int_equal(user.chunks, 1);
    assert_null(link_under_test);

    memset(&user, 0, sizeof user);
    user.closes_at_end = true;
    open_link();
    run_for(20);
    usb_mock_unplug(mock, receiver);
    run_until(&user.closed, 1);
    assert_int_equal(user.closed, 1);
    assert_null(link_under_test);
}

static void pulled_out_it_says_so_and_plugged_in_it_is_had_again(void **state)
{
    const char *why = NULL;
    (void)state;
    plug(&ordinary);
    will_give(9);
    model.takes_nothing = true;
    open_link();
    run_for(20);
    assert_int_equal(link_send(link_under_test, (const uint8_t *)"x", 1), RESULT_OK);
    usb_mock_unplug(mock, receiver);
    run_until(&user.closed, 1);
    assert_int_equal(user.closed, 1);
    assert_string_equal(user.why, "the receiver was unplugged; plug it in again");
    assert_int_equal(link_send(link_under_test, (const uint8_t *)"x", 1), RESULT_CLOSED);
    close_link();
    assert_null(link_usb_open(loop, NULL, &callbacks, &why));
    assert_string_equal(why, "no receiver is plugged in; plug it in, or into another port");

    memset(&user, 0, sizeof user);
    memset(&model, 0, sizeof model);
    user.in_order = true;
    struct usb_mock_device elsewhere = ordinary;
    elsewhere.port = 5;
    plug(&elsewhere);
    will_give(64);
    open_link();
    run_for(50);
    assert_int_equal(user.octets, 64);
}

/* ---- troubles of a pipe ---- */

static void a_stall_is_cleared_and_nothing_is_lost(void **state)
{
    (void)state;
    plug(&ordinary);
    for (int i = 0; i < 30; i++) {
        will_give(i % 3 == 0 ? -EPIPE : 20);
        if (i % 10 == 0)
            will_give(-EPIPE); /* once more, right behind */
    }
    model.take_errors[0] = model.take_errors[1] = -EPIPE;
    model.take_error_count = 2;
    user.sends_at_opening = true;
    open_link();
    run_until(&user.octets, 20 * 20);
    assert_int_equal(user.closed, 0);
    assert_int_equal(user.octets, 20 * 20);
    assert_true(user.in_order);
    assert_int_equal(usb_mock_counts(mock, receiver).halts_cleared, 13 + 2);
    assert_memory_equal(model.taken, "hello", 5);
}

static void what_breaks_off_is_tried_again_after_a_pause(void **state)
{
    (void)state;
    plug(&ordinary);
    for (int i = 0; i < 3; i++) {
        will_give(-EPROTO);
        will_give(-EOVERFLOW);
        will_give(11);
    }
    model.take_errors[0] = -EPROTO;
    model.take_error_count = 1;
    user.sends_at_opening = true;
    open_link();
    run_until(&user.octets, 33);
    assert_int_equal(user.closed, 0);
    assert_int_equal(user.octets, 33);
    assert_true(user.in_order);
    assert_int_equal(usb_mock_counts(mock, receiver).halts_cleared, 0);
    assert_memory_equal(model.taken, "hello", 5);
}

static void a_pipe_that_does_nothing_else_is_given_up(int error, bool is_out)
{
    plug(&ordinary);
    for (int i = 0; i < 100; i++)
        if (!is_out)
            will_give(error);
    for (int i = 0; i < 16; i++)
        model.take_errors[i] = error;
    model.take_error_count = is_out ? 16 : 0;
    user.sends_at_opening = is_out;
    open_link();
    run_until(&user.closed, 1);
    assert_int_equal(user.closed, 1);
    assert_string_equal(user.why, "the receiver's transfers break off; try another port, without a "
                                  "hub or a long cable");
    assert_true(usb_mock_counts(mock, receiver).halts_cleared <= 5);
}

static void stalls_without_end_are_given_up(void **state)
{
    (void)state;
    a_pipe_that_does_nothing_else_is_given_up(-EPIPE, false);
}

static void stalls_of_what_is_sent_are_given_up(void **state)
{
    (void)state;
    a_pipe_that_does_nothing_else_is_given_up(-EPIPE, true);
}

static void breaks_without_end_are_given_up(void **state)
{
    (void)state;
    a_pipe_that_does_nothing_else_is_given_up(-EPROTO, false);
}

static void a_halt_that_cannot_be_cleared_is_given_up(void **state)
{
    struct usb_mock_device stubborn = ordinary;
    (void)state;
    stubborn.clear_error = EINVAL;
    plug(&stubborn);
    for (int i = 0; i < 100; i++)
        will_give(-EPIPE);
    open_link();
    run_until(&user.closed, 1);
    assert_int_equal(user.closed, 1);
}

static void a_kernel_that_transfers_nothing_is_given_up(void **state)
{
    struct usb_mock_device refused = ordinary;
    (void)state;
    refused.submit_error = ENOMEM;
    plug(&refused);
    user.sends_at_opening = true;
    open_link();
    run_until(&user.closed, 1);
    assert_int_equal(user.closed, 1);
}

static void a_receiver_that_takes_nothing_closes_in_time(void **state)
{
    (void)state;
    plug(&ordinary);
    model.takes_nothing = true;
    user.sends_at_opening = true;
    open_link();
    run_for(900);
    assert_int_equal(user.closed, 0);
    run_until(&user.closed, 1);
    assert_int_equal(user.closed, 1);
    assert_string_equal(user.why,
                        "the receiver takes nothing any more; unplug it and plug it in again");
}

/* ---- hostile ones ---- */

static void more_than_was_asked_for_is_no_data(void **state)
{
    (void)state;
    plug(&ordinary);
    model.oversize = 100000;
    for (int i = 0; i < 100; i++)
        will_give(64);
    open_link();
    run_until(&user.closed, 1);
    assert_int_equal(user.octets, 0);
    assert_int_equal(user.closed, 1);
}

static void empty_packets_without_end_hold_up_nothing(void **state)
{
    (void)state;
    plug(&ordinary);
    for (int i = 0; i < 100; i++)
        will_give(0);
    will_give(5);
    open_link();
    run_until(&user.octets, 5);
    assert_int_equal(user.closed, 0);
    assert_int_equal(user.octets, 5);
}

static void any_size_of_packets_is_taken(void **state)
{
    static const uint16_t sizes[] = {8, 512, 1024, 0xFFFF};
    (void)state;
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        struct usb_mock_device odd = ordinary;
        memset(&user, 0, sizeof user);
        memset(&model, 0, sizeof model);
        user.in_order = true;
        odd.packet_size = sizes[i];
        plug(&odd);
        will_give(512);
        open_link();
        run_for(50);
        assert_int_equal(user.octets, 512);
        close_link();
        usb_mock_unplug(mock, receiver);
    }
}

/* ---- receivers that cannot be had ---- */

static const char *why_not(const char *place)
{
    const char *why = NULL;
    assert_null(link_usb_open(loop, place, &callbacks, &why));
    assert_non_null(why);
    return why;
}

static void says_why_there_is_none(void **state)
{
    struct usb_mock_device device = ordinary;
    (void)state;
    assert_string_equal(why_not(NULL),
                        "no receiver is plugged in; plug it in, or into another port");
    device.claim_error = EBUSY;
    plug(&device);
    assert_string_equal(why_not(NULL), "another program has the receiver; end that one");
    assert_string_equal(why_not("1-9"),
                        "no receiver is plugged in there; 'afterset ready' lists them");
    usb_mock_unplug(mock, receiver);
    device.claim_error = 0;
    device.has_no_pipes = true;
    plug(&device);
    assert_string_equal(
        why_not(NULL),
        "the receiver is of a kind that is not known here: it has no pair of bulk pipes");
}

static void of_several_the_first_that_is_free_is_taken(void **state)
{
    struct usb_mock_device first = ordinary, second = ordinary;
    const char *why = NULL;
    (void)state;
    first.claim_error = EBUSY;
    second.bus = 2;
    second.product = 0x1009;
    plug(&second);
    const int free_one = receiver;
    plug(&first);
    open_link();
    assert_int_equal(usb_mock_counts(mock, free_one).claims, 1);
    close_link();
    link_under_test = link_usb_open(loop, "2-2", &callbacks, &why);
    assert_non_null(link_under_test);
    assert_int_equal(usb_mock_counts(mock, free_one).claims, 2);
}

/* ---- the list ---- */

static const struct usb_mock_device adapter = {.bus = 1,
                                               .port = 10,
                                               .vendor = 0x1209,
                                               .product = 1,
                                               .class_code = 0xE0,
                                               .subclass = 1,
                                               .protocol = 1};

static void lists_receivers_and_adapters_by_place(void **state)
{
    struct usb_mock_device older = ordinary, keyboard = {.bus = 1, .port = 4, .vendor = 0x1209};
    struct usb_list list;
    (void)state;
    older.product = 0x1004;
    older.port = 3;
    plug(&adapter);
    plug(&older);
    plug(&keyboard);
    plug(&ordinary);
    assert_int_equal(usb_list(&list), RESULT_OK);
    assert_int_equal(list.count, 3);
    assert_string_equal(list.entries[0].place, "1-2");
    assert_string_equal(list.entries[0].node, "/dev/bus/usb/001/002");
    assert_int_equal(list.entries[0].kind, USB_RECEIVER);
    assert_true(list.entries[0].may_open);
    assert_int_equal(list.entries[1].kind, USB_RECEIVER_OLDER);
    assert_string_equal(list.entries[2].place, "1-10");
    assert_int_equal(list.entries[2].kind, USB_BLUETOOTH);
}

/* ---- adapters ---- */

static void knows_where_an_adapter_is(void **state)
{
    char place[USB_PLACE_SIZE] = "";
    (void)state;
    plug(&adapter);
    assert_false(adapter_usb_place(3, place));
    usb_mock_make_adapter(mock, receiver, 3);
    assert_true(adapter_usb_place(3, place));
    assert_string_equal(place, "1-10");
    assert_false(adapter_usb_place(0, place));
}

static void resets_an_adapter_and_nothing_else(void **state)
{
    const char *why = NULL;
    (void)state;
    plug(&ordinary);
    assert_false(usb_reset_adapter("1-2", &why));
    assert_string_equal(why, "no Bluetooth adapter is plugged in there");
    assert_int_equal(usb_mock_counts(mock, receiver).resets, 0);
    plug(&adapter);
    assert_true(usb_reset_adapter("1-10", &why));
    assert_int_equal(usb_mock_counts(mock, receiver).resets, 1);
    assert_false(usb_reset_adapter("", &why));
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(octets_go_both_ways_in_order),
        TEST(a_kernel_driver_gives_way_and_comes_back),
        TEST(closing_takes_back_what_is_in_flight),
        TEST(may_be_closed_by_what_it_tells),
        TEST(pulled_out_it_says_so_and_plugged_in_it_is_had_again),
        TEST(a_stall_is_cleared_and_nothing_is_lost),
        TEST(what_breaks_off_is_tried_again_after_a_pause),
        TEST(stalls_without_end_are_given_up),
        TEST(stalls_of_what_is_sent_are_given_up),
        TEST(breaks_without_end_are_given_up),
        TEST(a_halt_that_cannot_be_cleared_is_given_up),
        TEST(a_kernel_that_transfers_nothing_is_given_up),
        TEST(a_receiver_that_takes_nothing_closes_in_time),
        TEST(more_than_was_asked_for_is_no_data),
        TEST(empty_packets_without_end_hold_up_nothing),
        TEST(any_size_of_packets_is_taken),
        TEST(says_why_there_is_none),
        TEST(of_several_the_first_that_is_free_is_taken),
        TEST(knows_where_an_adapter_is),
        TEST(resets_an_adapter_and_nothing_else),
        TEST(lists_receivers_and_adapters_by_place),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
