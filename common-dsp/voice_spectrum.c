#include "voice_spectrum.h"

#include "four.h"
#include "loudness.h"
#include "rows.h"
#include "units.h"

#include <complex.h>
#include <math.h>
#include <string.h>

#define LOWEST_HZ    31.25  /* Hz, middle of the first band */
#define HALF_WIDTH   0.13   /* of its middle, half width of a resonator: had the least error on the tuning voices */
#define RAISED_FROM  500.0  /* Hz: the treble is raised by 6 dB per octave above this */
#define BLOCK_HOP    0.1    /* s from one block to the next */
#define TOP_OF_RATE  0.45   /* of the rate: bands above it stay empty */
#define MOST_BLOCKS  65535u /* of one level: then everything is halved */
#define SILENT_STATE 1e-15f /* states below it become 0 */

enum { HUSH_EVERY = 4 }; /* cells: in so few no state falls from SILENT_STATE to a float's denormals */

double spectrum_hz(uint32_t band)
{
    return LOWEST_HZ * exp2(band / 3.0);
}

/* ---- Listening ---- */

static double complex unit_circle(double hz, double rate)
{
    return cexp(I * 2.0 * DSP_PI * hz / rate);
}

/* Power factor of both resonators of a band at hz; 1 in its middle. */
static double band_power(uint32_t band, double hz, double rate)
{
    const double middle = spectrum_hz(band), radius = exp(-2.0 * DSP_PI * HALF_WIDTH * middle / rate);
    const double gain = (1.0 - radius) / cabs(1.0 - radius * unit_circle(middle - hz, rate));
    return pow(gain, 2.0 * SPECTRUM_STAGES);
}

static bool in_reach(uint32_t band, double rate)
{
    return band < SPECTRUM_BANDS && spectrum_hz(band) < TOP_OF_RATE * rate;
}

/* Power that all bands together read for a sine half way from a band's middle to its edge; at any other frequency well
 * inside it is the same within 1.3 dB. */
static double overlap(double rate)
{
    double sum = 0.0;
    for (uint32_t band = 0; in_reach(band, rate); ++band)
        sum += band_power(band, spectrum_hz(SPECTRUM_BANDS / 2) * exp2(1.0 / 12.0), rate);
    return sum;
}

static double weighting(double hz, double rate)
{
    const Biquad shelf = kweight_design(0, rate), pass = kweight_design(1, rate);
    return biquad_gain(&shelf, hz, rate) * biquad_gain(&pass, hz, rate);
}

static double complex to_the(double complex base, uint32_t n)
{
    double complex power = 1.0;
    while (n--)
        power *= base;
    return power;
}

static void put(SpectrumBands *to, uint32_t band, double complex x)
{
    to->real[band] = (float)creal(x);
    to->imaginary[band] = (float)cimag(x);
}

static uint32_t floats_to_line(const float *x)
{
    const uintptr_t line = SPECTRUM_LINE * sizeof *x;
    return (uint32_t)((line - (uintptr_t)x % line) % line / sizeof *x);
}

static void put_share(SpectrumEar *e, uint32_t sample, uint32_t band, double complex x)
{
    float *row = e->share + e->first_share + (size_t)sample * SPECTRUM_ROW;
    row[band] = (float)creal(x);
    row[SPECTRUM_BANDS + band] = (float)cimag(x);
}

/* At each sample, in each stage, a state s becomes pole s + x. After n samples x[0..n-1] the first state is pole^n s1
 * plus the sum of pole^(n-1-t) x[t], the second pole^n s2 + n pole^n s1 plus the sum of (n-t) pole^(n-1-t) x[t]. */
static void init_band(SpectrumEar *e, uint32_t band, double rate, uint32_t channels)
{
    const double hz = spectrum_hz(band), radius = exp(-2.0 * DSP_PI * HALF_WIDTH * hz / rate);
    const double complex pole = radius * unit_circle(hz, rate);
    const double raised = cabs(1.0 - (double)e->raise / unit_circle(hz, rate));
    const double gain = weighting(hz, rate) * pow(1.0 - radius, SPECTRUM_STAGES) / raised;
    for (uint32_t t = 0; t < DSP_CELL; ++t)
        put_share(e, t, band, to_the(pole, DSP_CELL - 1 - t));
    put(&e->whole, band, to_the(pole, DSP_CELL));
    put(&e->across, band, DSP_CELL * to_the(pole, DSP_CELL));
    /* Half of a real sine's amplitude lies at positive frequencies: its mean square is twice the square read here. */
    e->weight[band] = 2.0 * channels * gain * gain / overlap(rate);
}

void spectrum_ear_init(SpectrumEar *e, double rate, uint32_t channels)
{
    *e = (SpectrumEar){.raise = (float)exp(-2.0 * DSP_PI * RAISED_FROM / rate),
                       .hop_cells = (uint32_t)fmax(1.0, round(BLOCK_HOP * rate / DSP_CELL))};
    e->first_share = floats_to_line(e->share);
    for (uint32_t band = 0; in_reach(band, rate); ++band)
        init_band(e, band, rate, channels);
}

void spectrum_ear_reset(SpectrumEar *e)
{
    memset(e->state, 0, sizeof e->state);
    memset(e->hop, 0, sizeof e->hop);
    memset(e->cell, 0, sizeof e->cell);
    e->filled = e->cells = e->hops = 0;
}

void spectrum_ear_process(SpectrumEar *e, const float *x, uint32_t n)
{
    const uint32_t room = DSP_CELL - e->filled, m = n < room ? n : room;
    memcpy(e->cell + 1 + e->filled, x, m * sizeof *x);
    e->filled += m;
}

/* Complex numbers, one for each of four bands. */
typedef struct {
    Four real, imaginary;
} Turn;

