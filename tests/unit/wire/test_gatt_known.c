/*
 * What a GATT client remembers of a device, and when it believes it: Bluetooth Core 5.1, Vol 3 Part
 * G 7.3 (Database Hash, 16 octets, read by its type) and 2.5.2. The octets of the hashes are made
 * up; only that they are equal counts.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "support/client_talk.h"

#define HASH       "11 22 33 44 55 66 77 88 99 AA BB CC DD EE FF 01"
#define OTHER_HASH "11 22 33 44 55 66 77 88 99 AA BB CC DD EE FF 02"
#define ASKED      "> 08 01 00 FF FF 2A 2B"
#define DISCOVERED "> 10 01 00 FF FF 00 28"

static struct gatt_known remembered;

/* A fitness machine with its bike data at 3, and a service of its own at 10. */
static void remember_bike(void)
{
    static const uint8_t own[16] = {0xEF, 0xCD, 0xAB, 0x89, 0x67, 0x45, 0x23, 0x01};
    struct bytes_reader service = bytes_reader(own, sizeof own), characteristic = service;
    memset(&remembered, 0, sizeof remembered);
    remembered.services[0] = (struct gatt_service){{.assigned = 0x1826}, 1, 9};
    remembered.services[1] = (struct gatt_service){att_uuid_take(&service, 16), 10, 12};
    remembered.service_count = 2;
    remembered.characteristics[0] =
        (struct gatt_characteristic){{.assigned = 0x2AD2}, 0, GATT_NOTIFY, 2, 3, 4};
    remembered.characteristics[1] =
        (struct gatt_characteristic){{.assigned = 0x2ACC}, 0, GATT_READ, 5, 6, 0};
    remembered.characteristics[2] =
        (struct gatt_characteristic){att_uuid_take(&characteristic, 16), 1, GATT_WRITE, 11, 12, 0};
    remembered.characteristic_count = 3;
    remembered.has_hash = true;
    assert_int_equal(octets_from_text(HASH, remembered.hash, sizeof remembered.hash), 16);
}

static void start_remembering(void)
{
    talk_start();
    gatt_client_remember(&talk.client, &remembered);
    TALK("> 02 05 02", "< 03 00 02", ASKED);
}

/* ---- whether it is believed ---- */

static void same_hash_opens_at_once(void **state)
{
    (void)state;
    remember_bike();
    start_remembering();
    assert_null(gatt_client_find(&talk.client, 0x1826, 0x2AD2)); /* not before it is confirmed */
    TALK("< 09 12 30 00 " HASH, ">");
    talk_expect_event(GATT_DISCOVERED, 0, 0, "");
    talk_expect_no_event();
    assert_int_equal(gatt_client_find(&talk.client, 0x1826, 0x2AD2)->client_config_handle, 4);
    assert_int_equal(talk.client.known.characteristic_count, 3);
    assert_true(talk.client.known.has_hash);
}

static void writes_wait_for_the_hash(void **state)
{
    static const uint8_t on[] = {1, 0};
    (void)state;
    remember_bike();
    talk_start();
    gatt_client_remember(&talk.client, &remembered);
    assert_int_equal(gatt_client_write_first(&talk.client, 4, on, 2), RESULT_OK);
    assert_int_equal(gatt_client_write_command(&talk.client, 4, on, 2), RESULT_OK);
    TALK("> 02 05 02", ">", "< 03 00 02", ASKED, ">", "< 09 12 30 00 " HASH, "> 12 04 00 01 00");
}

struct doubt_row {
    const char *answer;
    const char *hash; /* what is remembered next time; NULL: nothing */
};

static struct doubt_row doubt_rows[] = {
    {"09 12 30 00 " OTHER_HASH, OTHER_HASH},
    {"01 08 01 00 0A", NULL}, /* it has none */
    {"01 08 01 00 02", NULL}, /* it gives none */
    {"01 08 01 00 12", NULL}, /* out of sync, and that is what we ask about */
    {"01 08", NULL},          /* cut */
    {"0B " HASH, NULL},       /* of the wrong kind */
    {"09", NULL},             /* from here on malformed */
    {"09 12", NULL},
    {"09 12 30 00", NULL},
    {"09 12 30 00 11", NULL},
    {"09 13 30 00 " HASH " 00", NULL}, /* an octet too many */
    {"09 11 30 00 11 22 33 44 55 66 77 88 99 AA BB CC DD EE FF", NULL},
    {"09 12 30 00 " HASH " 31 00 " HASH, NULL}, /* two: which? */
    {"09 02 30 00", NULL},
    {"09 00", NULL},
};

