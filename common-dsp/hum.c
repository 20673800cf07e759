#include "hum.h"

#include "two.h"
#include "units.h"

#include <stdlib.h>
#include <string.h>

#define DRIFT_STEP 0.004 /* from one fundamental to the next: seven reach 1.2 %, public supply 1 % */

/* A hum keeps its power from one half of a window to the other, and its phase turns as at a frequency near the nominal
 * one. Read off windows of voices for tuning: hum.md. */
#define HALVES_WITHIN 4.0   /* dB */
#define HALVES_DRIFT  0.012 /* of the harmonic's frequency, */
#define HALVES_HZ     0.6   /* and so much more: the phase of a half is known no better */

/* A note is no hum: hum.md. */
#define LEAST_SHARE 0.01  /* of a hum's power, in one of its lowest harmonics */
#define FAR_OFF     0.024 /* of a frequency: a note's, and no hum's */

enum {
    TONES = HUM_DRIFTS * HUM_HARMONICS,
    PIECES = HUM_FAMILIES * (TONES + HUM_HARMONICS + 1),
    STEPS = PIECES + 2 * HUM_FAMILIES, /* whether each is steady, and lies where it is looked for, comes last */
    LOWEST = 4,                        /* harmonics */
    EVERY = 4, /* calls for a piece; with the first of a tone the other family's is worked out too */
};

static const double mains[HUM_FAMILIES] = {50.0, 60.0};

bool hum_init(Hum *h, double rate, const Decimator *slowed, double late)
{
    memset(h, 0, sizeof *h);
    h->rate = rate;
    h->window = (uint32_t)(HUM_SECONDS * rate + 0.5);
    h->kept = h->window + (uint32_t)ceil(late * rate);
    const uint32_t half = (h->window + 1) / 2;
    h->ring = calloc(h->kept + half + (size_t)h->window, sizeof *h->ring);
    if (!h->ring)
        return false;
    h->shape = h->ring + h->kept;
    h->frame = h->shape + half;
    for (uint32_t i = 0; i < half; ++i)
        h->shape[i] = (float)(0.5 - 0.5 * cos(2.0 * DSP_PI * (i + 0.5) / h->window));
    for (uint32_t f = 0; f < HUM_FAMILIES; ++f)
        for (uint32_t k = 0; k < HUM_HARMONICS; ++k)
            h->heard_at[f][k] = decimate_power(slowed, mains[f] * (k + 1));
    hum_reset(h);
    return true;
}

void hum_done(Hum *h)
{
    free(h->ring);
    *h = (Hum){0};
}

void hum_reset(Hum *h)
{
    memset(h->ring, 0, h->kept * sizeof *h->ring);
    h->heard = 0;
    h->busy = h->found = false;
    h->turn = h->done = 0;
}

void hum_push(Hum *h, double x)
{
    h->ring[h->heard++ % h->kept] = (float)x;
}

uint64_t hum_heard(const Hum *h)
{
    return h->heard;
}

void hum_look(Hum *h, uint64_t end)
{
    if (h->busy || end < h->window || h->heard - (end - h->window) > h->kept)
        return;
    uint32_t at = (uint32_t)((end - h->window) % h->kept);
    for (uint32_t i = 0; i < h->window; ++i) {
        const uint32_t back = h->window - 1 - i;
        h->frame[i] = h->shape[i < back ? i : back] * h->ring[at];
        at = at + 1 < h->kept ? at + 1 : 0;
    }
    h->busy = true;
    h->done = 0;
}

