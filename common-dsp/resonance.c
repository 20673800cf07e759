#include "resonance.h"

#include "average_voice.h"
#include "learned.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define LOWEST      100.0 /* Hz, of the fixed curve */
#define PER_OCTAVE  12
#define FIRST_LOW   230.0
#define SECOND_LOW  720.0
#define FIRST_WIDE  80.0 /* Hz */
#define SECOND_WIDE 100.0
#define APART       80.0 /* Hz; second formant over 1.2 times the first */
#define SPREAD      0.09 /* nepers around a published vowel */
#define STRAY       0.01 /* likelihood of any other pair */
#define UNDER_PITCH 6.0  /* nepers: price of a first formant under the pitch */
#define NEVER       1e-9 /* likelihood of a mouth opened for no vowel that needs it */
#define EVEN        0.1  /* how firmly all vowels are held to be sung equally often */

#define PASSES  10     /* over all vowels, before the first look for bells */
#define AGAIN   4      /* before each further one */
#define SETTLES 2      /* of source and fixed curve, in each */
#define DOUBT   3.0    /* dB, of a vowel's harmonics */
#define ROBUST  4.0    /* dB, where a harmonic's weight has fallen to half */
#define RIDGE   5.0    /* how smooth the fixed curve is while it is fitted */
#define TIED    1.5    /* how firmly each of its bins is held at 0 */
#define SOURCE  2.0    /* how firmly the source is held at SLOPE */
#define SLOPE   (-6.0) /* dB per octave */

#define KNOWN 0.4 /* of a bell's height, taken for known in the next passes; more overshoots */

#define USUAL_SHARE 0.5   /* of the average voice over the vowels; voices differ */
#define USUAL_WIDTH 0.4   /* octaves it is smoothed over */
#define USUAL_LOW   250.0 /* Hz; below, the table shows where people's pitches lie */
#define USUAL_HIGH  2100.0

#define SMOOTH_DB     1.5 /* size of the baseline */
#define SMOOTH_LENGTH 0.6 /* octaves */
#define OFFSET_DB     30.0
#define TILT_DB       15.0 /* per octave */
#define BEND_DB       6.0  /* per octave squared */
#define MISFIT        0.7  /* dB, of any bin */
#define SHARE         2.0  /* of the pieces' scatter, in the doubt of a bin */
#define UNHEARD       1e4  /* dB squared: doubt of a bin that no harmonic fell in */

#define HOLLOW_DB    4.0
#define HOLLOW_TRUST 0.7  /* a peak goes first, unless a hollow is much surer */
#define PIECES       6.0  /* that cross a bell */
#define NEAREST      0.33 /* octaves between two bells */
#define NOTES        4    /* different notes' harmonics that cross it */
#define BELL_DB      6.0
#define BELL_LOW     150.0
#define BELL_STEPS   24.0

#define STEPS_AT 48000.0

/* What a bell has to be: standard deviations; dB before it is moved; dB after. The last look decides; the others, which
 * only prepare it, may be wrong. */
typedef struct {
    double sure, hopeful, least;
} Bar;

static const Bar bars[] = {{2.2, 2.3, 2.6}, {2.2, 2.3, 2.6}, {2.0, 2.2, 3.1}};
enum { LOOKS = sizeof bars / sizeof *bars };

/* Ten vowels of men, then of women: Peterson & Barney; the last three of each (hid, hood, heard) from memory. */
static const double vowel[][2] = {
    {270, 2290}, {530, 1840}, {660, 1720}, {730, 1090}, {570, 840},  {300, 870},  {640, 1190},
    {390, 1990}, {440, 1020}, {490, 1350}, {310, 2790}, {610, 2330}, {860, 2050}, {850, 1220},
    {590, 920},  {370, 950},  {760, 1400}, {430, 2480}, {470, 1160}, {500, 1640},
};
enum { VOWELS = sizeof vowel / sizeof *vowel };

typedef enum {
    IDLE,
    PRIOR,
    VOWEL,
    SHARES,
    SUM_UP,
    SOLVE,
    COVARIANCE,
    WHITEN,
    TAKE_OUT,
    CHOOSE,
    MOVE,
    JUDGE,
    CROSSED
} Phase;

enum {
    OPEN = RESONANCE_FIRST, /* the row of a first formant that is where the pitch is */
    ROWS = 9,               /* first formants tried in a step */
    PIECES_STEP = 8,        /* summed up in a step */
    BELLS_STEP = 25,        /* freed from what is chosen in a step */
    ROUNDS = 2,             /* of moving the chosen bells */
    REACH = 3,              /* places to each side */
    HOLLOWS = 2,            /* taken for what they are */
};

/* Of a piece: the harmonics on the fixed curve. */
typedef struct {
    uint32_t count;
    uint8_t number[PARTIALS_MOST], fine[PARTIALS_MOST], bin[PARTIALS_MOST];
    double level[PARTIALS_MOST];
    double octave[PARTIALS_MOST]; /* over 500 Hz */
    double vowel[PARTIALS_MOST];  /* dB, as it is thought to be */
} Piece;

/* Hollows are not reported, but where one is taken for what it is, its rims are not taken for resonances. */
enum { CHOSEN_MOST = RESONANCE_MOST + HOLLOWS };

typedef struct {
    uint32_t bell[CHOSEN_MOST], count;
    bool hollow[CHOSEN_MOST];
    double height[CHOSEN_MOST]; /* dB; of a hollow below 0 */
} Chosen;

