#include "io/recording.h"

#include <stdlib.h>
#include <string.h>

#include "recording_table.h"

/* How far back the procedure may lie that an indication is the outcome of. */
#define OUTCOME_REACH 64u

/* The first octet of a control point's answer. Fitness Machine Service 1.0.1, 4.16.2.22. */
#define CONTROL_POINT_RESPONSE 0x80u

struct loader {
    struct recording *recording;
    struct att_trace trace;
    bool is_out_of_memory;
    /* By slot of the trace: the link that is in it, and the exchange that waits for an answer, by
     * the side that asked. */
    size_t link_in[ATT_TRACE_LINKS_MAX];
    size_t waiting[ATT_TRACE_LINKS_MAX][2];
};

/* ---- lists that grow ---- */

/* Room for one more, or NULL. */
static void *grown(void *items, size_t count, size_t *room, size_t size)
{
    if (count < *room)
        return items;
    const size_t wanted = *room == 0 ? 64 : *room * 2;
    void *larger = realloc(items, wanted * size);
    if (larger != NULL)
        *room = wanted;
    return larger;
}

static struct recording_link *add_link(struct loader *loader)
{
    struct recording *recording = loader->recording;
    struct recording_link *links =
        grown(recording->links, recording->link_count, &recording->link_room, sizeof *links);

    loader->is_out_of_memory |= links == NULL;
    if (links == NULL)
        return NULL;
    recording->links = links;
    return &links[recording->link_count++];
}

static struct recording_pdu *add_pdu(struct loader *loader)
{
    struct recording *recording = loader->recording;
    struct recording_pdu *pdus =
        grown(recording->pdus, recording->pdu_count, &recording->pdu_room, sizeof *pdus);

    loader->is_out_of_memory |= pdus == NULL;
    if (pdus == NULL)
        return NULL;
    recording->pdus = pdus;
    return &pdus[recording->pdu_count++];
}

static struct recording_exchange *add_exchange(struct loader *loader)
{
    struct recording *recording = loader->recording;
    struct recording_exchange *exchanges = grown(recording->exchanges, recording->exchange_count,
                                                 &recording->exchange_room, sizeof *exchanges);

    loader->is_out_of_memory |= exchanges == NULL;
    if (exchanges == NULL)
        return NULL;
    recording->exchanges = exchanges;
    return &exchanges[recording->exchange_count++];
}

/* ---- exchanges ---- */

static void ask(struct loader *loader, unsigned slot, size_t pdu, bool by_peer)
{
    struct recording_exchange *exchange = add_exchange(loader);

    if (exchange == NULL)
        return;
    *exchange = (struct recording_exchange){pdu, RECORDING_NONE, RECORDING_NONE, false};
    loader->waiting[slot][by_peer] = loader->recording->exchange_count - 1;
}

static void answer(struct loader *loader, unsigned slot, size_t pdu, bool by_peer)
{
    size_t *waiting = &loader->waiting[slot][!by_peer];

    loader->recording->pdus[pdu].is_answer = true;
    if (*waiting != RECORDING_NONE)
        loader->recording->exchanges[*waiting].response = pdu;
    *waiting = RECORDING_NONE;
}

static bool is_outcome_of(const struct recording_pdu *indication,
                          const struct recording_pdu *request)
{
    return request->link == indication->link && request->by_peer != indication->by_peer &&
           request->length > 3 && request->octets[0] == ATT_WRITE_REQUEST &&
           indication->length > 4 && memcmp(request->octets + 1, indication->octets + 1, 2) == 0 &&
           indication->octets[3] == CONTROL_POINT_RESPONSE &&
           indication->octets[4] == request->octets[3];
}

static void conclude(struct recording *recording, size_t pdu)
{
    struct recording_pdu *indication = &recording->pdus[pdu];
    const size_t count = recording->exchange_count;

    for (size_t i = count; i-- > 0 && count - i <= OUTCOME_REACH;) {
        struct recording_exchange *exchange = &recording->exchanges[i];
        if (exchange->outcome == RECORDING_NONE &&
            is_outcome_of(indication, &recording->pdus[exchange->request])) {
            exchange->outcome = pdu;
            indication->is_answer = true;
            return;
        }
    }
}

/* ---- what happens in the capture ---- */

static void take_up(struct loader *loader, const struct att_trace_item *item)
{
    struct recording_link *link = add_link(loader);

    if (link == NULL)
        return;
    *link = (struct recording_link){.adapter = item->adapter,
                                    .address = item->peer,
                                    .begin_us = item->time_us,
                                    .end_us = item->time_us};
    loader->link_in[item->slot] = loader->recording->link_count - 1;
    loader->waiting[item->slot][0] = loader->waiting[item->slot][1] = RECORDING_NONE;
}

static void take_pdu(struct loader *loader, const struct att_trace_item *item)
{
    struct recording *recording = loader->recording;
    const size_t index = recording->pdu_count;
    uint8_t *octets = recording->octets + recording->octet_count;
    struct recording_pdu *pdu = add_pdu(loader);

    if (pdu == NULL)
        return;
    memcpy(octets, item->pdu, item->length);
    recording->octet_count += item->length;
    *pdu = (struct recording_pdu){.time_us = item->time_us,
                                  .octets = octets,
                                  .length = (uint16_t)item->length,
                                  .by_peer = item->by_peer,
                                  .link = loader->link_in[item->slot]};
    recording->links[pdu->link].end_us = item->time_us;
    switch (att_kind(octets[0])) {
    case ATT_KIND_REQUEST: ask(loader, item->slot, index, item->by_peer); return;
    case ATT_KIND_RESPONSE: answer(loader, item->slot, index, item->by_peer); return;
    case ATT_KIND_INDICATION: conclude(recording, index); return;
    case ATT_KIND_COMMAND:
    case ATT_KIND_NOTIFICATION:
    case ATT_KIND_CONFIRMATION: return;
    }
}

