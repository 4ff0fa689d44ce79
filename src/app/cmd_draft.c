/*
 * afterset draft: a profile made or changed on the screen.
 */
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "app/command.h"
#include "app/devices_file.h"
#include "app/settings_file.h"
#include "draft_file.h"
#include "own_numbers.h"
#include "page.h"
#include "rehearse.h"
#include "ui/draft.h"
#include "ui/mend.h"

struct shown {
    struct draft draft;
    struct draft_file file;
    struct mend mend;
    bool is_mending;           /* the file is no profile yet */
    struct rider asked, rider; /* of whom the targets are shares, and who rides; complete */
    struct plan plan;
    struct rehearsal rehearsal;
};

/* ---- what it comes to ---- */

/* Also of one that is not long enough yet. */
static void rehearse_draft(struct shown *shown)
{
    struct draft *draft = &shown->draft;

    draft->rehearsal = NULL;
    if (profile_unroll(&draft->profile, &shown->asked, &shown->plan) != RESULT_OK)
        return;
    rehearse_leave_out_the_floor(&shown->plan);
    if (shown->plan.step_count > 0 &&
        rehearse(&shown->plan, &shown->rider, NULL, &shown->rehearsal) == RESULT_OK)
        draft->rehearsal = &shown->rehearsal;
}

static void set_riders(struct shown *shown, const struct rider *known, bool is_virtual)
{
    const struct own_numbers own = own_numbers_find(shown->file.path, &shown->draft.profile, known);

    shown->asked = *known;
    shown->asked.mark_power_w = own.mark_power_w;
    rehearse_complete(&shown->asked, is_virtual);
    shown->rider = shown->asked;
    own_numbers_apply(&own, &shown->rider);
}

/* ---- keys ---- */

static void save(struct shown *shown)
{
    struct draft *draft = &shown->draft;
    char why[200];

    if (!draft_file_save(&shown->file, draft->wanted, draft->text, draft->text_length, why,
                         sizeof why)) {
        draft_tell(draft, why, true);
        return;
    }
    draft_saved(draft);
    draft_tell(draft, draft->has_fault ? "Saved as it is, to go on another day." : "Saved.", false);
}

/* Mended, it goes on as any other. */
static bool press_mending(struct shown *shown, struct press press)
{
    struct mend *mend = &shown->mend;

    if (mend_press(mend, press) == MEND_LEAVE)
        return true;
    if (!mend->is_sound || mend->is_typing)
        return false;
    if (!draft_begin(&shown->draft, mend->text, mend->length, &mend->profile, mend->name))
        return true;
    draft_unsaved(&shown->draft);
    draft_tell(&shown->draft, "It can be read now. It is not saved yet.", false);
    shown->is_mending = false;
    rehearse_draft(shown);
    return false;
}

static bool press(void *user, struct press press)
{
    struct shown *shown = user;

    if (shown->is_mending)
        return press_mending(shown, press);
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

    if (shown->is_mending)
        mend_draw(&shown->mend, canvas);
    else
        draft_draw(&shown->draft, canvas);
}

/* ---- from the file and back to the shell ---- */

static bool open_file(struct shown *shown, const char *path)
{
    const struct draft_file *file = &shown->file;
    struct mend *mend = &shown->mend;

    if (!draft_file_open(&shown->file, path))
        return false;
    const bool is_new = file->length == 0;
    if (!is_new)
        mend_begin(mend, path, file->text, file->length);
    shown->is_mending = !is_new && !mend->is_sound;
    if (shown->is_mending ||
        draft_begin(&shown->draft, file->text, file->length, is_new ? NULL : &mend->profile, path))
        return true;
    complain("out of memory");
    return false;
}

/* A name that nothing has yet. */
static bool unsaved_path(char *ret, size_t size)
{
    char name[32];

    for (unsigned i = 1; i < 1000; i++) {
        (void)snprintf(name, sizeof name, "unsaved-%u.profile", i);
        if (!data_path(name, ret, size))
            return false;
        if (access(ret, F_OK) != 0)
            return true;
    }
    return false;
}

/* Whoever was sent away by a signal did not choose to lose anything. */
static void keep_unsaved(const struct draft *draft)
{
    char path[PATH_MAX];

    if (draft->history == NULL || !draft_is_changed(draft) || !unsaved_path(path, sizeof path) ||
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
    struct devices devices = {0};
    int status = EXIT_FAILED;

    if (argc > 2 || (argc == 2 && argv[1][0] == '-')) {
        complain("draft takes one profile, or none; see 'afterset draft --help'");
        free(shown);
        return EXIT_WRONG_USE;
    }
    if (shown == NULL) {
        complain("out of memory");
    } else if (load_settings(&settings) && load_devices(&devices) &&
               open_file(shown, argc == 2 ? argv[1] : "")) {
        set_riders(shown, &settings.rider,
                   devices.list[DEVICE_MACHINE].address.type == ADDRESS_NONE);
        if (!shown->is_mending)
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
        "screen. Beside the list is what a rehearsal says of it after every key; see 'afterset "
        "rehearse'. What you did not touch stays as it was written, comments too. A file that was "
        "changed since it was read is not written over.\n",
    .run = run_draft,
};
