#include "chain_peaks.h"

#include "four_math.h"
#include "units.h"

#include <math.h>
#include <string.h>

_Static_assert((int)PEAKS_SECTIONS <= (int)LANES_SECTIONS, "lanes take them all");

/* EARLIER_VOICE, SETTLED_AFTER, OTHER_CURVE_POWER: Compressor's threshold found in one pass is 0.50 dB off at most in
 * test_chain_learns. With 2 s and 1 dB it is 0.47, but damaged samples then move what is turned down by 0.4 dB; with 16
 * and 30 s it is 0.66 and 0.67. */
#define PEAK_HOLD         0.012  /* s: as Compressor's detector holds peaks */
#define EARLIER_VOICE     4.0    /* s of voice: weight of the earlier figure, at first */
#define SETTLED_AFTER     8.0    /* s of voice: after these the figure stays */
#define UPDATE_TIME       0.1    /* s between two updates of the figure */
#define LOWEST_HZ         45.0   /* Hz: no low cut that Tone finds lies far below this */
#define HIGHEST_HZ        6000.0 /* Hz: no dip that Tone finds lies above this */
#define WARM              0.05   /* s after a rest: held peaks and the filters' start-up are over by then */
#define OTHER_CURVE_POWER 1.58   /* power ratio, 2 dB: a larger change makes it another curve */

static const TallyScale scale = {.low = -90.0, .step = 0.5, .bins = 200};

enum { FIRST, NOW };

bool peaks_init(ChainPeaks *p, double rate, uint32_t channels)
{
    *p = (ChainPeaks){.rate = rate, .channels = channels};
    while (spectrum_hz(p->first) <= LOWEST_HZ)
        ++p->first;
    while (spectrum_hz(p->end) < HIGHEST_HZ)
        ++p->end;
    peaks_known(p, 0.0);
    return peak_hold_init(&p->hold, (uint32_t)ceil(PEAK_HOLD * rate / DSP_CELL));
}

void peaks_done(ChainPeaks *p)
{
    peak_hold_done(&p->hold);
}

static void rest(ChainPeaks *p)
{
    memset(p->state, 0, sizeof p->state);
    p->cells = 0;
}

void peaks_reset(ChainPeaks *p)
{
    rest(p);
    p->heard = false;
    p->sections = 0; /* as when new: nothing is sought until peaks_set() gives a curve */
    peaks_known(p, peaks_raised(p));
}

/* ---- The curve ---- */

static bool sections_move(const ChainPeaks *p, const ToneCurve *c, double detector_cut)
{
    const ToneCurve *was = &p->curve;
    return !p->sections || detector_cut != p->detector_cut || c->order != was->order || c->low_cut != was->low_cut ||
           c->air_hz != was->air_hz || c->air_db != was->air_db;
}

static void design(ChainPeaks *p)
{
    const ToneCurve *c = &p->curve;
    Biquad b[PEAKS_SECTIONS];
    p->sections = 0;
    if (c->order > 0.0)
        p->sections = design_butterworth_high_pass((uint32_t)c->order, c->low_cut, p->rate, b);
    if (c->air_db != 0.0)
        b[p->sections++] = design_high_shelf(c->air_hz, c->air_db, p->rate);
    b[p->sections++] = design_high_pass(p->detector_cut, sqrt(0.5), p->rate);
    for (uint32_t i = 0; i < p->sections; ++i)
        p->section[i] = svf_from_biquad(&b[i]);
}

static bool curve_changed(const ChainPeaks *p, const double power[SPECTRUM_BANDS])
{
    bool changed = false;
    for (uint32_t b = p->first; b < p->end; ++b)
        changed |= power[b] > OTHER_CURVE_POWER * p->power[b] || power[b] * OTHER_CURVE_POWER < p->power[b];
    return changed;
}

static void start_curve(ChainPeaks *p, double raised)
{
    p->found = p->before = raised;
    p->settled = false;
    memset(p->read, 0, sizeof p->read);
}

void peaks_set(ChainPeaks *p, const ToneCurve *curve, const double power[SPECTRUM_BANDS], double detector_cut)
{
    if (sections_move(p, curve, detector_cut)) {
        p->curve = *curve;
        p->detector_cut = detector_cut;
        design(p);
    }
    if (!curve_changed(p, power))
        return;
    memcpy(p->power, power, sizeof p->power);
    start_curve(p, peaks_raised(p));
}

/* ---- Listening ---- */

bool peaks_seek(const ChainPeaks *p)
{
    return p->sections && !p->settled;
}

void peaks_process(ChainPeaks *p, const float *const *in, uint32_t n)
{
    double sound[DSP_CHANNELS][DSP_CELL];
    double *const x[] = {sound[0], sound[1]};
    for (uint32_t c = 0; c < p->channels; ++c)
        /* NOLINTNEXTLINE(clang-analyzer-core.CallAndMessage): two channels at most */
        dsp_widen(x[c], in[c], n);
    if (p->channels == 2 && p->sections)
        lanes_run_both(p->section, (SvfState *const[]){p->state[0], p->state[1]}, p->sections, x, n);
    else if (p->sections)
        lanes_run(p->section, p->state[0], p->sections, x[0], n);
    for (uint32_t c = 0; c < p->channels; ++c) {
        float y[DSP_CELL];
        dsp_narrow(y, x[c], n);
        p->cell = fmaxf(p->cell, four_largest(y, n));
    }
    p->heard = true;
}

/* dB: mean level of the middle half of the loudest quarter. */
static double loud(const Tally *t, double total)
{
    enum { POINTS = 5 };
    double sum = 0.0;
    for (int i = 0; i < POINTS; ++i)
        sum += tally_below(t, &scale, total * (0.8125 + 0.125 * i / (POINTS - 1)));
    return sum / POINTS;
}

static void conclude(ChainPeaks *p)
{
    const double second = p->rate / DSP_CELL, total = tally_total(&p->read[FIRST], &scale);
    const double weight = EARLIER_VOICE * second * (1.0 - total / (SETTLED_AFTER * second));
    p->due = (uint32_t)(UPDATE_TIME * p->rate / DSP_CELL);
    p->settled = total > SETTLED_AFTER * p->rate / DSP_CELL;
    if (total < 1.0 || p->settled)
        return;
    const double raised = loud(&p->read[NOW], total) - loud(&p->read[FIRST], total);
    p->found = (total * raised + weight * p->before) / (total + weight);
}

static void take_cell(ChainPeaks *p, double out, double gain, bool counts)
{
    const bool warm = p->cells >= WARM * p->rate / DSP_CELL;
    const double in = gain_to_db((double)peak_hold_step(&p->hold, p->cell));
    p->cell = 0.f;
    p->cells += !warm;
    for (uint32_t c = 0; c < p->channels; ++c)
        for (uint32_t s = 0; s < p->sections; ++s)
            svf_hush(&p->state[c][s]);
    if (counts && warm && in > UNITS_DB_FLOOR) {
        tally_add(&p->read[FIRST], &scale, in - gain);
        tally_add(&p->read[NOW], &scale, out - gain);
    }
    if (p->due-- == 0)
        conclude(p);
}

void peaks_tick(ChainPeaks *p, double out, double gain, bool counts)
{
    if (p->heard)
        take_cell(p, out, gain, counts);
    else if (p->cells)
        rest(p);
    p->heard = false;
}

double peaks_raised(const ChainPeaks *p)
{
    return p->found;
}

void peaks_known(ChainPeaks *p, double raised)
{
    for (uint32_t b = 0; b < SPECTRUM_BANDS; ++b)
        p->power[b] = 1.0;
    p->due = 0;
    start_curve(p, raised);
}