struct ResonanceWork {
    /* Tables: dB, nepers, dB per dB, square dB. */
    float first[RESONANCE_FIRST][RESONANCE_FINE], second[RESONANCE_SECOND][RESONANCE_FINE], tract[RESONANCE_FINE];
    float near[VOWELS][RESONANCE_FIRST][RESONANCE_SECOND]; /* likelihood of a pair, given the published vowel */
    float bell[RESONANCE_BELLS][RESONANCE_BINS];
    double kernel[RESONANCE_BINS][RESONANCE_BINS];
    double usual[RESONANCE_BINS]; /* the average voice over the vowels */

    Phase phase;
    uint32_t look, pass, settle, at, row;

    ResonanceMemory memory; /* as it was at the start */
    Piece piece[RESONANCE_PIECES];
    double source[RESONANCE_SOURCE];
    double expected[RESONANCE_BINS]; /* what is fixed: what is known of it, */
    double fixed[RESONANCE_BINS];    /* and the rest */
    double share[VOWELS];            /* how often each published vowel is sung: 1 on average */
    float prior[RESONANCE_FIRST][RESONANCE_SECOND];

    /* The piece whose vowel is sought. */
    float target[PARTIALS_MOST], two[RESONANCE_SECOND][PARTIALS_MOST];
    float open[PARTIALS_MOST], open_prior[RESONANCE_SECOND]; /* with the mouth opened */
    float open_near[VOWELS][RESONANCE_SECOND];
    float likely[RESONANCE_FIRST + 1][RESONANCE_SECOND];

    /* What all pieces have been taken for in this pass, in pieces: pairs, and published vowels. */
    double heard[RESONANCE_FIRST][RESONANCE_SECOND], sung[VOWELS];

    /* Normal equations of source and fixed curve, then their Cholesky factor. */
    double normal[RESONANCE_UNKNOWN][RESONANCE_UNKNOWN], right[RESONANCE_UNKNOWN];
    double bin_sum[RESONANCE_BINS], bin_weight[RESONANCE_BINS];
    double error, errors; /* sum of squares, and of how many */

    /* The fixed curve and the bells, in units of what is expected of the curve without any. */
    double cov[RESONANCE_BINS][RESONANCE_BINS];
    double curve[RESONANCE_BINS];
    float white[RESONANCE_BELLS][RESONANCE_BINS];
    double product[RESONANCE_BELLS], square[RESONANCE_BELLS]; /* with the curve, beside what is chosen */
    bool crossed[RESONANCE_BELLS];
    Chosen chosen;
    double axis[CHOSEN_MOST][RESONANCE_BINS], axis_product[CHOSEN_MOST];
    uint32_t axes;
    bool judging;
};

/* ---- The memory ---- */

void resonance_memory_clear(ResonanceMemory *m)
{
    memset(m, 0, sizeof *m);
}

static void count_pitch(ResonanceMemory *m, double hz, uint32_t frames)
{
    const double place = 24.0 * log2(hz / PITCH_LOWEST);
    uint32_t *const count = &m->pitch[(uint32_t)dsp_clamp(place, 0, RESONANCE_PITCHES - 1)];
    *count += frames;
    if (*count <= 65535)
        return;
    for (uint32_t i = 0; i < RESONANCE_PITCHES; ++i)
        m->pitch[i] /= 2;
}

void resonance_memory_add(ResonanceMemory *m, const PartialsPiece *piece)
{
    const bool full = m->pieces == RESONANCE_PIECES;
    ResonancePiece *to = &m->piece[full ? m->oldest : m->pieces];
    *to = (ResonancePiece){.hz = (float)learned_round(piece->hz), .count = piece->count};
    for (uint32_t k = 0; k < piece->count; ++k)
        to->level[k] = (float)learned_round(piece->level[k]);
    if (full)
        m->oldest = (m->oldest + 1) % RESONANCE_PIECES;
    else
        ++m->pieces;
    count_pitch(m, piece->hz, piece->frames);
}

double resonance_lowest_note(const ResonanceMemory *m)
{
    uint32_t all = 0;
    for (uint32_t i = 0; i < RESONANCE_PITCHES; ++i)
        all += m->pitch[i];
    const uint32_t least = all / 300 > 8 ? all / 300 : 8;
    for (uint32_t i = 0; i + 2 < RESONANCE_PITCHES; ++i) {
        const uint32_t sum = m->pitch[i] + m->pitch[i + 1] + m->pitch[i + 2];
        if (sum < least)
            continue;
        const double mean = ((double)m->pitch[i + 1] + 2.0 * m->pitch[i + 2]) / sum;
        return PITCH_LOWEST * exp2((i + 0.5 + mean) / 24.0);
    }
    return 0.0;
}

/* ---- Tables ---- */

static double bin_hz(double bin)
{
    return LOWEST * exp2((bin + 0.5) / PER_OCTAVE);
}

static double bell_hz(uint32_t bell)
{
    const uint32_t place = bell / RESONANCE_WIDTHS;
    return BELL_LOW * exp2(place / BELL_STEPS);
}

static double bell_q(uint32_t bell)
{
    return 2.0 * exp2(0.5 * (double)(bell % RESONANCE_WIDTHS));
}

/* Octaves between the half-gain points: 1/Q = 2 sinh(ln 2 / 2 octaves). */
static double bell_width(uint32_t bell)
{
    const double x = 0.5 / bell_q(bell);
    return 2.0 * log2(x + sqrt(x * x + 1.0));
}

/* A pole pair, 0 dB at 0 Hz: |p|^2 / |s - p| |s - p*|. */
static double formant_db(double hz, double centre, double wide)
{
    const double half = 0.5 * wide;
    const double unit = half * half + centre * centre;
    const double below = half * half + (hz - centre) * (hz - centre),
                 above = half * half + (hz + centre) * (hz + centre);
    return 10.0 * log10(unit * unit / (below * above));
}

