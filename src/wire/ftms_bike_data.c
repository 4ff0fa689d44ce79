#include "wire/ftms_bike_data.h"

#include <assert.h>

#include "base/bytes.h"

#define KNOWN_FIELDS   0x1FFFu
#define MORE_DATA_FLAG 0x0001u

/* Octets of each field, by its bit; resistance in its wide form. */
static const uint8_t field_octets[] = {2, 2, 2, 2, 3, 2, 2, 2, 5, 1, 1, 2, 2};
#define FIELD_COUNT (sizeof field_octets / sizeof field_octets[0])

static size_t octets_of(unsigned bit, uint8_t resistance_octets)
{
    return (1u << bit) == FTMS_BIKE_RESISTANCE ? resistance_octets : field_octets[bit];
}

static size_t wide_length(uint32_t fields)
{
    size_t length = 2;
    for (unsigned bit = 0; bit < FIELD_COUNT; bit++)
        if ((fields >> bit & 1u) != 0)
            length += octets_of(bit, 2);
    return length;
}

static int16_t take_resistance(struct bytes_reader *reader, uint8_t octets)
{
    if (octets == 1)
        return bytes_u8(reader);
    return bytes_s16(reader);
}

static void take_energy(struct bytes_reader *reader, struct ftms_bike_data *data)
{
    data->energy_kcal = bytes_u16(reader);
    data->energy_kcal_per_hour = bytes_u16(reader);
    data->energy_kcal_per_minute = bytes_u8(reader);
}

static void take_field(struct bytes_reader *reader, enum ftms_bike_field field,
                       struct ftms_bike_data *data)
{
    switch (field) {
    case FTMS_BIKE_SPEED: data->speed_ckmh = bytes_u16(reader); break;
    case FTMS_BIKE_AVERAGE_SPEED: data->average_speed_ckmh = bytes_u16(reader); break;
    case FTMS_BIKE_CADENCE: data->cadence_half_rpm = bytes_u16(reader); break;
    case FTMS_BIKE_AVERAGE_CADENCE: data->average_cadence_half_rpm = bytes_u16(reader); break;
    case FTMS_BIKE_DISTANCE: data->distance_m = bytes_u24(reader); break;
    case FTMS_BIKE_RESISTANCE:
        data->resistance = take_resistance(reader, data->resistance_octets);
        break;
    case FTMS_BIKE_POWER: data->power_w = bytes_s16(reader); break;
    case FTMS_BIKE_AVERAGE_POWER: data->average_power_w = bytes_s16(reader); break;
    case FTMS_BIKE_ENERGY: take_energy(reader, data); break;
    case FTMS_BIKE_HEART_RATE: data->heart_bpm = bytes_u8(reader); break;
    case FTMS_BIKE_METABOLIC_EQUIVALENT:
        data->metabolic_equivalent_tenths = bytes_u8(reader);
        break;
    case FTMS_BIKE_ELAPSED: data->elapsed_s = bytes_u16(reader); break;
    case FTMS_BIKE_REMAINING: data->remaining_s = bytes_u16(reader); break;
    }
}

enum result ftms_decode_bike_data(const uint8_t *value, size_t length, struct ftms_bike_data *ret)
{
    struct bytes_reader reader = bytes_reader(value, length);
    uint16_t flags = bytes_u16(&reader);
    if (reader.failed)
        return RESULT_NEED_MORE;

    struct ftms_bike_data data = {.more_data = (flags & MORE_DATA_FLAG) != 0};
    uint32_t promised = (flags ^ MORE_DATA_FLAG) & KNOWN_FIELDS;
    uint8_t resistance_octets = length + 1 == wide_length(promised) ? 1 : 2;
    if ((promised & FTMS_BIKE_RESISTANCE) != 0)
        data.resistance_octets = resistance_octets;
    for (unsigned bit = 0; bit < FIELD_COUNT && !data.is_short; bit++) {
        uint32_t field = promised & 1u << bit;
        if (field == 0)
            continue;
        data.is_short = bytes_left(&reader) < octets_of(bit, resistance_octets);
        if (!data.is_short) {
            take_field(&reader, (enum ftms_bike_field)field, &data);
            data.has |= field;
        }
    }
    *ret = data;
    return RESULT_OK;
}

static void copy_energy(struct ftms_bike_data *to, const struct ftms_bike_data *from)
{
    to->energy_kcal = from->energy_kcal;
    to->energy_kcal_per_hour = from->energy_kcal_per_hour;
    to->energy_kcal_per_minute = from->energy_kcal_per_minute;
}