static void take_item(void *user, const struct att_trace_item *item)
{
    struct loader *loader = user;

    if (loader->is_out_of_memory)
        return;
    if (item->kind == ATT_TRACE_UP) {
        take_up(loader, item);
    } else if (item->kind == ATT_TRACE_PDU) {
        take_pdu(loader, item);
    } else {
        struct recording_link *link = &loader->recording->links[loader->link_in[item->slot]];
        link->end_us = item->time_us;
        link->was_ended_by_peer = item->by_peer;
    }
}

/* ---- whom to play ---- */

static bool is_named(const uint8_t *octets, size_t length, uint16_t service)
{
    if (length != 2 && length != 16)
        return false;
    const struct att_uuid uuid = att_uuid_from(octets, length);
    return att_uuid_is(&uuid, service);
}

/* Both ways in which services are looked for. */
static bool finds_service(const struct recording *recording,
                          const struct recording_exchange *exchange, uint16_t service)
{
    if (exchange->response == RECORDING_NONE)
        return false;
    const struct recording_pdu *request = &recording->pdus[exchange->request];
    const struct recording_pdu *response = &recording->pdus[exchange->response];
    if (response->octets[0] == ATT_FIND_BY_TYPE_VALUE_RESPONSE)
        return request->length > 7 && is_named(request->octets + 7, request->length - 7u, service);
    if (response->octets[0] != ATT_READ_BY_GROUP_TYPE_RESPONSE || response->length < 2)
        return false;
    const size_t size = response->octets[1];
    for (size_t at = 2; size > 4 && at + size <= response->length; at += size)
        if (is_named(response->octets + at + 4, size - 4, service))
            return true;
    return false;
}

static const struct recording_link *find_peer(struct recording *recording, uint16_t service)
{
    const struct recording_link *at_peer = NULL;

    for (size_t i = 0; i < recording->exchange_count; i++) {
        const struct recording_exchange *exchange = &recording->exchanges[i];
        if (!finds_service(recording, exchange, service))
            continue;
        const struct recording_pdu *response = &recording->pdus[exchange->response];
        if (response->by_peer)
            return &recording->links[response->link];
        if (at_peer == NULL)
            at_peer = &recording->links[response->link];
    }
    recording->is_at_peer = at_peer != NULL;
    return at_peer;
}

static bool choose_links(struct recording *recording, uint16_t service)
{
    const struct recording_link *peer = find_peer(recording, service);

    if (peer == NULL)
        return false;
    for (size_t i = 0; i < recording->link_count; i++) {
        struct recording_link *link = &recording->links[i];
        link->is_chosen =
            link == peer || (link->adapter == peer->adapter && link->address.type != ADDRESS_NONE &&
                             device_address_is(&link->address, &peer->address));
    }
    return true;
}

/* ---- for the user ---- */

/* A file that breaks off, as after a crash, is read as far as it goes. */
static bool read_all(struct loader *loader, struct btsnoop_reader *reader)
{
    struct btsnoop_record record;

    while (btsnoop_next(reader, &record) == RESULT_OK)
        att_trace_read(&loader->trace, &record, take_item, loader);
    return !loader->is_out_of_memory;
}

static const char *take_apart(struct recording *recording, const uint8_t *file, size_t length,
                              uint16_t service)
{
    struct btsnoop_reader reader;
    const enum result opened = btsnoop_open(file, length, &reader);

    if (opened == RESULT_UNSUPPORTED)
        return "that kind of btsnoop capture cannot be read; datalinks 1001, 1002 and 2001 can";
    if (opened != RESULT_OK)
        return "that is no btsnoop capture";
    struct loader *loader = calloc(1, sizeof *loader);
    recording->octets = malloc(length);
    if (loader != NULL)
        loader->recording = recording;
    const bool is_read = loader != NULL && recording->octets != NULL && read_all(loader, &reader);
    free(loader);
    if (!is_read)
        return "not enough memory to take the capture apart";
    if (!choose_links(recording, service))
        return "nobody in it is found to have the service; a capture must begin before the "
               "connection does";
    recording_learn_table(recording);
    return NULL;
}

struct recording *recording_read(const uint8_t *file, size_t length, uint16_t service,
                                 const char **ret_why)
{
    struct recording *recording = calloc(1, sizeof *recording);
    const char *why =
        recording == NULL ? "out of memory" : take_apart(recording, file, length, service);

    if (why == NULL)
        return recording;
    *ret_why = why;
    recording_free(recording);
    return NULL;
}

void recording_free(struct recording *recording)
{
    if (recording == NULL)
        return;
    free(recording->octets);
    free(recording->pdus);
    free(recording->exchanges);
    free(recording->links);
    free(recording);
}

bool recording_is_by_peer(const struct recording *recording, const struct recording_pdu *pdu)
{
    return recording->links[pdu->link].is_chosen && pdu->by_peer != recording->is_at_peer;
}
