#include "phrase_spans.h"

#include "tally.h"
#include "units.h"

#include <math.h>

/* Set on the voices for tuning, of whose takes all have their phrases within 2 dB afterwards (test_phrase_ride_voices).
 * One at a time: REST halved leaves 71 %, LOUD_UNDER_VOICE halved 86 %, FRINGE and BREATHY halved 93 %. The other way,
 * these stay at 100 %, as do the rest at 10 dB more or less, at half and at twice. STEP_IN and APART were not searched.
 */
#define SOUND_UNDER_VOICE    30.0  /* dB under the voice of the take, or of the second about it: fainter is not voice */
#define SOUND_UNDER_OWN      20.0  /* dB under the voice of the second before or after: fainter is decay of the voice */
#define LOUD_UNDER_VOICE     15.0  /* dB under the voice of the take: louder sound is voice even without a pitch */
#define FAINTEST_UNDER_VOICE 50.0  /* dB under the voice of the take: anything fainter in a band is silence */
#define QUIETEST_SHARE       0.05  /* share of the frames that count as the quietest */
#define SILENT_POWER         1e-12 /* power, -120 dB: anything less is digital silence */

enum {               /* frames of 10 ms */
       ABOUT = 100,  /* before and after a frame over which the voice's own level is taken */
       REST = 30,    /* least quiet time between phrases */
       FRINGE = 25,  /* most that a consonant reaches beyond the voice */
       BREATHY = 12, /* most that a sound like a breath reaches beyond the voice */
       STOP = 12,    /* longest gap before a final consonant */
       STEP_IN = 2,  /* longest gap after a first consonant */
       APART = 5,    /* least distance between two phrases */
};

/* How far means over 30 ms of a band's steady noise rise above the quietest of them, dB. The lowest band is the
 * narrowest, and varies most. */
static const double swing[REST_BANDS] = {12.0, 9.0, 8.0, 8.0};

static const TallyScale scale = {.low = -120.0, .step = 0.25, .bins = 512};

/* The frames, and figures of all of them. */
typedef struct {
    const TakeFrame *frame;
    uint32_t n;
    double voice;             /* mean K-weighted power of the frames with a pitch; 0: none has one */
    double sound[REST_BANDS]; /* power above which a band holds sound */
} Heard;

/* Mean power of a band over three frames. */
static double band_at(const Heard *h, uint32_t i, int b)
{
    double sum = 0.0;
    uint32_t frames = 0;
    for (uint32_t k = i ? i - 1 : 0; k <= i + 1 && k < h->n; ++k, ++frames)
        sum += (double)h->frame[k].band[b];
    return sum / frames;
}

/* The level of a band that QUIETEST_SHARE of its frames lie under, dB, frames of digital silence left out. */
static double quietest(const Heard *h, int b)
{
    Tally levels = {{0}};
    for (uint32_t i = 0; i < h->n; ++i)
        if (band_at(h, i, b) > SILENT_POWER)
            tally_add(&levels, &scale, power_to_db(band_at(h, i, b)));
    const uint32_t total = tally_total(&levels, &scale);
    return total ? tally_below(&levels, &scale, QUIETEST_SHARE * total) : scale.low;
}

/* Mean power of those of frames from..to - 1 that have a pitch; 0: none has. */
static double voice_in(const Heard *h, uint32_t from, uint32_t to)
{
    double sum = 0.0;
    uint32_t voiced = 0;
    for (uint32_t i = from; i < to; ++i) {
        sum += h->frame[i].hz > 0.f ? (double)h->frame[i].weighted : 0.0;
        voiced += h->frame[i].hz > 0.f;
    }
    return voiced ? sum / voiced : 0.0;
}

static Heard know(const TakeFrame *frame, uint32_t n)
{
    Heard h = {.frame = frame, .n = n};
    h.voice = voice_in(&h, 0, n);
    for (int b = 0; b < REST_BANDS; ++b)
        h.sound[b] = fmax(db_to_power(quietest(&h, b) + swing[b]), h.voice * db_to_power(-FAINTEST_UNDER_VOICE));
    return h;
}

/* ---- Frames ---- */

/* Sets the bands at a frame. true: it may be a breath: no pitch, fainter than the voice, and a breath's spectrum. */
static bool bands_at(const Heard *h, uint32_t i, double band[REST_BANDS])
{
    for (int b = 0; b < REST_BANDS; ++b)
        band[b] = band_at(h, i, b);
    const bool loud = h->voice > 0.0 && (double)h->frame[i].weighted >= h->voice;
    return !loud && !(h->frame[i].hz > 0.f) && rest_bands_breath(band);
}

typedef enum { QUIET, BREATH, SOUND } Kind;

