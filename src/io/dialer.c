#include "io/dialer.h"

#include <assert.h>

#include "io/link_l2cap.h"
#include "io/link_replay.h"
#include "io/link_socket.h"
#include "io/link_usb.h"
#include "io/usb_replay.h"

/* Devices advertise every 1.3 s or oftener (common practice), but a kernel that waits for two of
 * them was seen to take 8 s. One that has begun to connect waits for 20 s where the device has just
 * gone, whether it comes back meanwhile or not, unless it is called off. */
#define CONNECT_LIMIT_MS 10000u
#define FIRST_PAUSE_MS   1000u
#define PAUSE_MAX_MS     4000u
/* The kernel keeps a link for 2 s after its last user, and a call meanwhile gets that one again
 * (HCI_DISCONN_TIMEOUT of Linux 6.12). One of no use must be gone. */
#define USELESS_PAUSE_MS 3000u
/* It may have been that of an earlier use, which the device or a pairing then ended. */
#define USELESS_UNTOLD 1u
#define REFUSALS_MAX   2u

/* ---- the link that the user has ---- */

static struct dialer *from_link(struct link *link)
{
    return (struct dialer *)link;
}

static enum result send_on(struct link *link, const uint8_t *pdu, size_t length)
{
    struct dialer *dialer = from_link(link);

    if (!dialer->is_open)
        return RESULT_CLOSED;
    att_security_sent(&dialer->security, pdu, length);
    return link_send(dialer->line, pdu, length);
}

static enum result secure(struct link *link)
{
    struct dialer *dialer = from_link(link);
    return dialer->is_open ? link_secure(dialer->line) : RESULT_CLOSED;
}

static void hang_up(struct link *link)
{
    dialer_hang_up(from_link(link));
}

static int descriptor_of(const struct link *link, struct link_way *ret)
{
    const struct dialer *dialer = (const struct dialer *)link;
    return dialer->is_open ? link_descriptor(dialer->line, ret) : -1;
}

static bool is_securing(const struct link *link)
{
    const struct dialer *dialer = (const struct dialer *)link;
    return dialer->is_open && link_is_securing(dialer->line);
}

static const struct link_operations operations = {send_on, secure, hang_up, descriptor_of,
                                                  is_securing};

/* ---- trying ---- */

/* Once a device is paired the kernel goes by the address that it keeps, and no longer hears it
 * under the other one. Which is not known before keys have come, at a time of their own. */
static void follow_address(struct dialer *dialer)
{
    if (dialer->is_open && dialer->address.kind == LINK_ADDRESS_BLUETOOTH &&
        device_address_changes(&dialer->address.device))
        (void)link_l2cap_peer(dialer->line, &dialer->address.device);
}

static void drop_line(struct dialer *dialer)
{
    follow_address(dialer);
    link_close(dialer->line);
    dialer->line = NULL;
    dialer->is_open = false;
}

static void give_up(void *user)
{
    struct dialer *dialer = user;
    dialer->timer = 0;
    dialer->user.closed(dialer->user.user, dialer->problem);
}

static void try_again(void *user);

static void wait_and(struct dialer *dialer, uint64_t pause_ms, loop_timer_func *then)
{
    dialer->timer =
        loop_set_timer(dialer->loop, loop_now_ms(dialer->loop) + pause_ms, then, dialer);
}

static void pause_or_give_up(struct dialer *dialer)
{
    const uint64_t pause_ms = dialer->pause_ms;

    if (loop_now_ms(dialer->loop) + pause_ms > dialer->until_ms) {
        wait_and(dialer, 0, give_up);
        return;
    }
    dialer->pause_ms = pause_ms * 2 < PAUSE_MAX_MS ? pause_ms * 2 : PAUSE_MAX_MS;
    wait_and(dialer, pause_ms, try_again);
}

static void try_now(struct dialer *dialer);

static bool type_is_unknown(const struct dialer *dialer)
{
    return dialer->address.kind == LINK_ADDRESS_BLUETOOTH &&
           dialer->address.device.type == ADDRESS_NONE;
}

/* The likelier type and then the other make one try. */
static struct device_address device_now(const struct dialer *dialer)
{
    struct device_address device = dialer->address.device;

    if (device.type == ADDRESS_NONE) {
        device.type = address_type_likelier(&device);
        if (dialer->is_other_type)
            device.type = device.type == ADDRESS_PUBLIC ? ADDRESS_RANDOM : ADDRESS_PUBLIC;
    }
    return device;
}

static void on_opened(void *user)
{
    struct dialer *dialer = user;

    dialer->address.device = device_now(dialer);
    dialer->is_open = true;
    dialer->problem = NULL;
    dialer->user.opened(dialer->user.user);
}

static void on_received(void *user, const uint8_t *pdu, size_t length)
{
    struct dialer *dialer = user;
    struct att_security *security = &dialer->security;

    follow_address(dialer);
    if (att_security_is_asked(security, pdu, length) && link_secure(dialer->line) == RESULT_OK &&
        link_send(dialer->line, security->request, security->length) == RESULT_OK)
        return;
    dialer->user.received(dialer->user.user, pdu, length);
}

