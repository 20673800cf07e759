#include "bank.h"

#include "design.h"

#include <math.h>

#define LOWEST   (-28) /* sixths of an octave from 1 kHz */
#define Q        3.76  /* of one of four: together they are a sixth of an octave wide, 3 dB down */
#define HIGHEST  0.4   /* of the rate */
#define HEADROOM 8.0   /* a stage's rate is more than this, and at most twice this, times its bands' frequencies */
#define CORNER   0.125 /* of the rate, of the low-pass before every second sample is dropped */

double bank_hz(uint32_t band)
{
    return 1000.0 * exp2((LOWEST + (int)band) / 6.0);
}

void bank_init(Bank *b, double rate)
{
    *b = (Bank){0};
    for (uint32_t k = 0; k < BANK_BANDS && bank_hz(k) < HIGHEST * rate; ++k) {
        double slow = rate;
        while (b->stage[k] + 1 < BANK_STAGES && slow > HEADROOM * bank_hz(k)) {
            slow /= 2.0;
            ++b->stage[k];
        }
        const Biquad band = design_band_pass(bank_hz(k), Q, slow);
        b->filter[k] = svf_from_biquad(&band);
        b->stages = b->stage[k] + 1 > b->stages ? b->stage[k] + 1 : b->stages;
        ++b->bands;
    }
    for (uint32_t s = 0; s + 1 < b->stages; ++s, rate /= 2.0)
        decimate_init(&b->half[s], 2, CORNER * rate, rate);
}

/* Bands of a stage stand together, the slowest stage's first. */
static void hear(Bank *b, uint32_t band, double x)
{
    const Svf *filter = &b->filter[band];
    SvfState *state = b->state[band];
    for (uint32_t i = 0; i < BANK_SECTIONS; ++i)
        x = svf_step(filter, &state[i], x);
    b->energy[band] += x * x;
    ++b->samples[band];
}

static void hush(Bank *b)
{
    for (uint32_t k = 0; k < b->bands; ++k)
        for (uint32_t i = 0; i < BANK_SECTIONS; ++i)
            svf_hush(&b->state[k][i]);
}

void bank_process(Bank *b, const float *x, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i) {
        double slow = (double)x[i];
        uint32_t band = b->bands;
        for (uint32_t s = 0; s < b->stages; ++s) {
            for (; band && b->stage[band - 1] == s; --band)
                hear(b, band - 1, slow);
            if (s + 1 == b->stages || !decimate_step(&b->half[s], slow, &slow))
                break;
        }
    }
    hush(b);
}

double bank_power(const Bank *b, uint32_t band)
{
    return b->samples[band] ? b->energy[band] / (double)b->samples[band] : 0.0;
}
