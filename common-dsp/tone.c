#include "tone.h"

#include "design.h"
#include "low_cut.h"
#include "units.h"

#include <string.h>

static const double BAND_TAU = 0.02;  /* s, each of the smoother's two poles, stepped once a cell */
static const double SLOPE_TAU = 0.01; /* s, stepped once a sample */
static const double GOAL_TAU = 0.25;  /* s, stepped once a cell: how findings move their dips */
static const double FAR = 1.0 / 6.0;  /* octaves: a finding this far away is another one */
static const double NOWHERE = 8.0;    /* log2 of 256 Hz: where a dip waits for its first finding */
static const double FADED = -0.02;    /* dB */

#define LEAST_SHARE 0.6 /* of a resonance's height, that its dip takes out, where it is just sure enough; */
#define MOST_SHARE  0.8 /* and where its odds are SURER nepers more */
#define SURER       1.5

#define MOST_THINNED 16 /* a year of voice */

#define NO_LEVEL (-240.f) /* dB: below any that is measured */

enum { NOTES, PITCHES, FOUND, SURE, THINNED, FIELDS };
enum { NOTE_FIGURES = 1 + PARTIALS_MOST, FOUND_FIGURES = 1 + 3 * TONE_DIPS, THINNED_FIGURES = 3 };

static void write_memory(const void *dsp, Learned *learned);
static void read_memory(void *dsp, const Learned *learned);

static const LearnedSchema schema = {
    .fields = FIELDS,
    .field = {[NOTES] = {"tone_notes", RESONANCE_PIECES *NOTE_FIGURES, -240.f, 1200.f, .kind = LEARNED_CODED},
              [PITCHES] = {"tone_pitches", RESONANCE_PITCHES, 0.f, 65535.f,
                           LEARNED_IN(Tone, memory.pitch, LEARNED_ROW)},
              [FOUND] = {"tone_found", FOUND_FIGURES, 0.f, 4000.f, .kind = LEARNED_CODED},
              [SURE] = {"tone_sure", TONE_DIPS, 0.f, 1000.f, .kind = LEARNED_CODED},
              [THINNED] = {"tone_thinned", THINNED_FIGURES, 0.f, 65535.f, .kind = LEARNED_CODED}},
    .write = write_memory,
    .read = read_memory,
};

static const ToneParams off = {
    .low_cut = 100.0,
    .dip = {{250.0, 0.0, 1.0, false}, {400.0, 0.0, 1.0, false}, {800.0, 0.0, 1.0, false}},
    .air_freq = 12000.0,
    .take_out = 5.0,
};

static uint32_t cut_order(ToneSlope slope)
{
    return slope + 1; /* 12, 18, 24 dB per octave */
}

static void done(void *dsp);
static void reset(void *dsp);
static void set(void *dsp, const void *wanted);

static bool init(void *dsp, double rate, uint32_t channels)
{
    Tone *t = dsp;
    memset(t, 0, sizeof *t);
    if (!dsp_rate_ok(rate) || channels < 1 || channels > DSP_CHANNELS)
        return false;
    if (!partials_init(&t->partials, rate) || !resonance_init(&t->finder, rate)) {
        done(t);
        return false;
    }
    t->rate = rate;
    t->channels = channels;
    living_init(&t->living, rate, channels);
    smooth_init(&t->whole, rate, BAND_TAU);
    for (uint32_t i = 0; i < TONE_DIPS; ++i) {
        build_up_init(&t->build_up[i], rate);
        smooth_init(&t->goal[i].octave, rate / DSP_CELL, GOAL_TAU);
        smooth_init(&t->goal[i].db, rate / DSP_CELL, GOAL_TAU);
        smooth_init(&t->goal[i].width, rate / DSP_CELL, GOAL_TAU);
    }
    smooth_init(&t->low_cut, rate / DSP_CELL, BAND_TAU);
    for (uint32_t i = 0; i < TONE_SLOPES; ++i)
        smooth_init(&t->share[i], rate, SLOPE_TAU);
    for (uint32_t i = 0; i < TONE_BANDS; ++i) {
        smooth_init(&t->band[i].octave, rate / DSP_CELL, BAND_TAU);
        smooth_init(&t->band[i].db, rate / DSP_CELL, BAND_TAU);
        smooth_init(&t->band[i].width, rate / DSP_CELL, BAND_TAU);
    }
    for (ToneSlope slope = TONE_CUT_12; slope < TONE_SLOPES; ++slope)
        sos_init(&t->cut[slope - 1], (cut_order(slope) + 1) / 2, channels);
    sos_init(&t->bands, TONE_BANDS, channels);
    set(t, &off);
    reset(t);
    return true;
}

