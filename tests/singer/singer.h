/* An invented singer: a source-filter voice that sings or speaks wordless phrases, with faults on demand.
 *
 * A take is made from a seed alone: the same SingerSpec gives the same take on every run. Faults never change what
 * is sung: the same seed with a fault switched on or off gives the same notes, consonants and timing, so that a
 * faulty take can be compared with its own faultless twin, sample by sample. Rests that are added push the
 * phrases apart and leave each of them as it was.
 *
 *     SingerTake take;
 *     if (!singer_sing(&(SingerSpec){.voice = SINGER_MEZZO, .seed = 1, .gain_db = -24.0, .hiss_db = -50.0}, &take))
 *         fail();
 *     ... take.audio, take.frames, take.voice_level_db ...
 *     singer_free(&take);
 *
 * Method: the pulse of Klatt & Klatt, "Analysis, synthesis, and perception of voice quality variations among female
 * and male talkers", JASA 87 (1990), its corners band-limited; formants of Peterson & Barney, JASA 24 (1952), as the
 * partial fractions of an all-pole tract; fricative peaks of Jongman, Wayland & Wong, JASA 108 (2000).
 *
 * Every level is plain RMS unless it says peak (a full-scale sine reads -3.01). Times are seconds from the first frame.
 */
#ifndef LINCTUS_SINGER_H
#define LINCTUS_SINGER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

typedef enum {
    SINGER_BASS,
    SINGER_BARITONE,
    SINGER_TENOR,
    SINGER_ALTO,
    SINGER_MEZZO,
    SINGER_SOPRANO,
    SINGER_SPOKEN_LOW,
    SINGER_SPOKEN_HIGH,
    SINGER_VOICES
} SingerVoice;

typedef enum {
    SINGER_I,  /* as in heed */
    SINGER_E,  /* head */
    SINGER_AE, /* had */
    SINGER_A,  /* father */
    SINGER_O,  /* caught */
    SINGER_U,  /* who'd */
    SINGER_UH, /* but */
    SINGER_VOWELS
} SingerVowel;

typedef enum {
    SINGER_NONE, /* the note starts with its vowel */
    SINGER_M,
    SINGER_N,
    SINGER_L,
    SINGER_P,
    SINGER_B,
    SINGER_T,
    SINGER_D,
    SINGER_K,
    SINGER_G,
    SINGER_F,
    SINGER_TH,
    SINGER_S,
    SINGER_Z,
    SINGER_SH,
    SINGER_ZH,
    SINGER_CH,
    SINGER_CONSONANTS
} SingerConsonant;

enum { SINGER_BOXY = 3 };

/* A resonance: a bell. hz 0: none. */
typedef struct {
    double hz, db;
    double q; /* 0: 4 */
} SingerBell;

/* Zero everywhere is a faultless bass, 30 s at 48 kHz, at -18 dB. Levels of added noise are relative to the voice
 * (to level_db), because gain_db moves the whole recording; 0 always means "none". */
typedef struct {
    SingerVoice voice;
    uint64_t seed;   /* the environment's LINCTUS_SEEDS is added to it: seeds.h */
    double rate;     /* Hz, 8000..192000; 0: 48000 */
    double seconds;  /* length without added rests, 0.5 or more; 0: 30 */
    double level_db; /* of the faultless voice, gated (singer_level_db); 0: -18 */

    /* What is sung. */
    double transpose; /* semitones: every pitch moves, the formants stay */
    double low_note;  /* MIDI note, lowest and highest sung; 0: the range of the voice */
    double high_note;
    bool ladder; /* every semitone of the range in turn, 0.5 s each, going round the vowels, instead of phrases */
    double vibrato_cents; /* to each side; 0: as the voice has it; negative: none */
    bool no_consonants;   /* vowels alone */
    double sibilant_hz;   /* peak of this singer's s, 4000..9000; 0: as the voice has it */

    /* Level faults. */
    double gain_db;          /* the whole recording, noise too: too quiet or too hot */
    bool clip;               /* clip at full scale */
    double uneven_db;        /* phrases lie anywhere within this to each side; the largest and the smallest are hit */
    const double *phrase_db; /* or: the gain of each phrase, used in turn; overrides uneven_db */
    size_t phrase_db_count;
    double rest_seconds; /* added to every rest between phrases: the take gets longer than `seconds` */

    /* Faults of voice and place. */
    SingerBell boxy[SINGER_BOXY];
    double esses_db;        /* some sibilants are raised by this; 0: none */
    double esses_share;     /* how many: 0..1; 0: 0.3 */
    unsigned pops;          /* how many plosives pop; at most as many as there are */
    double pop_db;          /* peak of a pop over the voice's level; 0: 15 */
    double hum_hz;          /* 50 or 60 (any 20..400); 0: none */
    double hum_db;          /* of hum with its harmonics, to the voice; 0: -40 */
    double hum_drift;       /* slow swing of the frequency to each side, per cent; 0: none */
    unsigned hum_harmonics; /* how many, the fundamental too; 0: 10 */
    double breath_db;       /* of a breath before each phrase, to the voice; 0: none */
    unsigned clicks;        /* how many mouth clicks in the take */
    double click_db;        /* peak of a click over the voice's level; 0: -6 */
    double room_seconds;    /* T60 of a room; 0: none */
    double room_db;         /* energy of the room's sound to the direct sound; 0: -6 */
    double hiss_db;         /* room noise and hiss, to the voice; 0: none */
} SingerSpec;