static void anything_else_discovers_anew(void **state)
{
    const struct doubt_row *row = *state;
    remember_bike();
    start_remembering();
    talk_receive(row->answer);
    TALK(DISCOVERED, "< 11 06 01 00 08 00 26 18", "> 10 09 00 FF FF 00 28", "< 01 10 09 00 0A",
         "> 08 01 00 08 00 03 28", "< 09 07 04 00 10 05 00 D2 2A", "> 08 05 00 08 00 03 28",
         "< 01 08 05 00 0A", "> 04 06 00 08 00", "< 05 01 06 00 02 29", ">");
    talk_expect_event(GATT_DISCOVERED, 0, 0, "");
    /* It has moved: nothing that was remembered is left. */
    assert_int_equal(talk.client.known.characteristic_count, 1);
    assert_int_equal(gatt_client_find(&talk.client, 0x1826, 0x2AD2)->client_config_handle, 6);
    assert_int_equal(talk.client.known.has_hash, row->hash != NULL);
    if (row->hash != NULL)
        assert_octets(talk.client.known.hash, 16, row->hash);
    assert_false(talk.client.known.is_cut);
}

/* With the same hash: an error in their midst left something out, and may have passed. */
static void cut_tables_are_discovered_anew(void **state)
{
    (void)state;
    remember_bike();
    remembered.is_cut = true;
    start_remembering();
    TALK("< 09 12 30 00 " HASH, DISCOVERED, "< 01 10 01 00 0A");
    talk_expect_event(GATT_DISCOVERED, 0, 0, "");
    assert_int_equal(talk.client.known.characteristic_count, 0);
    assert_false(talk.client.known.is_cut);
}

static void first_meeting_asks_for_the_hash_to_keep(void **state)
{
    (void)state;
    memset(&remembered, 0, sizeof remembered);
    start_remembering(); /* a hash of zeros is not that of one never met */
    TALK("< 09 12 30 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00 00", DISCOVERED,
         "< 01 10 01 00 0A");
    talk_expect_event(GATT_DISCOVERED, 0, 0, "");
    assert_true(talk.client.known.has_hash);
}

static void refused_mtu_does_not_matter(void **state)
{
    (void)state;
    remember_bike();
    talk_start();
    gatt_client_remember(&talk.client, &remembered);
    TALK("> 02 05 02", "< 01 02 00 00 06", ASKED, "< 09 12 30 00 " HASH, ">");
    talk_expect_event(GATT_DISCOVERED, 0, 0, "");
}

/* ATT error 0x12: Bluetooth Core 5.1, Vol 3 Part F 3.4.1.1, Part G 2.5.2.1. */
static void out_of_sync_ends_the_link(void **state)
{
    (void)state;
    remember_bike();
    start_remembering();
    TALK("< 09 12 30 00 " HASH, ">");
    talk_expect_event(GATT_DISCOVERED, 0, 0, "");
    assert_int_equal(gatt_client_read(&talk.client, 6), RESULT_OK);
    assert_int_equal(gatt_client_read(&talk.client, 6), RESULT_OK);
    TALK("> 0A 06 00", "< 01 0A 06 00 12", ">");
    talk_expect_event(GATT_DEAD, 0, 0x12, "");
    talk_expect_no_event();
    assert_int_equal(gatt_client_read(&talk.client, 6), RESULT_CLOSED);
}

/* ---- changes while the link stands ---- */

#define CHANGED "< 1D 10 00 01 00 FF FF" /* Core 5.1, Vol 3 Part G 7.1: every handle */
#define WRITTEN "> 12 06 00 07"

static const uint8_t octet_7[] = {7};

/* Service Changed (0x2A05) at 16 in the Generic Attribute Service. */
static void remember_changing_bike(void)
{
    remember_bike();
    remembered.services[remembered.service_count++] =
        (struct gatt_service){{.assigned = 0x1801}, 14, 17};
    remembered.characteristics[remembered.characteristic_count++] =
        (struct gatt_characteristic){{.assigned = 0x2A05}, 2, GATT_INDICATE, 15, 16, 17};
}

