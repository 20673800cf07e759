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

/* The slowest stage that holds a band. */
static uint32_t stage_of(double hz, double rate)
{
    uint32_t stage = 0;
    for (; stage + 1 < BANK_STAGES && rate > HEADROOM * hz; rate /= 2.0)
        ++stage;
    return stage;
}

static void add_band(Bank *b, double hz, double rate)
{
    const uint32_t stage = stage_of(hz, rate);
    BankFour *f = b->fours ? &b->four[b->fours - 1] : NULL;
    if (!f || f->stage != stage || f->bands == FOUR) {
        f = &b->four[b->fours++];
        *f = (BankFour){.stage = stage, .first = b->bands};
    }
    const Biquad band = design_band_pass(hz, Q, ldexp(rate, -(int)stage));
    const Svf section = svf_from_biquad(&band);
    four_sections_put(&f->section, f->bands++, &section);
    b->stages = stage + 1 > b->stages ? stage + 1 : b->stages;
    ++b->bands;
}

void bank_init(Bank *b, double rate)
{
    *b = (Bank){0};
    for (uint32_t k = 0; k < BANK_BANDS && bank_hz(k) < HIGHEST * rate; ++k)
        add_band(b, bank_hz(k), rate);
    for (uint32_t s = 0; s + 1 < b->stages; ++s, rate /= 2.0)
        decimate_init(&b->half[s], 2, CORNER * rate, rate);
}

static void hush(FourStates *s)
{
    for (uint32_t k = 0; k < FOUR; ++k) {
        s->first[k] = (float)dsp_hush((double)s->first[k]);
        s->second[k] = (float)dsp_hush((double)s->second[k]);
    }
}

static void hear(Bank *b, BankFour *f, const double *x, uint32_t n)
{
    float sum[FOUR];
    const FourSvf section = four_svf_load(&f->section);
    FourSvfState state[BANK_SECTIONS];
    Four power = four_all(0.f);
    for (uint32_t i = 0; i < BANK_SECTIONS; ++i)
        state[i] = four_states_load(&f->state[i]);
    for (uint32_t t = 0; t < n; ++t) {
        Four y = four_all((float)x[t]);
        for (uint32_t i = 0; i < BANK_SECTIONS; ++i)
            y = four_svf_step(&section, &state[i], y);
        power = four_add(power, four_mul(y, y));
    }
    for (uint32_t i = 0; i < BANK_SECTIONS; ++i) {
        four_states_store(&f->state[i], &state[i]);
        hush(&f->state[i]);
    }
    four_store(sum, power);
    for (uint32_t k = 0; k < f->bands; ++k) {
        b->energy[f->first + k] += (double)sum[k];
        b->samples[f->first + k] += n;
    }
}

/* Up to a cell of it, and what each stage leaves of that. */
static void hear_cell(Bank *b, const float *x, uint32_t n)
{
    double slow[DSP_CELL];
    uint32_t four = b->fours;
    for (uint32_t i = 0; i < n; ++i)
        slow[i] = (double)x[i];
    for (uint32_t s = 0; s < b->stages && n; ++s) {
        for (; four && b->four[four - 1].stage == s; --four)
            hear(b, &b->four[four - 1], slow, n);
        if (s + 1 == b->stages)
            break;
        n = decimate_run(&b->half[s], slow, n, slow);
        decimate_hush(&b->half[s]);
    }
}

void bank_process(Bank *b, const float *x, uint32_t n)
{
    for (uint32_t at = 0; at < n; at += DSP_CELL)
        hear_cell(b, x + at, n - at < DSP_CELL ? n - at : DSP_CELL);
}

double bank_power(const Bank *b, uint32_t band)
{
    return b->samples[band] ? b->energy[band] / (double)b->samples[band] : 0.0;
}