/* The formants above the second, as a neutral tract has them. */
static double tract_db(double hz)
{
    return formant_db(hz, 2650, 160) + formant_db(hz, 3600, 250);
}

static double bell_db(double hz, double centre, double db, double q)
{
    const double x = hz / centre - centre / hz, A = pow(10.0, db / 40.0);
    return 10.0 * log10((x * x + A * A / (q * q)) / (x * x + 1.0 / (A * A * q * q)));
}

static double first_hz(uint32_t i)
{
    return FIRST_LOW * exp2(i / 8.0);
}

static double second_hz(uint32_t j)
{
    return SECOND_LOW * exp2(j / 6.0);
}

/* By one formant: how near it is to a published one, as a likelihood. */
static double nearness(double hz, double published)
{
    const double away = log(hz / published) / SPREAD;
    return exp(-0.5 * away * away);
}

/* Mean power of the published vowels, dB, with the slope of the source. */
static double average_vowel_db(double hz)
{
    double sum = 0.0;
    for (uint32_t v = 0; v < VOWELS; ++v)
        sum += pow(10.0, 0.1 * (formant_db(hz, vowel[v][0], FIRST_WIDE) + formant_db(hz, vowel[v][1], SECOND_WIDE)));
    return 10.0 * log10(sum / VOWELS) + tract_db(hz) + SLOPE * log2(hz / 500.0);
}

/* In a third of an octave: the average voice over the vowels, dB, but for a constant. */
static double over_vowels_db(int band)
{
    const double hz = average_voice_hz(band);
    double power = 0.0;
    for (int i = -10; i <= 10; ++i)
        power += pow(10.0, 0.1 * average_vowel_db(hz * exp2(i / 60.0)));
    return 10.0 * log10(average_voice_power(band) / (hz * power));
}

/* Takes out of it what the source's slope and the level account for. */
static void level_out(double x[RESONANCE_BINS])
{
    double sum = 0.0, octaves = 0.0, squares = 0.0, product = 0.0;
    for (uint32_t b = 0; b < RESONANCE_BINS; ++b) {
        const double octave = log2(bin_hz(b) / 500.0);
        sum += x[b];
        octaves += octave;
        squares += octave * octave;
        product += x[b] * octave;
    }
    const double n = RESONANCE_BINS, tilt = (n * product - sum * octaves) / (n * squares - octaves * octaves);
    for (uint32_t b = 0; b < RESONANCE_BINS; ++b)
        x[b] -= (sum - tilt * octaves) / n + tilt * log2(bin_hz(b) / 500.0);
}

static void make_usual(ResonanceWork *w)
{
    double over[AVERAGE_VOICE_BANDS];
    for (int i = 0; i < AVERAGE_VOICE_BANDS; ++i)
        over[i] = USUAL_SHARE * over_vowels_db(i);
    for (uint32_t b = 0; b < RESONANCE_BINS; ++b) {
        double sum = 0.0, all = 0.0;
        for (int i = 0; i < AVERAGE_VOICE_BANDS; ++i) {
            const double hz = average_voice_hz(i), away = log2(hz / fmax(bin_hz(b), USUAL_LOW)) / USUAL_WIDTH;
            const double weight = hz > 0.95 * USUAL_LOW && hz < USUAL_HIGH ? exp(-0.5 * away * away) : 0.0;
            sum += weight * over[i];
            all += weight;
        }
        w->usual[b] = sum / all;
    }
    level_out(w->usual);
}

static void make_tables(ResonanceWork *w)
{
    make_usual(w);
    for (uint32_t f = 0; f < RESONANCE_FINE; ++f) {
        const double hz = LOWEST * exp2((f + 0.5) / (4 * PER_OCTAVE));
        for (uint32_t i = 0; i < RESONANCE_FIRST; ++i)
            w->first[i][f] = (float)formant_db(hz, first_hz(i), FIRST_WIDE);
        for (uint32_t j = 0; j < RESONANCE_SECOND; ++j)
            w->second[j][f] = (float)formant_db(hz, second_hz(j), SECOND_WIDE);
        w->tract[f] = (float)tract_db(hz);
    }
    for (uint32_t v = 0; v < VOWELS; ++v)
        for (uint32_t i = 0; i < RESONANCE_FIRST; ++i)
            for (uint32_t j = 0; j < RESONANCE_SECOND; ++j)
                w->near[v][i][j] = (float)(nearness(first_hz(i), vowel[v][0]) * nearness(second_hz(j), vowel[v][1]));
    for (uint32_t c = 0; c < RESONANCE_BELLS; ++c)
        for (uint32_t b = 0; b < RESONANCE_BINS; ++b)
            w->bell[c][b] = (float)(bell_db(bin_hz(b), bell_hz(c), BELL_DB, bell_q(c)) / BELL_DB);
    for (uint32_t b = 0; b < RESONANCE_BINS; ++b)
        for (uint32_t d = 0; d < RESONANCE_BINS; ++d) {
            const double x = log2(bin_hz(b) / 450), y = log2(bin_hz(d) / 450), away = (x - y) / SMOOTH_LENGTH;
            w->kernel[b][d] = SMOOTH_DB * SMOOTH_DB * exp(-0.5 * away * away) + OFFSET_DB * OFFSET_DB +
                              TILT_DB * TILT_DB * x * y + BEND_DB * BEND_DB * x * x * y * y;
        }
}

