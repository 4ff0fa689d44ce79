#include "wire/usb_effort.h"

/* Sums of 16 bits at 2,500 W and four events a second go round after 6.5 s. */
#define AMBIGUOUS_MS 6000u
/* Without a page that measures, as a slow crank has an event in two seconds, the last one is said
 * again from then on. */
#define SAID_AGAIN_MS 1500u
/* An event is told with the next page, or with the one after that. */
#define PAGE_LATE_MS 1000u

static bool is_due(const struct usb_effort *effort, uint64_t t_ms)
{
    return !effort->is_told || t_ms - effort->told_t_ms >= USB_READING_MS;
}

/* Power without knowing of turns is told as it is; legs that stand have none. */
static void know(struct usb_effort *effort, uint64_t t_ms, int32_t power_w, bool has_cadence,
                 int32_t cadence_rpm)
{
    const bool stands = has_cadence && cadence_rpm == 0;
    const bool is_true = has_cadence && cadence_rpm <= CRANK_RPM_MAX;

    effort->now = (struct sensor_effort){.has_power = true,
                                         .power_w = stands ? 0 : power_w,
                                         .has_cadence = is_true,
                                         .cadence_rpm = is_true ? cadence_rpm : 0};
    effort->is_known = true;
    effort->moved_t_ms = t_ms;
}

/* The mean since the base; the last alone where there is none to count from. */
static int32_t mean_power_w(const struct usb_effort *effort, uint64_t t_ms,
                            const struct usb_power *power)
{
    const uint8_t events = (uint8_t)(power->events - effort->power.events);
    const uint16_t sum_w = (uint16_t)(power->sum_w - effort->power.sum_w);

    if (!power->has_sum || !effort->has_power || t_ms - effort->power_t_ms >= AMBIGUOUS_MS)
        return power->power_w;
    return (sum_w + events / 2) / events;
}

static bool has_new_power(const struct usb_effort *effort, const struct usb_power *power)
{
    return power->has_power &&
           (!power->has_sum || !effort->has_power || power->events != effort->power.events);
}

static bool take_power(struct usb_effort *effort, uint64_t t_ms, const struct usb_power *power)
{
    if (!has_new_power(effort, power))
        return false;
    know(effort, t_ms, mean_power_w(effort, t_ms, power), power->has_cadence, power->cadence_rpm);
    effort->power = *power;
    effort->has_power = power->has_sum;
    effort->power_t_ms = t_ms;
    return true;
}

/* Turns of the crank, where that is what it counts and it does not say cadence itself. */
static bool cadence_of(const struct usb_torque *torque, uint8_t turns, uint16_t period_2048,
                       int32_t *ret_rpm)
{
    if (torque->has_cadence)
        *ret_rpm = torque->cadence_rpm;
    else
        *ret_rpm = (60 * 2048 * turns + period_2048 / 2) / period_2048;
    return torque->has_cadence || torque->is_crank;
}

/* Work is torque times angle. With torque in 1/32 Nm, summed up once a turn, and time in 1/2048 s
 * mean power is 2 pi x (sum / 32) / (period / 2048) = 128 pi x sum / period. */
static bool count_torque(struct usb_effort *effort, uint64_t t_ms, const struct usb_torque *torque)
{
    const uint16_t period_2048 = (uint16_t)(torque->period_2048 - effort->torque.period_2048);
    const uint16_t torque_32 = (uint16_t)(torque->torque_32 - effort->torque.torque_32);
    const uint8_t turns = (uint8_t)(torque->turns - effort->torque.turns);
    int32_t rpm = 0;

    if (period_2048 == 0 || t_ms - effort->torque_t_ms >= AMBIGUOUS_MS)
        return false;
    const uint64_t power_w =
        (402124ull * torque_32 + 500ull * period_2048) / (1000ull * period_2048);
    const bool has_cadence = cadence_of(torque, turns, period_2048, &rpm);
    know(effort, t_ms, (int32_t)power_w, has_cadence, rpm);
    return true;
}