typedef struct {
    double start, end;  /* the consonant in front of the vowel counts */
    double vowel_start; /* where the vowel begins */
    double midi, hz;    /* aimed at, transposed */
    SingerVowel vowel;
    SingerConsonant consonant;
    uint32_t phrase;
} SingerNote;

typedef struct {
    double start, end;
    SingerConsonant kind;
    double centre_hz; /* of its noise */
    double raised_db; /* sibilants: over what this singer would have done; 0: ordinary. Plosives: peak of the pop
                         over the voice's level; 0: no pop */
} SingerSound;

typedef struct {
    double start, end;
    double db; /* phrase: its fault gain. Click, breath: its level as in the spec. Rest: 0 */
} SingerSpan;

typedef struct {
    double rate;
    uint32_t frames;
    float *audio; /* the recording: voice, room, noises, gain, clipping */
    float *voice; /* the voice alone at the same gain, with its uneven phrases, boxy resonances and raised sibilants;
                     no room, breath, pop, click, hum or hiss, no clipping */
    double voice_level_db;        /* singer_level_db of `voice` */
    double hiss_level_db;         /* RMS of the hiss as it lies in `audio`; without hiss -200 */
    double lowest_hz, highest_hz; /* of the notes */
    uint32_t clipped;             /* frames that were clipped */

    SingerNote *notes;
    size_t note_count;
    SingerSpan *phrases;
    size_t phrase_count;
    SingerSpan *rests; /* before, between and after the phrases */
    size_t rest_count;
    SingerSound *sibilants; /* s z sh zh ch */
    size_t sibilant_count;
    SingerSound *fricatives; /* f th: not sibilants */
    size_t fricative_count;
    SingerSound *plosives; /* from the burst on */
    size_t plosive_count;
    SingerSpan *breaths;
    size_t breath_count;
    SingerSpan *clicks;
    size_t click_count;
    float *f0; /* Hz, one per 10 ms from time 0; 0: unvoiced */
    size_t f0_count;
    float *hum_hz; /* Hz, one per 10 ms; NULL without hum */
    size_t hum_count;
} SingerTake;

/* False: the spec is out of range or there is no memory; the take is then empty and safe to free. */
bool singer_sing(const SingerSpec *spec, SingerTake *take);

/* Safe on a zeroed take, and twice. */
void singer_free(SingerTake *take);

/* Level of a voice in dB: plain RMS of 400 ms blocks every 100 ms, gated at -70 dB, then at 10 dB below the mean of
 * what is left. -200 when nothing passes. */
double singer_level_db(const float *x, uint32_t frames, double rate);

/* "bass", "baritone", "tenor", "alto", "mezzo", "soprano", "spoken-low", "spoken-high". */
const char *singer_voice_name(SingerVoice voice);
bool singer_voice_named(const char *name, SingerVoice *voice);

/* "i", "e", "ae", "a", "o", "u", "uh"; "-", "m", "n", ... */
const char *singer_vowel_name(SingerVowel vowel);
const char *singer_consonant_name(SingerConsonant consonant);

/* Lowest and highest MIDI note of a voice. */
void singer_range(SingerVoice voice, double *low_note, double *high_note);

/* Formants F1, F2, F3 in Hz as published, for a man's or a woman's voice (which one `voice` has). */
void singer_formants(SingerVoice voice, SingerVowel vowel, double formants[3]);

#endif