bool resonance_init(ResonanceFinder *f, double rate)
{
    f->steps_per_cell = (uint32_t)ceil(STEPS_AT / rate);
    f->work = calloc(1, sizeof *f->work);
    if (!f->work)
        return false;
    make_tables(f->work);
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
}

bool resonance_working(const ResonanceFinder *f)
{
    return f->work->phase != IDLE;
}

void resonance_start(ResonanceFinder *f, const ResonanceMemory *m)
{
    ResonanceWork *w = f->work;
    if (m->pieces < RESONANCE_ENOUGH)
        return;
    w->memory = *m;
    memcpy(w->expected, w->usual, sizeof w->expected);
    memset(w->fixed, 0, sizeof w->fixed);
    memset(w->source, 0, sizeof w->source);
    w->source[RESONANCE_SOURCE - 1] = SLOPE;
    for (uint32_t v = 0; v < VOWELS; ++v)
        w->share[v] = 1.0;
    w->chosen.count = 0;
    w->look = w->pass = w->settle = w->at = w->row = 0;
    w->judging = false;
    w->phase = PRIOR;
}

/* ---- How often each vowel is sung ---- */

static double pair_likelihood(const ResonanceWork *w, uint32_t i, uint32_t j)
{
    double sum = STRAY;
    for (uint32_t v = 0; v < VOWELS; ++v)
        sum += w->share[v] * (double)w->near[v][i][j];
    return sum;
}

/* The least that a second formant lies over the first. */
static double least_second(double first)
{
    return 1.2 * first + APART;
}

static void step_prior(ResonanceWork *w)
{
    for (uint32_t n = 0; n < ROWS && w->row < RESONANCE_FIRST; ++n, ++w->row)
        for (uint32_t j = 0; j < RESONANCE_SECOND; ++j) {
            const bool apart = second_hz(j) > least_second(first_hz(w->row));
            w->prior[w->row][j] = apart ? (float)log(pair_likelihood(w, w->row, j)) : -1e4f;
        }
    if (w->row < RESONANCE_FIRST)
        return;
    w->row = 0;
    memset(w->heard, 0, sizeof w->heard);
    memset(w->sung, 0, sizeof w->sung);
    w->phase = VOWEL;
}

/* A pair goes to the published vowels by how well each explains it. */
static void share_out(ResonanceWork *w, uint32_t i, uint32_t j)
{
    const double part = w->heard[i][j] / pair_likelihood(w, i, j);
    for (uint32_t v = 0; v < VOWELS; ++v)
        w->sung[v] += part * w->share[v] * (double)w->near[v][i][j];
}

static void step_shares(ResonanceWork *w)
{
    for (uint32_t n = 0; n < ROWS && w->row < RESONANCE_FIRST; ++n, ++w->row)
        for (uint32_t j = 0; j < RESONANCE_SECOND; ++j)
            if (w->heard[w->row][j] > 0.0)
                share_out(w, w->row, j);
    if (w->row < RESONANCE_FIRST)
        return;
    double mean = 0.0;
    for (uint32_t v = 0; v < VOWELS; ++v)
        mean += w->sung[v] / VOWELS;
    for (uint32_t v = 0; v < VOWELS; ++v)
        w->share[v] = (w->sung[v] / fmax(mean, NEVER) + EVEN) / (1.0 + EVEN);
    w->row = 0;
    w->phase = SUM_UP;
}

/* ---- Vowels ---- */

static void read_piece(Piece *to, const ResonancePiece *from)
{
    to->count = 0;
    for (uint32_t k = 0; k < from->count; ++k) {
        const double octave = log2((double)from->hz * (k + 1) / LOWEST);
        if (octave < 0.0 || octave * PER_OCTAVE >= RESONANCE_BINS)
            continue;
        const uint32_t i = to->count++;
        to->number[i] = (uint8_t)k;
        to->level[i] = (double)from->level[k];
        to->octave[i] = octave - log2(500.0 / LOWEST);
        to->bin[i] = (uint8_t)(octave * PER_OCTAVE);
        to->fine[i] = (uint8_t)(octave * (4 * PER_OCTAVE));
    }
}

/* Source and fixed curve at one harmonic. */
static double known(const ResonanceWork *w, const Piece *p, uint32_t i)
{
    const double offset = p->number[i] < RESONANCE_SOURCE - 1 ? w->source[p->number[i]] : 0.0;
    const uint32_t b = p->bin[i];
    return offset + w->source[RESONANCE_SOURCE - 1] * p->octave[i] + w->expected[b] + w->fixed[b];
}

static double piece_hz(const ResonanceWork *w)
{
    return (double)w->memory.piece[(w->memory.oldest + w->at) % RESONANCE_PIECES].hz;
}

/* The mouth opened until the first formant is where the pitch is: of all vowels whose own lies lower. */
static void face_open(ResonanceWork *w, const Piece *p)
{
    const double hz = piece_hz(w);
    double likely[RESONANCE_SECOND] = {0};
    for (uint32_t i = 0; i < p->count; ++i)
        w->open[i] = (float)formant_db(hz * (p->number[i] + 1), hz, FIRST_WIDE);
    memset(w->open_near, 0, sizeof w->open_near);
    for (uint32_t v = 0; v < VOWELS; ++v)
        for (uint32_t j = 0; j < RESONANCE_SECOND && vowel[v][0] < hz; ++j) {
            w->open_near[v][j] = (float)(w->share[v] * nearness(second_hz(j), fmax(vowel[v][1], least_second(hz))));
            likely[j] += (double)w->open_near[v][j];
        }
    for (uint32_t j = 0; j < RESONANCE_SECOND; ++j)
        w->open_prior[j] = (float)log(likely[j] + NEVER);
}

