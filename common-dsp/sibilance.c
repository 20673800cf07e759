#include "sibilance.h"

#include "design.h"
#include "four_math.h"
#include "sibilance_ears.h"
#include "units.h"

#include <math.h>
#include <string.h>

const double sibilance_hz[SIBILANCE_BANDS] = {2828.0, 4000.0, 5657.0, 8000.0, 11314.0};

#define HIGH_FROM      3000.0             /* Hz: lower edge of the high band */
#define TOP_OF_RATE    0.45               /* of the rate: no filter listens above it */
#define HALF_BAND_DOWN 0.8408964152537145 /* 2^(-1/4): from a band's middle to where it starts */

#define SOUND_TAU    0.003 /* s, smoothing of the powers that tell what sounds */
#define VOICE_TAU    0.02  /* s, smoothing of the low band's power for the level of the voice */
#define LEVEL_TAU    0.008 /* s, smoothing of the powers that tell how loud a sibilant is */
#define CONFIRM_TIME 0.002 /* s of evidence before a sibilant is heard */
#define HANG_TIME    0.012 /* s without evidence before it has ended */
#define SETTLE_TIME  0.05  /* s from the reset until the filters have settled */
#define VOICE_FALL   4.0   /* dB/s: the voice's level falls, while a voice sounds */
#define VOICE_FADE   0.3   /* dB/s: the voice's level falls, while none sounds */
#define FLOOR_RISE   6.0   /* dB/s: the noise floor rises */

#define FAINTEST_POWER 1e-20f            /* -200 dB: fainter powers read as this */
#define LOG2_TO_DB     3.01029995663981f /* dB of a power, per 1 of its log2 */

#define SILENT_STATE 1e-15f /* states below it become 0: their squares are still far above a float's least */

/* dB. Evidence: see evidence(); levels are against the voice. */
#define OPENS_OVER    6.0     /* evidence from which a sibilant begins */
#define STAYS_OVER    (-9.0)  /* evidence above which it goes on */
#define FAINTEST_HIGH (-36.0) /* level of the high band in the faintest sibilant */
#define OVER_FLOOR    9.0     /* the high band of a sibilant lies at least this far over the noise floor */
#define LOWEST_FLOOR  (-60.0) /* no level counts as lower */

static uint32_t cells(const Sibilance *s, double seconds)
{
    const double n = ceil(seconds * s->rate / DSP_CELL);
    return n < 1.0 ? 1 : (uint32_t)n;
}

/* ---- Filters, lane by lane ---- */

enum { LOW, MIDDLE, HIGH, FIVE }; /* FIVE: the first of the bank's lanes */

static void put_section(FourSections *four, uint32_t lane, Biquad b)
{
    const Svf section = svf_from_biquad(&b);
    four_sections_put(four, lane, &section);
}

static void put_upper(Sibilance *s, uint32_t lane, Biquad b)
{
    put_section(&s->upper[lane / FOUR], lane % FOUR, b);
}

/* ---- Life ---- */

static void init_band(Sibilance *s, uint32_t band, double from, double to)
{
    const double q = sqrt(0.5);
    put_section(&s->flank, band, design_high_pass(from, q, s->rate));
    put_upper(s, band, to < TOP_OF_RATE * s->rate ? design_low_pass(to, q, s->rate) : biquad_identity);
}

void sibilance_init(Sibilance *s, double rate, uint32_t channels)
{
    *s = (Sibilance){.rate = rate, .channels = channels};
    init_band(s, LOW, 120.0, 1500.0);
    init_band(s, MIDDLE, 1000.0, 2500.0);
    init_band(s, HIGH, HIGH_FROM, 7900.0);
    put_section(&s->flank, FIVE, design_high_pass(HIGH_FROM, sqrt(0.5), rate));
    for (uint32_t b = 0; b < SIBILANCE_BANDS; ++b)
        put_upper(s, FIVE + b, design_band_pass(sibilance_hz[b], design_q(0.5), rate));
    for (uint32_t k = 0; k < SIBILANCE_LANES; ++k)
        s->keep[k] = (float)one_pole(k < FIVE ? SOUND_TAU : LEVEL_TAU, rate);
    s->steady_keep = (float)one_pole(VOICE_TAU, rate);
    sibilance_reset(s);
}