static void done(void *dsp)
{
    Tone *t = dsp;
    partials_done(&t->partials);
    resonance_done(&t->finder);
}

/* The last target holds at once, and so will the next. */
static void restart(Smooth *s)
{
    smooth_jump(s, s->target);
    smooth_restart(s);
}

static void restart_band(ToneBand *band)
{
    restart(&band->octave);
    restart(&band->db);
    restart(&band->width);
}

static void reset(void *dsp)
{
    Tone *t = dsp;
    t->fresh = true;
    living_reset(&t->living);
    restart(&t->low_cut);
    for (uint32_t i = 0; i < TONE_SLOPES; ++i)
        restart(&t->share[i]);
    for (uint32_t i = 0; i < TONE_BANDS; ++i)
        restart_band(&t->band[i]);
    for (uint32_t i = 0; i < TONE_DIPS; ++i) {
        build_up_reset(&t->build_up[i]);
        restart_band(&t->goal[i]);
    }
    restart(&t->whole);
    for (uint32_t i = 0; i < TONE_SLOPES - 1; ++i)
        sos_reset(&t->cut[i]);
    sos_reset(&t->bands);
    t->learn = (LearnSwitch){0};
    partials_reset(&t->partials);
    resonance_stop(&t->finder);
    t->heard = t->worked = 0;
}

/* ---- What is learned ---- */

static void start_afresh(Tone *t)
{
    resonance_memory_clear(&t->memory);
    t->lowest_note = resonance_lowest_note(&t->memory);
    resonance_stop(&t->finder);
    partials_reset(&t->partials);
    ++t->version;
}

/* Places that keep their resonance, if it has moved a little; then those that are free. */
static void place_findings(Tone *t, const Resonances *r)
{
    bool placed[RESONANCE_MOST] = {false};
    for (uint32_t i = 0; i < TONE_DIPS; ++i) {
        const double was = t->found[i].hz;
        t->found[i] = (Resonance){0};
        for (uint32_t j = 0; j < r->count && was > 0.0; ++j) {
            if (placed[j] || fabs(log2(r->at[j].hz / was)) > FAR || t->found[i].hz > 0.0)
                continue;
            t->found[i] = r->at[j];
            placed[j] = true;
        }
    }
    for (uint32_t i = 0, j = 0; i < TONE_DIPS; ++i) {
        while (j < r->count && placed[j])
            ++j;
        if (t->found[i].hz == 0.0 && j < r->count)
            t->found[i] = r->at[j++];
    }
}

static void conclude(Tone *t, const Resonances *r)
{
    place_findings(t, r);
    for (uint32_t i = 0; i < TONE_DIPS; ++i)
        t->found[i] = (Resonance){learned_round(t->found[i].hz), learned_round(t->found[i].height),
                                  learned_round(t->found[i].width), learned_round(t->found[i].sure)};
    t->concluded = true;
    ++t->version;
}

static void tick_listening(Tone *t)
{
    if (!t->params.learn)
        return;
    PartialsPiece piece;
    if (partials_tick(&t->partials, &piece)) {
        resonance_memory_add(&t->memory, &piece);
        t->lowest_note = resonance_lowest_note(&t->memory);
        ++t->heard;
        ++t->version;
    }
    Resonances found;
    if (resonance_step(&t->finder, &found))
        conclude(t, &found);
    if (!resonance_working(&t->finder) && t->heard != t->worked) {
        resonance_start(&t->finder, &t->memory);
        t->worked = t->heard;
    }
}

