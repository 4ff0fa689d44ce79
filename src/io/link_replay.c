#include "io/link_replay.h"

#include <stdlib.h>
#include <string.h>

/* Where the recording stops rather than the peer: time for a ride to leave by itself. */
#define LINGER_MS 8000u

#define NO_GATE INT64_MAX

/* Answers under way at a time: a response and an outcome to each of a few requests. */
#define ANSWERS_MAX 16u

struct answer {
    uint64_t at_ms;
    size_t recorded; /* as which PDU; 0 for what never was */
    uint16_t length;
    uint8_t octets[ATT_PDU_BUFFER];
};

struct replay {
    struct link link; /* first: the port's handle */
    struct loop *loop;
    struct link_user user;
    struct recording *recording;
    size_t link_number;
    struct gatt_server server; /* answers what was never asked */
    int timer;
    bool is_open, in_callback, is_closed; /* closed within a callback: freed behind it */

    /* The recorded time that goes with a time of the loop. */
    int64_t anchor_us;
    uint64_t anchor_ms;
    size_t next;      /* PDU; how far it is played */
    int64_t gate_us;  /* the first recorded write: what comes after it waits for ours */
    bool has_written; /* we have */

    struct answer answers[ANSWERS_MAX]; /* in the order of their times */
    size_t answer_count;
};

/* ---- time ---- */

static uint64_t due_ms(const struct replay *replay, int64_t time_us)
{
    const int64_t after_us = time_us - replay->anchor_us;
    return after_us <= 0 ? replay->anchor_ms : replay->anchor_ms + (uint64_t)after_us / 1000;
}

static const struct recording_link *recorded_link(const struct replay *replay)
{
    return &replay->recording->links[replay->link_number];
}

/* Answers are played by their requests. */
static bool is_unasked(const struct replay *replay, const struct recording_pdu *pdu)
{
    return pdu->link == replay->link_number && !pdu->is_answer &&
           recording_is_by_peer(replay->recording, pdu) &&
           att_kind(pdu->octets[0]) != ATT_KIND_CONFIRMATION;
}

/* The next thing that the peer says unasked; NULL when all is said. */
static const struct recording_pdu *next_unasked(struct replay *replay)
{
    const struct recording *recording = replay->recording;

    while (replay->next < recording->pdu_count &&
           !is_unasked(replay, &recording->pdus[replay->next]))
        replay->next++;
    return replay->next < recording->pdu_count ? &recording->pdus[replay->next] : NULL;
}

static uint64_t end_ms(const struct replay *replay)
{
    const struct recording_link *link = recorded_link(replay);
    return due_ms(replay, link->end_us) + (link->was_ended_by_peer ? 0 : LINGER_MS);
}

static uint64_t earlier(uint64_t a, uint64_t b)
{
    return a < b ? a : b;
}

static bool may_play(const struct replay *replay, int64_t time_us)
{
    return replay->has_written || time_us < replay->gate_us;
}

/* When something is to be done; UINT64_MAX: not before we are asked. */
static uint64_t next_ms(struct replay *replay)
{
    const struct recording_pdu *pdu = next_unasked(replay);
    const int64_t time_us = pdu != NULL ? pdu->time_us : recorded_link(replay)->end_us;
    uint64_t at_ms = replay->answer_count > 0 ? replay->answers[0].at_ms : UINT64_MAX;

    if (may_play(replay, time_us))
        at_ms = earlier(at_ms, pdu != NULL ? due_ms(replay, time_us) : end_ms(replay));
    return at_ms;
}

static void on_time(void *user);

static void wait_for_next(struct replay *replay)
{
    const uint64_t at_ms = replay->is_open ? next_ms(replay) : loop_now_ms(replay->loop);

    loop_cancel_timer(replay->loop, replay->timer);
    replay->timer = at_ms == UINT64_MAX ? 0 : loop_set_timer(replay->loop, at_ms, on_time, replay);
}

/* ---- answers ---- */

static void put_answer(struct replay *replay, uint64_t after_ms, size_t recorded,
                       const uint8_t *pdu, size_t length)
{
    const uint64_t at_ms = loop_now_ms(replay->loop) + after_ms;
    size_t at = replay->answer_count;

    /* One that does not fit shows as a request without an answer. */
    if (replay->answer_count == ANSWERS_MAX || length > ATT_PDU_BUFFER)
        return;
    while (at > 0 && replay->answers[at - 1].at_ms > at_ms)
        at--;
    memmove(&replay->answers[at + 1], &replay->answers[at],
            (replay->answer_count - at) * sizeof replay->answers[0]);
    replay->answer_count++;
    replay->answers[at].at_ms = at_ms;
    replay->answers[at].recorded = recorded;
    replay->answers[at].length = (uint16_t)length;
    memcpy(replay->answers[at].octets, pdu, length);
}