static void face_piece(ResonanceWork *w)
{
    Piece *p = &w->piece[w->at];
    if (w->pass == 0)
        read_piece(p, &w->memory.piece[(w->memory.oldest + w->at) % RESONANCE_PIECES]);
    for (uint32_t i = 0; i < p->count; ++i) {
        w->target[i] = (float)(p->level[i] - known(w, p, i)) - w->tract[p->fine[i]];
        for (uint32_t j = 0; j < RESONANCE_SECOND; ++j)
            w->two[j][i] = w->second[j][p->fine[i]];
    }
    face_open(w, p);
}

static float unlikely(const float *rest, const float *two, uint32_t n)
{
    float sum = 0.f, squares = 0.f;
    for (uint32_t i = 0; i < n; ++i) {
        const float e = rest[i] - two[i];
        sum += e;
        squares += e * e;
    }
    return (squares - sum * sum / (float)n) * (float)(0.5 / (DOUBT * DOUBT));
}

/* How likely each vowel with this first formant is, in nepers. The level of the piece is free. */
static void try_first(ResonanceWork *w, uint32_t row)
{
    const Piece *p = &w->piece[w->at];
    const bool open = row == OPEN;
    const float *prior = open ? w->open_prior : w->prior[row];
    const float price = !open && first_hz(row) < 0.95 * piece_hz(w) ? (float)UNDER_PITCH : 0.f;
    float rest[PARTIALS_MOST];
    for (uint32_t i = 0; i < p->count; ++i)
        rest[i] = w->target[i] - (open ? w->open[i] : w->first[row][p->fine[i]]);
    for (uint32_t j = 0; j < RESONANCE_SECOND; ++j)
        w->likely[row][j] = prior[j] - price - unlikely(rest, w->two[j], p->count);
}

/* From nepers to shares of 1. */
static void share_likely(ResonanceWork *w)
{
    float *const likely = w->likely[0];
    float most = likely[0], all = 0.f;
    for (uint32_t i = 1; i < sizeof w->likely / sizeof *likely; ++i)
        most = fmaxf(most, likely[i]);
    for (uint32_t i = 0; i < sizeof w->likely / sizeof *likely; ++i) {
        likely[i] = likely[i] < most - 15.f ? 0.f : expf(likely[i] - most);
        all += likely[i];
    }
    for (uint32_t i = 0; i < sizeof w->likely / sizeof *likely; ++i)
        likely[i] /= all;
}

static void count_vowels(ResonanceWork *w)
{
    for (uint32_t i = 0; i < RESONANCE_FIRST; ++i)
        for (uint32_t j = 0; j < RESONANCE_SECOND; ++j)
            w->heard[i][j] += (double)w->likely[i][j];
    for (uint32_t j = 0; j < RESONANCE_SECOND; ++j) {
        const double part = (double)w->likely[OPEN][j] / exp((double)w->open_prior[j]);
        for (uint32_t v = 0; v < VOWELS && part > 0.0; ++v)
            w->sung[v] += part * (double)w->open_near[v][j];
    }
}

/* The mean over all vowels, by their likelihood. */
static void blend(ResonanceWork *w)
{
    Piece *p = &w->piece[w->at];
    float first[RESONANCE_FIRST + 1] = {0}, second[RESONANCE_SECOND] = {0};
    for (uint32_t i = 0; i <= RESONANCE_FIRST; ++i)
        for (uint32_t j = 0; j < RESONANCE_SECOND; ++j) {
            first[i] += w->likely[i][j];
            second[j] += w->likely[i][j];
        }
    for (uint32_t k = 0; k < p->count; ++k) {
        float sum = first[OPEN] * w->open[k] + w->tract[p->fine[k]];
        for (uint32_t i = 0; i < RESONANCE_FIRST; ++i)
            sum += first[i] * w->first[i][p->fine[k]];
        for (uint32_t j = 0; j < RESONANCE_SECOND; ++j)
            sum += second[j] * w->two[j][k];
        p->vowel[k] = (double)sum;
    }
}

static void clear_sums(ResonanceWork *w);

static void step_vowel(ResonanceWork *w)
{
    if (w->row == 0)
        face_piece(w);
    if (w->row <= OPEN && w->piece[w->at].count >= 2) {
        for (uint32_t i = 0; i < ROWS && w->row <= OPEN; ++i)
            try_first(w, w->row++);
        return;
    }
    if (w->piece[w->at].count >= 2) {
        share_likely(w);
        count_vowels(w);
        blend(w);
    }
    w->row = 0;
    if (++w->at < w->memory.pieces)
        return;
    w->at = w->settle = 0;
    clear_sums(w);
    w->phase = SHARES;
}

/* ---- Source and fixed curve ---- */

/* What is expected before anything is seen: a slope, and a curve that bends little. */
static void clear_sums(ResonanceWork *w)
{
    memset(w->normal, 0, sizeof w->normal);
    memset(w->right, 0, sizeof w->right);
    memset(w->bin_sum, 0, sizeof w->bin_sum);
    memset(w->bin_weight, 0, sizeof w->bin_weight);
    w->error = w->errors = 0.0;
    for (uint32_t i = 0; i < RESONANCE_UNKNOWN; ++i)
        w->normal[i][i] = i < RESONANCE_SOURCE ? SOURCE : TIED;
    w->right[RESONANCE_SOURCE - 1] = SOURCE * SLOPE;
    static const double bend[3] = {1.0, -2.0, 1.0};
    for (uint32_t b = RESONANCE_SOURCE; b + 2 < RESONANCE_UNKNOWN; ++b)
        for (uint32_t i = 0; i < 3; ++i)
            for (uint32_t j = 0; j <= i; ++j)
                w->normal[b + i][b + j] += RIDGE * bend[i] * bend[j];
}