void sibilance_reset(Sibilance *s)
{
    memset(s->state, 0, sizeof s->state);
    memset(s->gathered, 0, sizeof s->gathered);
    s->steady = 0.f;
    s->voice = UNITS_DB_FLOOR;
    s->floor = -UNITS_DB_FLOOR;
    s->settling = cells(s, SETTLE_TIME);
    s->open_for = s->hang = s->cells = 0;
    s->open = s->sounding = s->whole = false;
}

void sibilance_process(Sibilance *s, const float *const *in, uint32_t n)
{
    if (wide_avx2() && s->channels == 2)
        sibilance_ears_avx2(s, in, n);
    else if (wide_avx2())
        sibilance_ears_one_avx2(s, in, n);
    else
        sibilance_ears_four(s, in, n);
}

/* ---- Every cell ---- */

static void hush(Sibilance *s)
{
    for (uint32_t c = 0; c < s->channels; ++c) {
        four_states_hush(&s->state[c].flank, SILENT_STATE);
        four_states_hush(&s->state[c].upper[0], SILENT_STATE);
        four_states_hush(&s->state[c].upper[1], SILENT_STATE);
    }
    for (uint32_t k = 0; k < SIBILANCE_LANES; k += FOUR)
        four_store(s->gathered + k, four_hush(four_load(s->gathered + k), (float)DSP_SILENCE));
    s->steady = (float)dsp_hush((double)s->steady);
}

/* dB. `gathered` is 1 / (1 - keep) times the power. */
static Four level_of(Four gathered, Four keep)
{
    const Four power = four_mul(gathered, four_sub(four_all(1.f), keep));
    return four_mul(four_log2(four_max(power, four_all(FAINTEST_POWER))), four_all(LOG2_TO_DB));
}

/* dB; `steady` is `low`, smoothed longer. The voice's level rises at once and falls slowly. A rest leaves it nearly
 * where it is, so that a breath after a long rest is still taken for a breath. */
static void follow_voice(Sibilance *s, double steady, double low, double high)
{
    const double cell = DSP_CELL / s->rate;
    const bool voiced = high < low - 10.0 && steady > -100.0;
    const bool sounds = voiced && steady > s->voice - 25.0;
    s->voice = fmax(s->voice - cell * (sounds ? VOICE_FALL : VOICE_FADE), UNITS_DB_FLOOR);
    if (voiced)
        s->voice = fmax(s->voice, steady);
}

/* The floor falls at once and rises slowly. It is not measured before the filters have settled, nor followed lower than
 * where the faintest sibilant would need it. */
static void follow_floor(Sibilance *s, double high)
{
    if (s->settling > 0) {
        --s->settling;
        return;
    }
    const double rising = s->floor + FLOOR_RISE * DSP_CELL / s->rate;
    s->floor = fmax(fmin(high, rising), s->voice + FAINTEST_HIGH - OVER_FLOOR);
}

static double above(double x, double limit)
{
    return x > limit ? x - limit : 0.0;
}

/* dB in favour of a sibilant, from levels in dB against the voice: the regression of sibilance.h. */
static double evidence(double low, double mid, double high)
{
    return high - 0.5 * mid - 1.3 * above(low, -12.0) - 4.4 * above(low, -6.0) + 15.7;
}

static double against_voice(const Sibilance *s, double level)
{
    return dsp_clamp(level - s->voice, LOWEST_FLOOR, 6.0);
}

