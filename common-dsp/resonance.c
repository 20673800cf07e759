#include "resonance.h"

#include "bells.h"
#include "fixed_curve.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* How each was settled, and how flat: resonance.md ("How sure"). Costs are as callgrind counts them. */
#define COST_A_SECOND     21e3        /* thousands of instructions a second: a finding takes up to ten seconds */
#define READ_COST         1.5         /* thousands of instructions to read a piece */
#define CROSS_COST        15.0        /* thousands of instructions to count the harmonics that cross a bell */
#define SAME_BELL         (1.0 / 6.0) /* octaves: a bell this near is the same one */
#define HALF_TAKE_BONUS   1.5         /* nepers: half a take is less sure of the same bell; resonance.md, "How sure" */
#define BOOK_MISFIT_MOST  2.7         /* dB: a voice with less misfit keeps to the published vowels */
#define HEIGHT_GIVEN_BACK 1.1         /* times its height: makes up for what the fit took for vowels, in the median */
#define ABSENT_LOG_ODDS   (-9.0)      /* nepers: odds of a bell that a half does not have */

enum { NOTES = 4 }; /* a bell counts if this many harmonics cross it, of one note or of several a semitone apart */

/* Passes of the fit, by kind of voice: for the whole memory, and for a half, which starts from where the whole ended.
 * In recorded voices more passes take more of a low bell for vowels (figures: resonance.md, "Vowels"). */
static const uint32_t passes[VOWELS_KINDS] = {6, 10}, half_passes[VOWELS_KINDS] = {3, 5};

typedef enum { WHOLE, EVEN, ODD, PARTS } Part; /* all pieces; those on even semitones; those on odd ones */

typedef enum { READ, FIT, SEARCH, CROSS, IDLE } Phase;

struct ResonanceWork {
    FixedFit fit;
    BellSearch search;
    Phase phase;
    Part part;
    VowelKind kind;
    const ResonanceMemory *memory;
    uint32_t pieces, thinned;         /* the memory's, when the work began */
    uint32_t at, even;                /* pieces read so far; how many of them are in EVEN */
    uint32_t seen[RESONANCE_PITCHES]; /* a bit for each harmonic heard, by semitone of the note */
    FixedModel whole;                 /* where the halves start */
    Bells found[PARTS];
    uint32_t across[BELLS_MOST]; /* harmonics that cross each bell of the whole */
};

bool resonance_init(ResonanceFinder *f, double rate)
{
    *f = (ResonanceFinder){.work = calloc(1, sizeof *f->work), .budget = COST_A_SECOND * DSP_CELL / rate};
    if (!f->work)
        return false;
    fixed_init(&f->work->fit);
    bells_init(&f->work->search);
    f->work->phase = IDLE;
    return true;
}

void resonance_done(ResonanceFinder *f)
{
    free(f->work);
    f->work = NULL;
}

void resonance_stop(ResonanceFinder *f)
{
    f->work->phase = IDLE;
    f->pace = (Work){0};
}

bool resonance_working(const ResonanceFinder *f)
{
    return f->work->phase != IDLE;
}

void resonance_start(ResonanceFinder *f, const ResonanceMemory *m)
{
    ResonanceWork *const w = f->work;
    if (m->pieces < RESONANCE_ENOUGH)
        return;
    w->memory = m;
    w->pieces = m->pieces;
    w->thinned = m->thinned;
    w->at = w->even = 0;
    memset(w->seen, 0, sizeof w->seen);
    w->phase = READ;
}

/* ---- Reading ---- */

static double note_hz(uint32_t note)
{
    return PITCH_LOWEST * exp2(note / 12.0);
}

static void start_part(ResonanceWork *w, Part part)
{
    const FixedModel unknown = fixed_unknown();
    w->part = part;
    fixed_start(&w->fit, w->kind, part == WHOLE ? &unknown : &w->whole, part == ODD ? w->even : 0,
                part == EVEN ? w->even : w->pieces, part == WHOLE ? passes[w->kind] : half_passes[w->kind]);
    w->phase = FIT;
}

/* Even semitones go to the front, odd ones to the back. So both halves have notes and words from all of the take, and
 * stay the same in whatever order it is heard. */
static void read_piece(ResonanceWork *w, const ResonancePiece *p)
{
    const double note = 12.0 * log2((double)p->hz / PITCH_LOWEST) + 0.5;
    const uint32_t semitone = (uint32_t)dsp_clamp(note, 0, RESONANCE_PITCHES - 1), odd = w->at - w->even;
    fixed_read(&w->fit, semitone % 2 ? w->pieces - 1 - odd : w->even++, p);
    w->seen[semitone] |= (1u << p->count) - 1u;
}

static void step_read(ResonanceFinder *f)
{
    ResonanceWork *const w = f->work;
    if (w->memory->thinned != w->thinned) { /* the memory was thinned meanwhile: its pieces have moved */
        resonance_start(f, w->memory);
        return;
    }
    read_piece(w, &w->memory->piece[w->at]);
    if (++w->at < w->pieces)
        return;
    w->kind = VOWELS_RECORDED;
    start_part(w, WHOLE);
}

