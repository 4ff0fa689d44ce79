#include "machine_trainer.h"

#define POWER_MAX_W       ((int32_t)USB_POWER_MAX / 4)
#define LEVEL_MAX_TENTHS  1000 /* per cent of its own most */
#define LEVEL_STEP_TENTHS 5

/* The most that levels may brake with. All levels of a home bike add some 400 W (ride/brake_curve),
 * and ramp and first choice of a level rest on that; a trainer's add its force times the speed of a
 * wheel: 7.6 m/s at 80 rpm (2.7 turns of 2.1 m; common practice). */
#define LEVELS_MOST_N 53
/* Of a trainer that does not say it: as one of 1500 W there (common practice). */
#define USUAL_MOST_N 200

/* ---- loads ---- */

static int32_t within(int32_t value, int32_t most)
{
    return value < 0 ? 0 : value < most ? value : most;
}

/* The nearest that asks no more. */
static struct usb_command command_for(const struct machine_trainer *trainer, struct load load)
{
    const bool by_level =
        load.kind == LOAD_LEVEL || (load.kind == LOAD_RELEASED && trainer->able.takes_resistance);
    const int32_t wanted = load.kind == LOAD_RELEASED ? 0 : load.value;

    if (by_level)
        return (struct usb_command){
            USB_PAGE_RESISTANCE, (uint16_t)(within(wanted, LEVEL_MAX_TENTHS) / LEVEL_STEP_TENTHS)};
    return (struct usb_command){USB_PAGE_TARGET_POWER, (uint16_t)(within(wanted, POWER_MAX_W) * 4)};
}

static bool takes_loads(const struct machine_trainer *trainer)
{
    return trainer->able.takes_power || trainer->able.takes_resistance;
}

static void command_machine(void *state, uint64_t t_ms, enum machine_command command,
                            struct load load, bool now)
{
    struct machine_trainer *trainer = state;

    (void)now; /* the newest load always goes first */
    if (command != COMMAND_LOAD) {
        trainer->due = command;
        return;
    }
    trainer->last_load = load;
    trainer->last = command_for(trainer, load);
    usb_trainer_command(&trainer->client, t_ms, &trainer->last);
}

/* ---- decoded → events ---- */

static int32_t level_max_tenths(const struct usb_capabilities *able)
{
    const int32_t most_n = able->resistance_max_n > 0 ? able->resistance_max_n : USUAL_MOST_N;
    const int32_t tenths = LEVEL_MAX_TENTHS * LEVELS_MOST_N / most_n;
    const int32_t on_grid =
        within(tenths, LEVEL_MAX_TENTHS) / LEVEL_STEP_TENTHS * LEVEL_STEP_TENTHS;

    return on_grid > 0 ? on_grid : LEVEL_STEP_TENTHS; /* 0 would be no limit */
}

static struct event on_ready(struct machine_trainer *trainer, const struct usb_capabilities *able)
{
    const struct usb_capabilities *it = &trainer->able;

    /* What took loads on an earlier link and does not say so again has perhaps one on. */
    if (able->takes_power || able->takes_resistance)
        trainer->able = *able;
    return (struct event){.kind = EVENT_MACHINE,
                          .machine = {
                              .takes_power = it->takes_power,
                              .takes_level = it->takes_resistance,
                              .power_max_w = it->takes_power ? POWER_MAX_W : 0,
                              .level_max_tenths = it->takes_resistance ? level_max_tenths(it) : 0,
                              .level_step_tenths = it->takes_resistance ? LEVEL_STEP_TENTHS : 0,
                          }};
}

static struct event on_data(const struct usb_trainer_data *data)
{
    return (struct event){
        .kind = EVENT_TELEMETRY,
        .telemetry = {
            .has = (data->has_power ? HAS_POWER : 0) | (data->has_cadence ? HAS_CADENCE : 0) |
                   (data->has_distance ? HAS_DISTANCE : 0) | (data->has_heart ? HAS_HEART : 0),
            .power_w = data->power_w,
            .cadence_rpm = data->cadence_rpm,
            .distance_m = data->distance_m,
            .heart_bpm = data->heart_bpm,
        }};
}

