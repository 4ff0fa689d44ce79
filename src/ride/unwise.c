#include "ride/unwise.h"

#include "ride/fit.h"

static const struct profile_item *find_step(const struct profile *profile, enum step_kind kind)
{
    for (size_t i = 0; i < profile->item_count; i++)
        if (profile->items[i].kind == PROFILE_STEP && profile->items[i].step == kind)
            return &profile->items[i];
    return NULL;
}

static uint32_t line_of(const struct profile_item *item)
{
    return item != NULL ? item->line : 0;
}

bool profile_is_unwise(const struct profile *profile, enum unwise what, uint32_t *ret_line)
{
    const size_t count = profile->item_count;
    const struct fit_wish first = {.is_first = true};
    struct profile fitted;
    struct fit fit;

    switch (what) {
    case UNWISE_NO_WARM_UP:
        *ret_line = line_of(find_step(profile, STEP_WORK));
        return find_step(profile, STEP_WARM_UP) == NULL;
    case UNWISE_NO_COOL_DOWN:
        *ret_line = line_of(count > 0 ? &profile->items[count - 1] : NULL);
        return find_step(profile, STEP_COOL_DOWN) == NULL;
    case UNWISE_FIRST_BLOCKS:
        *ret_line = profile->length_line;
        return profile_fit(profile, &first, &fitted, &fit) == RESULT_RANGE;
    case UNWISE_COUNT: break;
    }
    return false;
}

const char *unwise_text(enum unwise what)
{
    switch (what) {
    case UNWISE_NO_WARM_UP: return "work with no warm-up before it";
    case UNWISE_NO_COOL_DOWN: return "no cool-down to ride out in";
    case UNWISE_FIRST_BLOCKS:
        return "it cannot be made 4:00 or shorter, so a new rider may not ride it";
    case UNWISE_COUNT: break;
    }
    return "";
}
