/* Numbers as in BlueZ src/shared/att-types.h. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "support/octets.h"
#include "wire/att.h"

static struct att_uuid uuid_of(const char *text)
{
    uint8_t octets[16];
    size_t length = octets_from_text(text, octets, sizeof octets);
    struct bytes_reader reader = bytes_reader(octets, length);
    return att_uuid_take(&reader, length);
}

/* Bluetooth Base UUID 00000000-0000-1000-8000-00805F9B34FB: Core, Vol 3 Part B 2.5.1 */
static void uuid_on_the_base_is_the_assigned_one(void **state)
{
    (void)state;
    struct att_uuid brief = uuid_of("26 18");
    struct att_uuid full = uuid_of("FB 34 9B 5F 80 00 00 80 00 10 00 00 26 18 00 00");
    assert_true(att_uuid_is(&brief, 0x1826));
    assert_true(att_uuid_is(&full, 0x1826));
    assert_true(att_uuid_equal(&brief, &full));
}

static void uuid_off_the_base_is_its_own(void **state)
{
    (void)state;
    struct att_uuid wide = uuid_of("FB 34 9B 5F 80 00 00 80 00 10 00 00 26 18 01 00");
    struct att_uuid other = uuid_of("FC 34 9B 5F 80 00 00 80 00 10 00 00 26 18 00 00");
    struct att_uuid zeroed = {0};
    assert_false(att_uuid_is(&wide, 0x1826));
    assert_false(att_uuid_is(&other, 0x1826));
    assert_false(att_uuid_equal(&wide, &other));
    assert_true(att_uuid_equal(&wide, &wide));
    assert_false(att_uuid_equal(&wide, &zeroed));
    assert_true(att_uuid_is(&zeroed, 0));
}

static void no_uuid_of_another_length(void **state)
{
    (void)state;
    static const uint8_t octets[17];
    for (size_t length = 0; length <= sizeof octets; length++) {
        struct bytes_reader reader = bytes_reader(octets, sizeof octets);
        struct bytes_reader one_short = bytes_reader(octets, length == 0 ? 0 : length - 1);
        att_uuid_take(&reader, length);
        att_uuid_take(&one_short, length);
        assert_int_equal(reader.failed, length != 2 && length != 16);
        assert_true(one_short.failed);
    }
}

static void kinds_of_opcodes(void **state)
{
    (void)state;
    static const uint8_t responses[] = {0x01, 0x03, 0x05, 0x07, 0x09, 0x0B, 0x0D,
                                        0x0F, 0x11, 0x13, 0x17, 0x19, 0x21};
    for (unsigned opcode = 0; opcode < 256; opcode++) {
        enum att_kind wanted = ATT_KIND_REQUEST;
        if (memchr(responses, (int)opcode, sizeof responses) != NULL)
            wanted = ATT_KIND_RESPONSE;
        else if ((opcode & 0x40) != 0)
            wanted = ATT_KIND_COMMAND;
        else if (opcode == 0x1B || opcode == 0x23)
            wanted = ATT_KIND_NOTIFICATION;
        else if (opcode == 0x1D)
            wanted = ATT_KIND_INDICATION;
        else if (opcode == 0x1E)
            wanted = ATT_KIND_CONFIRMATION;
        assert_int_equal(att_kind((uint8_t)opcode), wanted);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(uuid_on_the_base_is_the_assigned_one),
        cmocka_unit_test(uuid_off_the_base_is_its_own),
        cmocka_unit_test(no_uuid_of_another_length),
        cmocka_unit_test(kinds_of_opcodes),
    };
    return cmocka_run_group_tests_name("att", tests, NULL, NULL);
}
