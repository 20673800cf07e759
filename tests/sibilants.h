/* Spoken takes for the tests of sibilants: invented sentences, their labels as sibilant, neither, or other. */
#ifndef LINCTUS_SIBILANTS_H
#define LINCTUS_SIBILANTS_H

#include "spoken.h"

/* The detector was tuned on other sentences than these. */
enum { SIBILANTS_SENTENCES = 16, SIBILANTS_VOICES = 3 };

/* The voices of flite that have labels to the phone. */
extern const char *const sibilants_voice[SIBILANTS_VOICES];

typedef enum {
    PHONE_OTHER,
    PHONE_SIBILANT, /* s z sh zh ch jh */
    PHONE_NEITHER,  /* t d f th k: hearing a sibilant there is neither right nor wrong */
    PHONE_VOWEL,    /* an other that sounds */
} PhoneKind;

PhoneKind phone_kind(const SpokenPhone *phone);

/* One take of flite's voice saying all sentences after one another, with its labels. False: flite is not installed. */
bool sibilants_say(Spoken *take, const char *voice);

/* A take of each voice; the last has no samples where flite is not installed. */
void sibilants_say_all(Spoken take[SIBILANTS_VOICES]);
void sibilants_free_all(Spoken take[SIBILANTS_VOICES]);

typedef struct {
    double start, end; /* seconds */
} Span;

/* What an exploding sibilant is louder in: the take's part above 3 kHz, in phase with it. As long as the take; the
 * caller's. The voicing of a z or zh is no louder than else. */
float *sibilants_hiss(const Spoken *take);

/* What stands in the span is raised by db, with flanks of 5 ms inside it. hiss: sibilants_hiss() of the take. */
void sibilants_raise(Spoken *take, const float *hiss, const Span *span, double db);

typedef struct {
    uint32_t right, missed, wrong;
} SpanScore;

/* How spans that were heard fit the labels of a take. A sibilant label is right where spans cover 40 % of it or more,
 * else missed. A span is wrong that touches neither a sibilant nor a phone that is PHONE_NEITHER. */
void spans_score(SpanScore *score, const Span *span, uint32_t spans, const Spoken *take);

/* F measure: harmonic mean of precision and recall. */
double spans_f(const SpanScore *score);

#endif