static void open_changing_bike(void)
{
    remember_changing_bike();
    start_remembering();
    TALK("< 09 12 30 00 " HASH, "> 12 11 00 02 00", ">", "< 13", ">");
    talk_expect_event(GATT_DISCOVERED, 0, 0, "");
}

static void ask_to_write(void)
{
    assert_int_equal(gatt_client_write_first(&talk.client, 6, octet_7, 1), RESULT_OK);
}

static void changes_are_asked_to_be_told(void **state)
{
    (void)state;
    open_changing_bike();
    talk_expect_no_event();
}

static struct doubt_row unwilling_rows[] = {
    {"01 12 11 00 03", NULL}, /* write not permitted */
    {"01 12 11 00 80", NULL},
    {"0B 00", NULL}, /* of the wrong kind */
    {"13 00", NULL}, /* an octet too many */
};

static void a_bike_that_tells_of_none_opens_all_the_same(void **state)
{
    const struct doubt_row *row = *state;
    remember_changing_bike();
    start_remembering();
    TALK("< 09 12 30 00 " HASH, "> 12 11 00 02 00");
    talk_receive(row->answer);
    talk_expect_pdu("");
    talk_expect_event(GATT_DISCOVERED, 0, 0, "");
}

/* Nothing is remembered here; a first meeting, of a machine without a hash and with one. */
static void only_a_hash_makes_changes_of_use(void **state)
{
    (void)state;
    for (int has_hash = 0; has_hash < 2; has_hash++) {
        memset(&remembered, 0, sizeof remembered);
        start_remembering();
        talk_receive(has_hash ? "09 12 30 00 " HASH : "01 08 01 00 0A");
        TALK(DISCOVERED, "< 11 06 0E 00 FF FF 01 18", "> 08 0E 00 FF FF 03 28",
             "< 09 07 0F 00 20 10 00 05 2A", "> 08 10 00 FF FF 03 28", "< 01 08 10 00 0A",
             "> 04 11 00 FF FF", "< 05 01 11 00 02 29");
        talk_expect_pdu(has_hash ? "12 11 00 02 00" : "");
    }
}

static void told_of_a_change_and_the_same_hash_goes_on(void **state)
{
    (void)state;
    open_changing_bike();
    TALK(CHANGED, "> 1E");
    ask_to_write();
    TALK(ASKED, ">", "< 09 12 30 00 " HASH, WRITTEN, ">", "< 13", ">");
    talk_expect_event(GATT_WRITE_DONE, 6, 0, "");
    talk_expect_no_event();
}

static void nothing_is_written_to_handles_in_doubt(void **state)
{
    (void)state;
    open_changing_bike();
    ask_to_write();
    TALK(WRITTEN);
    ask_to_write();
    assert_int_equal(gatt_client_write_command(&talk.client, 6, octet_7, 1), RESULT_OK);
    TALK(CHANGED, "> 1E", ">", "< 13", ASKED, ">", "< 09 12 30 00 " OTHER_HASH, ">");
    talk_expect_event(GATT_WRITE_DONE, 6, 0, "");
    talk_expect_event(GATT_DEAD, 0, 0x12, "");
    talk_expect_no_event();
    assert_int_equal(gatt_client_write_first(&talk.client, 6, octet_7, 1), RESULT_CLOSED);
}

static void a_change_without_the_same_hash_ends_the_link(void **state)
{
    const struct doubt_row *row = *state;
    open_changing_bike();
    TALK(CHANGED);
    ask_to_write();
    TALK("> 1E", ASKED);
    talk_receive(row->answer);
    talk_expect_pdu("");
    talk_expect_event(GATT_DEAD, 0, 0x12, "");
    talk_expect_no_event();
}

/* However often it is told: one question, then what waits goes out. */
static void many_changes_keep_nothing_waiting(void **state)
{
    (void)state;
    open_changing_bike();
    TALK(CHANGED, "> 1E");
    ask_to_write();
    TALK(ASKED, CHANGED, "> 1E", CHANGED, "> 1E", ">", "< 09 12 30 00 " HASH, WRITTEN);
}

static void silence_about_the_hash_ends_the_link(void **state)
{
    (void)state;
    open_changing_bike();
    gatt_client_set_patience(&talk.client, 4000);
    TALK(CHANGED, "> 1E", ASKED);
    gatt_client_tick(&talk.client, talk.now_ms);
    gatt_client_tick(&talk.client, talk.now_ms + 3999);
    talk_expect_no_event();
    gatt_client_tick(&talk.client, talk.now_ms + 4000);
    talk_expect_event(GATT_DEAD, 0, 0, "");
}