/* Mean squares of a sine of each family in the frame, side by side: one alone would wait for itself. */
static void powers_at(const Hum *h, const double hz[HUM_FAMILIES], double power[HUM_FAMILIES])
{
    const double turn[] = {2.0 * cos(2.0 * DSP_PI * hz[0] / h->rate), 2.0 * cos(2.0 * DSP_PI * hz[1] / h->rate)};
    const Two turns = two_of(turn[0], turn[1]);
    Two s1 = two_of(0.0, 0.0), s2 = s1;
    for (uint32_t i = 0; i < h->window; ++i) {
        const double x = (double)h->frame[i];
        const Two s = two_sub(two_add(two_of(x, x), two_mul(turns, s1)), s2);
        s2 = s1;
        s1 = s;
    }
    const double gain = 0.5 * h->window; /* sum of the Hann window */
    for (int f = 0; f < HUM_FAMILIES; ++f) {
        const double a = two_lane(s1, f), b = two_lane(s2, f);
        power[f] = 2.0 * fmax(a * a + b * b - turn[f] * a * b, 0.0) / (gain * gain);
    }
}

/* Where the power of a family's n-th tone belongs, and what its frequency is. */
static double *tone_of(Hum *h, uint32_t family, uint32_t n, double *hz)
{
    if (n >= TONES) {
        const uint32_t between = n - TONES;
        *hz = mains[family] * (between + 0.5);
        return &h->beside[family][between];
    }
    const uint32_t drift = n / HUM_HARMONICS, k = n % HUM_HARMONICS;
    const double off = 1.0 + DRIFT_STEP * ((double)drift - (HUM_DRIFTS - 1) / 2.0);
    *hz = mains[family] * off * (k + 1);
    return &h->tone[family][drift][k];
}

static void piece(Hum *h, uint32_t n)
{
    double hz[HUM_FAMILIES], power[HUM_FAMILIES];
    double *const to[] = {tone_of(h, 0, n, &hz[0]), tone_of(h, 1, n, &hz[1])};
    powers_at(h, hz, power);
    for (int f = 0; f < HUM_FAMILIES; ++f)
        *to[f] = power[f];
}

/* At a harmonic. Under the first lies what rumbles, which falls steeply: there the mean would be the lower side's
 * alone. In even noise, whose power strays from bin to bin, the geometric mean lies at pi/4 of the mean. */
static double noise_at(const Hum *h, uint32_t family, uint32_t harmonic)
{
    const double *beside = h->beside[family] + harmonic;
    return harmonic == 0 ? sqrt(beside[0] * beside[1]) / (0.25 * DSP_PI) : 0.5 * (beside[0] + beside[1]);
}

/* The fundamental with the most power in its harmonics; returns that power. */
static double best_drift(const Hum *h, uint32_t family, uint32_t *drift)
{
    double best = 0.0;
    *drift = 0;
    for (uint32_t d = 0; d < HUM_DRIFTS; ++d) {
        double sum = 0.0;
        for (uint32_t k = 0; k < HUM_HARMONICS; ++k)
            sum += h->tone[family][d][k] / h->heard_at[family][k];
        *drift = sum > best ? d : *drift;
        best = fmax(best, sum);
    }
    return best;
}

static double conclude(const Hum *h, uint32_t family)
{
    double noise = 0.0;
    uint32_t drift;
    for (uint32_t k = 0; k < HUM_HARMONICS; ++k)
        noise += noise_at(h, family, k) / h->heard_at[family][k];
    const double best = best_drift(h, family, &drift);
    return best >= HUM_STANDS_OUT * noise ? power_to_db(best - noise) : UNITS_DB_FLOOR;
}

/* Of the lowest, the harmonic that lies highest over the noise beside it. */
static uint32_t clearest(const Hum *h, uint32_t family, double *power)
{
    uint32_t drift, clear = 0;
    best_drift(h, family, &drift);
    const double *tone = h->tone[family][drift];
    for (uint32_t k = 1; k < LOWEST; ++k)
        clear = tone[k] * noise_at(h, family, clear) > tone[clear] * noise_at(h, family, k) ? k : clear;
    *power = tone[clear];
    return clear;
}

/* A tone in the first or second half of the frame, under a Hann window of its own: the frame's is taken off by the same
 * factor that puts that one on. */