/* Adds one harmonic to the lower half of the normal equations. */
static void add_harmonic(ResonanceWork *w, const Piece *p, uint32_t i, double weight, double wanted)
{
    uint32_t at[3] = {RESONANCE_SOURCE - 1, RESONANCE_SOURCE + p->bin[i], p->number[i]};
    double by[3] = {p->octave[i], 1.0, 1.0};
    const uint32_t n = p->number[i] < RESONANCE_SOURCE - 1 ? 3 : 2;
    for (uint32_t a = 0; a < n; ++a) {
        w->right[at[a]] += weight * by[a] * wanted;
        for (uint32_t b = 0; b < n; ++b)
            if (at[b] <= at[a])
                w->normal[at[a]][at[b]] += weight * by[a] * by[b];
    }
}

static void sum_up_piece(ResonanceWork *w, const Piece *p)
{
    double error[PARTIALS_MOST], mean = 0.0;
    for (uint32_t i = 0; i < p->count; ++i) {
        error[i] = p->level[i] - p->vowel[i] - known(w, p, i);
        mean += error[i] / p->count;
    }
    for (uint32_t i = 0; i < p->count; ++i) {
        const double e = error[i] - mean, weight = 1.0 / (1.0 + e * e / (ROBUST * ROBUST));
        const uint32_t b = p->bin[i];
        add_harmonic(w, p, i, weight, p->level[i] - p->vowel[i] - mean - w->expected[b]);
        w->bin_sum[b] += weight * (e + w->expected[b] + w->fixed[b]);
        w->bin_weight[b] += weight;
        w->error += e * e;
        w->errors += 1.0;
    }
}

static void step_sum_up(ResonanceWork *w)
{
    for (uint32_t i = 0; i < PIECES_STEP && w->at < w->memory.pieces; ++i, ++w->at)
        if (w->piece[w->at].count >= 2)
            sum_up_piece(w, &w->piece[w->at]);
    if (w->at < w->memory.pieces)
        return;
    w->at = 0;
    w->phase = w->pass == PASSES ? COVARIANCE : SOLVE;
}

/* Row `at` of a Cholesky factor, in place, and of the right side solved by it. */
static void factor_row(double *matrix, uint32_t n, uint32_t at, double *right)
{
    double *row = matrix + (size_t)at * n;
    for (uint32_t j = 0; j <= at; ++j) {
        const double *other = matrix + (size_t)j * n;
        double sum = row[j];
        for (uint32_t k = 0; k < j; ++k)
            sum -= row[k] * other[k];
        row[j] = j < at ? sum / other[j] : sqrt(fmax(sum, 1e-9));
    }
    for (uint32_t k = 0; k < at; ++k)
        right[at] -= row[k] * right[k];
    right[at] /= row[at];
}

static void step_solve(ResonanceWork *w)
{
    if (w->at < RESONANCE_UNKNOWN) {
        factor_row(w->normal[0], RESONANCE_UNKNOWN, w->at++, w->right);
        return;
    }
    double *const x = w->right;
    for (uint32_t i = RESONANCE_UNKNOWN; i-- > 0;) {
        x[i] /= w->normal[i][i];
        for (uint32_t k = 0; k < i; ++k)
            x[k] -= w->normal[i][k] * x[i];
    }
    memcpy(w->source, x, sizeof w->source);
    memcpy(w->fixed, x + RESONANCE_SOURCE, sizeof w->fixed);
    w->at = 0;
    clear_sums(w);
    if (++w->settle < SETTLES) {
        w->phase = SUM_UP;
        return;
    }
    ++w->pass;
    w->settle = 0;
    w->phase = w->pass < PASSES ? PRIOR : SUM_UP;
}

/* ---- Bells ---- */

static void step_covariance(ResonanceWork *w)
{
    const uint32_t b = w->at;
    const double heard = w->bin_weight[b], error = w->error / fmax(w->errors, 1.0);
    memcpy(w->cov[b], w->kernel[b], sizeof w->cov[b]);
    const double few = (double)RESONANCE_PIECES / w->memory.pieces;
    w->cov[b][b] += MISFIT * MISFIT * few + (heard > 0.3 ? SHARE * error / heard : UNHEARD);
    w->curve[b] = heard > 0.0 ? w->bin_sum[b] / heard - w->usual[b] : 0.0;
    factor_row(w->cov[0], RESONANCE_BINS, b, w->curve);
    if (++w->at < RESONANCE_BINS)
        return;
    w->at = 0;
    w->phase = WHITEN;
}

/* Harmonics inside the half-power band. */
static bool is_crossed(const ResonanceWork *w, uint32_t bell)
{
    double sum = 0.0;
    for (uint32_t b = 0; b < RESONANCE_BINS; ++b) {
        const double x = bin_hz(b) / bell_hz(bell);
        if (fabs(x - 1.0 / x) * bell_q(bell) <= 1.0)
            sum += w->bin_weight[b];
    }
    return sum >= PIECES;
}

