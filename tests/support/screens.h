/*
 * The main moments of a ride, as views: for tests of what is shown, and for the captures in
 * tests/screens.
 */
#ifndef SUPPORT_SCREENS_H
#define SUPPORT_SCREENS_H

#include "support/drive.h"
#include "ui/canvas.h"
#include "ui/view.h"

extern const struct ride_facts screens_facts;
extern const struct screen_hands screens_no_hands;

/* 20/10 x 8 in watts, with cadence, and a strap; nothing has happened yet. */
void screens_init(struct drive *drive);
/* "sensor-lost", "strap-lost", "ready", "work", "held", "cut-off", each of these by levels or by
 * hand as "by-levels-ready" and so on, "by-hand-edge", shortly before a rest, and
 * "by-hand-nearest", between two numbers; fails the test for another name. */
void screens_ride_to(struct drive *drive, const char *moment);

/* Fails the test when the file does not hold what is on the canvas. With AFTERSET_WRITE_SCREENS in
 * the environment writes it instead. */
void screens_compare(const struct canvas *canvas, const char *path);

#endif
