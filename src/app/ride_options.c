#include "ride_options.h"

#include <getopt.h>
#include <string.h>

#include "app/command.h"
#include "app/devices_file.h"
#include "io/adapter.h"
#include "values.h"

enum {
    OPTION_BIKE = 256,
    OPTION_SENSOR, /* the strap; power and cadence behind it */
    OPTION_SENSOR_LAST = OPTION_SENSOR + SENSOR_KIND_COUNT - 1,
    OPTION_ADAPTER,
    OPTION_CAPTURE,
    OPTION_LENGTH,
    OPTION_FEEL,
    OPTION_LOAD,
    OPTION_AFTER,
    OPTION_MACHINE,
    OPTION_RIDER,
    OPTION_BEAT,
    OPTION_SEED,
    OPTION_RATE,
    OPTION_PLAIN,
    OPTION_JSONL,
    OPTION_VOLUME,
    OPTION_MUTE,
    OPTION_CUES,
    OPTION_CAUTIONS,
    OPTION_UNRECORDED
};

static const struct option long_options[] = {
    {"bike", required_argument, NULL, OPTION_BIKE},
    {"strap", required_argument, NULL, OPTION_SENSOR + SENSOR_STRAP},
    {"power", required_argument, NULL, OPTION_SENSOR + SENSOR_POWER},
    {"cadence", required_argument, NULL, OPTION_SENSOR + SENSOR_CADENCE},
    {"adapter", required_argument, NULL, OPTION_ADAPTER},
    {"capture", required_argument, NULL, OPTION_CAPTURE},
    {"length", required_argument, NULL, OPTION_LENGTH},
    {"feel", required_argument, NULL, OPTION_FEEL},
    {"load", required_argument, NULL, OPTION_LOAD},
    {"after", required_argument, NULL, OPTION_AFTER},
    {"machine", required_argument, NULL, OPTION_MACHINE},
    {"virtual-rider", required_argument, NULL, OPTION_RIDER},
    {"beat", required_argument, NULL, OPTION_BEAT},
    {"seed", required_argument, NULL, OPTION_SEED},
    {"rate", required_argument, NULL, OPTION_RATE},
    {"plain", no_argument, NULL, OPTION_PLAIN},
    {"jsonl", no_argument, NULL, OPTION_JSONL},
    {"volume", required_argument, NULL, OPTION_VOLUME},
    {"mute", no_argument, NULL, OPTION_MUTE},
    {"cues-to", required_argument, NULL, OPTION_CUES},
    {"cautions-read", no_argument, NULL, OPTION_CAUTIONS},
    {"unrecorded", no_argument, NULL, OPTION_UNRECORDED},
    {NULL, 0, NULL, 0},
};

const struct ride_sensor_name ride_sensor_names[SENSOR_KIND_COUNT] = {
    [SENSOR_STRAP] = {"--strap", "strap", DEVICE_STRAP},
    [SENSOR_POWER] = {"--power", "power sensor", DEVICE_POWER},
    [SENSOR_CADENCE] = {"--cadence", "cadence sensor", DEVICE_CADENCE},
};

static bool take_sensor(enum sensor_kind kind, struct ride_sensor *sensor)
{
    const bool has_bikes = kind != SENSOR_STRAP;

    sensor->address = (struct link_address){0};
    sensor->is_bikes_own = has_bikes && strcmp(optarg, "bike") == 0;
    sensor->name = sensor->is_bikes_own ? NULL : optarg;
    return sensor->is_bikes_own ||
           take_link_address(ride_sensor_names[kind].option,
                             has_bikes ? "bike, usb, usb:12345, " : "usb, usb:12345, ", optarg,
                             &sensor->address);
}

static bool take_bike(struct ride_options *options)
{
    options->bike = optarg;
    options->bike_address = (struct link_address){0};
    if (strcmp(optarg, "virtual") == 0)
        return true;
    return take_link_address("--bike", "virtual, usb, usb:12345, ", optarg, &options->bike_address);
}

static bool take_own_adapter(struct ride_options *options)
{
    if (!take_adapter("--adapter", optarg, &options->adapter_index))
        return false;
    options->has_adapter = true;
    if (!adapter_address(options->adapter_index, &options->adapter))
        complain("--adapter %s: there is no such adapter; 'ls /sys/class/bluetooth' names them",
                 optarg);
    return options->adapter.type != ADDRESS_NONE;
}

static bool take_after(struct ride_options *options)
{
    const bool is_legs = strcmp(optarg, "legs") == 0;

    if (!is_legs && strcmp(optarg, "fresh") != 0) {
        complain("--after wants legs or fresh, not '%s'", optarg);
        return false;
    }
    options->legs = is_legs ? LEGS_TRAINED : LEGS_FRESH;
    return true;
}

static bool take_load(struct ride_options *options)
{
    const bool is_next = strcmp(optarg, "next") == 0;

    options->load = is_next ? LOAD_NEXT : LOAD_SAID;
    options->wish.load_pct = 0;
    return is_next ||
           take_change("--load", "next, ", optarg, FIT_LOAD_MAX_PCT, &options->wish.load_pct);
}

