#include "plate_cut.h"

PlateCut plate_cut_from(const Biquad *section)
{
    const Svf s = svf_from_biquad(section);
    const double c = 1.0 / (1.0 + s.g * (s.g + s.k)), through = c * (s.m1 + s.m2 * s.g);
    return (PlateCut){.direct = s.m0 + s.g * through,
                      .by_first = through,
                      .by_second = s.m2 - s.g * through,
                      .keep = 2.0 * c - 1.0,
                      .lift = 2.0 * c * s.g,
                      .rise = 2.0 * c * s.g * s.g};
}

static inline double cut(const PlateCut *c, SvfState *s, double x)
{
    const double v = x - s->s2;
    const double y = c->direct * x + (c->by_first * s->s1 + c->by_second * s->s2);
    const double rising = s->s2 + c->lift * s->s1;
    s->s1 = c->keep * s->s1 + c->lift * v;
    s->s2 = rising + c->rise * v;
    return y;
}

static double between(double from, double goal, double way)
{
    return from + way * (goal - from);
}

static PlateCut cut_between(const PlateCut *from, const PlateCut *goal, double way)
{
    return (PlateCut){.direct = between(from->direct, goal->direct, way),
                      .by_first = between(from->by_first, goal->by_first, way),
                      .by_second = between(from->by_second, goal->by_second, way),
                      .keep = between(from->keep, goal->keep, way),
                      .lift = between(from->lift, goal->lift, way),
                      .rise = between(from->rise, goal->rise, way)};
}

void plate_cut_run(const PlateCut *from, const PlateCut *goal, SvfState *state, const float *in, float *out)
{
    double y[DSP_CELL];
    SvfState s = *state;
    PlateCut now = *goal;
    for (uint32_t t = 0; t < DSP_CELL; ++t) {
        if (from != goal)
            now = cut_between(from, goal, (t + 1.0) / DSP_CELL);
        y[t] = cut(&now, &s, (double)in[t]);
    }
    for (uint32_t t = 0; t < DSP_CELL; ++t)
        out[t] = (float)y[t];
    svf_hush(&s);
    *state = s;
}
