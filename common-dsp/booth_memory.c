#include "booth_memory.h"

#include "dsp.h"
#include "units.h"

#include <math.h>

/* Set on the voices for tuning: booth.md. There (test_booth_voices) late sound of speech goes down by 4.8 dB in the
 * median, and no dry take is changed. With QUICKEST_SHARE halved it is 5.2 dB, but in one take nothing; with it doubled
 * 4.0 dB, and a dry take changes by 0.3 dB. Half of USUAL_WEIGHT moves that by 0.02 dB. The rest was not searched. */
#define QUICKEST_SHARE 0.25 /* share of falls that are quicker than the decay time that tells a room from none */
#define TYPICAL_SHARE  0.5  /* share of falls that are quicker than the room's decay time in a band */
#define DRY_DECAY      0.28 /* s: up to here there is no room, as the slowest voices stop within that */
#define LIVE_DECAY     0.34 /* s: from here on there surely is one */

#define LOWER_SHARE         0.4  /* share of falls with less late sound than the figure; slow ends of words add some */
#define USUAL_DIRECT        3.0  /* dB: direct sound over all that the usual room adds, in a home take */
#define USUAL_WEIGHT        15.0 /* falls: weight of the usual room against the falls heard */
#define FARTHEST_FROM_USUAL 6.0  /* dB from the usual room: what is further off is another sound, and counts as this */
#define SHORT_DECAY         0.35 /* s: decay time of a short room, hardly longer than a voice's */
#define SHORT_ROOM_DB       (-1.0) /* dB added to the late sound there; set on the voices for tuning, as LONG_ROOM_DB */
#define LONG_DECAY          0.45   /* s: decay time of a longer room */
#define LONG_ROOM_DB        2.0    /* dB added to the late sound there */

enum {
    ENOUGH = 3,                  /* falls that make a figure */
    EVEN_ENOUGH = 20,            /* blocks that make a makeup */
    BELOW_TOP = BOOTH_BANDS - 1, /* bands below 4 kHz */
    BANDS_ENOUGH = 2,            /* bands that make the decay time of the middle */
};

static const TallyScale decay_scale = {.low = -4.5, .step = 1.0 / 16.0, .bins = BOOTH_DECAY_BINS}; /* 0.044 to 8 s */
static const TallyScale late_scale = {.low = -40.0, .step = 0.5, .bins = BOOTH_LATE_BINS};         /* to +10 dB */

enum { FALLS = 1, EVEN };

#define MEMBER(member) LEARNED_IN(BoothMemory, member, LEARNED_ROW)

const LearnedSchema booth_schema = {
    .fields = 4,
    .field = {{"booth_decays", BOOTH_BANDS *BOOTH_DECAY_BINS, 0.f, TALLY_MOST, MEMBER(decay), .group = FALLS},
              {"booth_late", BOOTH_BANDS *BOOTH_LATE_BINS, 0.f, TALLY_MOST, MEMBER(late), .group = FALLS},
              {"booth_blocks", EVEN_FINE, 0.f, 65535.f, MEMBER(blocks), .group = EVEN},
              {"booth_energy", EVEN_ROWS *BOOTH_GAINS, 0.f, 65536.f, MEMBER(energy), .unit = 1.0 / 256.0,
               .group = EVEN}},
};

double booth_band_low(uint32_t band)
{
    static const double low[BOOTH_BANDS] = {150.0, 500.0, 1000.0, 2000.0, 4000.0};
    return band < BOOTH_BANDS ? low[band] : (double)INFINITY;
}

/* ---- Tallies with fewer bins than tally.h's ---- */

static Tally whole(const uint32_t *count, uint32_t bins)
{
    Tally t = {{0}};
    for (uint32_t b = 0; b < bins; ++b)
        t.count[b] = (uint16_t)count[b];
    return t;
}

static void add(uint32_t *count, const TallyScale *scale, double value)
{
    Tally t = whole(count, scale->bins);
    tally_add(&t, scale, value);
    for (uint32_t b = 0; b < scale->bins; ++b)
        count[b] = t.count[b];
}

/* The value that `share` of those counted lie under; false: fewer than `enough` were counted. */
static bool quantile(const uint32_t *count, const TallyScale *scale, double share, uint32_t enough, double *value)
{
    const Tally t = whole(count, scale->bins);
    const uint32_t total = tally_total(&t, scale);
    if (total < enough)
        return false;
    *value = tally_below(&t, scale, share * total);
    return true;
}

/* ---- The room ---- */

void booth_memory_decay(BoothMemory *m, uint32_t band, double seconds)
{
    add(m->decay[band], &decay_scale, log2(seconds));
}

static double decay_that(const BoothMemory *m, uint32_t band, double share)
{
    double octaves;
    return quantile(m->decay[band], &decay_scale, share, ENOUGH, &octaves) ? exp2(octaves) : 0.0;
}

double booth_memory_decay_of(const BoothMemory *m, uint32_t band)
{
    return decay_that(m, band, QUICKEST_SHARE);
}

void booth_memory_late(BoothMemory *m, uint32_t band, double late)
{
    add(m->late[band], &late_scale, power_to_db(late));
}

uint32_t booth_memory_falls(const BoothMemory *m)
{
    uint32_t most = 0;
    for (uint32_t b = 0; b < BOOTH_BANDS; ++b) {
        const Tally t = whole(m->decay[b], BOOTH_DECAY_BINS);
        const uint32_t falls = tally_total(&t, &decay_scale);
        most = falls > most ? falls : most;
    }
    return most;
}

