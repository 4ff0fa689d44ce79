#include "cautions.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "app/command.h"
#include "app/settings_file.h"
#include "ui/words.h"

static bool asks_and_hears_yes(void)
{
    char answer[16];

    fprintf(stderr,
            "%s\nType 'yes' and Enter if you have read this and accept it: ", words_first_cautions);
    return fgets(answer, sizeof answer, stdin) != NULL && strcmp(answer, "yes\n") == 0;
}

bool cautions_accepted(struct settings *settings, bool by_option)
{
    if (settings->cautions_read >= CAUTIONS_VERSION)
        return true;
    if (!by_option && !isatty(STDIN_FILENO)) {
        complain("the cautions before the first ride were not read yet; ride once in a terminal, "
                 "or say --cautions-read");
        return false;
    }
    if (!by_option && !asks_and_hears_yes()) {
        complain("not accepted, so there is no ride");
        return false;
    }
    settings->cautions_read = CAUTIONS_VERSION;
    /* Not being able to save it only means being asked again. */
    (void)!save_settings(settings);
    return true;
}
