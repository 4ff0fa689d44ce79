#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fuzz.h"

void fuzz_check(bool holds, const char *what, const char *file, int line)
{
    if (holds)
        return;
    fprintf(stderr, "%s:%d: does not hold: %s\n", file, line, what);
    abort();
}

bool fuzz_next_pdu(struct bytes_reader *reader, struct fuzz_pdu *ret)
{
    const uint8_t pause = bytes_u8(reader);
    size_t length = bytes_u16(reader);
    if (reader->failed)
        return false;
    if (length > bytes_left(reader))
        length = bytes_left(reader);
    *ret = (struct fuzz_pdu){.pause_ms = pause * FUZZ_PAUSE_MS,
                             .octets = malloc(length > 0 ? length : 1),
                             .length = length};
    FUZZ_CHECK(ret->octets != NULL);
    memcpy(ret->octets, bytes_take(reader, length), length);
    return true;
}

void fuzz_pdu_free(struct fuzz_pdu *pdu)
{
    free(pdu->octets);
    pdu->octets = NULL;
}
