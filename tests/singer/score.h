/* What is sung and when: phrases of notes, drawn from a seed. Knows nothing of sound or sample rates. */
#ifndef LINCTUS_SINGER_SCORE_H
#define LINCTUS_SINGER_SCORE_H

#include "singer.h"

/* Times in seconds from the start of its phrase: closure [start, noise), noise or murmur [noise, vowel), then the
 * vowel up to `end`. */
typedef struct {
    double start, noise, vowel_start, end;
    double midi;
    double accent_db;
    SingerVowel vowel;
    SingerConsonant consonant;
    double raised_db; /* a sibilant that explodes */
    double popped_db; /* a plosive that pops */
} Syllable;

typedef struct {
    double start; /* in the take, without added rests */
    double length;
    size_t first, count; /* its syllables */
} ScorePhrase;

typedef struct {
    Syllable *syllables;
    size_t syllable_count, syllable_room;
    ScorePhrase *phrases;
    size_t phrase_count, phrase_room;
    double seconds;
} Score;

/* false: no memory. Then, too, score_free() is due. */
bool score_write(Score *score, const SingerSpec *spec);
void score_free(Score *score);

#endif
