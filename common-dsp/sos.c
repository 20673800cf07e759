#include "sos.h"

#include <string.h>

void sos_init(Sos *s, uint32_t sections, uint32_t channels)
{
    memset(s, 0, sizeof *s);
    s->sections = sections;
    s->channels = channels;
    for (uint32_t i = 0; i < sections; ++i)
        sos_jump(s, i, &biquad_identity);
}

void sos_reset(Sos *s)
{
    memset(s->state, 0, sizeof s->state);
    for (uint32_t i = 0; i < s->sections; ++i)
        sos_jump_to(s, i, &s->goal[i]);
}

void sos_jump(Sos *s, uint32_t section, const Biquad *b)
{
    const Svf to = svf_from_biquad(b);
    sos_jump_to(s, section, &to);
}

void sos_jump_to(Sos *s, uint32_t section, const Svf *to)
{
    s->now[section] = s->goal[section] = *to;
    s->glide[section] = 0;
    s->rowed = false;
}

static bool is_same(const Svf *a, const Svf *b)
{
    return a->direct == b->direct && a->by_first == b->by_first && a->by_second == b->by_second && a->keep == b->keep &&
           a->lift == b->lift && a->rise == b->rise;
}

void sos_glide(Sos *s, uint32_t section, const Biquad *b)
{
    const Svf to = svf_from_biquad(b);
    sos_glide_to(s, section, &to);
}

void sos_glide_to(Sos *s, uint32_t section, const Svf *to)
{
    if (s->glide[section])
        s->now[section] = svf_between(&s->now[section], &s->goal[section], 1.0 - s->glide[section] * (1.0 / DSP_CELL));
    s->goal[section] = *to;
    s->glide[section] = is_same(&s->now[section], to) ? 0 : DSP_CELL;
    s->rowed = false;
}

void sos_hush(Sos *s)
{
    for (uint32_t c = 0; c < s->channels; ++c)
        for (uint32_t i = 0; i < s->sections; ++i)
            svf_hush(&s->state[c][i]);
}

static bool rests(const Sos *s, uint32_t section)
{
    return svf_is_flat(&s->now[section]) && svf_is_flat(&s->goal[section]);
}

/* ---- The sections that work, in a row ---- */

/* While any of them glides, this is done anew for every piece. */
static void gather(Sos *s)
{
    SosRow *w = &s->row;
    w->sections = w->glide = 0;
    for (uint32_t i = 0; i < s->sections; ++i) {
        if (rests(s, i))
            continue;
        const uint32_t at = w->sections++, left = s->glide[i];
        w->of[at] = i;
        w->now[at] = s->now[i];
        w->goal[at] = s->goal[i];
        w->way[at] = (DSP_CELL + 1 - left) * (1.0 / DSP_CELL);
        if (left && (!w->glide || left < w->glide))
            w->glide = left;
    }
    s->rowed = w->glide == 0;
}

static void run_lanes(const SosRow *w, SvfState own[][SOS_SECTIONS], uint32_t channels, double *const *x, uint32_t n)
{
    if (channels == 2 && w->glide)
        lanes_glide_both(w->now, w->goal, w->way, (SvfState *const[]){own[0], own[1]}, w->sections, x, n);
    else if (channels == 2)
        lanes_run_both(w->now, (SvfState *const[]){own[0], own[1]}, w->sections, x, n);
    else if (w->glide)
        lanes_glide(w->now, w->goal, w->way, own[0], w->sections, x[0], n);
    else
        lanes_run(w->now, own[0], w->sections, x[0], n);
}

static void work(Sos *s, const SosRow *w, double *const *x, uint32_t from, uint32_t n)
{
    SvfState own[DSP_CHANNELS][SOS_SECTIONS];
    double *at[DSP_CHANNELS] = {NULL};
    for (uint32_t c = 0; c < s->channels; ++c) {
        at[c] = x[c] + from;
        for (uint32_t i = 0; i < w->sections; ++i)
            own[c][i] = s->state[c][w->of[i]];
    }
    run_lanes(w, own, s->channels, at, n);
    for (uint32_t c = 0; c < s->channels; ++c)
        for (uint32_t i = 0; i < w->sections; ++i)
            s->state[c][w->of[i]] = own[c][i];
}

static void arrive(Sos *s, uint32_t section)
{
    s->now[section] = s->goal[section];
    for (uint32_t c = 0; rests(s, section) && c < s->channels; ++c)
        s->state[c][section] = (SvfState){0};
}

static void move_on(Sos *s, uint32_t n)
{
    for (uint32_t i = 0; i < s->sections; ++i) {
        if (s->glide[i] == 0)
            continue;
        s->glide[i] -= n;
        if (s->glide[i] == 0)
            arrive(s, i);
    }
}

void sos_run(Sos *s, double *const *x, uint32_t n)
{
    const SosRow *w = &s->row;
    for (uint32_t at = 0, m; at < n; at += m) {
        if (!s->rowed)
            gather(s);
        if (w->sections == 0)
            return;
        m = w->glide && w->glide < n - at ? w->glide : n - at;
        work(s, w, x, at, m);
        if (w->glide)
            move_on(s, m);
    }
}

/* ---- Floats ---- */

static void process_cell(Sos *s, const float *const *in, float *const *out, uint32_t from, uint32_t n)
{
    double x[DSP_CHANNELS][DSP_CELL];
    for (uint32_t c = 0; c < s->channels; ++c)
        dsp_widen(x[c], in[c] + from, n);
    sos_run(s, (double *const[]){x[0], x[1]}, n);
    for (uint32_t c = 0; c < s->channels; ++c)
        dsp_narrow(out[c] + from, x[c], n);
}

void sos_process(Sos *s, const float *const *in, float *const *out, uint32_t n)
{
    for (uint32_t at = 0; at < n; at += DSP_CELL)
        process_cell(s, in, out, at, n - at < DSP_CELL ? n - at : DSP_CELL);
}