static void write_memory(const void *dsp, Learned *learned)
{
    const Tone *t = dsp;
    const ResonanceMemory *m = &t->memory;
    float *to = learned_field(&schema, learned, NOTES);
    learned->count[NOTES] = m->pieces ? m->pieces * NOTE_FIGURES : 1; /* one figure: none */
    to[0] = 0.f;
    for (uint32_t i = 0; i < m->pieces; ++i, to += NOTE_FIGURES) {
        const ResonancePiece *from = &m->piece[i];
        to[0] = from->hz;
        for (uint32_t k = 0; k < PARTIALS_MOST; ++k)
            to[1 + k] = k < from->count ? from->level[k] : NO_LEVEL;
    }
    float *found = learned_field(&schema, learned, FOUND);
    learned->count[FOUND] = FOUND_FIGURES;
    *found++ = t->concluded ? 1.f : 0.f;
    for (uint32_t i = 0; i < TONE_DIPS; ++i) {
        *found++ = (float)t->found[i].hz;
        *found++ = (float)t->found[i].height;
        *found++ = (float)t->found[i].width;
    }
    float *sure = learned_field(&schema, learned, SURE), *thinned = learned_field(&schema, learned, THINNED);
    learned->count[SURE] = TONE_DIPS;
    for (uint32_t i = 0; i < TONE_DIPS; ++i)
        sure[i] = (float)t->found[i].sure;
    learned->count[THINNED] = THINNED_FIGURES;
    thinned[0] = (float)m->thinned;
    thinned[1] = (float)m->skipped;
    thinned[2] = (float)m->frames;
}

/* A piece that makes no sense is left out. */
static void put_piece(ResonanceMemory *m, const float *from)
{
    ResonancePiece piece = {.hz = from[0]};
    while (piece.count < PARTIALS_MOST && from[1 + piece.count] > NO_LEVEL) {
        piece.level[piece.count] = from[1 + piece.count];
        ++piece.count;
    }
    if (from[0] >= (float)PITCH_LOWEST && from[0] <= (float)PITCH_HIGHEST && piece.count)
        m->piece[m->pieces++] = piece;
}

static Resonance sane(const float *figure, double sure)
{
    const Resonance r = {(double)figure[0], (double)figure[1], (double)figure[2], fmax(sure, RESONANCE_SURE)};
    const bool ok = r.hz >= 100.0 && r.height > 0.0 && r.height <= 48.0 && r.width >= 0.1 && r.width <= 3.0;
    return ok ? r : (Resonance){0};
}

/* Sessions of before the memory was thinned have no such figures: all their pieces are there, and how long was heard is
 * known from the pitches. */
static void put_thinned(ResonanceMemory *m, const float *thinned, bool there)
{
    const uint32_t by = there ? (uint32_t)thinned[0] : 0;
    m->thinned = by <= MOST_THINNED ? by : 0;
    m->skipped = there && thinned[1] < (float)(1u << m->thinned) ? (uint32_t)thinned[1] : 0;
    uint32_t frames = 0;
    for (uint32_t i = 0; i < RESONANCE_PITCHES; ++i)
        frames += m->pitch[i];
    m->frames = there ? (uint32_t)thinned[2] : frames < RESONANCE_FRAMES ? frames : RESONANCE_FRAMES;
}

static void read_memory(void *dsp, const Learned *learned)
{
    Tone *t = dsp;
    ResonanceMemory *m = &t->memory;
    const float *note = learned->value + learned_at(&schema, NOTES);
    const float *found = learned->value + learned_at(&schema, FOUND);
    const float *sure = learned->value + learned_at(&schema, SURE);
    resonance_stop(&t->finder);
    m->pieces = 0;
    for (uint32_t i = 0; i < learned->count[NOTES] / NOTE_FIGURES; ++i)
        put_piece(m, note + (size_t)i * NOTE_FIGURES);
    put_thinned(m, learned->value + learned_at(&schema, THINNED), learned->count[THINNED] == THINNED_FIGURES);
    const bool any_sure = learned->count[SURE] == TONE_DIPS;
    const bool whole = learned->count[FOUND] == FOUND_FIGURES;
    t->concluded = whole && found[0] > 0.f;
    for (uint32_t i = 0; i < TONE_DIPS; ++i)
        t->found[i] = whole ? sane(found + 1 + (size_t)3 * i, any_sure ? (double)sure[i] : 0.0) : (Resonance){0};
    t->lowest_note = resonance_lowest_note(m);
}

/* dB. The surer it is, the nearer the dip comes to all of it: heights are right on average, places and widths are
 * not. */
double tone_dip_depth(const Resonance *r, double take_out)
{
    const double share =
        LEAST_SHARE + (MOST_SHARE - LEAST_SHARE) * dsp_clamp((r->sure - RESONANCE_SURE) / SURER, 0.0, 1.0);
    return -fmin(share * r->height, take_out);
}