/* The reason in words that name the device, where the cure needs its name. */
static const char *words_for(struct dialer *dialer, const char *why, bool was_not_heard)
{
    struct text_writer writer = text_writer(dialer->pairing, sizeof dialer->pairing);

    if (was_not_heard && device_address_changes(&dialer->address.device))
        return "it is not heard, and its address is one of those that change: 'afterset scan "
               "--keep' finds it anew, and once it is paired with bluetoothctl it keeps one";
    if (!link_l2cap_wants_pairing(why))
        return why;
    /* An agent that can ask nothing and show nothing: there is no question to be waited for, and
     * none is answered by accident. */
    text_put(&writer, "it wants to be paired first: 'bluetoothctl --timeout 10 scan le', then "
                      "'bluetoothctl --agent NoInputNoOutput pair ");
    device_address_put(&writer, &dialer->address.device);
    text_put(&writer, "', then 'bluetoothctl disconnect ");
    device_address_put(&writer, &dialer->address.device);
    text_put(&writer, "'; once 'bluetoothctl info ");
    device_address_put(&writer, &dialer->address.device);
    text_put(&writer, "' says \"Paired: yes\", ride again");
    return dialer->pairing;
}

/* Asking a third time would be no better, and each may show the rider a question. */
static void count_refusal(struct dialer *dialer, const char *why, bool was_open)
{
    if (link_l2cap_wants_pairing(why))
        dialer->refusals++;
    else if (was_open)
        dialer->refusals = 0;
}

static void on_closed(void *user, const char *why)
{
    struct dialer *dialer = user;
    const bool was_open = dialer->is_open;
    const bool is_other = dialer->is_other_type;
    const bool is_silent =
        dialer->address.kind == LINK_ADDRESS_BLUETOOTH && link_l2cap_heard_nothing(dialer->line);
    const bool turns = type_is_unknown(dialer) && is_silent;
    const bool is_half_tried = turns && !is_other;

    drop_line(dialer);
    count_refusal(dialer, why, was_open);
    why = words_for(dialer, why, is_silent);
    dialer->problem = why;
    dialer->is_other_type = turns ? !is_other : is_other;
    if (is_silent) /* it took its time, and there is nothing to spare */
        dialer->pause_ms = FIRST_PAUSE_MS;
    if (was_open)
        dialer->user.closed(dialer->user.user, why);
    else if (is_half_tried)
        try_now(dialer);
    else if (dialer_is_refused(dialer))
        wait_and(dialer, 0, give_up);
    else
        pause_or_give_up(dialer);
}

static struct link *open_line(struct dialer *dialer, const char **ret_why)
{
    const struct link_user user = {on_opened, on_received, on_closed, dialer};
    const struct device_address device = device_now(dialer);

    const bool is_usb = dialer->address.kind == LINK_ADDRESS_USB;

    if (is_usb && dialer->address.path != NULL && usb_replay_is_file(dialer->address.path))
        return usb_replay_open(dialer->loop, dialer->address.path, &user, ret_why);
    if (dialer->address.kind == LINK_ADDRESS_UNIX || (is_usb && dialer->address.path != NULL))
        return link_socket_connect(dialer->loop, dialer->address.path, &user, ret_why);
    if (dialer->address.kind == LINK_ADDRESS_CAPTURE)
        return link_replay_open(dialer->loop, dialer->recording, &user, ret_why);
    if (is_usb)
        return link_usb_open(dialer->loop, dialer->address.place, &user, ret_why);
    return link_l2cap_connect(dialer->loop, &dialer->adapter, &device, CONNECT_LIMIT_MS, &user,
                              ret_why);
}

static void try_now(struct dialer *dialer)
{
    dialer->security = (struct att_security){0};
    dialer->line = open_line(dialer, &dialer->problem);
    if (dialer->line == NULL)
        pause_or_give_up(dialer);
}

static void try_again(void *user)
{
    struct dialer *dialer = user;
    const char *why = dialer->problem;
    const bool is_news = why != dialer->told;

    dialer->timer = 0;
    dialer->told = why;
    try_now(dialer);
    if (is_news && dialer->retrying != NULL)
        dialer->retrying(dialer->user.user, why);
}

/* ---- for the user ---- */

static void begin(struct dialer *dialer, uint64_t limit_ms)
{
    assert(dialer->address.kind != LINK_ADDRESS_NONE);
    dialer_hang_up(dialer);
    dialer->link.operations = &operations;
    dialer->until_ms = loop_now_ms(dialer->loop) + limit_ms;
    dialer->is_other_type = false;
}

void dialer_dial(struct dialer *dialer, uint64_t limit_ms)
{
    begin(dialer, limit_ms);
    dialer->pause_ms = FIRST_PAUSE_MS;
    dialer->problem = dialer->told = NULL;
    dialer->useless = dialer->refusals = 0;
    try_now(dialer);
}

void dialer_dial_later(struct dialer *dialer, uint64_t limit_ms, const char *why)
{
    assert(limit_ms > USELESS_PAUSE_MS);
    begin(dialer, limit_ms);
    dialer->problem = why;
    dialer->useless++;
    if (dialer->useless <= USELESS_UNTOLD && dialer->refusals == 0)
        dialer->told = why;
    else if (dialer->useless == USELESS_UNTOLD + 1)
        dialer->told = NULL;
    dialer->pause_ms = FIRST_PAUSE_MS;
    wait_and(dialer, USELESS_PAUSE_MS, try_again);
}

void dialer_hang_up(struct dialer *dialer)
{
    drop_line(dialer);
    if (dialer->timer != 0)
        loop_cancel_timer(dialer->loop, dialer->timer);
    dialer->timer = 0;
}

bool dialer_is_refused(const struct dialer *dialer)
{
    return dialer->refusals >= REFUSALS_MAX;
}

const char *dialer_problem(const struct dialer *dialer)
{
    return dialer->problem;
}

bool dialer_reached_ourselves(const struct dialer *dialer)
{
    return dialer->line != NULL &&
           (dialer->address.kind == LINK_ADDRESS_CAPTURE ||
            (dialer->address.kind == LINK_ADDRESS_UNIX && link_socket_is_ours(dialer->line)));
}
