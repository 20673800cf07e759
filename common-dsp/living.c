#include "living.h"

#include "four_math.h"

#include <math.h>
#include <string.h>

/* Chosen, not searched. */
#define DEAD_AFTER      0.01 /* s of digital silence: longer than any zero crossing */
#define POLARITY_WINDOW 0.1  /* s of sound that are summed before polarity is judged again */
#define PAST_KEPT       0.97 /* of the sums so far, from one window to the next: they fall to 1/e in 3 s */
#define CANCELLED       0.01 /* power, 20 dB: only opposite polarity of one microphone brings the mean so far down */
#define SOUNDED_MOST    10   /* windows with sound in both channels before anything is turned over: 1 s */

enum { WEIGHED = 8 /* one sample of so many is summed, which is enough to tell the power */ };

void living_init(Living *l, double rate, uint32_t channels)
{
    memset(l, 0, sizeof *l);
    l->channels = channels;
    l->patience = (uint32_t)(DEAD_AFTER * rate);
    l->polarity.window = (uint32_t)(POLARITY_WINDOW * rate);
    living_reset(l);
}

void living_reset(Living *l)
{
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        l->silent[c] = l->patience;
    l->polarity = (LivingPolarity){.window = l->polarity.window, .left = l->polarity.window};
}

/* ---- Polarity ---- */

bool living_opposite(const LivingSums *sums)
{
    return sums->mean < CANCELLED * fmin(sums->channel[0], sums->channel[1]);
}

static double forget(double past, double now)
{
    return PAST_KEPT * past + now;
}

static void end_window(LivingPolarity *p)
{
    const bool both = p->now.channel[0] > 0.0 && p->now.channel[1] > 0.0;
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c)
        p->past.channel[c] = forget(p->past.channel[c], p->now.channel[c]);
    p->past.mean = forget(p->past.mean, p->now.mean);
    p->sounded += both && p->sounded < SOUNDED_MOST;
    p->opposite = p->sounded == SOUNDED_MOST && living_opposite(&p->past);
    p->now = (LivingSums){0};
    p->left = p->window;
}

/* n: up to the end of the window. */
static void weigh(LivingPolarity *p, const float *a, const float *b, uint32_t n)
{
    for (uint32_t t = p->left % WEIGHED; t < n; t += WEIGHED)
        living_add(&p->now, a[t], b[t]);
    p->left -= n;
    if (!p->left)
        end_window(p);
}

static const float *turned_over(Living *l, const float *x, uint32_t n)
{
    for (uint32_t t = 0; t < n; ++t)
        l->turned[t] = -x[t];
    return l->turned;
}

/* ---- Channels ---- */

static bool dead(Living *l, uint32_t c, float x)
{
    const bool silent = fabsf(x) < DSP_DIGITAL_SILENCE;
    l->silent[c] = silent ? l->silent[c] + (l->silent[c] < l->patience) : 0;
    return l->silent[c] == l->patience;
}

/* A piece of a channel: it sounds throughout, it is dead throughout, or neither. Most pieces are not MIXED. */
typedef enum { MIXED, SOUNDS, DEAD } Kind;

static Kind kind_of(const Living *l, uint32_t c, const float *x, uint32_t n)
{
    if (n == 0)
        return MIXED;
    if (l->silent[c] == l->patience && four_span(x, n).largest < DSP_DIGITAL_SILENCE)
        return DEAD;
    return four_span(x, n).smallest >= DSP_DIGITAL_SILENCE ? SOUNDS : MIXED;
}

static void sample_by_sample(Living *l, const float *const *in, const float *heard[DSP_CHANNELS], uint32_t n)
{
    for (uint32_t t = 0; t < n; ++t) {
        const float a = in[0][t], b = l->polarity.opposite ? -in[1][t] : in[1][t];
        const bool dead_a = dead(l, 0, a), dead_b = dead(l, 1, b);
        l->sound[0][t] = dead_a ? b : a;
        l->sound[1][t] = dead_b ? a : b;
        weigh(&l->polarity, in[0] + t, in[1] + t, 1);
    }
    heard[0] = l->sound[0];
    heard[1] = l->sound[1];
}

void living_process(Living *l, const float *const *in, const float *heard[DSP_CHANNELS], uint32_t n)
{
    heard[0] = in[0];
    heard[1] = NULL;
    if (l->channels == 1)
        return;
    const Kind kind[DSP_CHANNELS] = {kind_of(l, 0, in[0], n), kind_of(l, 1, in[1], n)};
    if (kind[0] == MIXED || kind[1] == MIXED || l->polarity.left < n) {
        sample_by_sample(l, in, heard, n);
        return;
    }
    const float *const sound[DSP_CHANNELS] = {in[0], l->polarity.opposite ? turned_over(l, in[1], n) : in[1]};
    for (uint32_t c = 0; c < DSP_CHANNELS; ++c) {
        heard[c] = sound[kind[c] == DEAD ? 1 - c : c];
        l->silent[c] = kind[c] == DEAD ? l->patience : 0;
    }
    weigh(&l->polarity, in[0], in[1], n);
}