static void put_recorded(struct replay *replay, size_t request, size_t answer)
{
    const struct recording_pdu *pdus = replay->recording->pdus;

    if (answer == RECORDING_NONE)
        return;
    const int64_t after_us = pdus[answer].time_us - pdus[request].time_us;
    put_answer(replay, after_us <= 0 ? 0 : (uint64_t)after_us / 1000, answer, pdus[answer].octets,
               pdus[answer].length);
}

static bool is_same_kind_of_write(const struct recording_pdu *recorded, const uint8_t *pdu,
                                  size_t length)
{
    const size_t head = 4; /* opcode, handle, the first octet of the value */
    return length >= head && recorded->length >= head && pdu[0] == ATT_WRITE_REQUEST &&
           memcmp(recorded->octets, pdu, head) == 0;
}

/* How well a recorded request stands for this one; 0: not at all. The first of the best that were
 * not used, the last of the best that were. */
static unsigned fitness(const struct replay *replay, const struct recording_exchange *exchange,
                        const uint8_t *pdu, size_t length)
{
    const struct recording_pdu *request = &replay->recording->pdus[exchange->request];
    const bool is_same = request->length == length && memcmp(request->octets, pdu, length) == 0;

    if (!replay->recording->links[request->link].is_chosen ||
        recording_is_by_peer(replay->recording, request) ||
        (!is_same && !is_same_kind_of_write(request, pdu, length)))
        return 0;
    return 1u + (is_same ? 4u : 0u) + (request->link == replay->link_number ? 2u : 0u) +
           (exchange->is_used ? 0u : 1u);
}

static struct recording_exchange *find_exchange(const struct replay *replay, const uint8_t *pdu,
                                                size_t length)
{
    const struct recording *recording = replay->recording;
    struct recording_exchange *best = NULL;
    unsigned best_fitness = 0;

    for (size_t i = 0; i < recording->exchange_count; i++) {
        struct recording_exchange *exchange = &recording->exchanges[i];
        const unsigned found = fitness(replay, exchange, pdu, length);
        const bool is_better =
            best == NULL || found > best_fitness || (found == best_fitness && best->is_used);
        if (found == 0 || !is_better)
            continue;
        best = exchange;
        best_fitness = found;
    }
    return best;
}

/* The time of the recording is taken from the write that subscribes. */
static void set_anchor(struct replay *replay, const struct recording_exchange *exchange)
{
    if (replay->has_written)
        return;
    replay->has_written = true;
    if (replay->gate_us == NO_GATE)
        return;
    replay->anchor_ms = loop_now_ms(replay->loop);
    replay->anchor_us = replay->gate_us;
    if (exchange != NULL && replay->recording->pdus[exchange->request].link == replay->link_number)
        replay->anchor_us = replay->recording->pdus[exchange->request].time_us;
    for (const struct recording_pdu *pdu = next_unasked(replay);
         pdu != NULL && pdu->time_us < replay->anchor_us; pdu = next_unasked(replay))
        replay->next++;
}

/* From the table, as nobody asked this before: a write that nobody made is refused. */
static void answer_freely(struct replay *replay, bool is_wanted)
{
    struct gatt_server_event event;
    uint8_t pdu[ATT_MTU_MAX];

    while (gatt_server_next_event(&replay->server, &event))
        if (event.kind == GATT_SERVER_WRITTEN)
            gatt_server_answer_write(&replay->server, ATT_REQUEST_NOT_SUPPORTED);
    for (size_t length; (length = gatt_server_next_pdu(&replay->server, pdu)) > 0;)
        if (is_wanted)
            put_answer(replay, 0, 0, pdu, length);
}

static enum result send_request(struct link *link, const uint8_t *pdu, size_t length)
{
    struct replay *replay = (struct replay *)link;

    if (!replay->is_open)
        return RESULT_CLOSED;
    if (length == 0 || att_kind(pdu[0]) != ATT_KIND_REQUEST)
        return RESULT_OK;
    struct recording_exchange *exchange = find_exchange(replay, pdu, length);
    gatt_server_receive(&replay->server, pdu, length);
    answer_freely(replay, exchange == NULL);
    if (exchange != NULL) {
        exchange->is_used = true;
        put_recorded(replay, exchange->request, exchange->response);
        put_recorded(replay, exchange->request, exchange->outcome);
    }
    if (pdu[0] == ATT_WRITE_REQUEST)
        set_anchor(replay, exchange);
    wait_for_next(replay);
    return RESULT_OK;
}

