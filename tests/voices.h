/* Recorded voices for tests: takes made at test time of recordings that Debian packages bring, as they are spoken and
 * turned into singing. Nothing of them is kept in this tree; what was made stays in the build folder (LINCTUS_BUILD or
 * build, below voices/), so that the next test finds it.
 *
 * Every speaker is either for tuning (constants may be set on him) or for judging (no constant was set on him, and
 * none may be: a judge whom constants were set on is none). What is measured on judges is what is reported.
 *
 * Functions that make a take return false where a package is not installed, after printing a line that names it: the
 * test then calls skip(). Where something else goes wrong, the cmocka test that called fails. */
#ifndef LINCTUS_VOICES_H
#define LINCTUS_VOICES_H

#include "spoken.h"

#define VOICES_RATE 48000.0 /* Hz, of every take */

typedef enum { VOICES_TUNE, VOICES_JUDGE } VoicesUse;

typedef struct {
    const char *name, *what; /* one word; who it is */
    VoicesUse use;
    double seconds;               /* about how much there is, rests and all */
    double pitch_low, pitch_high; /* Hz: where the pitch is looked for when it is turned into singing */
} VoicesVoice;

/* The first VOICES_LONG have half a minute or more of speech; the others are for what a few words will do for. */
enum { VOICES_LONG = 12, VOICES_ALL = 17 };
extern const VoicesVoice voices[VOICES_ALL];

/* A take of about `seconds`: whole words and sentences of this speaker, always the same, strung together with rests of
 * 0.25 to 0.6 s that hold the recording's own direct current and noise, in grains of 40 to 60 ms at random times: a
 * hum of the recording is no steady tone there (common-dsp/hum.md). Words and rests are faded into each other over 20
 * ms, since a step is a click. The next part has other words. Shorter where the recording has no more: its last part
 * has what is left; after that, no samples (n is 0, and true is returned). Frees nothing: the take is the caller's. */
bool voices_speak(Spoken *take, uint32_t voice, uint32_t part, double seconds);

typedef struct {
    double start, end; /* seconds; from the middle of the way to the note to its end */
    double hz;         /* before vibrato (which reaches 0.45 semitones to each side) */
} VoicesNote;

typedef struct {
    Spoken take;
    uint32_t notes;
    VoicesNote *note; /* in order */
} VoicesSong;

/* The same speaker's words as singing, by praat (tests/sing.praat): stepwise notes with vibrato, voiced parts 2.5 times
 * as long, with the speaker's own vocal tract and room. The same seed gives the same song. `semitones` moves it all. */
bool voices_sing(VoicesSong *song, uint32_t voice, uint32_t part, double seconds, uint32_t seed, double semitones);
void voices_song_free(VoicesSong *song);

/* Praat's pitch of such a take, spoken (seed 0) or sung: Hz every 10 ms from 0 s on, 0 where it finds none. What was
 * made stays in the build folder too. */
typedef struct {
    uint32_t frames;
    double *hz;
} VoicesPitch;

bool voices_pitch(VoicesPitch *pitch, uint32_t voice, uint32_t part, double seconds, uint32_t seed, double semitones);
void voices_pitch_free(VoicesPitch *pitch);

/* A copy of the first (0) or second (1) half of a take, without phones. */
void voices_half(Spoken *half, const Spoken *take, uint32_t which);

/* ---- Faults to plant ---- */

/* A peaking filter of the Audio EQ Cookbook (tests/analog.h), run over the samples. */
typedef struct {
    double hz, db, q;
} VoicesBell;

enum { VOICES_BELLS = 3 };

/* Where a test plants: `count` bells at random places of 180..1200 Hz (evenly over octaves), 0.6 octaves or more
 * apart, Q 2..6, +4..+9 dB. The same seed gives the same bells. */
void voices_bells(VoicesBell bell[VOICES_BELLS], uint32_t count, uint32_t seed);

/* Plants them. */
void voices_plant(Spoken *take, const VoicesBell *bell, uint32_t count);
void voices_gain(Spoken *take, double db);

#endif
