/* Speech for tests, made or loaded at test time from programs and recordings that Debian packages bring. None of it is
 * kept here.
 *
 * Every function that makes or loads returns false where its package is not installed, after printing a line that names
 * the package: the test then calls skip(). Where the package is there and something else goes wrong, the cmocka test
 * that called fails. */
#ifndef LINCTUS_SPOKEN_H
#define LINCTUS_SPOKEN_H

#include <stdbool.h>
#include <stdint.h>

typedef struct {
    double start, end; /* seconds */
    char name[8];      /* as the synthesiser writes it: "s", "ah", "pau" */
} SpokenPhone;

typedef struct {
    double rate; /* Hz */
    uint32_t n;
    float *x; /* mono, full scale 1 */
    uint32_t phones;
    SpokenPhone *phone; /* in order, without gaps; none for recordings and for espeak-ng */
} Spoken;

/* Invented sentences; every sibilant of English stands in each of the first four. */
enum { SPOKEN_SENTENCES = 8 };
extern const char *const spoken_sentences[SPOKEN_SENTENCES];

/* Package flite. voice: awb, rms (men), slt (a woman), at 16 kHz; kal (a man) at 8 kHz, whose
 * labels run up to 0.1 s late. Phones are labelled.
 */
bool spoken_say(Spoken *s, const char *voice, const char *text);

/* Package espeak-ng, 22.05 kHz. voice: "en", "en+f3" and the like; pitch 0..99. No phones. */
bool spoken_robot(Spoken *s, const char *voice, int pitch, const char *text);

/* Recorded speech. which:
 *   "walk"                          package supercollider-common, 44.1 kHz, a man, 2.4 s
 *   "cards1".."cards5", "numbers", "something", "forward"   package pocketsphinx-testdata, 16 kHz, 1 to 4 s
 *   "reading1".."reading5"          the same package, 16 kHz, a woman reads, from a 64 kbit/s source, 3 to 7 s */
bool spoken_load(Spoken *s, const char *which);

/* To another sample rate: windowed sinc, 90 dB or better, flat to 0.45 of the lower rate. */
void spoken_resample(Spoken *s, double rate);

/* No phone lasts longer than the sound: called by whatever makes or resamples one. */
void spoken_end_phones(Spoken *s);

/* Frees; safe on a zeroed struct. */
void spoken_free(Spoken *s);

#endif