/* ---- The fit, and the search for bells in it ---- */

static void step_fit(ResonanceWork *w)
{
    if (!fixed_step(&w->fit))
        return;
    const FixedCurve curve = fixed_curve(&w->fit);
    if (w->part == WHOLE && w->kind == VOWELS_RECORDED && curve.misfit < BOOK_MISFIT_MOST) {
        w->kind = VOWELS_BY_THE_BOOK;
        start_part(w, WHOLE);
        return;
    }
    if (w->part == WHOLE)
        w->whole = fixed_model(&w->fit);
    bells_start(&w->search, &curve, w->part == WHOLE ? RESONANCE_MOST : BELLS_MOST);
    w->phase = SEARCH;
}

static void step_search(ResonanceWork *w)
{
    if (!bells_step(&w->search))
        return;
    w->found[w->part] = w->search.found;
    if (w->part < ODD && w->search.found.count) {
        start_part(w, w->part + 1);
        return;
    }
    w->at = 0;
    w->phase = w->found[WHOLE].count ? CROSS : IDLE;
}

/* ---- How sure ---- */

double resonance_share_right(double sure)
{
    if (sure <= 0.0)
        return 0.0;
    return dsp_clamp(sure < 0.75 ? 0.60 + 0.42 * (sure - 0.25) : 0.81 + 0.14 * (sure - 0.75), 0.60, 0.88);
}

static double odds_near(const Bells *b, double hz)
{
    double odds = ABSENT_LOG_ODDS;
    for (uint32_t i = 0; i < b->count; ++i)
        if (fabs(log2(b->at[i].hz / hz)) <= SAME_BELL)
            odds = fmax(odds, b->at[i].odds);
    return odds;
}

static double how_sure(const ResonanceWork *w, const Bell *bell)
{
    const Bells *const found = w->found;
    const double halves = fmin(odds_near(&found[EVEN], bell->hz), odds_near(&found[ODD], bell->hz));
    return fmin(bell->odds, halves + HALF_TAKE_BONUS);
}

/* How many harmonics lie in the bell's half-power band, those of each note that was heard, to a semitone. */
static uint32_t notes_across(const ResonanceWork *w, const Bell *bell)
{
    uint32_t count = 0;
    for (uint32_t note = 0; note < RESONANCE_PITCHES; ++note) {
        const double hz = note_hz(note);
        for (uint32_t k = 0; w->seen[note] >> k; ++k) {
            const double x = hz * (k + 1) / bell->hz;
            count += fabs(x - 1.0 / x) * bell->q <= 1.0;
        }
    }
    return count;
}

static void step_cross(ResonanceWork *w)
{
    const Bells *const found = &w->found[WHOLE];
    w->across[w->at] = notes_across(w, &found->at[w->at]);
    if (++w->at == found->count)
        w->phase = IDLE;
}

/* Octaves between the half-gain points, from 1/Q = 2 sinh(ln 2 / 2 octaves). */
static double octaves(double q)
{
    const double x = 0.5 / q;
    return 2.0 / log(2.0) * log(x + sqrt(x * x + 1.0));
}

static void insert(Resonances *found, const Resonance *r)
{
    uint32_t at = found->count++;
    for (; at > 0 && found->at[at - 1].hz > r->hz; --at)
        found->at[at] = found->at[at - 1];
    found->at[at] = *r;
}

static void conclude(const ResonanceWork *w, Resonances *found)
{
    *found = (Resonances){0};
    for (uint32_t i = 0; i < w->found[WHOLE].count; ++i) {
        const Bell *const bell = &w->found[WHOLE].at[i];
        const Resonance r = {bell->hz, HEIGHT_GIVEN_BACK * bell->height, octaves(bell->q), how_sure(w, bell)};
        if (r.sure >= RESONANCE_SURE && r.height > 0.0 && w->across[i] >= NOTES)
            insert(found, &r);
    }
}

/* Returns what it cost, in thousands of instructions. */
static double step(ResonanceFinder *f)
{
    ResonanceWork *const w = f->work;
    switch (w->phase) {
    case READ:
        step_read(f);
        return READ_COST;
    case FIT:
        step_fit(w);
        return w->fit.cost;
    case SEARCH:
        step_search(w);
        return w->search.cost;
    default:
        step_cross(w);
        return CROSS_COST;
    }
}

bool resonance_step(ResonanceFinder *f, Resonances *found)
{
    ResonanceWork *const w = f->work;
    if (w->phase == IDLE)
        return false;
    for (work_grant(&f->pace, f->budget); work_next(&f->pace) && w->phase != IDLE;)
        work_did(&f->pace, step(f));
    if (w->phase != IDLE)
        return false;
    conclude(w, found);
    return true;
}
