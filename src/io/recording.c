#include "io/recording.h"

#include <stdlib.h>
#include <string.h>

#include "recording_table.h"

/* How far back the procedure may lie that an indication is the outcome of. */
#define OUTCOME_REACH 64u

/* The first octet of a control point's answer. Fitness Machine Service 1.0.1, 4.16.2.22. */
#define CONTROL_POINT_RESPONSE 0x80u

/* Discoveries that are looked at: more than a person has devices in reach. */
#define CANDIDATES_MAX 64u

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

static void take_request(struct loader *loader, unsigned slot, size_t pdu, bool by_peer)
{
    struct recording_exchange *exchange = add_exchange(loader);

    if (exchange == NULL)
        return;
    *exchange = (struct recording_exchange){pdu, RECORDING_NONE, RECORDING_NONE, false};
    loader->waiting[slot][by_peer] = loader->recording->exchange_count - 1;
}

static void take_answer(struct loader *loader, unsigned slot, size_t pdu, bool by_peer)
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

static void take_outcome(struct recording *recording, size_t pdu)
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
    case ATT_KIND_REQUEST: take_request(loader, item->slot, index, item->by_peer); return;
    case ATT_KIND_RESPONSE: take_answer(loader, item->slot, index, item->by_peer); return;
    case ATT_KIND_INDICATION: take_outcome(recording, index); return;
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
        link->has_end = true;
        link->was_ended_by_peer = item->by_peer;
    }
}

/* ---- whom to play ---- */

/* The handle of the characteristic's value, where its declaration is in the answer; else 0. */
static uint16_t declared_handle(const struct recording_pdu *answer, uint16_t characteristic)
{
    struct bytes_reader reader = bytes_reader(answer->octets, answer->length);

    if (bytes_u8(&reader) != ATT_READ_BY_TYPE_RESPONSE)
        return 0;
    const size_t size = bytes_u8(&reader);
    if (size != 7 && size != 21)
        return 0;
    while (bytes_left(&reader) >= size) {
        (void)bytes_take(&reader, 3); /* handle and properties */
        const uint16_t handle = bytes_u16(&reader);
        const struct att_uuid uuid = att_uuid_take(&reader, size - 5);
        if (att_uuid_is(&uuid, characteristic))
            return handle;
    }
    return 0;
}

/* Whether it is a notification with a value of that handle, alone or among several. */
static bool is_notification_of(const struct recording_pdu *pdu, uint16_t handle)
{
    struct bytes_reader reader = bytes_reader(pdu->octets, pdu->length);
    const uint8_t opcode = bytes_u8(&reader);

    if (opcode != ATT_NOTIFICATION && opcode != ATT_MULTIPLE_NOTIFICATION)
        return false;
    while (bytes_left(&reader) > 0) {
        const uint16_t told = bytes_u16(&reader);
        const size_t length = opcode == ATT_NOTIFICATION ? bytes_left(&reader) : bytes_u16(&reader);
        (void)bytes_take(&reader, length);
        if (!reader.failed && told == handle)
            return true;
    }
    return false;
}

static bool notifies(const struct recording *recording, const struct recording_pdu *declaration,
                     uint16_t handle)
{
    for (size_t i = 0; i < recording->pdu_count; i++) {
        const struct recording_pdu *pdu = &recording->pdus[i];
        if (pdu->link == declaration->link && pdu->by_peer == declaration->by_peer &&
            is_notification_of(pdu, handle))
            return true;
    }
    return false;
}

/* One answer of the peer; NULL when nobody is found to have the characteristic. One who says
 * something by it is preferred: there are bikes with a heart rate service of their own. Then, one
 * at the other end of the link. */
static const struct recording_pdu *find_peer(const struct recording *recording,
                                             uint16_t characteristic)
{
    const struct recording_pdu *best = NULL;
    unsigned best_fitness = 0, candidates = 0;

    for (size_t i = 0; i < recording->exchange_count && candidates < CANDIDATES_MAX; i++) {
        const struct recording_exchange *exchange = &recording->exchanges[i];
        if (exchange->response == RECORDING_NONE)
            continue;
        const struct recording_pdu *answer = &recording->pdus[exchange->response];
        const uint16_t handle = declared_handle(answer, characteristic);
        if (handle == 0)
            continue;
        candidates++;
        const unsigned fitness =
            1u + (notifies(recording, answer, handle) ? 2u : 0u) + (answer->by_peer ? 1u : 0u);
        if (fitness > best_fitness) {
            best = answer;
            best_fitness = fitness;
        }
    }
    return best;
}

static bool choose_links(struct recording *recording, uint16_t characteristic)
{
    const struct recording_pdu *answer = find_peer(recording, characteristic);

    if (answer == NULL)
        return false;
    const struct recording_link *peer = &recording->links[answer->link];
    recording->is_at_peer = !answer->by_peer;
    for (size_t i = 0; i < recording->link_count; i++) {
        struct recording_link *link = &recording->links[i];
        link->is_chosen =
            link == peer || (link->adapter == peer->adapter && link->address.type != ADDRESS_NONE &&
                             device_address_is(&link->address, &peer->address));
        link->was_ended_by_peer = link->has_end && link->was_ended_by_peer != recording->is_at_peer;
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
                              uint16_t characteristic)
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
    if (!choose_links(recording, characteristic))
        return "no such device is discovered in it; a capture must begin before the connection "
               "does";
    recording_learn_table(recording);
    return NULL;
}

struct recording *recording_read(const uint8_t *file, size_t length, uint16_t characteristic,
                                 const char **ret_why)
{
    struct recording *recording = calloc(1, sizeof *recording);
    const char *why =
        recording == NULL ? "out of memory" : take_apart(recording, file, length, characteristic);

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
