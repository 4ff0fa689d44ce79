/*
 * Sightings as a table for people and as lines for programs.
 */
#ifndef APP_SCAN_LIST_H
#define APP_SCAN_LIST_H

#include "base/text.h"
#include "sightings.h"

/* A heading and a line for each, at most `rows` of them. */
void scan_list_put(struct text_writer *writer, const struct sightings *sightings, size_t rows,
                   bool with_colour);

/* One object on one line of stdout. False: out of memory. */
bool scan_list_print_json(const struct sighting *sighting);

#endif