static bool take_beat(struct ride_options *options)
{
    options->beats = true;
    for (enum mark_measure i = MARK_WORK; i < MARK_MEASURE_COUNT; i++) {
        options->beat = i;
        if (strcmp(optarg, mark_measure_text(i)) == 0)
            return true;
    }
    complain("--beat %s: it is work, power, distance, time or calories", optarg);
    return false;
}

static bool take_option(struct ride_options *options, int option)
{
    switch (option) {
    case OPTION_BIKE: return take_bike(options);
    case OPTION_SENSOR + SENSOR_STRAP:
    case OPTION_SENSOR + SENSOR_POWER:
    case OPTION_SENSOR + SENSOR_CADENCE:
        return take_sensor((enum sensor_kind)(option - OPTION_SENSOR),
                           &options->sensors[option - OPTION_SENSOR]);
    case OPTION_ADAPTER: return take_own_adapter(options);
    case OPTION_CAPTURE: options->capture = optarg; return true;
    case OPTION_LENGTH: return take_length("--length", optarg, &options->wish.length_ms);
    case OPTION_FEEL: return take_count("--feel", optarg, 1, FEEL_MAX, &options->wish.feel);
    case OPTION_LOAD: return take_load(options);
    case OPTION_AFTER: return take_after(options);
    case OPTION_MACHINE: options->machine = optarg; return true;
    case OPTION_RIDER: options->rider = optarg; return true;
    case OPTION_BEAT: return take_beat(options);
    case OPTION_SEED: return take_seed("--seed", optarg, &options->seed);
    case OPTION_RATE: return take_rate("--rate", optarg, &options->rate);
    case OPTION_PLAIN:
    case OPTION_JSONL:
        options->plain = option == OPTION_PLAIN;
        options->jsonl = option == OPTION_JSONL;
        return true;
    case OPTION_VOLUME:
        options->has_volume = true;
        return take_count("--volume", optarg, 0, 100, &options->volume_pct);
    case OPTION_MUTE: options->mute = true; return true;
    case OPTION_CUES: options->cues_to = optarg; return true;
    case OPTION_CAUTIONS: options->cautions_read = true; return true;
    case OPTION_UNRECORDED: options->unrecorded = true; return true;
    default: return false;
    }
}

static bool is_on_air(const struct link_address *address)
{
    return address->kind == LINK_ADDRESS_BLUETOOTH;
}

static bool is_same_device(const struct link_address *a, const struct link_address *b)
{
    return is_on_air(a) && is_on_air(b) &&
           memcmp(a->device.octets, b->device.octets, ADDRESS_OCTETS) == 0;
}

/* Each device is called once. */
static bool are_all_different(const struct ride_options *options)
{
    for (enum sensor_kind i = SENSOR_STRAP; i < SENSOR_KIND_COUNT; i++) {
        const struct ride_sensor *sensor = &options->sensors[i];
        const char *option = ride_sensor_names[i].option;
        if (is_same_device(&options->bike_address, &sensor->address)) {
            complain("%s %s is the bike's own address; a device has room for one link", option,
                     sensor->name);
            return false;
        }
        for (enum sensor_kind other = SENSOR_STRAP; other < i; other++) {
            if (!is_same_device(&options->sensors[other].address, &sensor->address))
                continue;
            complain("%s and %s name one device; it has room for one link",
                     ride_sensor_names[other].option, option);
            return false;
        }
    }
    return true;
}

static bool is_on_usb(const struct link_address *address)
{
    return address->kind == LINK_ADDRESS_USB;
}

static bool is_same_text(const char *a, const char *b)
{
    return a == b || (a != NULL && b != NULL && strcmp(a, b) == 0);
}

static bool is_one_receiver(const struct ride_options *options)
{
    const struct link_address *first =
        is_on_usb(&options->bike_address) ? &options->bike_address : NULL;

    for (enum sensor_kind i = SENSOR_STRAP; i < SENSOR_KIND_COUNT; i++) {
        const struct link_address *address = &options->sensors[i].address;
        if (!is_on_usb(address))
            continue;
        if (first != NULL && !(is_same_text(first->path, address->path) &&
                               is_same_text(first->place, address->place))) {
            complain("%s %s: all that is on USB is heard through one receiver",
                     ride_sensor_names[i].option, options->sensors[i].name);
            return false;
        }
        first = address;
    }
    return true;
}

static bool is_far(const struct link_address *address)
{
    return is_on_air(address) || (is_on_usb(address) && address->path == NULL);
}

/* What is there in flesh and iron, whichever way it is heard. */
static bool takes_its_time(const struct ride_options *options)
{
    bool takes = is_far(&options->bike_address);

    for (size_t i = 0; i < SENSOR_KIND_COUNT; i++)
        takes = takes || is_far(&options->sensors[i].address);
    return takes;
}

static bool goes_over_the_air(const struct ride_options *options)
{
    bool goes = is_on_air(&options->bike_address);

    for (size_t i = 0; i < SENSOR_KIND_COUNT; i++)
        goes = goes || is_on_air(&options->sensors[i].address);
    return goes;
}

