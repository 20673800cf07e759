#include "booth_late.h"

#include "booth_falls.h"
#include "dsp.h"
#include "units.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Set on voices for tuning (booth.md), but for the two powers at the end. */
#define BAND_WIDTH         250.0  /* Hz: least width of a band */
#define BAND_SHARE         0.19   /* width of a band over its lower edge, where that is wider */
#define POWER_SMOOTHING    0.007  /* s: time constant of the power that becomes late sound */
#define PRIOR_TRUST        0.6    /* weight of the last frame in the a priori ratio, at PRIOR_TRUST_RATE */
#define PRIOR_TRUST_RATE   95.0   /* frames/s */
#define NOISE_RISE         2.0    /* dB/s: rise of the noise's estimate */
#define FIRST_NOISE_SHARE  1e-3f  /* start of that estimate over the first power: a take may begin with a held note */
#define SHORTER_FROM       1500.0 /* Hz: decay times above this are held shorter */
#define SHORTER_PER_OCTAVE 0.74   /* factor on them for each octave above */
#define SHORTER_OCTAVES    2.8    /* octaves: most that this factor counts for */
#define PRESENT_OVER_LATE  5.0f   /* dB over the late sound: from here on a band surely holds other sound */
#define ABSENT_GAIN        0.25f  /* gain where a band holds late sound alone: -12 dB */
#define LEAST_POWER        1e-12f /* keeps ratios finite; a band with less is digital silence */
#define SILENT_POWER       1e-18f /* what has died away to less becomes 0 */

bool booth_late_init(BoothLate *l, double rate, uint32_t size, uint32_t hop)
{
    *l = (BoothLate){.frame = hop / rate, .bins = size / 2 + 1, .lag = 1, .counts = 1.f};
    for (uint32_t b = 0; b < BOOTH_AROUND && l->edge[b] < l->bins; ++b) {
        const double low = l->edge[b] * rate / size, width = fmax(BAND_WIDTH, BAND_SHARE * low);
        const uint32_t end = l->edge[b] + (uint32_t)ceil(width * size / rate);
        const bool last = b + 1 == BOOTH_AROUND || end + (end - l->edge[b]) / 2 >= l->bins;
        l->edge[b + 1] = last ? l->bins : end;
        l->hz[b] = 0.5 * (l->edge[b] + l->edge[b + 1]) * rate / size;
        l->bands = b + 1;
    }
    l->rise = (float)db_to_power(NOISE_RISE * l->frame);
    l->trust = (float)pow(PRIOR_TRUST, PRIOR_TRUST_RATE * l->frame);
    l->rows = (uint32_t)(BOOTH_LATEST / l->frame) + 1;
    l->memory = calloc((3 + (size_t)l->rows) * l->bins, sizeof *l->memory);
    if (!l->memory)
        return false;
    l->late = l->memory;
    l->smooth = l->late + l->bins;
    l->before = l->smooth + l->bins;
    l->early = l->before + l->bins;
    return true;
}

void booth_late_done(BoothLate *l)
{
    free(l->memory);
    *l = (BoothLate){0};
}

void booth_late_reset(BoothLate *l)
{
    memset(l->memory, 0, (3 + (size_t)l->rows) * l->bins * sizeof *l->memory);
    memset(l->noise, 0, sizeof l->noise);
}

/* ---- The room ---- */

static double middle_of_band(uint32_t band)
{
    return band + 1 < BOOTH_BANDS ? sqrt(booth_band_low(band) * booth_band_low(band + 1))
                                  : booth_band_low(band) * sqrt(2.0);
}

/* s: interpolated between the middles of the bands, both axes logarithmic; outside, the nearest band's. */
static double decay_found(const BoothRoom *room, double hz)
{
    uint32_t b = 0;
    while (b + 2 < BOOTH_BANDS && hz > middle_of_band(b + 1))
        ++b;
    const double low = log(middle_of_band(b)), high = log(middle_of_band(b + 1));
    const double part = dsp_clamp((log(hz) - low) / (high - low), 0.0, 1.0);
    return exp((1.0 - part) * log(room->decay[b]) + part * log(room->decay[b + 1]));
}

static double decay_at(const BoothRoom *room, double hz)
{
    const double most =
        room->middle * pow(SHORTER_PER_OCTAVE, dsp_clamp(log2(hz / SHORTER_FROM), 0.0, SHORTER_OCTAVES));
    return hz > SHORTER_FROM ? fmin(decay_found(room, hz), most) : decay_found(room, hz);
}

/* Late over early energy in a band with this decay time. */
static double late_at(const BoothRoom *room, double decay)
{
    return room->late * booth_memory_left(decay) / booth_memory_left(room->middle);
}