static void other_indications_are_no_changes(void **state)
{
    (void)state;
    open_changing_bike();
    TALK("< 1D 0F 00 01 00 FF FF", "> 1E", ">", "< 1B 10 00 01 00 FF FF", ">");
    talk_expect_event(GATT_NOTIFIED, 15, 0, "01 00 FF FF");
    talk_expect_event(GATT_NOTIFIED, 16, 0, "01 00 FF FF"); /* no indication */
}

/* ---- as octets ---- */

static uint8_t kept[GATT_KNOWN_OCTETS_MAX];

static void assert_same(const struct gatt_known *read)
{
    assert_true(read->has_hash);
    assert_false(read->is_cut);
    assert_memory_equal(read->hash, remembered.hash, sizeof read->hash);
    assert_int_equal(read->service_count, remembered.service_count);
    assert_int_equal(read->characteristic_count, remembered.characteristic_count);
    for (uint8_t i = 0; i < read->service_count; i++) {
        const struct gatt_service *one = &read->services[i], *other = &remembered.services[i];
        assert_true(att_uuid_equal(&one->uuid, &other->uuid));
        assert_int_equal(one->first_handle, other->first_handle);
        assert_int_equal(one->last_handle, other->last_handle);
    }
    for (uint8_t i = 0; i < read->characteristic_count; i++) {
        const struct gatt_characteristic *one = &read->characteristics[i],
                                         *other = &remembered.characteristics[i];
        assert_true(att_uuid_equal(&one->uuid, &other->uuid));
        assert_int_equal(one->service, other->service);
        assert_int_equal(one->properties, other->properties);
        assert_int_equal(one->declaration_handle, other->declaration_handle);
        assert_int_equal(one->value_handle, other->value_handle);
        assert_int_equal(one->client_config_handle, other->client_config_handle);
    }
}

static void octets_say_the_same(void **state)
{
    struct gatt_known read;
    (void)state;
    remember_bike();
    const size_t length = gatt_known_encode(&remembered, kept);
    assert_int_equal(length, 1 + 16 + 2 + (3 + 4) + (17 + 4) + 2 * (3 + 8) + (17 + 8));
    memset(&read, 0xEE, sizeof read);
    assert_int_equal(gatt_known_decode(kept, length, &read), RESULT_OK);
    assert_same(&read);
}

static void full_tables_fit(void **state)
{
    struct gatt_known read;
    (void)state;
    remember_bike();
    for (uint16_t i = 0; i < GATT_SERVICES_MAX; i++)
        remembered.services[i] = (struct gatt_service){
            remembered.services[1].uuid, (uint16_t)(i * 100 + 1), (uint16_t)(i * 100 + 100)};
    for (uint16_t i = 0; i < GATT_CHARACTERISTICS_MAX; i++) {
        const uint16_t at = (uint16_t)(i / 4 * 100 + i % 4 * 3 + 2);
        remembered.characteristics[i] =
            (struct gatt_characteristic){remembered.services[0].uuid, (uint8_t)(i / 4),  0x10, at,
                                         (uint16_t)(at + 1),          (uint16_t)(at + 2)};
    }
    remembered.service_count = GATT_SERVICES_MAX;
    remembered.characteristic_count = GATT_CHARACTERISTICS_MAX;
    const size_t length = gatt_known_encode(&remembered, kept);
    assert_int_equal(length, GATT_KNOWN_OCTETS_MAX);
    assert_int_equal(gatt_known_decode(kept, length, &read), RESULT_OK);
    assert_same(&read);
}

static void nothing_is_kept_without_a_hash_or_cut(void **state)
{
    (void)state;
    remember_bike();
    remembered.is_cut = true;
    assert_int_equal(gatt_known_encode(&remembered, kept), 0);
    remembered.is_cut = false;
    remembered.has_hash = false;
    assert_int_equal(gatt_known_encode(&remembered, kept), 0);
}

/* Each in a block of exactly its size, so that the sanitizers see what is read behind it. */
static enum result decode_alone(const uint8_t *octets, size_t length)
{
    struct gatt_known read;
    uint8_t *alone = malloc(length);
    assert_true(alone != NULL || length == 0);
    if (length > 0)
        memcpy(alone, octets, length);
    const enum result result = gatt_known_decode(alone, length, &read);
    free(alone);
    return result;
}

