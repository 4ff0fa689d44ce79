#include "ride_links.h"

#include <sys/socket.h>
#include <unistd.h>

#include "app/command.h"
#include "io/link_socket.h"
#include "radio_program.h"
#include "virtual_files.h"

/* Shorter than the ride itself waits for its machine, so that there are words for the end. */
#define CALL_LIMIT_MS 50000u
/* And no longer than a ride waits for a link that it has lost. */
#define CALL_AGAIN_LIMIT_MS 60000u

static struct link *open_virtual_bike(struct ride_links *links, const struct ride_options *options,
                                      struct session *session)
{
    struct virtual_bike_setup setup = {virtual_machine_default(), virtual_rider_default(),
                                       options->seed};
    const struct link_user user = machine_peer_user(&session->machine);
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
    struct link *link = link_socket_adopt(session->loop, ends[1], &user);
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

/* What fails at once will not mend itself. */
static bool dial(struct dialer *dialer, uint64_t limit_ms, const char *option, const char *name)
{
    dialer_dial(dialer, limit_ms);
    if (dialer_problem(dialer) == NULL)
        return true;
    complain("%s %s: %s", option, name, dialer_problem(dialer));
    dialer_hang_up(dialer);
    return false;
}

static bool open_bike(struct ride_links *links, const struct ride_options *options,
                      struct session *session)
{
    session->machine.link = &links->bike.link;
    if (options->bike_address.kind == LINK_ADDRESS_UNIX) {
        if (!dial(&links->bike, 0, "--bike", options->bike))
            return false;
        links->bike_is_ours = dialer_reached_ourselves(&links->bike);
    }
    if (options->bike_address.kind != LINK_ADDRESS_NONE)
        return true;
    links->bike_is_ours = true;
    session->machine.link = open_virtual_bike(links, options, session);
    return session->machine.link != NULL;
}

static void call_again(void *user, enum link_source source)
{
    struct ride_links *links = user;
    struct dialer *dialer = source == LINK_MACHINE ? &links->bike : &links->strap;
    struct link **link =
        source == LINK_MACHINE ? &links->session->machine.link : &links->session->strap.link;

    if (dialer->address.kind == LINK_ADDRESS_NONE)
        return;
    *link = &dialer->link;
    dialer->retrying = NULL; /* that it is lost and called is on the screen */
    dialer_dial(dialer, CALL_AGAIN_LIMIT_MS);
}

bool ride_links_open(struct ride_links *links, const struct ride_options *options,
                     struct session *session)
{
    links->session = session;
    session->call_again = call_again;
    session->call_again_user = links;
    links->bike.loop = links->strap.loop = session->loop;
    links->bike.address = options->bike_address;
    links->bike.user = machine_peer_user(&session->machine);
    links->bike.retrying = on_bike_retrying;
    links->strap.address = options->strap_address;
    links->strap.user = strap_peer_user(&session->strap);
    links->strap.retrying = on_strap_retrying;
    if (!open_bike(links, options, session))
        return false;
    if (options->strap == NULL)
        return true;
    session->strap.link = &links->strap.link;
    return options->strap_address.kind != LINK_ADDRESS_UNIX ||
           dial(&links->strap, 0, "--strap", options->strap);
}

static void set_timing(const struct link_address *bike, const struct link_address *strap)
{
    enum result result = RESULT_OK;

    if (bike->kind == LINK_ADDRESS_BLUETOOTH)
        result = radio_program_set_timing(&bike->device);
    if (result == RESULT_OK && strap->kind == LINK_ADDRESS_BLUETOOTH)
        result = radio_program_set_timing(&strap->device);
    /* Whatever else is wrong shows in the call. */
    if (result == RESULT_REFUSED || result == RESULT_NOT_FOUND)
        complain("without the right to set it, a radio link is lost after 0.4 s of silence, with "
                 "it after 4 s; see afterset scan --help");
}

bool ride_links_call(struct ride_links *links, const struct ride_options *options)
{
    set_timing(&options->bike_address, &options->strap_address);
    return (options->bike_address.kind != LINK_ADDRESS_BLUETOOTH ||
            dial(&links->bike, CALL_LIMIT_MS, "--bike", options->bike)) &&
           (options->strap_address.kind != LINK_ADDRESS_BLUETOOTH ||
            dial(&links->strap, CALL_LIMIT_MS, "--strap", options->strap));
}

void ride_links_close(struct ride_links *links)
{
    dialer_hang_up(&links->bike);
    dialer_hang_up(&links->strap);
    virtual_bike_host_free(links->host);
}