static void step_whiten(ResonanceWork *w)
{
    const uint32_t c = w->at;
    double x[RESONANCE_BINS];
    w->product[c] = w->square[c] = 0.0;
    for (uint32_t b = 0; b < RESONANCE_BINS; ++b) {
        x[b] = (double)w->bell[c][b];
        for (uint32_t k = 0; k < b; ++k)
            x[b] -= w->cov[b][k] * x[k];
        x[b] /= w->cov[b][b];
        w->white[c][b] = (float)x[b];
        w->product[c] += x[b] * w->curve[b];
        w->square[c] += x[b] * x[b];
    }
    w->crossed[c] = is_crossed(w, c);
    if (++w->at == RESONANCE_BELLS)
        w->phase = CHOOSE;
}

static double along(const double *axis, const float *x)
{
    double sum = 0.0;
    for (uint32_t b = 0; b < RESONANCE_BINS; ++b)
        sum += axis[b] * (double)x[b];
    return sum;
}

static void add_axis(ResonanceWork *w, uint32_t bell)
{
    double x[RESONANCE_BINS], square = 0.0, product = 0.0;
    for (uint32_t b = 0; b < RESONANCE_BINS; ++b)
        x[b] = (double)w->white[bell][b];
    for (uint32_t i = 0; i < w->axes; ++i) {
        const double share = along(w->axis[i], w->white[bell]);
        for (uint32_t b = 0; b < RESONANCE_BINS; ++b)
            x[b] -= share * w->axis[i][b];
    }
    for (uint32_t b = 0; b < RESONANCE_BINS; ++b)
        square += x[b] * x[b];
    for (uint32_t b = 0; b < RESONANCE_BINS; ++b) {
        w->axis[w->axes][b] = x[b] / sqrt(fmax(square, 1e-12));
        product += w->axis[w->axes][b] * w->curve[b];
    }
    w->axis_product[w->axes++] = product;
}

/* Axes along the chosen bells but one (`but`: CHOSEN_MOST for all of them). */
static void set_axes(ResonanceWork *w, uint32_t but)
{
    w->axes = 0;
    for (uint32_t i = 0; i < w->chosen.count; ++i)
        if (i != but)
            add_axis(w, w->chosen.bell[i]);
}

/* A bell's product with the curve, and its own square, beside the axes. */
static void free_of_axes(ResonanceWork *w, uint32_t bell)
{
    double product = 0.0, square = 0.0;
    for (uint32_t b = 0; b < RESONANCE_BINS; ++b) {
        const double x = (double)w->white[bell][b];
        product += x * w->curve[b];
        square += x * x;
    }
    for (uint32_t i = 0; i < w->axes; ++i) {
        const double share = along(w->axis[i], w->white[bell]);
        product -= share * w->axis_product[i];
        square -= share * share;
    }
    w->product[bell] = product;
    w->square[bell] = fmax(square, 1e-9);
}

static void step_take_out(ResonanceWork *w)
{
    if (w->at == 0)
        set_axes(w, CHOSEN_MOST);
    for (uint32_t i = 0; i < BELLS_STEP && w->at < RESONANCE_BELLS; ++i)
        free_of_axes(w, w->at++);
    if (w->at == RESONANCE_BELLS)
        w->phase = CHOOSE;
}

static bool too_near(const ResonanceWork *w, uint32_t bell)
{
    for (uint32_t i = 0; i < w->chosen.count; ++i)
        if (fabs(log2(bell_hz(bell) / bell_hz(w->chosen.bell[i]))) < NEAREST)
            return true;
    return false;
}

static uint32_t hollows(const Chosen *c)
{
    uint32_t count = 0;
    for (uint32_t i = 0; i < c->count; ++i)
        count += c->hollow[i];
    return count;
}

static void step_choose(ResonanceWork *w)
{
    Chosen *chosen = &w->chosen;
    const bool more_hollows = hollows(chosen) < HOLLOWS;
    const bool more_peaks = chosen->count - hollows(chosen) < RESONANCE_MOST;
    double best = bars[w->look].sure;
    uint32_t bell = RESONANCE_BELLS;
    for (uint32_t c = 0; c < RESONANCE_BELLS; ++c) {
        const bool hollow = w->product[c] < 0.0;
        const double sure = fabs(w->product[c]) / sqrt(w->square[c]) * (hollow ? HOLLOW_TRUST : 1.0);
        const double least = (hollow ? HOLLOW_DB : bars[w->look].hopeful) * w->square[c];
        if (sure < best || !(hollow ? more_hollows : more_peaks) || !w->crossed[c] || fabs(w->product[c]) < least ||
            too_near(w, c))
            continue;
        best = sure;
        bell = c;
    }
    w->at = 0;
    w->judging = bell == RESONANCE_BELLS;
    if (w->judging) {
        w->phase = JUDGE;
        return;
    }
    chosen->hollow[chosen->count] = w->product[bell] < 0.0;
    chosen->bell[chosen->count++] = bell;
    w->judging = chosen->count == CHOSEN_MOST;
    w->phase = MOVE;
}

/* One of the chosen bells goes where it explains the most beside the others. */
static void move_bell(ResonanceWork *w, uint32_t i)
{
    set_axes(w, i);
    const int32_t place = (int32_t)(w->chosen.bell[i] / RESONANCE_WIDTHS);
    const int32_t width = (int32_t)(w->chosen.bell[i] % RESONANCE_WIDTHS);
    double best = 0.0;
    for (int32_t a = place - REACH; a <= place + REACH; ++a)
        for (int32_t b = width - 1; b <= width + 1; ++b) {
            if (a < 0 || a >= RESONANCE_PLACES || b < 0 || b >= RESONANCE_WIDTHS)
                continue;
            const uint32_t c = (uint32_t)(a * RESONANCE_WIDTHS + b);
            free_of_axes(w, c);
            const double gain = w->product[c] * w->product[c] / w->square[c];
            if ((w->product[c] < 0.0) != w->chosen.hollow[i] || gain <= best || !w->crossed[c])
                continue;
            best = gain;
            w->chosen.bell[i] = c;
        }
}

