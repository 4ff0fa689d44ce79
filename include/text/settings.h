/*
 * The rider's file: what a person has told us, one setting a line.
 *
 *     mass            75.0 kg      25 to 250, tenths
 *     age             40 years     10 to 100
 *     heart-rest      60 bpm       25 to 99
 *     heart-max       180 bpm      100 to 230; measured
 *     heart-limit     170 bpm      60 to 230
 *     heart-slowed    yes          yes or no
 *     critical-power  220 W        30 to 600
 *     w-prime         15.0 kJ      1 to 60, tenths
 *     power-limit     400 W        20 to 2000
 *     cadence-limit   120 rpm      40 to 200
 *     volume          70 %         0 to 100; of the cues, 0 is silence
 *     experienced     yes          yes or no; used to hard intervals on a bike
 *     cautions-read   1            the version of the cautions that were read, 1 to 9999
 *     usb-network-key 0123456789ABCDEF   of the network of ANT sensors; 16 hexadecimal digits
 *
 * In any order, each at most once; the unit may be left out; "none", or no line at all, says that
 * it is not known. See text/lines.h for words and numbers.
 */
#ifndef TEXT_SETTINGS_H
#define TEXT_SETTINGS_H

#include "base/text.h"
#include "body/rider.h"
#include "text/lines.h"

#define SETTINGS_FILE_MAX 4096u /* octets, the NUL included; settings_write() needs no more */

enum setting {
    SETTING_MASS,
    SETTING_AGE,
    SETTING_HEART_REST,
    SETTING_HEART_MAX,
    SETTING_HEART_LIMIT,
    SETTING_HEART_SLOWED,
    SETTING_CRITICAL_POWER,
    SETTING_W_PRIME,
    SETTING_POWER_LIMIT,
    SETTING_CADENCE_LIMIT,
    SETTING_VOLUME,
    SETTING_EXPERIENCED,
    SETTING_CAUTIONS_READ,
    SETTING_USB_KEY,
    SETTING_COUNT
};

/* Zeroed: nothing is known. */
struct settings {
    struct rider rider;
    bool has_volume;
    uint16_t volume_pct;    /* when has_volume */
    bool is_experienced;    /* used to hard intervals: see ride/fit.h */
    uint16_t cautions_read; /* 0: none yet */
    uint64_t usb_key;       /* as it is written; 0: none. It belongs to whoever licenses it */
};

/* RESULT_INVALID: the fault says what and where. */
MUST_USE enum result settings_read(const char *text, size_t length, struct settings *ret,
                                   struct text_fault *ret_fault);
/* The file for these settings, with a NUL behind it. RESULT_FULL: more than `size` octets. */
MUST_USE enum result settings_write(const struct settings *settings, char *ret, size_t size);

/* Sets one. RESULT_NOT_FOUND: no such key; RESULT_INVALID: not a value for it. Nothing is changed
 * then, and the fault, which has no place, says what was expected. */
MUST_USE enum result settings_set(struct settings *settings, const char *key, const char *value,
                                  struct text_fault *ret_fault);

const char *setting_key(enum setting setting);
bool setting_is_known(const struct settings *settings, enum setting setting);
/* With its unit; "none" when it is not known. */
void setting_put(struct text_writer *writer, const struct settings *settings, enum setting setting);

#endif
