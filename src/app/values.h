/*
 * Values of options, read and checked; each complains, naming the option, and gives false when the
 * word is none.
 */
#ifndef APP_VALUES_H
#define APP_VALUES_H

#include <stdbool.h>
#include <stdint.h>

#include "io/link_address.h"

bool take_seed(const char *option, const char *word, uint64_t *ret);
/* Virtual milliseconds a millisecond, from 0.1 to 10000. */
bool take_rate(const char *option, const char *word, double *ret);
/* Seconds, "10" or "10s", from 1 to 3600. */
bool take_seconds(const char *option, const char *word, uint32_t *ret_ms);
/* A whole number from `low` to `high`. */
bool take_count(const char *option, const char *word, uint32_t low, uint32_t high, uint32_t *ret);
/* A change in whole per cent, "+3", "-5" or "0", of at most `most` either way; `also` as below. */
bool take_change(const char *option, const char *also, const char *word, int32_t most,
                 int32_t *ret_pct);
/* The length of a block, "4:00". */
bool take_length(const char *option, const char *word, uint32_t *ret_ms);
/* `also` is what the option takes besides, for the complaint: "virtual, ". */
bool take_link_address(const char *option, const char *also, const char *word,
                       struct link_address *ret);
/* "hci0" → 0 */
bool take_adapter(const char *option, const char *word, uint16_t *ret);
/* "unix:PATH" → PATH, which stays part of the word. */
bool take_socket_path(const char *option, const char *word, const char **ret);

#endif