static void step_move(ResonanceWork *w)
{
    if (w->chosen.count)
        move_bell(w, w->at % w->chosen.count);
    if (++w->at < ROUNDS * w->chosen.count)
        return;
    w->at = 0;
    w->phase = w->judging ? JUDGE : TAKE_OUT;
}

static void drop(Chosen *c, uint32_t i)
{
    --c->count;
    for (; i < c->count; ++i) {
        c->bell[i] = c->bell[i + 1];
        c->hollow[i] = c->hollow[i + 1];
        c->height[i] = c->height[i + 1];
    }
}

/* The least of the bells that do not count goes; the others find their places anew. */
static void step_judge(ResonanceWork *w)
{
    Chosen *c = &w->chosen;
    const Bar *bar = &bars[w->look];
    uint32_t worst = CHOSEN_MOST;
    for (uint32_t i = 0; i < c->count; ++i) {
        set_axes(w, i);
        free_of_axes(w, c->bell[i]);
        c->height[i] = w->product[c->bell[i]] / w->square[c->bell[i]];
        const double size = c->hollow[i] ? -c->height[i] : c->height[i];
        const bool counts = size >= bar->least && size * sqrt(w->square[c->bell[i]]) >= bar->sure;
        if (!counts && (worst == CHOSEN_MOST || fabs(c->height[i]) < fabs(c->height[worst])))
            worst = i;
    }
    w->at = 0;
    w->phase = CROSSED;
    if (worst == CHOSEN_MOST)
        return;
    drop(c, worst);
    w->phase = MOVE;
}

/* Different notes' harmonics in the half-power band. */
static uint32_t notes_across(const ResonanceWork *w, uint32_t bell)
{
    uint32_t seen[RESONANCE_PITCHES] = {0}, count = 0;
    for (uint32_t i = 0; i < w->memory.pieces; ++i) {
        const double hz = (double)w->memory.piece[i].hz;
        const uint32_t note = (uint32_t)dsp_clamp(12.0 * log2(hz / PITCH_LOWEST) + 0.5, 0, RESONANCE_PITCHES - 1);
        for (uint32_t k = 0; k < w->memory.piece[i].count; ++k) {
            const double x = hz * (k + 1) / bell_hz(bell);
            if (fabs(x - 1.0 / x) * bell_q(bell) > 1.0 || seen[note] >> k & 1u)
                continue;
            seen[note] |= 1u << k;
            ++count;
        }
    }
    return count;
}

/* The vowels took some of a resonance for their own: it is given back, in part, and they are sought anew. */
static void look_again(ResonanceWork *w)
{
    for (uint32_t b = 0; b < RESONANCE_BINS; ++b) {
        double known = w->usual[b];
        for (uint32_t i = 0; i < w->chosen.count; ++i)
            known += KNOWN * w->chosen.height[i] * (double)w->bell[w->chosen.bell[i]][b];
        w->fixed[b] += w->expected[b] - known;
        w->expected[b] = known;
    }
    ++w->look;
    w->chosen.count = 0;
    w->pass = PASSES - AGAIN;
    w->settle = w->at = w->row = 0;
    w->judging = false;
    w->phase = PRIOR;
}

static void step_crossed(ResonanceWork *w)
{
    if (w->at == w->chosen.count) {
        w->phase = IDLE;
        if (w->chosen.count && w->look + 1 < LOOKS)
            look_again(w);
        return;
    }
    if (notes_across(w, w->chosen.bell[w->at]) >= NOTES) {
        ++w->at;
        return;
    }
    drop(&w->chosen, w->at);
    w->at = 0;
    w->phase = MOVE;
}

/* ---- All of it ---- */

static void one_step(ResonanceWork *w)
{
    switch (w->phase) {
    case IDLE:
        break;
    case PRIOR:
        step_prior(w);
        break;
    case VOWEL:
        step_vowel(w);
        break;
    case SHARES:
        step_shares(w);
        break;
    case SUM_UP:
        step_sum_up(w);
        break;
    case SOLVE:
        step_solve(w);
        break;
    case COVARIANCE:
        step_covariance(w);
        break;
    case WHITEN:
        step_whiten(w);
        break;
    case TAKE_OUT:
        step_take_out(w);
        break;
    case CHOOSE:
        step_choose(w);
        break;
    case MOVE:
        step_move(w);
        break;
    case JUDGE:
        step_judge(w);
        break;
    case CROSSED:
        step_crossed(w);
        break;
    }
}

static Resonance result(const Chosen *c, uint32_t i)
{
    return (Resonance){bell_hz(c->bell[i]), c->height[i], bell_width(c->bell[i])};
}

static void write_results(const Chosen *c, Resonances *found)
{
    *found = (Resonances){0};
    for (uint32_t i = 0; i < c->count; ++i) {
        if (c->hollow[i])
            continue;
        uint32_t at = found->count++;
        for (; at > 0 && found->at[at - 1].hz > bell_hz(c->bell[i]); --at)
            found->at[at] = found->at[at - 1];
        found->at[at] = result(c, i);
    }
}

bool resonance_step(ResonanceFinder *f, Resonances *found)
{
    if (f->work->phase == IDLE)
        return false;
    for (uint32_t i = 0; i < f->steps_per_cell && f->work->phase != IDLE; ++i)
        one_step(f->work);
    if (f->work->phase != IDLE)
        return false;
    write_results(&f->work->chosen, found);
    return true;
}
