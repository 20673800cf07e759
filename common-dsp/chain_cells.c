#include "chain_cells.h"

#include "chain_points.h"
#include "damage.h"

/* ---- One cell ---- */

/* Removes damage, as the shell does for a plug-in of its own. */
static void undamage(float *const *x, uint32_t channels, uint32_t n)
{
    for (uint32_t ch = 0; ch < channels; ++ch)
        /* NOLINTNEXTLINE(clang-analyzer-core.CallAndMessage): as many channels and samples as came out of the stage */
        if (!damage_is_none(x[ch], n))
            damage_remove(x[ch], x[ch], n);
}

/* While nothing is compared, the raw take is only stored. */
static void keep_raw(Chain *c, const float *const *in, float *const *late, uint32_t n)
{
    if (fade_rests_at(&c->compare, false))
        delays_write(c->raw, c->channels, in, n);
    else
        delays_process(c->raw, c->channels, c->raw_late, in, late, n);
}

/* Cross-fades between the whole and the raw take. */
static void compare(Chain *c, const float *const *raw, uint32_t channels, float *const *out, uint32_t n)
{
    for (uint32_t i = 0; i < n; ++i) {
        const double share = fade_step(&c->compare), level = smooth_step(&c->level);
        for (uint32_t ch = 0; ch < PLATE_OUTS; ++ch) {
            /* NOLINTNEXTLINE(clang-analyzer-core.UndefinedBinaryOperatorResult): as many channels as were delayed */
            const double x = level * (double)raw[ch < channels ? ch : 0][i];
            out[ch][i] = (float)((1.0 - share) * (double)out[ch][i] + share * x);
        }
    }
}

/* A stage behind Trim, of `channels` inputs; out may be in. */
static void pass(const Processor *p, void *stage, uint32_t channels, float *const *in, float *const *out, uint32_t n)
{
    undamage(in, channels, n);
    p->cell(stage, (const float *const[]){in[0], in[1]}, out, n);
}

/* Until Compressor knows the voice, sounds() is false and nothing would be counted. */
static bool seeks_peaks(const Chain *c)
{
    return c->learning && c->compressor.figures.known && peaks_seek(&c->peaks);
}

/* `peaks` hears Tone's input, then Compressor runs. */
static void pass_compressor(Chain *c, const float *const *trimmed, float *const *x, uint32_t n)
{
    if (seeks_peaks(c))
        peaks_process(&c->peaks, trimmed, n);
    pass(&compressor, &c->compressor, c->channels, x, x, n);
}

void chain_cell(Chain *c, const float *const *in, float *const *out, uint32_t n)
{
    float trimmed[DSP_CHANNELS][DSP_CELL], sound[DSP_CHANNELS][DSP_CELL], late[DSP_CHANNELS][DSP_CELL];
    float *const t[] = {trimmed[0], trimmed[1]}, *const x[] = {sound[0], sound[1]}, *const raw[] = {late[0], late[1]};
    const float *const from[] = {trimmed[0], trimmed[1]};
    trim.cell(&c->trim, in, t, n);
    keep_raw(c, from, raw, n);
    pass(&tone, &c->tone, c->channels, t, x, n);
    pass_compressor(c, from, x, n);
    pass(&esses, &c->esses, c->channels, x, x, n);
    pass(&plate, &c->plate, c->channels, x, out, n);
    if (!fade_rests_at(&c->compare, false))
        compare(c, (const float *const[]){raw[0], raw[1]}, c->channels, out, n);
}

/* ---- Several cells, stage by stage ---- */

typedef float ChainSound[DSP_CHANNELS][DSP_CELL];

/* What lies between the stages. */
typedef struct {
    CHAIN_ALIGNED ChainSound trimmed[CHAIN_ROW];
    CHAIN_ALIGNED ChainSound behind[CHAIN_ROW]; /* Tone's output, where Trim's output is still needed */
    ChainSound *sound;                          /* the sound from Tone on: `trimmed` or `behind` */
    ChainPoint point[CHAIN_ROW];
} ChainCells;

static void trim_cells(Chain *c, ChainCells *r, const float *const *in, uint32_t cells)
{
    for (uint32_t k = 0; k < cells; ++k) {
        float *const x[] = {r->trimmed[k][0], r->trimmed[k][1]};
        const float *const from[] = {in[0] + (size_t)k * DSP_CELL,
                                     c->channels > 1 ? in[1] + (size_t)k * DSP_CELL : NULL};
        chain_tick_trim(c, &r->point[k]);
        trim.cell(&c->trim, from, x, DSP_CELL);
        delays_write(c->raw, c->channels, (const float *const[]){x[0], x[1]}, DSP_CELL);
    }
}

static void tone_cells(Chain *c, ChainCells *r, uint32_t cells)
{
    for (uint32_t k = 0; k < cells; ++k) {
        chain_tick_tone(c, &r->point[k]);
        pass(&tone, &c->tone, c->channels, (float *const[]){r->trimmed[k][0], r->trimmed[k][1]},
             (float *const[]){r->sound[k][0], r->sound[k][1]}, DSP_CELL);
    }
}

static void compressor_cells(Chain *c, ChainCells *r, uint32_t cells)
{
    for (uint32_t k = 0; k < cells; ++k) {
        chain_tick_compressor(c, &r->point[k]);
        pass_compressor(c, (const float *const[]){r->trimmed[k][0], r->trimmed[k][1]},
                        (float *const[]){r->sound[k][0], r->sound[k][1]}, DSP_CELL);
    }
}

static void esses_cells(Chain *c, ChainCells *r, uint32_t cells)
{
    for (uint32_t k = 0; k < cells; ++k) {
        float *const x[] = {r->sound[k][0], r->sound[k][1]};
        chain_tick_esses(c, &r->point[k]);
        pass(&esses, &c->esses, c->channels, x, x, DSP_CELL);
    }
}

static void plate_cells(Chain *c, ChainCells *r, float *const *out, uint32_t cells)
{
    for (uint32_t k = 0; k < cells; ++k) {
        plate.tick(&c->plate);
        pass(&plate, &c->plate, c->channels, (float *const[]){r->sound[k][0], r->sound[k][1]},
             (float *const[]){out[0] + (size_t)k * DSP_CELL, out[1] + (size_t)k * DSP_CELL}, DSP_CELL);
    }
}

void chain_cells(Chain *c, const float *const *in, float *const *out, uint32_t cells)
{
    ChainCells r;
    r.sound = c->learning ? r.behind : r.trimmed;
    trim_cells(c, &r, in, cells);
    tone_cells(c, &r, cells);
    compressor_cells(c, &r, cells);
    esses_cells(c, &r, cells);
    plate_cells(c, &r, out, cells);
}
