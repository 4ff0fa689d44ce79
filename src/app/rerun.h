/*
 * A journal run through the controller again.
 */
#ifndef APP_RERUN_H
#define APP_RERUN_H

#include "port/store.h"
#include "ride/ride.h"
#include "text/lines.h"

struct rerun {
    size_t events, effects;
    /* The first effect that differs; 0 when all are as recorded. */
    uint32_t different_line;
    char wanted[512], found[512]; /* the lines; empty where one side has none */
    struct summary summary;       /* the ride's, or what it would be had it ended there */
    bool has_ended;
};

/* Sees the ride after every event. Zeroed: nobody looks. */
struct rerun_watch {
    void (*step)(void *user, const struct ride *ride);
    void *user;
};

/* RESULT_INVALID and so on as journal_read_setup() says, with the place in the fault. A last line
 * that was cut short, as by a crash, does not count; nor do effects missing at the very end. */
MUST_USE enum result rerun_journal(const char *text, size_t length, struct rerun *ret,
                                   struct text_fault *ret_fault);
MUST_USE enum result rerun_watched(const char *text, size_t length, struct rerun_watch watch,
                                   struct rerun *ret, struct text_fault *ret_fault);
/* Of a ride of the store; what store_journal() says, or as above. */
MUST_USE enum result rerun_stored(struct store *store, int64_t id, struct rerun_watch watch,
                                  struct rerun *ret);

#endif
