#include "io/tones.h"

#include <math.h>

/* Haas and Edworthy (1996) rise and fall in 25 ms; the shortest note here has 100 ms. */
#define EDGE_S 0.02
#define FULL   (0.9 * INT16_MAX)
#define PI     3.14159265358979323846

/* The shares of the fundamental and its overtones, all within 15 dB (IEC 60601-1-8). They add up to
 * 1, so that nothing is clipped. */
static const double shares[] = {0.45, 0.25, 0.18, 0.12};
#define SHARES (sizeof shares / sizeof shares[0])

size_t tones_length(enum cue cue, uint32_t rate_hz)
{
    return (size_t)cue_length_ms(cue) * rate_hz / 1000;
}

static double wave(double turns)
{
    double sum = 0.0;

    for (size_t i = 0; i < SHARES; i++)
        sum += shares[i] * sin(2.0 * PI * turns * (double)(i + 1));
    return sum;
}

/* Raised cosine. */
static double envelope(double at_s, double length_s)
{
    const double edge_s = fmin(at_s, length_s - at_s);
    return edge_s >= EDGE_S ? 1.0 : 0.5 - 0.5 * cos(PI * edge_s / EDGE_S);
}

static double sample_at(const struct cue_score *score, double at_s)
{
    for (size_t i = 0; i < score->count; i++) {
        const struct cue_note *note = &score->notes[i];
        const double in_s = at_s - note->at_ms / 1000.0, length_s = note->length_ms / 1000.0;

        if (in_s < 0.0 || in_s >= length_s)
            continue;
        /* The integral of a pitch that glides in a straight line. */
        const double glide_hz_s = (note->to_hz - note->from_hz) / length_s;
        return envelope(in_s, length_s) * wave((note->from_hz + glide_hz_s * in_s / 2.0) * in_s);
    }
    return 0.0;
}

void tones_render(enum cue cue, uint32_t rate_hz, int volume_pct, size_t from, size_t count,
                  int16_t *ret)
{
    const struct cue_score *score = cue_score(cue);
    /* Twice the volume is heard as about twice as loud with the square (common practice). */
    const double scale = FULL * (volume_pct / 100.0) * (volume_pct / 100.0);

    for (size_t i = 0; i < count; i++)
        ret[i] = (int16_t)lround(scale * sample_at(score, (double)(from + i) / rate_hz));
}
