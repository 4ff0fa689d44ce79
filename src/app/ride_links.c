#include "ride_links.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "app/command.h"
#include "handles_file.h"
#include "io/link_socket.h"
#include "radio_program.h"
#include "ride_links_again.h"
#include "ride_links_usb.h"
#include "virtual_files.h"
#include "wire/cadence.h"
#include "wire/cycling_power.h"
#include "wire/ftms.h"

static struct link *open_virtual_bike(struct ride_links *links, const struct ride_options *options,
                                      struct session *session)
{
    struct virtual_bike_setup setup = {virtual_machine_default(), virtual_rider_default(),
                                       options->seed};
    int ends[2];

    if (!load_virtual_machine(options->machine, &setup.machine) ||
        !load_virtual_rider(options->rider, &setup.rider))
        return NULL;
    if (socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, ends) != 0) {
        complain("the system gives no sockets for the virtual bike");
        return NULL;
    }
    const enum result attached = virtual_bike_attach(session->loop, ends[0], &setup, &links->host);
    if (attached != RESULT_OK) {
        complain("the virtual bike cannot be set up: %s", result_text(attached));
        (void)close(ends[1]);
        return NULL;
    }
    session->virtual_hand.loop = session->loop;
    session->virtual_hand.bike = virtual_bike_of(links->host);
    struct link *link = link_socket_adopt(session->loop, ends[1], &links->bike.user);
    if (link == NULL)
        complain("out of memory");
    return link;
}

static void on_bike_retrying(void *user, const char *why)
{
    (void)user;
    complain("the bike: %s (trying again)", why);
}

static void on_strap_retrying(void *user, const char *why)
{
    (void)user;
    complain("the strap: %s (trying again)", why);
}

static void on_power_retrying(void *user, const char *why)
{
    (void)user;
    complain("the power sensor: %s (trying again)", why);
}

static void on_cadence_retrying(void *user, const char *why)
{
    (void)user;
    complain("the cadence sensor: %s (trying again)", why);
}

/* What fails at once will not mend itself. */
bool ride_links_dial(struct dialer *dialer, uint64_t limit_ms, const char *option, const char *name)
{
    dialer_dial(dialer, limit_ms);
    if (dialer_problem(dialer) == NULL)
        return true;
    complain("%s %s: %s", option, name, dialer_problem(dialer));
    dialer_hang_up(dialer);
    return false;
}

/* ---- captures ---- */

static void on_capture_ended(void *user, int error)
{
    const struct ride_links *links = user;
    complain("%s: the capture ends here: %s; the ride goes on without it", links->capture_path,
             error == 0 ? "nobody reads it" : strerror(error));
}

static bool open_capture(struct ride_links *links, const char *path, struct loop *loop)
{
    links->capture_path = path;
    links->capture = capture_new(loop, path, CAPTURE_ATTRIBUTES, on_capture_ended, links);
    if (links->capture != NULL)
        return true;
    complain("--capture %s: %s%s", path, strerror(errno),
             errno == EEXIST ? "; choose another name" : "");
    return false;
}

/* For whoever opens a link: `user`, or the tap before him. */
static struct link_user tapped_user(struct ride_links *links, struct capture_tap *tap,
                                    unsigned number, struct link_user user)
{
    if (links->capture == NULL)
        return user;
    tap->capture = links->capture;
    tap->number = number;
    tap->user = user;
    return capture_tap_user(tap);
}

/* A recorded device is played by the dialer. */
static bool load_recording(struct dialer *dialer, const char *option, uint16_t characteristic)
{
    size_t length;
    const char *why;

    if (dialer->address.kind != LINK_ADDRESS_CAPTURE)
        return true;
    char *file = read_file(dialer->address.path, RECORDING_FILE_MAX, &length);
    if (file == NULL)
        return false;
    dialer->recording = recording_read((const uint8_t *)file, length, characteristic, &why);
    free(file);
    if (dialer->recording == NULL)
        complain("%s capture:%s: %s", option, dialer->address.path, why);
    return dialer->recording != NULL;
}

/* ---- opening ---- */

static bool answers_at_once(const struct link_address *address)
{
    return address->kind == LINK_ADDRESS_UNIX || address->kind == LINK_ADDRESS_CAPTURE;
}

static bool dial_bike(struct ride_links *links, const struct ride_options *options,
                      uint64_t limit_ms)
{
    if (!ride_links_dial(&links->bike, limit_ms, "--bike", options->bike))
        return false;
    links->session->machine.link = ride_links_tapped(&links->bike_tap, &links->bike.link);
    return true;
}

static bool dial_sensor(struct ride_links *links, enum sensor_kind kind,
                        const struct ride_sensor *sensor, uint64_t limit_ms)
{
    if (!ride_links_dial(&links->sensors[kind], limit_ms, ride_sensor_names[kind].option,
                         sensor->name))
        return false;
    links->session->sensors[kind].link =
        ride_links_tapped(&links->sensor_taps[kind], &links->sensors[kind].link);
    return true;
}

static bool open_bike(struct ride_links *links, const struct ride_options *options,
                      struct session *session)
{
    links->bike.user =
        tapped_user(links, &links->bike_tap, 0, machine_peer_user(&session->machine));
    if (options->bike_address.kind == LINK_ADDRESS_NONE) {
        struct link *link = open_virtual_bike(links, options, session);
        links->bike_is_ours = true;
        session->machine.link = ride_links_tapped(&links->bike_tap, link);
        return link != NULL;
    }
    if (!answers_at_once(&options->bike_address))
        return true;
    if (!load_recording(&links->bike, "--bike", FTMS_INDOOR_BIKE_DATA) ||
        !dial_bike(links, options, 0))
        return false;
    links->bike_is_ours = dialer_reached_ourselves(&links->bike);
    return true;
}