/* Packets are recorded where they are not encrypted any more. */
static enum result secure(struct link *link)
{
    (void)link;
    return RESULT_OK;
}

static void destroy(struct replay *replay)
{
    loop_cancel_timer(replay->loop, replay->timer);
    free(replay);
}

static void close_replay(struct link *link)
{
    struct replay *replay = (struct replay *)link;

    if (replay->in_callback)
        replay->is_closed = true;
    else
        destroy(replay);
}

static const struct link_operations operations = {send_request, secure, close_replay, NULL, NULL};

/* ---- from the loop ---- */

static void open_now(struct replay *replay)
{
    replay->is_open = true;
    replay->anchor_ms = loop_now_ms(replay->loop);
    replay->user.opened(replay->user.user);
}

static void tell_answer(struct replay *replay)
{
    const struct answer answer = replay->answers[0];

    replay->answer_count--;
    memmove(&replay->answers[0], &replay->answers[1],
            replay->answer_count * sizeof replay->answers[0]);
    replay->user.received(replay->user.user, answer.octets, answer.length);
}

/* Whether an answer is due before `pdu`, which may be NULL. At the same time the order is that of
 * the capture. */
static bool answer_is_next(const struct replay *replay, const struct recording_pdu *pdu)
{
    const struct answer *answer = &replay->answers[0];

    if (replay->answer_count == 0 || answer->at_ms > loop_now_ms(replay->loop))
        return false;
    if (pdu == NULL || !may_play(replay, pdu->time_us))
        return true;
    const uint64_t at_ms = due_ms(replay, pdu->time_us);
    return answer->at_ms < at_ms || (answer->at_ms == at_ms && answer->recorded < replay->next);
}

/* One thing; false when there was the end. */
static bool play_one(struct replay *replay)
{
    const struct recording_pdu *pdu = next_unasked(replay);

    if (answer_is_next(replay, pdu)) {
        tell_answer(replay);
        return true;
    }
    if (pdu != NULL) {
        replay->next++;
        replay->user.received(replay->user.user, pdu->octets, pdu->length);
        return true;
    }
    replay->is_open = false;
    replay->user.closed(replay->user.user, recorded_link(replay)->was_ended_by_peer
                                               ? "it ended the connection, in the capture"
                                               : "the capture ends here");
    return false;
}

static void on_time(void *user)
{
    struct replay *replay = user;
    bool goes_on = true;

    replay->timer = 0;
    replay->in_callback = true;
    if (!replay->is_open)
        open_now(replay);
    else
        goes_on = play_one(replay);
    replay->in_callback = false;
    if (replay->is_closed)
        destroy(replay);
    else if (goes_on)
        wait_for_next(replay);
}

/* ---- opening ---- */

static int64_t first_write_us(const struct recording *recording, size_t link)
{
    for (size_t i = 0; i < recording->exchange_count; i++) {
        const struct recording_pdu *request = &recording->pdus[recording->exchanges[i].request];
        if (request->link == link && request->octets[0] == ATT_WRITE_REQUEST &&
            !recording_is_by_peer(recording, request))
            return request->time_us;
    }
    return NO_GATE;
}

static bool take_next_link(struct recording *recording, size_t *ret)
{
    while (recording->next_link < recording->link_count &&
           !recording->links[recording->next_link].is_chosen)
        recording->next_link++;
    if (recording->next_link == recording->link_count)
        return false;
    *ret = recording->next_link++;
    return true;
}

struct link *link_replay_open(struct loop *loop, struct recording *recording,
                              const struct link_user *user, const char **ret_why)
{
    size_t link_number;

    if (!take_next_link(recording, &link_number)) {
        *ret_why = "the capture has no further connection";
        return NULL;
    }
    struct replay *replay = calloc(1, sizeof *replay);
    if (replay == NULL || gatt_server_init(&replay->server, recording->attributes,
                                           recording->attribute_count, ATT_MTU_MAX) != RESULT_OK) {
        *ret_why = replay == NULL ? "out of memory" : "the recorded attributes make no sense";
        free(replay);
        return NULL;
    }
    replay->link.operations = &operations;
    replay->loop = loop;
    replay->user = *user;
    replay->recording = recording;
    replay->link_number = link_number;
    replay->anchor_us = recording->links[link_number].begin_us;
    replay->gate_us = first_write_us(recording, link_number);
    wait_for_next(replay);
    return &replay->link;
}
