#include "find_again.h"

#include "app/command.h"
#include "app/devices_file.h"
#include "discovery.h"
#include "sightings.h"

/* Devices advertise every 1.3 s or oftener (common practice); a second of the same name would be
 * heard by then. */
#define LOOK_MAX_MS 8000u
#define NAMESAKE_MS 2000u

struct search {
    struct loop *loop;
    struct devices devices;
    bool is_wanted[DEVICE_KIND_COUNT];
    struct sightings sightings;
    int timer; /* for namesakes of the last one; 0: not all are heard */
};

static enum sensor_kind sensor_of(enum device_kind kind)
{
    enum sensor_kind sensor = SENSOR_STRAP;

    while (ride_sensor_names[sensor].device != kind)
        sensor++;
    return sensor;
}

static bool is_recalled(const struct ride_options *options, enum device_kind kind)
{
    return kind == DEVICE_MACHINE ? options->bike == options->bike_text
                                  : options->sensors[sensor_of(kind)].is_remembered;
}

static struct link_address *address_of(struct ride_options *options, enum device_kind kind)
{
    return kind == DEVICE_MACHINE ? &options->bike_address
                                  : &options->sensors[sensor_of(kind)].address;
}

static void on_time(void *user)
{
    struct search *search = user;
    loop_stop(search->loop);
}

static bool heard_all(const struct search *search)
{
    const struct sighting *seen;

    for (enum device_kind kind = DEVICE_MACHINE; kind < DEVICE_KIND_COUNT; kind++)
        if (search->is_wanted[kind] &&
            sightings_find(&search->sightings, &search->devices.list[kind], kind, &seen) == 0)
            return false;
    return true;
}

static void on_seen(void *user, const struct sighting *report)
{
    struct search *search = user;

    (void)sightings_add(&search->sightings, report);
    if (search->timer == 0 && heard_all(search))
        search->timer =
            loop_set_timer(search->loop, loop_now_ms(search->loop) + NAMESAKE_MS, on_time, search);
}

/* Why nobody looks is for the call to say: it meets the same trouble, or can do without. */
static void on_stopped(void *user, enum scan_trouble trouble)
{
    (void)trouble;
    on_time(user);
}

static void look(struct search *search, const struct ride_options *options)
{
    const struct scan_user user = {on_seen, on_stopped, search};
    const struct discovery_wish wish = {.has_adapter = options->has_adapter,
                                        .adapter = options->adapter_index};
    struct scan *scan = NULL;
    uint16_t index;

    if (discovery_open(search->loop, &wish, &user, &index, &scan) != SCAN_WORKS)
        return;
    (void)loop_set_timer(search->loop, LOOK_MAX_MS, on_time, search);
    loop_run(search->loop);
    scan_close(scan);
}

/* Of every kind that it is remembered as. */
static void readdress(struct devices *devices, struct device_address before,
                      struct device_address now)
{
    for (size_t i = 0; i < DEVICE_KIND_COUNT; i++)
        if (device_address_is(&devices->list[i].address, &before))
            devices->list[i].address = now;
}

/* Which of several is the rider's is not for us to guess. True: it has another address. */
static bool settle(struct search *search, enum device_kind kind)
{
    const struct device *device = &search->devices.list[kind];
    char text[24];
    struct text_writer writer = text_writer(text, sizeof text);
    const struct sighting *seen = NULL;
    const size_t count =
        search->is_wanted[kind] ? sightings_find(&search->sightings, device, kind, &seen) : 0;

    if (count > 1)
        complain("there are %zu of the name %s here, of which none has the address that was "
                 "remembered; 'afterset scan --keep' takes the strongest",
                 count, device->name);
    if (count != 1 || device_address_is(&seen->address, &device->address))
        return false;
    readdress(&search->devices, device->address, seen->address);
    device_address_put(&writer, &seen->address);
    complain("the address of %s has changed: it is %s now", device->name, text);
    return true;
}

/* Whether there is any to look for. */
static bool take_wishes(struct search *search, const struct ride_options *options)
{
    bool is_any = false;

    for (enum device_kind kind = DEVICE_MACHINE; kind < DEVICE_KIND_COUNT; kind++) {
        const struct device *device = &search->devices.list[kind];
        search->is_wanted[kind] = is_recalled(options, kind) &&
                                  device_address_changes(&device->address) &&
                                  device->name[0] != '\0';
        is_any = is_any || search->is_wanted[kind];
    }
    return is_any;
}

static void search_for(struct search *search, struct ride_options *options)
{
    bool is_changed = false;

    look(search, options);
    for (enum device_kind kind = DEVICE_MACHINE; kind < DEVICE_KIND_COUNT; kind++) {
        if (!settle(search, kind))
            continue;
        is_changed = true;
        address_of(options, kind)->device = search->devices.list[kind].address;
    }
    if (is_changed)
        (void)!save_devices(&search->devices); /* it has complained */
}

static bool recalls_any(const struct ride_options *options)
{
    bool recalls = false;

    for (enum device_kind kind = DEVICE_MACHINE; kind < DEVICE_KIND_COUNT; kind++)
        recalls = recalls || is_recalled(options, kind);
    return recalls;
}

void find_again(struct ride_options *options)
{
    struct search search = {0};

    if (!recalls_any(options) || !load_devices(&search.devices) || !take_wishes(&search, options))
        return;
    search.loop = loop_new(LOOP_REAL, 1.0);
    if (search.loop != NULL)
        search_for(&search, options);
    loop_free(search.loop);
}

void find_again_keep(struct ride_options *options, const struct ride_links *links)
{
    struct devices devices;
    bool is_changed = false;

    for (enum device_kind kind = DEVICE_MACHINE; kind < DEVICE_KIND_COUNT; kind++) {
        const struct dialer *dialer =
            kind == DEVICE_MACHINE ? &links->bike : &links->sensors[sensor_of(kind)];
        const struct device_address *now = &dialer->address.device;
        struct device_address *before = &address_of(options, kind)->device;
        if (!is_recalled(options, kind) || now->type == ADDRESS_NONE ||
            device_address_is(now, before) || (!is_changed && !load_devices(&devices)))
            continue;
        is_changed = true;
        readdress(&devices, *before, *now);
        *before = *now;
    }
    if (is_changed)
        (void)!save_devices(&devices);
}