static bool take_torque(struct usb_effort *effort, uint64_t t_ms, const struct usb_torque *torque)
{
    bool has_counted = false;

    if (effort->has_torque && torque->events == effort->torque.events)
        return false;
    if (effort->has_torque)
        has_counted = count_torque(effort, t_ms, torque);
    effort->torque = *torque;
    effort->has_torque = true;
    effort->torque_t_ms = t_ms;
    return has_counted;
}

/* Each page with turns of a crank is needed, as it tells when the crank slows down. */
static bool take_turns(struct usb_effort *effort, enum usb_device_type type, uint64_t t_ms,
                       const uint8_t page[USB_PAGE_SIZE])
{
    struct crank_count count;

    usb_cadence_decode(type, page, &count);
    effort->now.has_cadence = effort->is_known =
        crank_take(&effort->crank, t_ms, count, &effort->now.cadence_rpm);
    effort->moved_t_ms = t_ms; /* the crank knows when it stands */
    return effort->is_known;
}

/* Whether it measured anything. What was measured between two readings is in the sums of the page
 * that makes the next, so only that is looked at. */
static bool take(struct usb_effort *effort, enum usb_device_type type, uint64_t t_ms,
                 const uint8_t page[USB_PAGE_SIZE])
{
    struct usb_power power;
    struct usb_torque torque;

    if (type == USB_TYPE_CADENCE || type == USB_TYPE_SPEED_CADENCE)
        return take_turns(effort, type, t_ms, page);
    if (!is_due(effort, t_ms))
        return false;
    if (usb_power_decode(type, page, &power) == RESULT_OK)
        return take_power(effort, t_ms, &power);
    return type == USB_TYPE_POWER && usb_torque_decode(page, &torque) == RESULT_OK &&
           take_torque(effort, t_ms, &torque);
}

/* The crank is no faster than if its next turn came now (as in wire/crank.c). */
static void slow_down(struct usb_effort *effort, uint64_t since_ms)
{
    const int32_t most_rpm = (int32_t)(60000u / (since_ms - PAGE_LATE_MS));

    if (effort->now.cadence_rpm > most_rpm)
        effort->now.cadence_rpm = most_rpm;
}

bool usb_effort_take(struct usb_effort *effort, enum usb_device_type type, uint64_t t_ms,
                     const uint8_t page[USB_PAGE_SIZE], struct sensor_effort *ret)
{
    const bool has_measured = take(effort, type, t_ms, page);
    const uint64_t since_ms = t_ms - effort->moved_t_ms;

    if (!effort->is_known || !is_due(effort, t_ms) || (!has_measured && since_ms < SAID_AGAIN_MS))
        return false;
    if (since_ms >= CRANK_STILL_MS)
        effort->now.power_w = effort->now.cadence_rpm = 0;
    else if (!has_measured)
        slow_down(effort, since_ms);
    effort->is_told = true;
    effort->told_t_ms = t_ms;
    *ret = effort->now;
    return true;
}

bool usb_pulse_take(struct usb_pulse *pulse, uint64_t t_ms, const uint8_t page[USB_PAGE_SIZE],
                    uint16_t *ret_bpm)
{
    struct usb_heart heart;

    usb_heart_decode(page, &heart);
    const bool has_beaten = pulse->has_base && heart.beats != pulse->beats;
    const bool is_due_now = !pulse->is_told || t_ms - pulse->told_t_ms >= USB_READING_MS;
    if (!pulse->has_base || (has_beaten && is_due_now)) {
        pulse->has_base = true;
        pulse->beats = heart.beats;
    }
    if (!has_beaten || !is_due_now || heart.heart_bpm == 0)
        return false;
    pulse->is_told = true;
    pulse->told_t_ms = t_ms;
    *ret_bpm = heart.heart_bpm;
    return true;
}