double booth_memory_left(double decay)
{
    return db_to_power(-60.0 * BOOTH_LEARNED_FROM / decay);
}

/* s: geometric mean over the bands below 4 kHz, each by its quickest quarter of falls. */
static double middle_of(const BoothMemory *m)
{
    double sum = 0.0;
    uint32_t n = 0;
    for (uint32_t b = 0; b < BELOW_TOP; ++b) {
        const double decay = booth_memory_decay_of(m, b);
        sum += decay > 0.0 ? log(decay) : 0.0;
        n += decay > 0.0;
    }
    return n >= BANDS_ENOUGH ? exp(sum / n) : 0.0;
}

/* dB: late over early energy in the usual room with this decay time. */
static double usual_late(double decay)
{
    const double late = booth_memory_left(decay);
    return power_to_db(late / (db_to_power(USUAL_DIRECT) + 1.0 - late));
}

/* Pools the falls of all bands below 4 kHz, as one band has too few of them. */
static uint32_t late_falls(const BoothMemory *m, uint32_t count[BOOTH_LATE_BINS])
{
    uint32_t falls = 0;
    for (uint32_t b = 0; b < BELOW_TOP; ++b)
        for (uint32_t i = 0; i < BOOTH_LATE_BINS; ++i) {
            count[i] += m->late[b][i];
            falls += m->late[b][i];
        }
    return falls;
}

static double late_of(const BoothMemory *m, double decay)
{
    uint32_t count[BOOTH_LATE_BINS] = {0};
    const uint32_t falls = late_falls(m, count);
    double db;
    if (!(decay > 0.0) || !quantile(count, &late_scale, LOWER_SHARE, ENOUGH, &db))
        return 0.0;
    const double usual = usual_late(decay), away = dsp_clamp(db - usual, -FARTHEST_FROM_USUAL, FARTHEST_FROM_USUAL);
    const double found = usual + falls / (falls + USUAL_WEIGHT) * away;
    const double longer = dsp_clamp((decay - SHORT_DECAY) / (LONG_DECAY - SHORT_DECAY), 0.0, 1.0);
    return db_to_power(found + SHORT_ROOM_DB + longer * (LONG_ROOM_DB - SHORT_ROOM_DB));
}

static void fill_from_neighbours(double decay[BOOTH_BANDS])
{
    for (uint32_t b = 1; b < BOOTH_BANDS; ++b)
        if (!(decay[b] > 0.0))
            decay[b] = decay[b - 1];
    for (uint32_t b = BOOTH_BANDS - 1; b > 0; --b)
        if (!(decay[b - 1] > 0.0))
            decay[b - 1] = decay[b];
}

BoothRoom booth_memory_room(const BoothMemory *m)
{
    BoothRoom r = {0};
    for (uint32_t b = 0; b < BOOTH_BANDS; ++b)
        r.decay[b] = decay_that(m, b, TYPICAL_SHARE);
    r.middle = middle_of(m);
    r.late = late_of(m, r.middle);
    r.sure = r.late > 0.0 ? dsp_clamp((r.middle - DRY_DECAY) / (LIVE_DECAY - DRY_DECAY), 0.0, 1.0) : 0.0;
    fill_from_neighbours(r.decay);
    return r;
}

/* ---- The loudness ---- */

static void halve(BoothMemory *m)
{
    even_halve(m->blocks, EVEN_FINE);
    for (uint32_t row = 0; row < EVEN_ROWS; ++row)
        even_halve(m->energy[row], BOOTH_GAINS);
}

bool booth_memory_block(BoothMemory *m, const double energy[BOOTH_GAINS])
{
    double all = 0.0;
    for (uint32_t g = 0; g < BOOTH_GAINS; ++g)
        all += energy[g];
    if (all < EVEN_ABSOLUTE)
        return false;
    const uint32_t fine = even_fine(power_to_db(all)), row = fine / EVEN_STEP;
    const double unit = even_row_power(row) / BOOTH_UNITS;
    bool full = ++m->blocks[fine] >= TALLY_MOST;
    for (uint32_t g = 0; g < BOOTH_GAINS; ++g) {
        m->energy[row][g] += (uint32_t)(fmin(energy[g] / unit, EVEN_MOST_UNITS / 4.0) + 0.5);
        full |= m->energy[row][g] > EVEN_MOST_UNITS / 2;
    }
    if (full)
        halve(m);
    return true;
}

/* Gain that a column stands for: its middle, but exactly 1 for what is not turned down. */
static double gain_of(uint32_t column)
{
    return column == BOOTH_GAINS - 1 ? 1.0 : (column + 0.5) / (BOOTH_GAINS - 1);
}

double booth_memory_makeup(const BoothMemory *m, double lowest)
{
    EvenSums sums = {{0}, {0}, {0}};
    uint32_t heard = 0;
    for (uint32_t i = 0; i < EVEN_FINE; ++i)
        heard += m->blocks[i];
    for (uint32_t row = 0; row < EVEN_ROWS; ++row) {
        const double unit = even_row_power(row) / BOOTH_UNITS;
        for (uint32_t g = 0; g < BOOTH_GAINS; ++g) {
            const double in = unit * m->energy[row][g];
            const double gain = fmax(gain_of(g), lowest);
            sums.in[row] += in;
            sums.cross[row] += in * gain;
            sums.out[row] += in * gain * gain;
        }
    }
    return heard >= EVEN_ENOUGH ? even_gain(m->blocks, &sums, 1.0) : 0.0;
}
