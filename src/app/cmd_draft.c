/*
 * afterset draft: a profile made or changed on the screen.
 */
#include <limits.h>
#include <stdlib.h>

#include "app/command.h"
#include "app/profile_file.h"
#include "app/settings_file.h"
#include "draft_file.h"
#include "page.h"
#include "rehearse.h"
#include "ui/draft.h"

struct shown {
    struct draft draft;
    struct draft_file file;
    struct profile profile;
    struct rider rider; /* complete */
    struct plan plan;
    struct rehearsal rehearsal;
    bool is_over;
};

/* ---- what it comes to ---- */

/* Also of one that is not long enough yet. */
static void rehearse_draft(struct shown *shown)
{
    struct draft *draft = &shown->draft;

    draft->rehearsal = NULL;
    if (profile_unroll(&draft->profile, &shown->rider, &shown->plan) != RESULT_OK)
        return;
    rehearse_leave_out_the_floor(&shown->plan);
    if (shown->plan.step_count > 0 &&
        rehearse(&shown->plan, &shown->rider, &shown->rehearsal) == RESULT_OK)
        draft->rehearsal = &shown->rehearsal;
}

/* ---- keys ---- */

static void save(struct shown *shown)
{
    struct draft *draft = &shown->draft;
    char why[200];

    if (!draft_file_save(&shown->file, draft->name, draft->text, draft->text_length, why,
                         sizeof why)) {
        draft_tell(draft, why, true);
        return;
    }
    draft_saved(draft);
    draft_tell(draft, draft->has_fault ? "Saved as it is, to go on another day." : "Saved.", false);
}

static bool press(void *user, struct press press)
{
    struct shown *shown = user;

    switch (draft_press(&shown->draft, press)) {
    case DRAFT_EDITED: rehearse_draft(shown); break;
    case DRAFT_SAVE: save(shown); break;
    case DRAFT_LEAVE: return true;
    case DRAFT_NOTHING:
    case DRAFT_SHOW: break;
    }
    return false;
}

static void draw(void *user, struct canvas *canvas)
{
    const struct shown *shown = user;
    draft_draw(&shown->draft, canvas);
}

/* ---- from the file and back to the shell ---- */

static bool open_file(struct shown *shown, const char *path)
{
    const struct profile *profile = NULL;
    struct text_fault fault;

    if (!draft_file_open(&shown->file, path))
        return false;
    if (shown->file.exists) {
        if (profile_read(shown->file.text, shown->file.length, &shown->profile, &fault) !=
            RESULT_OK) {
            complain_at(path, &fault);
            return false;
        }
        profile = &shown->profile;
    }
    if (draft_begin(&shown->draft, shown->file.text, shown->file.length, profile, path))
        return true;
    complain("out of memory");
    return false;
}

/* Whoever was sent away by a signal did not choose to lose anything. */
static void keep_unsaved(const struct draft *draft)
{
    char path[PATH_MAX];

    if (!draft_is_changed(draft) || !data_path("unsaved.profile", path, sizeof path) ||
        !write_kept_file(path, draft->text, draft->text_length))
        return;
    complain("the draft was not saved; what it was is in %s", path);
}

static int show(struct shown *shown)
{
    const enum page_end how = page_run(&(struct page){.draw = draw, .press = press, .user = shown});

    if (how == PAGE_UNUSABLE)
        complain("draft needs a terminal that can be drawn on; profiles are text, any editor "
                 "writes them");
    if (how == PAGE_LEFT)
        keep_unsaved(&shown->draft);
    return how == PAGE_UNUSABLE ? EXIT_FAILED : EXIT_DONE;
}

static int run_draft(int argc, char **argv)
{
    struct shown *shown = calloc(1, sizeof *shown);
    struct settings settings;
    int status = EXIT_FAILED;

    if (argc > 2 || (argc == 2 && argv[1][0] == '-')) {
        complain("draft takes one profile, or none; see 'afterset draft --help'");
        free(shown);
        return EXIT_WRONG_USE;
    }
    if (shown == NULL) {
        complain("out of memory");
    } else if (load_settings(&settings) && open_file(shown, argc == 2 ? argv[1] : "")) {
        shown->rider = settings.rider;
        rehearse_complete(&shown->rider);
        rehearse_draft(shown);
        status = show(shown);
    }
    if (shown != NULL) {
        draft_end(&shown->draft);
        draft_file_close(&shown->file);
    }
    free(shown);
    return status;
}

const struct command command_draft = {
    .name = "draft",
    .arguments = "[PROFILE]",
    .purpose = "make a profile on the screen, or change one",
    .help =
        "Without PROFILE, or with one that is not there yet, a new one. The keys are on the "
        "screen.\n"
        "Beside the list is what a rehearsal says of it after every key; see 'afterset rehearse'.\n"
        "What you did not touch stays as it was written, comments too. A file that was changed\n"
        "since it was read is not written over.\n",
    .run = run_draft,
};