/* Several loads become the same command: the last one counts. */
static struct load load_of(const struct machine_trainer *trainer, const struct usb_command *command)
{
    if (command->page == trainer->last.page && command->value == trainer->last.value)
        return trainer->last_load;
    if (command->page == USB_PAGE_RESISTANCE)
        return (struct load){LOAD_LEVEL, command->value * LEVEL_STEP_TENTHS};
    return (struct load){LOAD_POWER, command->value / 4};
}

static struct event on_answer(const struct machine_trainer *trainer,
                              const struct usb_trainer_event *answered)
{
    return (struct event){.kind = EVENT_ANSWER,
                          .answer = {
                              .command = COMMAND_LOAD,
                              .answer = answered->is_taken ? ANSWER_ACCEPTED : ANSWER_REFUSED,
                              .load = load_of(trainer, &answered->command),
                          }};
}

static struct event own_answer(const struct machine_trainer *trainer, enum machine_command command)
{
    const bool is_control = command == COMMAND_REQUEST_CONTROL;

    return (struct event){.kind = EVENT_ANSWER,
                          .answer = {
                              .command = command,
                              .answer = !is_control            ? ANSWER_ALREADY
                                        : takes_loads(trainer) ? ANSWER_ACCEPTED
                                                               : ANSWER_REFUSED,
                          }};
}

static bool next_news(void *state, struct machine_news *ret)
{
    struct machine_trainer *trainer = state;
    struct usb_trainer_event event;

    *ret = (struct machine_news){0};
    if (trainer->due != COMMAND_NONE) {
        ret->event = own_answer(trainer, trainer->due);
        trainer->due = COMMAND_NONE;
        return true;
    }
    if (!usb_trainer_next_event(&trainer->client, &event))
        return false;
    switch (event.kind) {
    case USB_TRAINER_READY: ret->event = on_ready(trainer, &event.able); break;
    case USB_TRAINER_DATA: ret->event = on_data(&event.data); break;
    case USB_TRAINER_ANSWER: ret->event = on_answer(trainer, &event); break;
    case USB_TRAINER_FAILED: ret->failure = event.reason; break;
    }
    return true;
}

/* ---- the link ---- */

static void start(void *state, uint64_t t_ms, bool was_ready)
{
    struct machine_trainer *trainer = state;

    (void)was_ready; /* it is asked anew what it takes: 1 s at most */
    *trainer = (struct machine_trainer){.able = trainer->able};
    usb_trainer_start(&trainer->client, USB_CHANNEL_MACHINE, t_ms);
}

static void receive(void *state, uint64_t t_ms, const uint8_t *packet, size_t length)
{
    struct machine_trainer *trainer = state;
    usb_trainer_receive(&trainer->client, t_ms, packet, length);
}

static void tick(void *state, uint64_t t_ms, bool is_securing)
{
    struct machine_trainer *trainer = state;

    (void)is_securing;
    usb_trainer_tick(&trainer->client, t_ms);
}

static size_t next_packet(void *state, uint8_t *ret)
{
    struct machine_trainer *trainer = state;
    return usb_trainer_next_octets(&trainer->client, ret);
}

/* There is no stop: see above. */
static struct letting_go letting_go_of(const void *state)
{
    const struct machine_trainer *trainer = state;
    const struct usb_command release = command_for(trainer, (struct load){.kind = LOAD_RELEASED});
    struct letting_go frames = {.kind = LETTING_GO_TRAINER};

    if (takes_loads(trainer))
        frames.release.length =
            (uint8_t)usb_trainer_encode(&trainer->client, &release, frames.release.octets);
    return frames;
}

const struct machine_protocol machine_trainer = {
    .start = start,
    .receive = receive,
    .tick = tick,
    .command = command_machine,
    .next_packet = next_packet,
    .next_news = next_news,
    .letting_go = letting_go_of,
};
