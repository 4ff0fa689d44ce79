#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "app/command.h"
#include "by_hand.h"
#include "import.h"

static bool take_block(struct import *import, const char *path, const struct hand_block *block,
                       uint32_t line)
{
    struct import_ride *ride = import_next(import, path);

    if (ride == NULL)
        return false;
    if (!by_hand_ride(block, (int64_t)time(NULL), &ride->ride)) {
        const struct text_word place = {.line = line, .column = 1};
        struct text_fault fault;
        text_fault_at(&fault, place, "a day that has been", "one to come");
        complain_at(path, &fault, "");
        return false;
    }
    ride->line = line;
    import->count++;
    return true;
}

bool import_table(struct import *import, const char *path, const char *text, size_t length)
{
    struct hand_table table;
    struct hand_block block;
    struct text_fault fault;
    uint32_t line = 0;
    enum result result = hand_table_open(text, length, &table, &fault);

    while (result == RESULT_OK) {
        result = hand_table_next(&table, &block, &line, &fault);
        if (result == RESULT_OK && !take_block(import, path, &block, line))
            return false;
    }
    if (result != RESULT_NOT_FOUND)
        complain_at(path, &fault, "");
    return result == RESULT_NOT_FOUND;
}