static void decide(Sibilance *s, double low, double mid, double high)
{
    const double level = against_voice(s, high);
    const double favour = evidence(against_voice(s, low), against_voice(s, mid), level);
    const bool loud = level > FAINTEST_HIGH && high > s->floor + OVER_FLOOR;
    if (s->open) {
        s->hang = loud && favour > STAYS_OVER ? cells(s, HANG_TIME) : s->hang - 1;
        s->open = s->hang > 0;
        return;
    }
    s->open_for = loud && favour > OPENS_OVER ? s->open_for + 1 : 0;
    s->open = s->open_for >= cells(s, CONFIRM_TIME);
    if (s->open) {
        s->hang = cells(s, HANG_TIME);
        s->open_for = 0;
    }
}

static void add_powers(Sibilance *s)
{
    for (uint32_t b = 0; b < SIBILANCE_BANDS; ++b)
        s->sum[b] = (s->cells == 1 ? 0.0 : s->sum[b]) + sibilance_power(s, b);
}

static void work_out_levels(Sibilance *s)
{
    for (uint32_t b = 0; b < SIBILANCE_BANDS; ++b)
        s->level[b] = power_to_db(s->sum[b] / s->cells);
}

/* Follows the sibilant under way; true when it has just ended and was whole. */
static bool follow_sibilant(Sibilance *s, bool before)
{
    if (s->open) {
        const bool starts = !before;
        s->cells = starts ? 1 : s->cells + 1;
        s->whole = (starts || s->whole) && s->cells <= cells(s, SIBILANCE_LONGEST);
        add_powers(s);
    }
    s->sounding = s->open && s->cells <= cells(s, SIBILANCE_LONGEST);
    const bool ended = before && !s->open && s->whole && s->cells >= cells(s, SIBILANCE_SHORTEST);
    if (ended)
        work_out_levels(s);
    return ended;
}

bool sibilance_tick(Sibilance *s)
{
    hush(s);
    const bool before = s->open;
    const Four level = level_of(four_load(s->gathered), four_load(s->keep));
    const Four steady = level_of(four_all(s->steady), four_all(s->steady_keep));
    const double low = (double)four_lane(level, LOW), mid = (double)four_lane(level, MIDDLE);
    const double high = (double)four_lane(level, HIGH);
    follow_voice(s, (double)four_lane(steady, 0), low, high);
    follow_floor(s, high);
    decide(s, low, mid, high);
    return follow_sibilant(s, before);
}

/* dB, added to a band's level to give the density of the noise in it. Makes up for the loss in the 3 kHz high-pass, and
 * takes off 1 dB more in each band, as each is wider than the one below. The width alone would ask for 1.5 dB; but a
 * sibilant's noise falls off far more steeply below its peak than above, and 1 dB meets the peaks of the tests' singer
 * best. */
static const double density_of[SIBILANCE_BANDS] = {3.55, 0.19, -1.67, -2.91, -3.98};

double sibilance_densest(const float *level, double *density)
{
    uint32_t bands = 0, best = 1;
    double dense[SIBILANCE_BANDS];
    for (; bands < SIBILANCE_BANDS && (double)level[bands] > UNITS_DB_FLOOR; ++bands)
        dense[bands] = level[bands] + density_of[bands];
    *density = UNITS_DB_FLOOR;
    if (bands < 3)
        return 0.0;
    for (uint32_t b = 0; b < bands; ++b) {
        *density = fmax(*density, dense[b]);
        if (b > best && b + 1 < bands && dense[b] > dense[best])
            best = b;
    }
    const double below = dense[best - 1], above = dense[best + 1], bend = below + above - 2.0 * dense[best];
    const double flat = above > below ? 1.0 : -1.0;
    const double off = bend < 0.0 ? dsp_clamp(0.5 * (below - above) / bend, -1.0, 1.0) : flat;
    return log2(sibilance_hz[best]) + 0.5 * off;
}

double sibilance_power(const Sibilance *s, uint32_t band)
{
    const double share = 1.0 - (double)s->keep[FIVE + band];
    return sibilance_hz[band] * HALF_BAND_DOWN < TOP_OF_RATE * s->rate ? share * (double)s->gathered[FIVE + band] : 0.0;
}
