#include "values.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "app/command.h"
#include "ride/plan.h"
#include "text/lines.h"

bool take_seed(const char *option, const char *word, uint64_t *ret)
{
    char *end = NULL;

    errno = 0;
    const unsigned long long value = strtoull(word, &end, 10);
    /* strtoull() also takes blanks and signs. */
    if (word[0] < '0' || word[0] > '9' || *end != '\0' || errno != 0) {
        complain("%s wants a whole number from 0, not '%s'", option, word);
        return false;
    }
    *ret = value;
    return true;
}

bool take_rate(const char *option, const char *word, double *ret)
{
    struct text_word left = text_word(word);
    uint32_t thousandths;

    if (!text_take_number(&left, 3, &thousandths) || left.length > 0 || thousandths < 100 ||
        thousandths > 10000u * 1000u) {
        complain("%s wants a number from 0.1 to 10000, not '%s'", option, word);
        return false;
    }
    *ret = thousandths / 1000.0;
    return true;
}

bool take_seconds(const char *option, const char *word, uint32_t *ret_ms)
{
    struct text_word left = text_word(word);
    uint32_t seconds;

    if (!text_take_number(&left, 0, &seconds) || seconds < 1 || seconds > 3600 ||
        (left.length > 0 && !text_word_is(left, "s"))) {
        complain("%s wants seconds from 1 to 3600, such as 10s, not '%s'", option, word);
        return false;
    }
    *ret_ms = seconds * 1000;
    return true;
}

bool take_count(const char *option, const char *word, uint32_t low, uint32_t high, uint32_t *ret)
{
    struct text_word left = text_word(word);
    uint32_t count;

    if (!text_take_number(&left, 0, &count) || left.length > 0 || count < low || count > high) {
        complain("%s wants a whole number from %u to %u, not '%s'", option, low, high, word);
        return false;
    }
    *ret = count;
    return true;
}

bool take_change(const char *option, const char *also, const char *word, int32_t most,
                 int32_t *ret_pct)
{
    const bool is_signed = word[0] == '+' || word[0] == '-';
    struct text_word left = text_word(is_signed ? word + 1 : word);
    uint32_t pct;

    if (!text_take_number(&left, 0, &pct) || left.length > 0 || pct > (uint32_t)most ||
        (!is_signed && pct > 0)) {
        complain("%s wants %sor a change from -%d to +%d in per cent, not '%s'", option, also, most,
                 most, word);
        return false;
    }
    *ret_pct = word[0] == '-' ? -(int32_t)pct : (int32_t)pct;
    return true;
}

bool take_length(const char *option, const char *word, uint32_t *ret_ms)
{
    struct text_word left = text_word(word);
    uint32_t length_ms;

    if (!text_take_time(&left, &length_ms) || left.length > 0 || length_ms < PLAN_LENGTH_MIN_MS ||
        length_ms > PLAN_LENGTH_MAX_MS) {
        complain("%s wants a time from 3:00 to 7:00, not '%s'", option, word);
        return false;
    }
    *ret_ms = length_ms;
    return true;
}

bool take_socket_path(const char *option, const char *word, const char **ret)
{
    if (strncmp(word, "unix:", 5) != 0 || word[5] == '\0') {
        complain("%s wants unix:PATH, not '%s'", option, word);
        return false;
    }
    *ret = word + 5;
    return true;
}

bool take_link_address(const char *option, const char *also, const char *word,
                       struct link_address *ret)
{
    if (link_address_read(word, ret))
        return true;
    if (strncmp(word, "usb", 3) == 0)
        complain("%s wants usb, usb:NUMBER with a number from 1 to 65535, or usb@PLACE with a "
                 "place as 'afterset ready' lists them, not '%s'",
                 option, word);
    else
        complain("%s wants %sunix:PATH, capture:FILE or an address such as "
                 "AA:BB:CC:DD:EE:FF/random, not '%s'",
                 option, also, word);
    return false;
}

bool take_adapter(const char *option, const char *word, uint16_t *ret)
{
    char *end = NULL;
    const bool is_named = strncmp(word, "hci", 3) == 0 && word[3] >= '0' && word[3] <= '9';
    const unsigned long index = is_named ? strtoul(word + 3, &end, 10) : 0;

    /* The last number stands for no adapter. */
    if (!is_named || *end != '\0' || index >= UINT16_MAX) {
        complain("%s wants hci0, hci1 or so, not '%s'", option, word);
        return false;
    }
    *ret = (uint16_t)index;
    return true;
}