static uint16_t measurement_of(enum sensor_kind kind)
{
    static const uint16_t list[SENSOR_KIND_COUNT] = {
        [SENSOR_STRAP] = HEART_RATE_MEASUREMENT,
        [SENSOR_POWER] = CYCLING_POWER_MEASUREMENT,
        [SENSOR_CADENCE] = CADENCE_MEASUREMENT,
    };
    return list[kind];
}

static bool open_sensor(struct ride_links *links, enum sensor_kind kind,
                        const struct ride_sensor *sensor, struct session *session)
{
    struct dialer *dialer = &links->sensors[kind];

    dialer->user = tapped_user(links, &links->sensor_taps[kind], 1 + (unsigned)kind,
                               sensor_peer_user(&session->sensors[kind]));
    return !answers_at_once(&sensor->address) ||
           (load_recording(dialer, ride_sensor_names[kind].option, measurement_of(kind)) &&
            dial_sensor(links, kind, sensor, 0));
}

static bool open_sensors(struct ride_links *links, const struct ride_options *options,
                         struct session *session)
{
    for (enum sensor_kind i = SENSOR_STRAP; i < SENSOR_KIND_COUNT; i++)
        if (!open_sensor(links, i, &options->sensors[i], session))
            return false;
    return true;
}

static void set_up_dialers(struct ride_links *links, const struct ride_options *options,
                           struct session *session)
{
    static void (*const retrying[SENSOR_KIND_COUNT])(void *user, const char *why) = {
        [SENSOR_STRAP] = on_strap_retrying,
        [SENSOR_POWER] = on_power_retrying,
        [SENSOR_CADENCE] = on_cadence_retrying,
    };

    links->bike.loop = session->loop;
    links->bike.adapter = options->adapter;
    links->bike.address = options->bike_address;
    links->bike.retrying = on_bike_retrying;
    for (size_t i = 0; i < SENSOR_KIND_COUNT; i++) {
        links->sensors[i].loop = session->loop;
        links->sensors[i].adapter = options->adapter;
        links->sensors[i].address = options->sensors[i].address;
        links->sensors[i].retrying = retrying[i];
    }
}

bool ride_links_open(struct ride_links *links, const struct ride_options *options,
                     struct session *session)
{
    links->session = session;
    ride_links_set_up_calls(links, options);
    set_up_dialers(links, options, session);
    return (options->capture == NULL || open_capture(links, options->capture, session->loop)) &&
           open_bike(links, options, session) && open_sensors(links, options, session) &&
           ride_links_open_usb(links, options);
}

static bool is_on_air(const struct link_address *address)
{
    return address->kind == LINK_ADDRESS_BLUETOOTH;
}

static void set_timing(const struct ride_options *options)
{
    enum result result = RESULT_OK;

    if (is_on_air(&options->bike_address))
        result = radio_program_set_timing(&options->bike_address.device);
    for (size_t i = 0; i < SENSOR_KIND_COUNT && result == RESULT_OK; i++)
        if (is_on_air(&options->sensors[i].address))
            result = radio_program_set_timing(&options->sensors[i].address.device);
    /* Whatever else is wrong shows in the call. */
    if (result == RESULT_REFUSED || result == RESULT_NOT_FOUND)
        complain("without the right to set it, a radio link is lost after 0.4 s of silence, with "
                 "it after 4 s; see afterset scan --help");
}

static void recall(const struct link_address *address, struct gatt_known *ret)
{
    if (address->kind == LINK_ADDRESS_BLUETOOTH)
        load_handles(&address->device, ret);
}

static void keep(const struct link_address *address, const struct gatt_known *known)
{
    if (address->kind == LINK_ADDRESS_BLUETOOTH)
        save_handles(&address->device, known);
}

static bool call_sensors(struct ride_links *links, const struct ride_options *options)
{
    for (enum sensor_kind i = SENSOR_STRAP; i < SENSOR_KIND_COUNT; i++)
        if (is_on_air(&options->sensors[i].address) &&
            !dial_sensor(links, i, &options->sensors[i], CALL_LIMIT_MS))
            return false;
    return true;
}

bool ride_links_call(struct ride_links *links, const struct ride_options *options)
{
    struct session *session = links->session;

    /* A capture is to show all that a device offers. */
    if (links->capture == NULL) {
        recall(&options->bike_address, &session->ftms.known);
        for (size_t i = 0; i < SENSOR_KIND_COUNT; i++)
            recall(&options->sensors[i].address, &session->sensors[i].known);
    }
    set_timing(options);
    return (!is_on_air(&options->bike_address) || dial_bike(links, options, CALL_LIMIT_MS)) &&
           call_sensors(links, options);
}

void ride_links_close(struct ride_links *links)
{
    if (links->session != NULL)
        keep(&links->bike.address, &links->session->ftms.known);
    dialer_hang_up(&links->bike);
    dialer_hang_up(&links->usb);
    for (size_t i = 0; i < SENSOR_KIND_COUNT; i++) {
        if (links->session != NULL)
            keep(&links->sensors[i].address, &links->session->sensors[i].known);
        dialer_hang_up(&links->sensors[i]);
    }
    virtual_bike_host_free(links->host);
    recording_free(links->bike.recording);
    for (size_t i = 0; i < SENSOR_KIND_COUNT; i++)
        recording_free(links->sensors[i].recording);
    capture_free(links->capture);
    capture_free(links->usb_capture);
    free(links->usb_capture_path);
}
