/*
 * What is drawn, against a file of tests/screens.
 */
#ifndef SUPPORT_SCREEN_FILE_H
#define SUPPORT_SCREEN_FILE_H

#include "ui/canvas.h"

/* Fails the test where they differ. With AFTERSET_WRITE_SCREENS set it writes the file instead. */
void screen_file_compare(const struct canvas *canvas, const char *path);

#endif
