/*
 * What the searched programs share. Each tests/fuzz/fuzz_x.c feeds octets to one reader and aborts
 * when something that must hold does not. clang's libFuzzer searches it (`make fuzz`), replay.c
 * runs what was found so far (`make test`).
 */
#ifndef FUZZ_FUZZ_H
#define FUZZ_FUZZ_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/bytes.h"

/* Always 0, as libFuzzer asks. */
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define FUZZ_CHECK(condition) fuzz_check((condition), #condition, __FILE__, __LINE__)
void fuzz_check(bool holds, const char *what, const char *file, int line);

/* A conversation: for each PDU the time since the one before in units of 50 ms, its length in two
 * octets (what is missing at the end is left out), its octets. `octets` is a block of exactly
 * `length`, so that a reader who goes too far is found; free it with fuzz_pdu_free(). */
struct fuzz_pdu {
    uint32_t pause_ms;
    uint8_t *octets;
    size_t length;
};
#define FUZZ_PAUSE_MS 50u

bool fuzz_next_pdu(struct bytes_reader *reader, struct fuzz_pdu *ret);
void fuzz_pdu_free(struct fuzz_pdu *pdu);

#endif
