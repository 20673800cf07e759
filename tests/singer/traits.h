/* What voices, vowels and consonants are like: the tables. */
#ifndef LINCTUS_SINGER_TRAITS_H
#define LINCTUS_SINGER_TRAITS_H

#include "singer.h"

enum { FORMANTS = 3, BODY_BELLS = 5 };

typedef struct {
    const char *name;
    double low_note, high_note; /* MIDI */
    bool woman, sung;
    double open;        /* share of the period in which the glottis is open */
    double tilt_hz;     /* above it the source falls by 6 dB per octave more */
    double breathiness; /* aspiration noise in the source, dB */
    double upper[2];    /* F4, F5, Hz */
    double sibilant_hz; /* peak of this voice's s */
    double vibrato_hz, vibrato_cents;
    const SingerBell *body; /* BODY_BELLS bells that bring the long-term spectrum near that of people */
} VoiceTraits;

typedef enum { ONSET_NONE, ONSET_HUMMED, ONSET_PLOSIVE, ONSET_FRICATIVE, ONSET_SIBILANT } Onset;

typedef struct {
    const char *name;
    Onset onset;
    double closure;           /* s of shut mouth before the noise */
    double shortest, longest; /* s of noise (of murmur, where hummed) */
    double level_db;          /* of the noise, to the vowels */
    double centre_hz, q;      /* of the noise; centre 0: this singer's s */
    double voicing;           /* loudness of the voice meanwhile, 0..1 */
    double breath;            /* s of aspiration before the voice sets in */
    double locus[FORMANTS];   /* where the formants point, a man's, Hz */
} ConsonantTraits;

const VoiceTraits *voice_traits(SingerVoice voice);
const ConsonantTraits *consonant_traits(SingerConsonant consonant);

#endif
