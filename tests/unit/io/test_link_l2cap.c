/*
 * What the kernel's errors become for a rider. Which error means what: net/bluetooth/lib.c (errors
 * of the controller), hci_conn.c and l2cap_core.c of Linux 6.12; the ones marked "seen" came from
 * that kernel with virtual controllers.
 */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include <sys/socket.h>

#include <bluetooth/bluetooth.h>
#include <bluetooth/l2cap.h>

#include "io/link_l2cap.h"

/* What the words must name: the cause or the cure. */
static const struct error_row {
    const char *when;
    int error;
    const char *says;
} connecting[] =
    {
        {"the kernel has no Bluetooth (seen)", EAFNOSUPPORT, "no Bluetooth"},
        {"no adapter, or it is off (seen)", EHOSTUNREACH, "bluetoothctl power on"},
        {"no adapter, or it is blocked", EHOSTUNREACH, "rfkill unblock bluetooth"},
        {"LE is off (seen)", ECONNREFUSED, "le on"},
        {"the adapter has no LE", EOPNOTSUPP, "Low Energy"},
        {"the link's channel is taken, by bluetoothd for one (seen)", EBUSY,
         "bluetoothctl disconnect"},
        {"not heard in time", ETIMEDOUT, "not in reach"},
        {"pairing failed or nobody confirmed it (seen)", EACCES, "bluetoothctl"},
        {"pairing was refused", EBADE, "pair"},
        {"the adapter went off meanwhile", ENETUNREACH, "went off"},
        {"connection limit", EMLINK, "disconnect others"},
        {"failed to be established", ENOSYS, "nearer"},
        {"the peer ends it before it stands (0x13)", ECONNRESET, "off and on"},
        {"this host ends it (0x16)", ECONNABORTED, "other programs"},
        {"the call is cancelled (0x02)", ENOTCONN, "try again"},
        {"the controller has no memory (0x07)", ENOMEM, "memory"},
        {"the adapter went down", ENETDOWN, "went off"},
        {"the socket is not bound, or was used before (seen)", EINVAL, "adapter off and on"},
        {"anything else", EPERM, "could not"},
},
  lost[] = {
      {"supervision time-out", ETIMEDOUT, "out of reach"},
      {"the other side ended it, or the adapter went off (seen)", ECONNRESET, "ended the link"},
      {"this side ended it", ECONNABORTED, "this computer"},
      {"a key that does not fit", EACCES, "pair"},
      {"pairing timed out (seen)", EBADE, "bluetoothctl"},
      {"never established, a wrong checksum, an instant missed (0x3E, 0x3D, 0x28)", ENOSYS,
       "nearer"},
      {"the adapter is gone", ENODEV, "plug it in"},
      {"the adapter went down", ENETDOWN, "plug it in"},
      {"anything else", EPERM, "broke"},
};

static void errors_while_connecting(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof connecting / sizeof connecting[0]; i++)
        if (strstr(link_l2cap_connect_words(connecting[i].error), connecting[i].says) == NULL)
            fail_msg("%s: '%s'", connecting[i].when, link_l2cap_connect_words(connecting[i].error));
}

static void errors_of_a_link(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof lost / sizeof lost[0]; i++)
        if (strstr(link_l2cap_lost_words(lost[i].error, false), lost[i].says) == NULL)
            fail_msg("%s: '%s'", lost[i].when, link_l2cap_lost_words(lost[i].error, false));
}

/* A peer that refuses to pair may just end the link. */
static void a_link_lost_while_it_is_encrypted(void **state)
{
    (void)state;
    assert_true(link_l2cap_wants_pairing(link_l2cap_lost_words(ECONNRESET, true)));
    assert_false(link_l2cap_wants_pairing(link_l2cap_lost_words(ETIMEDOUT, true)));
}

/* The kernel's own numbers, which device_address shares. */
static void types_and_sizes_are_the_kernels(void **state)
{
    (void)state;
    assert_int_equal(ADDRESS_PUBLIC, BDADDR_LE_PUBLIC);
    assert_int_equal(ADDRESS_RANDOM, BDADDR_LE_RANDOM);
    assert_int_equal(sizeof(struct sockaddr_l2), 14);
    assert_int_equal(sizeof(bdaddr_t), ADDRESS_OCTETS);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(errors_while_connecting),
        cmocka_unit_test(errors_of_a_link),
        cmocka_unit_test(a_link_lost_while_it_is_encrypted),
        cmocka_unit_test(types_and_sizes_are_the_kernels),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
