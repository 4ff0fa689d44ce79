/*
 * The words for the enums of events and effects, as the journal and --jsonl write them: lower case,
 * underscores. Those for kinds of steps are as in profiles.
 */
#ifndef RIDE_NAMES_H
#define RIDE_NAMES_H

#include <stddef.h>

struct names {
    size_t count;
    const char *const *list;
};
extern const struct names event_names, effect_names, step_names, until_names, command_names,
    load_names, key_names, link_names, contact_names, answer_names, status_names, phase_names,
    hold_names, caution_names, turn_names, cut_off_names, end_names, reason_names;

/* "unknown" for a number outside the enum; never NULL. */
const char *name_of(const struct names *names, unsigned number);

#endif
