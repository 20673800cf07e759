/* What a report draws of a take, or of its mix: how loud it is along the time, the highs apart, and the average
 * spectrum. Of a take also where the phrases lie, as Check counts them (phrases.h). */
#ifndef LINCTUS_HARNESS_SURVEY_H
#define LINCTUS_HARNESS_SURVEY_H

#include "bank.h"
#include "hearing.h"
#include "phrases.h"
#include "sink.h"

#include <stddef.h>

#define SURVEY_HOP 0.02 /* s */

typedef struct {
    float power, highs; /* mean squares over the channels; highs: from 4 kHz up */
    float peak;         /* magnitude */
} SurveyHop;

typedef struct {
    double from, to; /* s */
} SurveyPhrase;

typedef struct {
    Sink sink;
    Block block;
    double rate;
    Bank bank;
    Svf high_pass;
    SvfState high_state[DSP_CHANNELS];

    uint32_t hop, at; /* samples in a hop; in the one under way */
    double power, highs;
    float peak;
    SurveyHop *hops;
    size_t used, room;

    bool finds_phrases;
    double voice_level; /* dB; UNITS_DB_FLOOR: not known */
    Hearing hearing;
    Phrases phrases;
    uint64_t frames; /* of the hearing */
    SurveyPhrase *phrase;
    size_t phrases_used, phrases_room;
} Survey;

/* channels: 1 or 2. Followed by survey_free(). */
void survey_start(Survey *s, double rate, uint32_t channels);

/* The phrases are to be found too; voice_level: the voice's, UNITS_DB_FLOOR where it is not known. false: out of
 * memory. */
bool survey_find_phrases(Survey *s, double voice_level, Error *e);

void survey_free(Survey *s); /* safe on a zeroed struct, and twice */

/* Mean square from one time to another, s; 0 where nothing was heard. highs: of those alone. */
double survey_power(const Survey *s, double from, double to, bool highs);

#endif
