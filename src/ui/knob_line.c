#include "base/text.h"
#include "step_text.h"
#include "ui/view.h"

/* How long it is said that all is well. */
#define WELL_MS 4000u
static const char when_done[] = " Enter when done.";
/* A number that changes with every reading cannot be read. */
#define SHOWN_BY_W 5

void view_put_brake(struct text_writer *writer, const struct ride *ride)
{
    const struct knob *knob = &ride->knob;
    const int32_t level_tenths = ride_level_set(ride);
    const bool has_place = ride_turns_knob(ride) && knob->place.is_known;

    if ((level_tenths > 0 || has_place) && writer->length > 0)
        text_put(writer, ", ");
    if (level_tenths > 0) {
        text_put(writer, "set to level ");
        text_put_fixed(writer, level_tenths, 1);
    } else if (has_place) {
        text_put(writer, "knob at ");
        text_put_signed(writer, knob->place.position);
        text_put(writer, knob->is_assumed ? "?" : "");
    }
}

static void put_watts(struct text_writer *writer, int32_t by_w, const char *what)
{
    const int32_t shown_w = (by_w + SHOWN_BY_W / 2) / SHOWN_BY_W * SHOWN_BY_W;

    text_put(writer, ": ");
    text_put_signed(writer, shown_w > SHOWN_BY_W ? shown_w : SHOWN_BY_W);
    text_put(writer, what);
}

/* Not any more once it is said to stand there. */
static void put_to(struct text_writer *writer, const struct knob *knob)
{
    if (!knob->has_to)
        return;
    text_put(writer, " to ");
    text_put_signed(writer, knob->to);
}

static void put_turn(struct text_writer *writer, const struct knob *knob, enum knob_turn turn)
{
    text_put(writer, turn == KNOB_UP ? ": turn the knob up" : ": ease the knob");
    put_to(writer, knob);
    text_put_char(writer, '.');
}

static void put_ahead(struct text_writer *writer, const struct ride *ride, enum knob_turn turn)
{
    text_put(writer, "In ");
    text_put_unsigned(writer, (ride->step_end_ms - ride->step_ms + 999) / 1000);
    text_put(writer, " s");
    put_turn(writer, &ride->knob, turn);
}

static void put_legs(struct text_writer *writer, const struct ride *ride, enum knob_turn turn)
{
    const struct step_targets targets = ride_targets(ride);

    text_put(writer, turn == KNOB_FASTER ? "Legs faster" : "Legs slower");
    if (targets.cadence_rpm.set) {
        text_put(writer, ": ");
        text_put_signed(writer,
                        turn == KNOB_FASTER ? targets.cadence_rpm.low : targets.cadence_rpm.high);
        text_put(writer, turn == KNOB_FASTER ? " rpm or more" : " rpm or less");
    }
    text_put(writer, ". Leave the knob.");
}

static void put_nearest(struct text_writer *writer, const struct ride *ride)
{
    int32_t cadence_rpm;

    text_put(writer, "As near as the knob goes");
    if (ride_cadence_for(ride, &cadence_rpm)) {
        text_put(writer, "; ");
        text_put_signed(writer, cadence_rpm);
        text_put(writer, " rpm do the rest");
    }
    text_put_char(writer, '.');
}

static void put_leave(struct text_writer *writer, const struct ride *ride)
{
    const struct knob *knob = &ride->knob;

    if (knob->due != KNOB_LEAVE && ride->t_ms < knob->settled_t_ms) {
        text_put(writer, "Now");
        put_turn(writer, knob, knob->due);
    } else if (knob->is_nearest) {
        put_nearest(writer, ride);
    } else if (knob->told_t_ms != 0 && ride->t_ms - knob->told_t_ms < WELL_MS) {
        text_put(writer, knob->is_met ? "Leave the knob." : "Wait until the turn shows.");
    }
}

struct view_line view_knob(const struct ride *ride)
{
    const struct knob *knob = &ride->knob;
    const enum knob_turn ahead = ride_turn_ahead(ride);
    struct view_line line = {""};
    struct text_writer writer = text_writer(line.text, sizeof line.text);

    if (ride->phase != PHASE_RIDING || !ride_turns_knob(ride))
        return line;
    if (ahead != KNOB_LEAVE) {
        put_ahead(&writer, ride, ahead);
        return line;
    }
    switch (knob->turn) {
    case KNOB_UP:
        text_put(&writer, "Turn the knob up");
        put_to(&writer, knob);
        put_watts(&writer, knob->off_w, " W more.");
        text_put(&writer, knob->has_to ? when_done : "");
        break;
    case KNOB_DOWN:
        text_put(&writer, "Ease the knob");
        put_to(&writer, knob);
        put_watts(&writer, -knob->off_w, " W less.");
        text_put(&writer, knob->has_to ? when_done : "");
        break;
    case KNOB_FASTER:
    case KNOB_SLOWER: put_legs(&writer, ride, knob->turn); break;
    case KNOB_LEAVE: put_leave(&writer, ride); break;
    case KNOB_TURN_COUNT: break;
    }
    return line;
}