static void half_at(const Hum *h, uint32_t half, double w, double *re, double *im)
{
    const uint32_t n = h->window / 2;
    const double turn = 2.0 * cos(w);
    double s1 = 0.0, s2 = 0.0;
    for (uint32_t i = 0; i < n; ++i) {
        const uint32_t at = half ? h->window - n + i : i, mirrored = half ? n - 1 - i : i;
        const double s = 4.0 * (double)((1.f - h->shape[mirrored]) * h->frame[at]) + turn * s1 - s2;
        s2 = s1;
        s1 = s;
    }
    *re = s1 - cos(w) * s2;
    *im = sin(w) * s2;
}

/* Whether a family's clearest harmonic, of the lowest, has a share of its power and is a steady tone. */
static bool steady(const Hum *h, uint32_t family)
{
    double best;
    const uint32_t clear = clearest(h, family, &best);
    if (best < LEAST_SHARE * db_to_power(h->db[family]))
        return false;
    const double hz = mains[family] * (clear + 1), w = 2.0 * DSP_PI * hz / h->rate;
    const uint32_t apart = h->window - h->window / 2;
    double re[2], im[2];
    for (uint32_t half = 0; half < 2; ++half)
        half_at(h, half, w, &re[half], &im[half]);
    const double change = power_to_db(re[1] * re[1] + im[1] * im[1]) - power_to_db(re[0] * re[0] + im[0] * im[0]);
    const double phase = atan2(im[1] * re[0] - re[1] * im[0], re[1] * re[0] + im[1] * im[0]) - w * (double)apart;
    const double turns = phase / (2.0 * DSP_PI), off = (turns - floor(turns + 0.5)) * h->rate / (double)apart;
    return fabs(change) <= HALVES_WITHIN && fabs(off) <= HALVES_DRIFT * hz + HALVES_HZ;
}

/* Whether that harmonic has no more power further off than a hum can be: the phase of the halves, which tells a
 * frequency to within 4 Hz, could be that of a note so far off. */
static bool peaks(const Hum *h, uint32_t family)
{
    double best, power[HUM_FAMILIES];
    const uint32_t clear = clearest(h, family, &best);
    const double hz = mains[family] * (clear + 1);
    powers_at(h, (const double[]){hz * (1.0 - FAR_OFF), hz * (1.0 + FAR_OFF)}, power);
    return best >= fmax(power[0], power[1]);
}

static void conclude_all(Hum *h)
{
    h->unsteady = false;
    for (uint32_t f = 0; f < HUM_FAMILIES; ++f)
        h->db[f] = conclude(h, f);
}

/* What stands out and is not steady is no hum, nor is a note. */
static void settle(Hum *h, uint32_t family, bool (*is_hum)(const Hum *, uint32_t))
{
    if (!(h->db[family] > UNITS_DB_FLOOR) || is_hum(h, family))
        return;
    h->db[family] = UNITS_DB_FLOOR;
    h->unsteady = true;
}

static bool (*const are_hum[])(const Hum *, uint32_t) = {steady, peaks};

static void step(Hum *h, uint32_t n)
{
    if (n >= PIECES)
        settle(h, (n - PIECES) % HUM_FAMILIES, are_hum[(n - PIECES) / HUM_FAMILIES]);
    else if (n % HUM_FAMILIES == 0)
        piece(h, n / HUM_FAMILIES);
    if (n + 1 == PIECES)
        conclude_all(h);
}

void hum_work(Hum *h)
{
    if (++h->turn < EVERY)
        return;
    h->turn = 0;
    if (!h->busy)
        return;
    step(h, h->done);
    if (++h->done < STEPS)
        return;
    h->busy = false;
    h->found = !h->unsteady || fmax(h->db[0], h->db[1]) > UNITS_DB_FLOOR;
}

bool hum_found(Hum *h, double db[HUM_FAMILIES])
{
    const bool found = h->found;
    h->found = false;
    memcpy(db, h->db, sizeof h->db);
    return found;
}