static Kind kind_of(const Heard *h, uint32_t i)
{
    double band[REST_BANDS];
    const bool breath = bands_at(h, i, band);
    bool any = false;
    for (int b = 0; b < REST_BANDS; ++b)
        any |= band[b] > h->sound[b];
    return !any ? QUIET : breath ? BREATH : SOUND;
}

/* Power of the voice in the second before a frame or after it, whichever is less; 0: one has no voice. */
static double own_level(const Heard *h, uint32_t i)
{
    return fmin(voice_in(h, i > ABOUT ? i - ABOUT : 0, i + 1), voice_in(h, i, h->n - i > ABOUT ? i + ABOUT : h->n));
}

/* Whether a frame is voice, and not the decay of one. */
static bool has_voice(const Heard *h, uint32_t i)
{
    double band[REST_BANDS];
    const double power = (double)h->frame[i].weighted;
    const bool pitch = h->frame[i].hz > 0.f;
    if (power < h->voice * db_to_power(pitch ? -SOUND_UNDER_VOICE : -LOUD_UNDER_VOICE) ||
        (!pitch && bands_at(h, i, band)))
        return false;
    return power >= own_level(h, i) * db_to_power(-SOUND_UNDER_OWN);
}

/* ---- Rests ---- */

/* Whether a frame `away` frames from a voice belongs to it. */
static bool belongs(const Heard *h, uint32_t i, uint32_t away)
{
    const Kind kind = kind_of(h, i);
    return kind == SOUND || (kind == BREATH && away < BREATHY);
}

/* The first frame of the consonant before a voice that begins at `at`; not before frame `least`. */
static uint32_t lead_in(const Heard *h, uint32_t at, uint32_t least)
{
    uint32_t from = at;
    for (uint32_t i = at; i > least && at - i < FRINGE && from - i <= STEP_IN; --i)
        if (belongs(h, i - 1, at - i))
            from = i - 1;
    return from;
}

/* One past the last frame of the consonant after a voice that ends before `at`; `most` at most. */
static uint32_t lead_out(const Heard *h, uint32_t at, uint32_t most)
{
    uint32_t to = at;
    for (uint32_t i = at; i < most && i - at < FRINGE && i - to <= STOP; ++i)
        if (belongs(h, i, i - at))
            to = i + 1;
    return to;
}

/* Whether a frame without voice is quiet, that is not a consonant either. A pitch in it is a voice's decay, or a hum.
 */
static bool is_quiet(const Heard *h, uint32_t i)
{
    return kind_of(h, i) != SOUND || h->frame[i].hz > 0.f ||
           (double)h->frame[i].weighted < own_level(h, i) * db_to_power(-SOUND_UNDER_VOICE);
}

/* Whether frames from..to - 1, which hold no voice, are a rest. */
static bool is_rest(const Heard *h, uint32_t from, uint32_t to)
{
    const uint32_t begin = lead_out(h, from, to), end = lead_in(h, to, begin);
    uint32_t quiet = 0;
    for (uint32_t i = begin; i < end && quiet < REST; ++i)
        quiet = is_quiet(h, i) ? quiet + 1 : 0;
    return quiet >= REST;
}

/* ---- Phrases ---- */

static PhraseSpan measured(const Heard *h, uint32_t from, uint32_t to)
{
    double sum = 0.0;
    uint32_t voiced = 0;
    for (uint32_t i = from; i < to; ++i) {
        sum += (double)h->frame[i].weighted;
        voiced += has_voice(h, i);
    }
    return (PhraseSpan){from * TAKE_FRAME, to * TAKE_FRAME, power_to_db(sum / (to - from)), voiced * TAKE_FRAME};
}

/* One past the last voice of the phrase whose voice begins at frame `at`. *next: where that of the next phrase begins.
 */
static uint32_t phrase_end(const Heard *h, uint32_t at, uint32_t *next)
{
    uint32_t end = at;
    for (*next = at; *next < h->n; ++*next) {
        if (!has_voice(h, *next))
            continue;
        if (is_rest(h, end, *next))
            return end;
        end = *next + 1;
    }
    return end;
}

uint32_t phrase_spans(const TakeFrame *frame, uint32_t n, PhraseSpan *span, uint32_t most)
{
    const Heard h = know(frame, n);
    uint32_t found = 0, at = 0, least = 0, next;
    while (at < n && !has_voice(&h, at))
        ++at;
    for (; at < n && found < most; at = next) {
        const uint32_t end = phrase_end(&h, at, &next);
        const uint32_t to = lead_out(&h, end, next < n ? next - APART : n);
        span[found++] = measured(&h, lead_in(&h, at, least), to);
        least = to + APART;
    }
    return found;
}

uint32_t phrase_spans_most(uint32_t n)
{
    return n / REST + 1;
}
