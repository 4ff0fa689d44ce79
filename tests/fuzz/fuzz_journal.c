/* Journals: read and ridden again, and what must hold in every ride, whatever it is fed. */
#include <stdlib.h>

#include "app/rerun.h"
#include "fuzz.h"
#include "support/ride_world.h"
#include "text/journal.h"

static void ride_journal(const char *text, size_t length)
{
    static struct ride ride;
    static struct ride_setup setup;
    struct ride_world world = {0};
    struct journal_reader reader = journal_reader(text, length);
    struct text_fault fault = {0};
    struct event event;
    struct effects effects;
    if (journal_read_setup(&reader, &setup, &fault) != RESULT_OK)
        return;
    ride_init(&ride, &setup);
    while (journal_read_event(&reader, &event, &fault) == RESULT_OK) {
        ride_world_takes(&world, &event);
        ride_step(&ride, &event, &effects);
        const char *broken = ride_world_sees(&world, &effects);
        if (broken != NULL)
            fuzz_check(false, broken, "line", (int)reader.line);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct rerun rerun;
    struct text_fault fault = {0};
    const char *text = (const char *)data;
    if (rerun_journal(text, size, &rerun, &fault) != RESULT_OK)
        FUZZ_CHECK(fault.line > 0 && fault.message[0] != '\0');
    ride_journal(text, size);
    return 0;
}