static inline Turn load(const SpectrumBands *from, uint32_t band)
{
    return (Turn){four_load(from->real + band), four_load(from->imaginary + band)};
}

static inline void store(SpectrumBands *to, uint32_t band, Turn x)
{
    four_store(to->real + band, x.real);
    four_store(to->imaginary + band, x.imaginary);
}

static inline Turn plus(Turn a, Turn b)
{
    return (Turn){four_add(a.real, b.real), four_add(a.imaginary, b.imaginary)};
}

static inline Turn times(Turn a, Turn b)
{
    return (Turn){four_sub(four_mul(a.real, b.real), four_mul(a.imaginary, b.imaginary)),
                  four_add(four_mul(a.real, b.imaginary), four_mul(a.imaginary, b.real))};
}

/* Moves four bands' states on by a cell, without the cell's samples. */
static void turn(SpectrumEar *e, uint32_t band)
{
    const Turn whole = load(&e->whole, band), first = load(&e->state[0], band), second = load(&e->state[1], band);
    store(&e->state[0], band, times(whole, first));
    store(&e->state[1], band, plus(times(whole, second), times(load(&e->across, band), first)));
}

/* x: the cell's samples, treble raised. */
static void raise_treble(SpectrumEar *e, float x[DSP_CELL])
{
    for (int t = 0; t < DSP_CELL; ++t)
        x[t] = e->cell[1 + t] - e->raise * e->cell[t];
    e->cell[0] = e->cell[DSP_CELL];
    e->filled = 0;
}

_Static_assert(SPECTRUM_ROW % ROWS_WIDTH == 0, "rows as rows_gather_twice() takes them");

static void turn_all(SpectrumEar *e)
{
    float x[DSP_CELL];
    for (uint32_t band = 0; band < SPECTRUM_BANDS; band += FOUR)
        turn(e, band);
    raise_treble(e, x);
    rows_gather_twice(e->share + e->first_share, SPECTRUM_ROW, DSP_CELL, x, (float *)&e->state[0],
                      (float *)&e->state[1]);
}

static float hushed(float x)
{
    return x > -SILENT_STATE && x < SILENT_STATE ? 0.f : x;
}

static void hush(SpectrumBands *s)
{
    for (uint32_t b = 0; b < SPECTRUM_BANDS; ++b) {
        s->real[b] = hushed(s->real[b]);
        s->imaginary[b] = hushed(s->imaginary[b]);
    }
}

static void end_block(const SpectrumEar *e, double energy[SPECTRUM_BANDS])
{
    for (uint32_t b = 0; b < SPECTRUM_BANDS; ++b) {
        double sum = 0.0;
        for (uint32_t h = 0; h < SPECTRUM_HOPS; ++h)
            sum += e->hop[h][b];
        energy[b] = e->weight[b] * sum / (SPECTRUM_HOPS * e->hop_cells);
    }
}

bool spectrum_ear_tick(SpectrumEar *e, double energy[SPECTRUM_BANDS])
{
    const SpectrumBands *const out = &e->state[SPECTRUM_STAGES - 1];
    double *const hop = e->hop[e->hops % SPECTRUM_HOPS];
    turn_all(e);
    for (uint32_t b = 0; b < SPECTRUM_BANDS; ++b)
        hop[b] += (double)(out->real[b] * out->real[b] + out->imaginary[b] * out->imaginary[b]);
    if (e->cells % HUSH_EVERY == 0)
        for (uint32_t s = 0; s < SPECTRUM_STAGES; ++s)
            hush(&e->state[s]);
    if (++e->cells < e->hop_cells)
        return false;
    e->cells = 0;
    const bool full = ++e->hops >= SPECTRUM_HOPS;
    if (full)
        end_block(e, energy);
    memset(e->hop[e->hops % SPECTRUM_HOPS], 0, sizeof e->hop[0]);
    return full;
}

/* ---- What was heard ---- */

static void halve(VoiceSpectrum *s)
{
    even_halve(s->blocks, EVEN_FINE);
    for (uint32_t row = 0; row < EVEN_ROWS; ++row)
        even_halve(s->energy[row], SPECTRUM_BANDS);
    spectrum_recount(s);
}

void spectrum_recount(VoiceSpectrum *s)
{
    s->count = 0;
    for (uint32_t i = 0; i < EVEN_FINE; ++i)
        s->count += s->blocks[i];
}

bool spectrum_add(VoiceSpectrum *s, const double energy[SPECTRUM_BANDS])
{
    double all = 0.0;
    for (uint32_t b = 0; b < SPECTRUM_BANDS; ++b)
        all += energy[b];
    if (all < EVEN_ABSOLUTE)
        return false;
    const uint32_t fine = even_fine(power_to_db(all)), row = fine / EVEN_STEP;
    const double unit = even_row_power(row) / SPECTRUM_UNITS;
    bool full = ++s->blocks[fine] >= MOST_BLOCKS;
    for (uint32_t b = 0; b < SPECTRUM_BANDS; ++b) {
        const double due = s->rest[b] + fmin(energy[b] / unit, SPECTRUM_MOST / 8.0), whole = floor(due);
        s->energy[row][b] += (uint32_t)whole;
        s->rest[b] = due - whole;
        full |= s->energy[row][b] > SPECTRUM_MOST / 2;
    }
    ++s->count;
    if (full)
        halve(s);
    return true;
}

void spectrum_sum(const VoiceSpectrum *s, uint32_t row, const double power[SPECTRUM_BANDS], EvenSums *sums)
{
    const double unit = even_row_power(row) / SPECTRUM_UNITS;
    for (uint32_t b = 0; b < SPECTRUM_BANDS; ++b) {
        const double e = unit * s->energy[row][b];
        sums->in[row] += e;
        sums->out[row] += e * power[b];
    }
}