static bool fits_together(const struct ride_options *options)
{
    const bool over_the_air = goes_over_the_air(options);
    const bool has_files = options->machine != NULL || options->rider != NULL;

    if (takes_its_time(options) && options->rate != 1.0)
        complain("--rate is for virtual bikes; real bikes and sensors keep real time");
    else if (!over_the_air && options->adapter.type != ADDRESS_NONE)
        complain(
            "--adapter is for a bike or a strap over the air; name one with --bike or --strap");
    else if (has_files && options->bike_address.kind != LINK_ADDRESS_NONE)
        complain("--machine and --virtual-rider go with --bike virtual; the bike at %s has its own",
                 options->bike);
    else
        return are_all_different(options) && is_one_receiver(options);
    return false;
}

/* The remembered device of a kind, its name put into `text` for the eye; false: there is none. */
static bool recall(const struct devices *devices, enum device_kind kind, char *text,
                   struct link_address *ret)
{
    const struct device *device = &devices->list[kind];

    if (device->address.type == ADDRESS_NONE)
        return false;
    device_label(device, text);
    *ret = (struct link_address){
        .kind = device->address.type == ADDRESS_USB ? LINK_ADDRESS_USB : LINK_ADDRESS_BLUETOOTH,
        .device = device->address};
    return true;
}

/* A trainer may have been kept as a source of power as well. */
static bool is_bikes_power(const struct ride_options *options, enum sensor_kind kind,
                           const struct link_address *address)
{
    const uint16_t number = device_address_usb(&address->device);

    return kind == SENSOR_POWER && is_on_usb(&options->bike_address) && is_on_usb(address) &&
           number != 0 && device_address_usb(&options->bike_address.device) == number;
}

/* A device that is the bike, or another sensor already, is not called a second time: pedals that
 * tell power and cadence are kept as both. */
static void recall_sensor(struct ride_options *options, const struct devices *devices,
                          enum sensor_kind kind)
{
    struct ride_sensor *sensor = &options->sensors[kind];

    if (sensor->name != NULL || sensor->is_bikes_own ||
        !recall(devices, ride_sensor_names[kind].device, sensor->text, &sensor->address))
        return;
    bool is_called = is_same_device(&options->bike_address, &sensor->address) ||
                     is_bikes_power(options, kind, &sensor->address);
    for (enum sensor_kind other = SENSOR_STRAP; other < kind; other++)
        is_called |= is_same_device(&options->sensors[other].address, &sensor->address);
    if (is_called)
        sensor->address = (struct link_address){0};
    else
        sensor->name = sensor->text;
    sensor->is_remembered = !is_called;
}

/* Without --bike the one that was kept; where none was, and for what only the virtual bike has, the
 * virtual bike. Kept sensors go with a kept bike. */
static bool choose_bike(struct ride_options *options)
{
    struct devices devices = {0};

    if (options->bike != NULL)
        return true;
    options->bike = "virtual";
    if (options->machine != NULL || options->rider != NULL || options->rate != 1.0)
        return true;
    if (!load_devices(&devices))
        return false;
    if (!recall(&devices, DEVICE_MACHINE, options->bike_text, &options->bike_address))
        return true;
    options->bike = options->bike_text;
    for (enum sensor_kind i = SENSOR_STRAP; i < SENSOR_KIND_COUNT; i++)
        recall_sensor(options, &devices, i);
    return true;
}

/* The one that scan looks through: what was paired was paired with one adapter. Left to itself the
 * kernel takes the one that came last. */
static void choose_adapter(struct ride_options *options)
{
    uint16_t index;

    if (goes_over_the_air(options) && !options->has_adapter && adapter_find(&index) == SCAN_WORKS)
        (void)adapter_address(index, &options->adapter);
}

int ride_options_read(int argc, char **argv, struct ride_options *options)
{
    int option;

    *options = (struct ride_options){.seed = 1, .rate = 1.0};

    opterr = 0;
    optind = 1;
    while ((option = getopt_long(argc, argv, ":", long_options, NULL)) != -1) {
        if (option == ':') {
            complain("%s needs a value; see 'afterset ride --help'", argv[optind - 1]);
            return EXIT_WRONG_USE;
        }
        if (option == '?') {
            complain("'%s' is no option of ride; see 'afterset ride --help'", argv[optind - 1]);
            return EXIT_WRONG_USE;
        }
        if (!take_option(options, option))
            return EXIT_WRONG_USE;
    }
    if (optind + 1 != argc) {
        complain("ride takes one profile; see 'afterset ride --help'");
        return EXIT_WRONG_USE;
    }
    options->profile = argv[optind];
    if (!choose_bike(options))
        return EXIT_FAILED;
    if (!fits_together(options))
        return EXIT_WRONG_USE;
    choose_adapter(options);
    return EXIT_DONE;
}

bool ride_options_bike_is_inside(const struct ride_options *options)
{
    return options->bike_address.kind == LINK_ADDRESS_NONE ||
           options->bike_address.kind == LINK_ADDRESS_CAPTURE;
}
