#include "trouble.h"

#include "base/text.h"

/* As long as data counts as late, for legs that have not begun are no reason to hurry anyone. */
struct view_line view_silence(const struct ride *ride)
{
    const struct reading *data = &ride->sensors.data;
    const uint64_t since_t_ms =
        data->known && data->t_ms > ride->phase_t_ms ? data->t_ms : ride->phase_t_ms;
    struct view_line line = {""};
    struct text_writer writer = text_writer(line.text, sizeof line.text);

    if (ride->phase == PHASE_READY && ride->t_ms - since_t_ms >= ride->limits.data_lost_ms)
        text_put(&writer, "No readings from the bike. If you are pedalling, switch it off and on.");
    return line;
}

static void put_since(struct text_writer *writer, const char *what, uint64_t since_ms)
{
    text_put(writer, what);
    text_put_unsigned(writer, since_ms / 1000);
    text_put(writer, " s.");
}

static bool shows_caution(const struct view *view, enum caution caution)
{
    for (uint32_t i = 0; i < view->caution_count; i++)
        if (view->cautions[i] == caution)
            return true;
    return false;
}

struct view_line trouble_line(const struct ride *ride, const struct view *view)
{
    const struct reading *data = &ride->sensors.data;
    struct view_line line = {""};
    struct text_writer writer = text_writer(line.text, sizeof line.text);

    if (ride->phase == PHASE_READY)
        return view_silence(ride);
    if (ride->phase != PHASE_RIDING && ride->phase != PHASE_HELD && ride->phase != PHASE_EASY)
        return line;
    if (ride->is_regaining)
        put_since(&writer,
                  ride->is_linked ? "Link back, no readings yet; lost for "
                                  : "No link to the bike for ",
                  ride->t_ms - ride->lost_t_ms);
    else if (data->known && ride->t_ms - data->t_ms >= VIEW_LATE_MS)
        put_since(&writer, "No readings from the bike for ", ride->t_ms - data->t_ms);
    else if (ride->phase == PHASE_RIDING && ride->verdict.strap_lost &&
             !shows_caution(view, CAUTION_STRAP_LOST))
        text_put(&writer, words_caution(CAUTION_STRAP_LOST, view->by_hand));
    return line;
}
