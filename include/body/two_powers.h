/*
 * How far a power sensor reads from the machine, out of the seconds in which both spoke.
 *
 * A window is 10 s of legs that turn steadily: cadence from 30 rpm up and within 15 rpm of itself,
 * no reading older than 3 s (common practice). Of the mean powers S of the sensor and M of the
 * machine in each of n windows comes
 *
 *     R          = sum S / sum M
 *     difference = 100 (R - 1)                                           per cent of the machine's
 *     error      = 100 t sqrt(sum (S - R M)^2 / (n (n - 1))) / mean M    half of the 95 % interval
 *
 * with t of Student's distribution for n - 1 degrees of freedom. Source: Cochran 1977, Sampling
 * Techniques, 2.11 (from memory). A ratio of sums, since a source that follows late reads low on
 * the way up and high on the way down: the areas are alike, the ratios second by second are not.
 */
#ifndef BODY_TWO_POWERS_H
#define BODY_TWO_POWERS_H

#include <stdbool.h>
#include <stdint.h>

#define TWO_POWERS_WINDOW_MS 10000u
#define TWO_POWERS_GAP_MS    3000u
#define TWO_POWERS_TURN_RPM  30
#define TWO_POWERS_STEADY    15 /* rpm between the highest and the lowest cadence of a window */
/* Fewer windows say nothing: a minute (common practice). */
#define TWO_POWERS_LEAST 6u
/* Sensors and machines are sold as good to 1 or 2 % (common practice): two of the worse differ by
 * 2.8 % in the mean square. Tenths of a per cent. */
#define TWO_POWERS_MATTER_TENTHS 30
/* One is so many per cent of the other, or more: no fault of their making explains that. 54 power
 * meters as riders used them were off by -0.9 +- 3.2 % (mean, standard deviation; Maier et al.
 * 2017, IJSM 38:456), a drive takes 2 to 4 % (common practice); a fifth is 4.4 standard deviations
 * of two such meters. What does is a zero that was not set, a bike that guesses its power, or one
 * leg's power told as both. */
#define TWO_POWERS_FAR_PCT 120

/* Zeroed is valid. */
struct two_powers {
    bool has_window;
    uint64_t begin_t_ms, last_t_ms;
    int32_t lowest_rpm, highest_rpm;
    int64_t window_machine_w, window_sensor_w; /* sums over its pairs */
    int32_t pairs;
    uint32_t windows;
    double machine_w, sensor_w; /* sums over the windows' means, and of their products */
    double machine_square, sensor_square, product;
};

/* In tenths of a per cent of the machine's power. Zeroed: not known. */
struct power_difference {
    int32_t tenths;       /* above 0: the sensor reads more */
    int32_t error_tenths; /* half of the 95 % interval, 1 at least */
};

/* What both say at this time. Time never goes back; power from -50 W up, cadence from 0. */
void two_powers_add(struct two_powers *two, uint64_t t_ms, int32_t machine_w, int32_t sensor_w,
                    int32_t cadence_rpm);

struct power_difference two_powers_difference(const struct two_powers *two);

/* Large enough for a rider to hear of, and not by chance. */
bool power_difference_matters(const struct power_difference *difference);
/* So large that one of the two is wrong: of means in watts, above 0, and of a difference. */
bool two_powers_are_far(int32_t a_w, int32_t b_w);
bool power_difference_is_far(const struct power_difference *difference);

#endif