static void copy_field(struct ftms_bike_data *to, const struct ftms_bike_data *from,
                       enum ftms_bike_field field)
{
    switch (field) {
    case FTMS_BIKE_SPEED: to->speed_ckmh = from->speed_ckmh; break;
    case FTMS_BIKE_AVERAGE_SPEED: to->average_speed_ckmh = from->average_speed_ckmh; break;
    case FTMS_BIKE_CADENCE: to->cadence_half_rpm = from->cadence_half_rpm; break;
    case FTMS_BIKE_AVERAGE_CADENCE:
        to->average_cadence_half_rpm = from->average_cadence_half_rpm;
        break;
    case FTMS_BIKE_DISTANCE: to->distance_m = from->distance_m; break;
    case FTMS_BIKE_RESISTANCE:
        to->resistance = from->resistance;
        to->resistance_octets = from->resistance_octets;
        break;
    case FTMS_BIKE_POWER: to->power_w = from->power_w; break;
    case FTMS_BIKE_AVERAGE_POWER: to->average_power_w = from->average_power_w; break;
    case FTMS_BIKE_ENERGY: copy_energy(to, from); break;
    case FTMS_BIKE_HEART_RATE: to->heart_bpm = from->heart_bpm; break;
    case FTMS_BIKE_METABOLIC_EQUIVALENT:
        to->metabolic_equivalent_tenths = from->metabolic_equivalent_tenths;
        break;
    case FTMS_BIKE_ELAPSED: to->elapsed_s = from->elapsed_s; break;
    case FTMS_BIKE_REMAINING: to->remaining_s = from->remaining_s; break;
    }
}

bool ftms_record_add(struct ftms_record *record, const struct ftms_bike_data *part,
                     struct ftms_bike_data *ret)
{
    struct ftms_bike_data *data = &record->data;
    for (unsigned bit = 0; bit < FIELD_COUNT; bit++)
        if ((part->has >> bit & 1u) != 0)
            copy_field(data, part, (enum ftms_bike_field)(1u << bit));
    data->has |= part->has;
    data->is_short = data->is_short || part->is_short;
    if (part->more_data)
        return false;
    *ret = *data;
    *record = (struct ftms_record){0};
    return true;
}

static void put_resistance(struct bytes_writer *writer, const struct ftms_bike_data *data)
{
    if (data->resistance_octets == 1)
        bytes_put_u8(writer, (uint8_t)data->resistance);
    else
        bytes_put_s16(writer, data->resistance);
}

static void put_energy(struct bytes_writer *writer, const struct ftms_bike_data *data)
{
    bytes_put_u16(writer, data->energy_kcal);
    bytes_put_u16(writer, data->energy_kcal_per_hour);
    bytes_put_u8(writer, data->energy_kcal_per_minute);
}

static void put_field(struct bytes_writer *writer, enum ftms_bike_field field,
                      const struct ftms_bike_data *data)
{
    switch (field) {
    case FTMS_BIKE_SPEED: bytes_put_u16(writer, data->speed_ckmh); break;
    case FTMS_BIKE_AVERAGE_SPEED: bytes_put_u16(writer, data->average_speed_ckmh); break;
    case FTMS_BIKE_CADENCE: bytes_put_u16(writer, data->cadence_half_rpm); break;
    case FTMS_BIKE_AVERAGE_CADENCE: bytes_put_u16(writer, data->average_cadence_half_rpm); break;
    case FTMS_BIKE_DISTANCE: bytes_put_u24(writer, data->distance_m); break;
    case FTMS_BIKE_RESISTANCE: put_resistance(writer, data); break;
    case FTMS_BIKE_POWER: bytes_put_s16(writer, data->power_w); break;
    case FTMS_BIKE_AVERAGE_POWER: bytes_put_s16(writer, data->average_power_w); break;
    case FTMS_BIKE_ENERGY: put_energy(writer, data); break;
    case FTMS_BIKE_HEART_RATE: bytes_put_u8(writer, data->heart_bpm); break;
    case FTMS_BIKE_METABOLIC_EQUIVALENT:
        bytes_put_u8(writer, data->metabolic_equivalent_tenths);
        break;
    case FTMS_BIKE_ELAPSED: bytes_put_u16(writer, data->elapsed_s); break;
    case FTMS_BIKE_REMAINING: bytes_put_u16(writer, data->remaining_s); break;
    }
}

size_t ftms_encode_bike_data(const struct ftms_bike_data *data, uint8_t *ret)
{
    struct bytes_writer writer = bytes_writer(ret, FTMS_BIKE_DATA_MAX);
    uint32_t fields = data->has & KNOWN_FIELDS;
    bytes_put_u16(&writer, (uint16_t)(fields ^ MORE_DATA_FLAG));
    for (unsigned bit = 0; bit < FIELD_COUNT; bit++)
        if ((fields >> bit & 1u) != 0)
            put_field(&writer, (enum ftms_bike_field)(1u << bit), data);
    assert(!writer.failed);
    return writer.length;
}
