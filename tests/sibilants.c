#include "sibilants.h"

#include "design.h"
#include "sos.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

const char *const sibilants_voice[SIBILANTS_VOICES] = {"awb", "rms", "slt"};

static const char *const sentence[SIBILANTS_SENTENCES] = {
    "Slow ships cross the silent sea as the season closes.",
    "Our choice of cheese was rich but much too expensive.",
    "The garage door was closed, and the usual treasure lay inside.",
    "George enjoys gentle jazz and ginger juice on Sundays.",
    "You are humming a lullaby near the green meadow.",
    "Fresh fish is served with mashed beans and lemon zest.",
    "He threw the first frozen ball over the high fence.",
    "Some roses and daisies grow as tall as these houses.",
    "The shy musician wished for a short session in the shade.",
    "Whose hat has fallen behind the heavy hall door?",
    "Stacks of bricks and sticks block the next street.",
    "An angel in a beige coat watched the children catch fireflies.",
    "Every evening the old violin gave a very even vibrato.",
    "Dreams of distant stars kept the sailor sleepless.",
    "Both brothers bathe in the north bay with the other youths.",
    "Listen, the cello section always rushes this passage.",
};

static bool among(const char *name, const char *const *names)
{
    for (; *names; ++names)
        if (!strcmp(name, *names))
            return true;
    return false;
}

PhoneKind phone_kind(const SpokenPhone *phone)
{
    static const char *const sibilant[] = {"s", "z", "sh", "zh", "ch", "jh", NULL};
    static const char *const neither[] = {"t", "d", "f", "th", "k", NULL};
    static const char *const vowel[] = {"aa", "ae", "ah", "ao", "aw", "ax", "ay", "eh", "er",
                                        "ey", "ih", "iy", "ow", "oy", "uh", "uw", NULL};
    return among(phone->name, sibilant)  ? PHONE_SIBILANT
           : among(phone->name, neither) ? PHONE_NEITHER
           : among(phone->name, vowel)   ? PHONE_VOWEL
                                         : PHONE_OTHER;
}

static void append(Spoken *take, const Spoken *more)
{
    const double start = take->n / more->rate;
    take->rate = more->rate;
    take->x = realloc(take->x, (take->n + more->n) * sizeof *take->x);
    take->phone = realloc(take->phone, (take->phones + more->phones) * sizeof *take->phone);
    assert_non_null(take->x);
    assert_non_null(take->phone);
    memcpy(take->x + take->n, more->x, more->n * sizeof *take->x);
    take->n += more->n;
    for (uint32_t i = 0; i < more->phones; ++i) {
        SpokenPhone *p = &take->phone[take->phones++];
        *p = more->phone[i];
        p->start += start;
        p->end += start;
    }
}

bool sibilants_say(Spoken *take, const char *voice)
{
    *take = (Spoken){0};
    for (uint32_t i = 0; i < SIBILANTS_SENTENCES; ++i) {
        Spoken one;
        if (!spoken_say(&one, voice, sentence[i]))
            return false;
        append(take, &one);
        spoken_free(&one);
    }
    return true;
}

void sibilants_say_all(Spoken take[SIBILANTS_VOICES])
{
    for (uint32_t v = 0; v < SIBILANTS_VOICES; ++v)
        if (!sibilants_say(&take[v], sibilants_voice[v]))
            break;
}

void sibilants_free_all(Spoken take[SIBILANTS_VOICES])
{
    for (uint32_t v = 0; v < SIBILANTS_VOICES; ++v)
        spoken_free(&take[v]);
}

/* ---- Raising ---- */

static void reverse(float *x, uint32_t n)
{
    for (uint32_t i = 0; i < n / 2; ++i) {
        const float kept = x[i];
        x[i] = x[n - 1 - i];
        x[n - 1 - i] = kept;
    }
}

/* Forward and backward, so that the phase stays. */
float *sibilants_hiss(const Spoken *take)
{
    float *const hiss = malloc(take->n * sizeof *hiss);
    assert_non_null(hiss);
    memcpy(hiss, take->x, take->n * sizeof *hiss);
    Biquad high[2];
    design_butterworth_high_pass(4, 3000.0, take->rate, high);
    for (uint32_t turn = 0; turn < 2; ++turn) {
        Sos s;
        sos_init(&s, 2, 1);
        sos_jump(&s, 0, &high[0]);
        sos_jump(&s, 1, &high[1]);
        sos_process(&s, (const float *[]){hiss}, (float *[]){hiss}, take->n);
        reverse(hiss, take->n);
    }
    return hiss;
}

void sibilants_raise(Spoken *take, const float *hiss, const Span *span, double db)
{
    const double flank = 0.005, length = span->end - span->start;
    for (uint32_t i = (uint32_t)(span->start * take->rate); i < (uint32_t)(span->end * take->rate); ++i) {
        const double into = i / take->rate - span->start;
        const double share = fmax(fmin(1.0, fmin(into, length - into) / flank), 0.0);
        take->x[i] += (float)(db_to_gain(db * share) - 1.0) * hiss[i];
    }
}

/* ---- Scores ---- */

static double shared(const Span *span, const SpokenPhone *phone)
{
    return fmax(0.0, fmin(span->end, phone->end) - fmax(span->start, phone->start));
}

static bool is_wrong(const Span *span, const Spoken *take)
{
    for (uint32_t i = 0; i < take->phones; ++i) {
        const PhoneKind kind = phone_kind(&take->phone[i]);
        if ((kind == PHONE_SIBILANT || kind == PHONE_NEITHER) && shared(span, &take->phone[i]) > 0.0)
            return false;
    }
    return true;
}

void spans_score(SpanScore *score, const Span *span, uint32_t spans, const Spoken *take)
{
    *score = (SpanScore){0};
    for (uint32_t i = 0; i < take->phones; ++i) {
        const SpokenPhone *phone = &take->phone[i];
        if (phone_kind(phone) != PHONE_SIBILANT)
            continue;
        double covered = 0.0;
        for (uint32_t k = 0; k < spans; ++k)
            covered += shared(&span[k], phone);
        ++*(covered >= 0.4 * (phone->end - phone->start) ? &score->right : &score->missed);
    }
    for (uint32_t k = 0; k < spans; ++k)
        score->wrong += is_wrong(&span[k], take);
}

double spans_f(const SpanScore *s)
{
    return s->right ? 2.0 * s->right / (2.0 * s->right + s->missed + s->wrong) : 0.0;
}
