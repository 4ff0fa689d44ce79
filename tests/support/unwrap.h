/*
 * Sentences without the breaks that fit them to a terminal: see ui/wrap.h.
 */
#ifndef SUPPORT_UNWRAP_H
#define SUPPORT_UNWRAP_H

/* In place. What was broken goes on two columns in. */
void unwrap(char *text);

#endif
