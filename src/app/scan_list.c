#include "scan_list.h"

#include <string.h>

#include "json_line.h"

enum { NAME_COLUMNS = 24, SIGNAL_COLUMNS = 8, ADDRESS_COLUMNS = 17 };

/* Bits 0 to 5 of the machine types; Fitness Machine Service 1.0, section 3. */
static const char *const machine_types[] = {"treadmill",     "cross trainer", "step climber",
                                            "stair climber", "rower",         "bike"};
#define MACHINE_TYPE_COUNT (sizeof machine_types / sizeof machine_types[0])

static bool continues_character(char octet)
{
    return ((unsigned char)octet & 0xC0u) == 0x80u;
}

static void put_blanks(struct text_writer *writer, size_t count)
{
    while (count-- > 0)
        text_put_char(writer, ' ');
}

/* Exactly so many columns, counting a character as one; what is longer is cut. */
static void put_column(struct text_writer *writer, const char *text, size_t columns)
{
    size_t used = 0, at = 0;
    for (; text[at] != '\0' && (used < columns || continues_character(text[at])); at++)
        used += continues_character(text[at]) ? 0 : 1;
    text_put_part(writer, text, at);
    put_blanks(writer, columns - used);
}

static void put_signal(struct text_writer *writer, int16_t signal_dbm)
{
    char text[16];
    struct text_writer column = text_writer(text, sizeof text);
    if (signal_dbm != 0)
        text_put_signed(&column, signal_dbm);
    text_put(&column, signal_dbm != 0 ? " dBm" : "?");
    put_column(writer, text, SIGNAL_COLUMNS);
}

static void put_machine(struct text_writer *writer, const struct sighting *sighting)
{
    size_t named = 0;
    for (size_t i = 0; i < MACHINE_TYPE_COUNT; i++) {
        if (!sighting->has_machine_types || (sighting->machine_types & 1u << i) == 0)
            continue;
        text_put(writer, named++ > 0 ? " and " : "");
        text_put(writer, machine_types[i]);
    }
    text_put(writer, named == 0 ? "machine" : "");
    text_put(writer, sighting->has_machine_types && !sighting->is_available ? " (in use)" : "");
}

static void put_offers(struct text_writer *writer, const struct sighting *sighting)
{
    const char *parting = "";
    for (enum device_kind kind = DEVICE_MACHINE; kind < DEVICE_KIND_COUNT; kind++) {
        if ((sighting->offers & 1u << kind) == 0)
            continue;
        text_put(writer, parting);
        if (kind == DEVICE_MACHINE)
            put_machine(writer, sighting);
        else
            text_put(writer, device_kind_name(kind));
        parting = ", ";
    }
}

static void put_address(struct text_writer *writer, const struct device_address *address)
{
    char text[24];
    struct text_writer column = text_writer(text, sizeof text);

    device_address_put(&column, address);
    put_column(writer, text, ADDRESS_COLUMNS);
}

static void put_row(struct text_writer *writer, const struct sighting *sighting)
{
    put_signal(writer, sighting->signal_dbm);
    text_put(writer, "  ");
    put_column(writer, sighting->name[0] != '\0' ? sighting->name : "-", NAME_COLUMNS);
    text_put(writer, "  ");
    put_address(writer, &sighting->address);
    text_put(writer, "  ");
    put_column(writer, address_type_name(sighting->address.type), 6);
    text_put(writer, "  ");
    put_offers(writer, sighting);
    text_put_char(writer, '\n');
}

void scan_list_put(struct text_writer *writer, const struct sightings *sightings, size_t rows,
                   bool with_colour)
{
    const struct sighting *ranked[SIGHTINGS_MAX];
    size_t count = sightings_ranked(sightings, ranked);
    if (count == 0)
        return;
    text_put(writer, with_colour ? "\033[1m" : "");
    put_column(writer, "Signal", SIGNAL_COLUMNS + 2);
    put_column(writer, "Name", NAME_COLUMNS + 2);
    text_put(writer, "Address            Type    Offers");
    text_put(writer, with_colour ? "\033[0m\n" : "\n");
    for (size_t i = 0; i < count && i < rows; i++)
        put_row(writer, ranked[i]);
}

/* ---- JSON ---- */

static json_t *offers_json(const struct sighting *sighting)
{
    json_t *list = json_array();
    for (enum device_kind kind = DEVICE_MACHINE; kind < DEVICE_KIND_COUNT; kind++)
        if ((sighting->offers & 1u << kind) != 0)
            json_array_append_new(list, json_string(device_kind_name(kind)));
    return list;
}

/* null when the machine does not say. */
static json_t *types_json(const struct sighting *sighting)
{
    json_t *list = sighting->has_machine_types ? json_array() : json_null();
    for (size_t i = 0; sighting->has_machine_types && i < MACHINE_TYPE_COUNT; i++)
        if ((sighting->machine_types & 1u << i) != 0)
            json_array_append_new(list, json_string(machine_types[i]));
    return list;
}

bool scan_list_print_json(const struct sighting *sighting)
{
    char address[24];
    struct text_writer writer = text_writer(address, sizeof address);
    device_address_put(&writer, &sighting->address);
    json_t *object = json_pack(
        "{ss ss ss? so so so so}", "address", address, "type",
        address_type_name(sighting->address.type), "name",
        sighting->name[0] != '\0' ? sighting->name : NULL, "signal_dbm",
        sighting->signal_dbm != 0 ? json_integer(sighting->signal_dbm) : json_null(), "offers",
        offers_json(sighting), "machine_types", types_json(sighting), "available",
        sighting->has_machine_types ? json_boolean(sighting->is_available) : json_null());
    return json_line_print(object);
}