static void report(const void *dsp, void *to)
{
    const Tone *t = dsp;
    ToneReport *report = to;
    for (uint32_t i = 0; i < TONE_DIPS; ++i) {
        report->found[i].freq = t->found[i].hz;
        report->found[i].depth = tone_dip_depth(&t->found[i], t->params.take_out);
        report->found[i].width = t->found[i].width;
        report->found[i].sure = t->found[i].sure;
    }
    report->voice_heard = resonance_voice_heard(&t->memory);
    report->lowest_note = t->lowest_note;
    report->low_cut = low_cut_for(t->lowest_note);
}

/* ---- Where the bands go ---- */

static void set(void *dsp, const void *wanted)
{
    Tone *t = dsp;
    const ToneParams *p = wanted;
    t->params = *p;
    smooth_to(&t->low_cut, log2(p->low_cut));
    for (uint32_t i = 0; i < TONE_SLOPES; ++i)
        smooth_to(&t->share[i], p->slope == i ? 1.0 : 0.0);
    if (learn_switch(&t->learn, p->learn))
        start_afresh(t);
    if (!p->learn)
        resonance_stop(&t->finder);
}

static void band_to(ToneBand *band, double octave, double db, double width)
{
    smooth_to(&band->octave, octave);
    smooth_to(&band->db, db);
    smooth_to(&band->width, width);
}

static void follow_finding(ToneBand *goal, const Resonance *found, double take_out)
{
    const bool any = found->hz > 0.0;
    const double octave = any ? log2(found->hz) : goal->octave.holds ? goal->octave.target : NOWHERE;
    const double width = any ? found->width : goal->octave.holds ? goal->width.target : 1.0;
    const double depth = tone_dip_depth(found, take_out);
    if (!goal->octave.holds || goal->db.value > FADED) {
        smooth_jump(&goal->octave, octave);
        smooth_jump(&goal->width, width);
    }
    if (fabs(octave - goal->octave.target) > FAR)
        smooth_to(&goal->db, 0.0);
    else
        band_to(goal, octave, depth, width);
    smooth_step(&goal->octave);
    smooth_step(&goal->db);
    smooth_step(&goal->width);
}

static double when_it_builds_up(Tone *t, uint32_t i, bool wanted)
{
    const ToneBand *band = &t->band[i];
    if (wanted && !t->watched[i])
        build_up_reset(&t->build_up[i]);
    t->watched[i] = wanted;
    return wanted ? build_up_tick(&t->build_up[i], exp2(band->octave.target), design_q(band->width.target)) : 1.0;
}

static void aim_dip(Tone *t, uint32_t i)
{
    const ToneParams *p = &t->params;
    const ToneDip *hand = &p->dip[i];
    ToneBand *goal = &t->goal[i];
    follow_finding(goal, &t->found[i], p->take_out);
    const bool found = p->listening && t->concluded;
    double depth = found ? goal->db.value : hand->depth;
    const double octave = found ? goal->octave.value : log2(hand->freq);
    const double width = found ? goal->width.value : hand->width;
    if (p->point_out == (TonePoint)(i + 1)) {
        smooth_to(&t->whole, depth - TONE_POINT_DB);
        depth = TONE_POINT_DB;
    }
    smooth_to(&t->band[i].octave, octave);
    smooth_to(&t->band[i].width, width);
    const double share = when_it_builds_up(t, i, hand->build_up);
    smooth_to(&t->band[i].db, depth > 0.0 ? depth : depth * share);
}

static void aim(Tone *t)
{
    if (t->params.point_out == TONE_POINT_NONE)
        smooth_to(&t->whole, 0.0);
    for (uint32_t i = 0; i < TONE_DIPS; ++i)
        aim_dip(t, i);
    const bool air = t->params.point_out == TONE_POINT_AIR;
    if (air)
        smooth_to(&t->whole, -TONE_POINT_DB);
    band_to(&t->band[TONE_AIR], log2(t->params.air_freq), air ? TONE_POINT_DB : t->params.air_lift, 1.0);
}

/* After a reset there is nothing to glide from. */
static void section_to(const Tone *t, Sos *s, uint32_t section, const Biquad *b)
{
    if (t->fresh)
        sos_jump(s, section, b);
    else
        sos_glide(s, section, b);
}

static void tick_low_cut(Tone *t)
{
    if (!t->fresh && smooth_settled(&t->low_cut))
        return;
    const double hz = exp2(smooth_step(&t->low_cut));
    for (ToneSlope slope = TONE_CUT_12; slope < TONE_SLOPES; ++slope) {
        Biquad section[DESIGN_BUTTERWORTH_MAX];
        const uint32_t sections = design_butterworth_high_pass(cut_order(slope), hz, t->rate, section);
        for (uint32_t i = 0; i < sections; ++i)
            section_to(t, &t->cut[slope - 1], i, &section[i]);
    }
}