static void every_other_length_is_refused(void **state)
{
    (void)state;
    remember_bike();
    const size_t length = gatt_known_encode(&remembered, kept);
    kept[length] = 0;
    for (size_t cut = 0; cut < length; cut++)
        assert_int_equal(decode_alone(kept, cut), RESULT_INVALID);
    assert_int_equal(decode_alone(kept, length + 1), RESULT_INVALID);
}

struct hostile_row {
    size_t at;
    uint8_t octet;
    const char *what;
};

static struct hostile_row hostile_rows[] = {
    {0, 2, "another form"},
    {17, 25, "more services than the tables hold"},
    {17, 255, "as many as can be said"},
    {18, 97, "more characteristics than the tables hold"},
    {18, 0, "octets left over"},
    {19, 3, "a UUID of three octets"},
    {19, 0, "a UUID of none"},
    {19, 255, "a UUID of very many"},
    {22, 0, "a service at handle 0"},
    {24, 0, "a service that ends before it begins"},
    {24, 10, "a service that ends in the next"},
    {50, 2, "a characteristic of a service that is none"},
    {50, 1, "a characteristic of the wrong service"},
    {52, 3, "a value that is not behind its declaration"},
    {54, 10, "a value outside of its service"},
    {56, 3, "a configuration that is the value"},
    {56, 10, "a configuration outside of its service"},
    {63, 4, "a declaration that is a configuration"},
};

static void hostile_octets_are_refused(void **state)
{
    const struct hostile_row *row = *state;
    remember_bike();
    const size_t length = gatt_known_encode(&remembered, kept);
    assert_int_equal(decode_alone(kept, length), RESULT_OK);
    assert_int_not_equal(kept[row->at], row->octet);
    kept[row->at] = row->octet;
    if (decode_alone(kept, length) != RESULT_INVALID)
        fail_msg("%s is taken", row->what);
}

/* Whatever one changed octet says: refused, or within the tables and their services. */
static void no_octet_leads_out_of_the_tables(void **state)
{
    struct gatt_known read;
    (void)state;
    remember_bike();
    const size_t length = gatt_known_encode(&remembered, kept);
    for (size_t at = 0; at < length; at++) {
        const uint8_t was = kept[at];
        for (unsigned octet = 0; octet < 256; octet++) {
            kept[at] = (uint8_t)octet;
            if (gatt_known_decode(kept, length, &read) != RESULT_OK)
                continue;
            assert_true(read.service_count <= GATT_SERVICES_MAX);
            for (uint8_t i = 0; i < read.characteristic_count; i++) {
                const struct gatt_characteristic *own = &read.characteristics[i];
                assert_true(own->service < read.service_count);
                assert_in_range(own->value_handle, read.services[own->service].first_handle,
                                read.services[own->service].last_handle);
            }
        }
        kept[at] = was;
    }
}

int main(void)
{
    static struct CMUnitTest tests[80];
    size_t count = 0;
    ONE(same_hash_opens_at_once)
    ONE(writes_wait_for_the_hash)
    ROWS(anything_else_discovers_anew, doubt_rows)
    ONE(cut_tables_are_discovered_anew)
    ONE(first_meeting_asks_for_the_hash_to_keep)
    ONE(refused_mtu_does_not_matter)
    ONE(out_of_sync_ends_the_link)
    ONE(changes_are_asked_to_be_told)
    ROWS(a_bike_that_tells_of_none_opens_all_the_same, unwilling_rows)
    ONE(only_a_hash_makes_changes_of_use)
    ONE(told_of_a_change_and_the_same_hash_goes_on)
    ONE(nothing_is_written_to_handles_in_doubt)
    ROWS(a_change_without_the_same_hash_ends_the_link, doubt_rows)
    ONE(many_changes_keep_nothing_waiting)
    ONE(silence_about_the_hash_ends_the_link)
    ONE(other_indications_are_no_changes)
    ONE(octets_say_the_same)
    ONE(full_tables_fit)
    ONE(nothing_is_kept_without_a_hash_or_cut)
    ONE(every_other_length_is_refused)
    ROWS(hostile_octets_are_refused, hostile_rows)
    ONE(no_octet_leads_out_of_the_tables)
    return _cmocka_run_group_tests("gatt_known", tests, count, NULL, NULL);
}
