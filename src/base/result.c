#include "base/result.h"

static const char *const texts[RESULT_COUNT] = {
    [RESULT_OK] = "done",
    [RESULT_NEED_MORE] = "too short",
    [RESULT_INVALID] = "not well formed",
    [RESULT_RANGE] = "out of range",
    [RESULT_FULL] = "a limit is used up",
    [RESULT_BUSY] = "in use",
    [RESULT_TIMEOUT] = "no answer in time",
    [RESULT_CLOSED] = "the other side closed",
    [RESULT_REFUSED] = "refused",
    [RESULT_UNSUPPORTED] = "not supported",
    [RESULT_NOT_FOUND] = "not found",
    [RESULT_IO] = "the system refused",
};

const char *result_text(enum result result)
{
    if ((unsigned)result >= RESULT_COUNT)
        return "unknown";
    return texts[result];
}