static uint32_t lag_of(const BoothLate *l, double from)
{
    return (uint32_t)dsp_clamp(floor(from / l->frame), 1.0, l->rows - 1);
}

void booth_late_room(BoothLate *l, const BoothRoom *room, double from, double counts)
{
    const uint32_t learned = lag_of(l, BOOTH_LEARNED_FROM);
    l->lag = lag_of(l, from);
    l->counts = (float)counts;
    for (uint32_t b = 0; b < l->bands; ++b) {
        l->keep[b] = l->feed[b] = 0.f;
        if (!(room->middle > 0.0))
            continue;
        const double decay = decay_at(room, l->hz[b]), keep = booth_keep(l->frame, decay);
        l->keep[b] = (float)keep;
        l->feed[b] = (float)(late_at(room, decay) * (1.0 - keep) * pow(keep, (double)l->lag - learned));
    }
}

/* ---- A frame ---- */

void booth_late_next(BoothLate *l)
{
    l->now = (l->now + 1) % l->rows;
}

/* Works out the late sound's power in each bin for this frame. Returns their sum. */
static float move_late(BoothLate *l, uint32_t band)
{
    const float keep = l->keep[band], feed = l->feed[band];
    const float *early = l->early + (size_t)((l->now + l->rows - l->lag) % l->rows) * l->bins;
    float sum = 0.f;
    for (uint32_t k = l->edge[band]; k < l->edge[band + 1]; ++k) {
        const float late = keep * l->late[k] + feed * early[k];
        l->late[k] = late < SILENT_POWER ? 0.f : late;
        sum += late;
    }
    return sum;
}

static float sum_of(const float *x, uint32_t n)
{
    float sum = 0.f;
    for (uint32_t k = 0; k < n; ++k)
        sum += x[k];
    return sum;
}

/* The noise follows the band's power down within a few frames and rises slowly. Digital silence is no noise. */
static float follow_noise(BoothLate *l, uint32_t band, float all)
{
    float *noise = &l->noise[band];
    if (all > LEAST_POWER)
        *noise = *noise <= 0.f ? FIRST_NOISE_SHARE * all : all < *noise ? 0.5f * (*noise + all) : l->rise * *noise;
    return *noise;
}

static void keep_early(BoothLate *l, uint32_t band, const float *power, float share)
{
    const float old = (float)one_pole(POWER_SMOOTHING, 1.0 / l->frame);
    const uint32_t from = l->edge[band], n = l->edge[band + 1] - from;
    float *early = l->early + (size_t)l->now * l->bins + from, *smooth = l->smooth + from;
    for (uint32_t k = 0; k < n; ++k) {
        smooth[k] = old * smooth[k] + (1.f - old) * power[k];
        smooth[k] = smooth[k] < SILENT_POWER ? 0.f : smooth[k];
        early[k] = share * smooth[k];
    }
}

/* Gain for all bins of a band together, whose power is `over` times that of the late sound. */
static float together(float over)
{
    const float present = fminf(10.f * log10f(fmaxf(over, 1.f)) / PRESENT_OVER_LATE, 1.f);
    return powf(ABSENT_GAIN, 1.f - present);
}

/* The a priori ratio of early to late power by the decision-directed rule. */
static void wiener(BoothLate *l, uint32_t band, const float *power, float *gain)
{
    const float trust = l->trust, news = 1.f - trust, counts = l->counts;
    const uint32_t from = l->edge[band], n = l->edge[band + 1] - from;
    const float *late = l->late + from;
    float *before = l->before + from;
    for (uint32_t k = 0; k < n; ++k) {
        const float over = power[k] / (counts * late[k] + LEAST_POWER), fresh = over > 1.f ? over - 1.f : 0.f;
        const float ratio = trust * before[k] + news * fresh, share = ratio / (1.f + ratio);
        before[k] = share * share * over;
        gain[k] = share;
    }
}

void booth_late_gains(BoothLate *l, uint32_t band, const float *power, float *gain)
{
    const uint32_t from = l->edge[band], n = l->edge[band + 1] - from;
    const float late = l->counts * move_late(l, band) + LEAST_POWER, all = sum_of(power, n);
    keep_early(l, band, power, fmaxf(1.f - (late + follow_noise(l, band, all)) / fmaxf(all, LEAST_POWER), 0.f));
    if (l->feed[band] <= 0.f) {
        for (uint32_t k = 0; k < n; ++k)
            gain[k] = 1.f;
        return;
    }
    wiener(l, band, power, gain);
    const float whole = together(all / late);
    for (uint32_t k = 0; k < n; ++k)
        gain[k] *= whole;
}