static bool band_settled(const ToneBand *band)
{
    return smooth_settled(&band->octave) && smooth_settled(&band->db) && smooth_settled(&band->width);
}

static void tick_band(Tone *t, uint32_t i)
{
    ToneBand *band = &t->band[i];
    if (!t->fresh && band_settled(band))
        return;
    const double hz = exp2(smooth_step(&band->octave));
    const double db = smooth_step(&band->db);
    const double q = design_q(smooth_step(&band->width));
    const Biquad b = i == TONE_AIR ? design_high_shelf(hz, db, t->rate) : design_bell(hz, db, q, t->rate);
    section_to(t, &t->bands, i, &b);
}

static void tick(void *dsp)
{
    Tone *t = dsp;
    tick_listening(t);
    aim(t);
    tick_low_cut(t);
    for (uint32_t i = 0; i < TONE_BANDS; ++i)
        tick_band(t, i);
    if (t->fresh)
        t->whole_gain = db_to_gain(t->whole.value);
    t->fresh = false;
    for (uint32_t i = 0; i < TONE_SLOPES - 1; ++i)
        sos_hush(&t->cut[i]);
    sos_hush(&t->bands);
}

/* x becomes the low cut's output: the input and the three filters in their shares. Where one has the whole share, its
 * output alone. */
static void cut_frame(Tone *t, double *x)
{
    double from[TONE_SLOPES][DSP_CHANNELS];
    for (uint32_t i = 0; i < TONE_SLOPES; ++i) {
        memcpy(from[i], x, sizeof from[i]);
        if (i != TONE_CUT_OFF)
            sos_frame(&t->cut[i - 1], from[i]);
    }
    double mix[DSP_CHANNELS] = {0};
    bool fading = false;
    for (uint32_t i = 0; i < TONE_SLOPES; ++i) {
        const double share = smooth_step(&t->share[i]);
        fading = fading || !smooth_settled(&t->share[i]);
        if (share == 1.0)
            memcpy(x, from[i], sizeof from[i]);
        for (uint32_t c = 0; c < t->channels; ++c)
            mix[c] += share * from[i][c];
    }
    if (fading)
        memcpy(x, mix, sizeof mix);
}

/* The mean of the channels, a living one in the place of a dead one (living.h), for what listens. */
static const float *heard(Tone *t, const float *const *in, uint32_t n, float mean[DSP_CELL])
{
    if (t->channels == 1)
        return in[0];
    const float *sound[DSP_CHANNELS];
    living_process(&t->living, in, sound, n);
    for (uint32_t i = 0; i < n; ++i)
        mean[i] = 0.5f * (sound[0][i] + sound[1][i]);
    return mean;
}

static void listen(Tone *t, const float *const *in, uint32_t n)
{
    float mean[DSP_CELL];
    const float *x = heard(t, in, n, mean);
    if (t->params.learn)
        partials_process(&t->partials, x, n);
    for (uint32_t i = 0; i < TONE_DIPS; ++i)
        if (t->watched[i])
            build_up_process(&t->build_up[i], x, n);
}

/* All of it, where a band is pointed out. */
static void whole_frame(Tone *t, double *x)
{
    if (!smooth_settled(&t->whole))
        t->whole_gain = db_to_gain(smooth_step(&t->whole));
    if (t->whole_gain == 1.0)
        return;
    for (uint32_t c = 0; c < t->channels; ++c)
        x[c] *= t->whole_gain;
}

static void cell(void *dsp, const float *const *in, float *const *out, uint32_t n)
{
    Tone *t = dsp;
    listen(t, in, n);
    for (uint32_t i = 0; i < n; ++i) {
        double x[DSP_CHANNELS] = {0};
        for (uint32_t c = 0; c < t->channels; ++c)
            x[c] = in[c][i];
        cut_frame(t, x);
        sos_frame(&t->bands, x);
        whole_frame(t, x);
        for (uint32_t c = 0; c < t->channels; ++c)
            out[c][i] = (float)x[c];
    }
}

const Processor tone = {
    .size = sizeof(Tone),
    PROCESSOR_FUNCTIONS,
    .report = report,
    .learned = {.schema = &schema, .version = offsetof(Tone, version)},
};
