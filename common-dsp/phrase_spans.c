#include "phrase_spans.h"

#include "tally.h"
#include "units.h"

#include <math.h>

#define SOUND_UNDER_VOICE    30.0  /* dB under the voice, of the take or about it: fainter is no phrase, no consonant */
#define SOUND_UNDER_OWN      20.0  /* dB under that of the seconds about it */
#define LOUD_UNDER_VOICE     15.0  /* dB under the voice of the take: what is louder is one even without a pitch */
#define FAINTEST_UNDER_VOICE 50.0  /* dB under the voice of the take: what is fainter sounds in no band */
#define QUIETEST_SHARE       0.05  /* share of the frames that are the quietest */
#define SILENT_POWER         1e-12 /* power */
#define BREATH_BANDS_SHARE   0.55  /* of a breath lies in its two bands, without the lowest, at least */
#define MOST_SLANT           5.0   /* times that one of them is stronger than the other, at most */
#define LOW_BAND_MOST        0.5   /* times both: what the lowest band has at most */

enum { ABOUT = 100, REST = 30, FRINGE = 25, BREATHY = 12, STOP = 12, STEP_IN = 2, APART = 5 }; /* frames */

/* How far a band's means of 30 ms swing over the quietest of them in steady noise, dB: the lowest band is the
 * narrowest, and swings most. */
static const double swing[REST_BANDS] = {12.0, 9.0, 8.0, 8.0};

static const TallyScale scale = {.low = -120.0, .step = 0.25, .bins = 512};

/* The frames, and what is known of all of them. */
typedef struct {
    const TakeFrame *frame;
    uint32_t n;
    double voice;             /* power, weighted: of the frames with a voice */
    double sound[REST_BANDS]; /* power: more of it sounds */
} Heard;

/* Mean of a band over three frames. */
static double band_at(const Heard *h, uint32_t i, int b)
{
    double sum = 0.0;
    uint32_t frames = 0;
    for (uint32_t k = i ? i - 1 : 0; k <= i + 1 && k < h->n; ++k, ++frames)
        sum += (double)h->frame[k].band[b];
    return sum / frames;
}

/* What one frame in twenty stays under, dB, but for those of digital silence. */
static double quietest(const Heard *h, int b)
{
    Tally levels = {{0}};
    for (uint32_t i = 0; i < h->n; ++i)
        if (band_at(h, i, b) > SILENT_POWER)
            tally_add(&levels, &scale, power_to_db(band_at(h, i, b)));
    const uint32_t total = tally_total(&levels, &scale);
    return total ? tally_below(&levels, &scale, QUIETEST_SHARE * total) : scale.low;
}

/* Mean power of the frames with a voice in from..to; 0: there is none. */
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

/* The bands at a frame; true: no voice, fainter than one, and what lies where a breath does. */
static bool bands_at(const Heard *h, uint32_t i, double band[REST_BANDS])
{
    for (int b = 0; b < REST_BANDS; ++b)
        band[b] = band_at(h, i, b);
    const double both = band[1] + band[2];
    const bool loud = h->voice > 0.0 && (double)h->frame[i].weighted >= h->voice;
    return !loud && !(h->frame[i].hz > 0.f) && both >= BREATH_BANDS_SHARE * (both + band[3]) &&
           band[1] <= MOST_SLANT * band[2] && band[2] <= MOST_SLANT * band[1] && band[0] <= LOW_BAND_MOST * both;
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

/* Power of the voice before it or after it, whichever is less; 0: there is none. */
static double own_level(const Heard *h, uint32_t i)
{
    return fmin(voice_in(h, i > ABOUT ? i - ABOUT : 0, i + 1), voice_in(h, i, h->n - i > ABOUT ? i + ABOUT : h->n));
}

/* A voice, no decay of one. */
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

/* Does this frame, so far from a voice, belong to it? */
static bool belongs(const Heard *h, uint32_t i, uint32_t away)
{
    const Kind kind = kind_of(h, i);
    return kind == SOUND || (kind == BREATH && away < BREATHY);
}

/* The first frame of what leads up to a voice at `at`, no lower than `least`. */
static uint32_t lead_in(const Heard *h, uint32_t at, uint32_t least)
{
    uint32_t from = at;
    for (uint32_t i = at; i > least && at - i < FRINGE && from - i <= STEP_IN; --i)
        if (belongs(h, i - 1, at - i))
            from = i - 1;
    return from;
}

/* One past the last frame of what a voice ends with, no higher than `most`. */
static uint32_t lead_out(const Heard *h, uint32_t at, uint32_t most)
{
    uint32_t to = at;
    for (uint32_t i = at; i < most && i - at < FRINGE && i - to <= STOP; ++i)
        if (belongs(h, i, i - at))
            to = i + 1;
    return to;
}

/* Of a frame without a voice: no consonant either. What has a pitch all the same is the decay of a voice, or a hum. */
static bool is_quiet(const Heard *h, uint32_t i)
{
    return kind_of(h, i) != SOUND || h->frame[i].hz > 0.f ||
           (double)h->frame[i].weighted < own_level(h, i) * db_to_power(-SOUND_UNDER_VOICE);
}

/* Between from and to there is no voice. */
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

/* One past the last frame with a voice of the phrase that begins at `at`, and in *next where the one after it does. */
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
