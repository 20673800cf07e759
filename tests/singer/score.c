#include "score.h"
#include "random.h"
#include "traits.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { DECK = 32, STREAM_SCORE = 1, STREAM_ESSES = 2, STREAM_POPS = 3 };

/* Cards drawn in shuffled order, so that a short take, too, has all of them. */
typedef struct {
    int cards[DECK];
    uint32_t count, next;
} Deck;

typedef struct {
    const SingerSpec *spec;
    const VoiceTraits *traits;
    double low, high; /* MIDI */
    Deck vowels, consonants;
    uint32_t key; /* pitch class of the scale's first note */
    bool minor;
    double place; /* MIDI: where the melody is */
    int ladder_at, ladder_step;
    Random random;
} Composer;

static void deck_add(Deck *deck, int card, uint32_t times)
{
    while (times--)
        deck->cards[deck->count++] = card;
}

static int deck_draw(Deck *deck, Random *random)
{
    if (deck->next == 0)
        for (uint32_t i = deck->count - 1; i > 0; i--) {
            const uint32_t j = random_below(random, i + 1);
            const int card = deck->cards[i];
            deck->cards[i] = deck->cards[j];
            deck->cards[j] = card;
        }
    const int card = deck->cards[deck->next];
    deck->next = (deck->next + 1) % deck->count;
    return card;
}

static void fill_decks(Composer *c)
{
    for (int v = 0; v < SINGER_VOWELS; v++)
        deck_add(&c->vowels, v, 1);
    if (c->spec->no_consonants) {
        deck_add(&c->consonants, SINGER_NONE, 1);
        return;
    }
    for (int k = SINGER_M; k < SINGER_CONSONANTS; k++)
        deck_add(&c->consonants, k, 1);
    deck_add(&c->consonants, SINGER_NONE, c->traits->sung ? 4 : 2);
    deck_add(&c->consonants, SINGER_S, 1);
    if (!c->traits->sung) /* running speech has fewer sibilants a syllable */
        for (int k = SINGER_M; k <= SINGER_G; k++)
            deck_add(&c->consonants, k, 1);
}

static bool in_scale(const Composer *c, double midi)
{
    static const int major[12] = {1, 0, 1, 0, 1, 1, 0, 1, 0, 1, 0, 1};
    static const int minor[12] = {1, 0, 1, 1, 0, 1, 0, 1, 1, 0, 1, 0};
    const uint32_t degree = ((uint32_t)lrint(midi) + 12 - c->key) % 12;
    return c->minor ? minor[degree] : major[degree];
}

/* The melody moves by small steps, leaps at times, and turns at the ends of the range. */
static double next_sung(Composer *c)
{
    const double leap =
        random_unit(&c->random) < 0.2 ? random_between(&c->random, 5, 9) : random_between(&c->random, 1, 4);
    const double up = c->high - c->place, down = c->place - c->low;
    const bool rises = random_unit(&c->random) * (up + down) < up;
    c->place = round(fmin(c->high, fmax(c->low, c->place + (rises ? leap : -leap))));
    for (int tries = 0; tries < 12 && !in_scale(c, c->place); tries++)
        c->place += rises && c->place < c->high ? 1 : -1;
    c->place = fmin(c->high, fmax(c->low, c->place));
    return c->place;
}

/* A phrase of speech falls from start to end, with accents on the way. */
static double next_spoken(Composer *c, double progress)
{
    const double span = c->high - c->low;
    const double line = c->low + span * (0.5 - 0.3 * progress);
    const double accent = random_unit(&c->random) < 0.3 ? random_between(&c->random, 0.2, 0.5) : 0;
    const double pitch = line + span * (accent + random_between(&c->random, -0.08, 0.08));
    return fmin(c->high, fmax(c->low, pitch));
}

static double next_on_ladder(Composer *c)
{
    const int steps = (int)lrint(c->high - c->low);
    const double midi = c->low + c->ladder_at;
    if (c->ladder_at + c->ladder_step > steps || c->ladder_at + c->ladder_step < 0)
        c->ladder_step = -c->ladder_step;
    if (steps > 0)
        c->ladder_at += c->ladder_step;
    return midi;
}

static double vowel_length(Composer *c, bool last)
{
    if (c->spec->ladder)
        return 0.4;
    if (!c->traits->sung)
        return last ? random_between(&c->random, 0.2, 0.28) : random_between(&c->random, 0.08, 0.18);
    static const double lengths[] = {0.25, 0.4, 0.4, 0.6, 0.9};
    return last ? random_between(&c->random, 1.0, 1.5) : lengths[random_below(&c->random, 5)];
}

static Syllable next_syllable(Composer *c, double start, double progress, bool last)
{
    Syllable s = {.start = start};
    s.vowel =
        (SingerVowel)(c->spec->ladder ? (int)(c->vowels.next++ % SINGER_VOWELS) : deck_draw(&c->vowels, &c->random));
    s.consonant = (SingerConsonant)deck_draw(&c->consonants, &c->random);
    const ConsonantTraits *k = consonant_traits(s.consonant);
    s.noise = start + k->closure;
    s.vowel_start = s.noise + random_between(&c->random, k->shortest, k->longest);
    s.end = s.vowel_start + k->breath + vowel_length(c, last);
    s.midi = c->spec->ladder ? next_on_ladder(c) : c->traits->sung ? next_sung(c) : next_spoken(c, progress);
    s.midi += c->spec->transpose;
    s.accent_db = random_between(&c->random, -1.5, 1.5);
    return s;
}

static bool add_syllable(Score *score, Syllable s)
{
    if (score->syllable_count == score->syllable_room) {
        const size_t room = score->syllable_room ? 2 * score->syllable_room : 64;
        Syllable *more = realloc(score->syllables, room * sizeof *more);
        if (!more)
            return false;
        score->syllables = more;
        score->syllable_room = room;
    }
    score->syllables[score->syllable_count++] = s;
    return true;
}

static bool add_phrase(Score *score, ScorePhrase p)
{
    if (score->phrase_count == score->phrase_room) {
        const size_t room = score->phrase_room ? 2 * score->phrase_room : 16;
        ScorePhrase *more = realloc(score->phrases, room * sizeof *more);
        if (!more)
            return false;
        score->phrases = more;
        score->phrase_room = room;
    }
    score->phrases[score->phrase_count++] = p;
    return true;
}

/* The take ends soon: a single vowel that fits. */
static Syllable shortened(Syllable s, double room)
{
    s.consonant = SINGER_NONE;
    s.noise = s.vowel_start = s.start;
    s.end = s.start + room;
    return s;
}

/* A phrase from `start` that ends by `latest`. Without room for a syllable it stays empty. */
static bool write_phrase(Composer *c, Score *score, double start, double latest)
{
    ScorePhrase phrase = {start, 0, score->syllable_count, 0};
    const uint32_t wanted = c->spec->ladder   ? 8
                            : c->traits->sung ? 6 + random_below(&c->random, 4)
                                              : 9 + random_below(&c->random, 7);
    c->key = (c->key + 7) % 12; /* a fifth on, so that a take comes by all twelve notes */
    for (uint32_t i = 0; i < wanted; i++) {
        Syllable s = next_syllable(c, phrase.length, i / (double)wanted, i + 1 == wanted);
        const double room = latest - start - s.start;
        if (s.end - s.start > room) {
            if (score->phrase_count || i)
                break;
            s = shortened(s, room);
        }
        if (!add_syllable(score, s))
            return false;
        phrase.length = s.end;
        phrase.count++;
    }
    return !phrase.count || add_phrase(score, phrase);
}

static double rest_length(Composer *c)
{
    return c->traits->sung ? random_between(&c->random, 0.6, 1.0) : random_between(&c->random, 0.35, 0.8);
}

typedef struct {
    double key;
    size_t which;
} Rank;

static int by_key(const void *a, const void *b)
{
    const double x = ((const Rank *)a)->key, y = ((const Rank *)b)->key;
    return (x > y) - (x < y);
}

/* The syllables with this onset, in random order. */
static size_t rank_onsets(const Score *score, Onset onset, Random random, Rank *ranks)
{
    size_t count = 0;
    for (size_t i = 0; i < score->syllable_count; i++)
        if (consonant_traits(score->syllables[i].consonant)->onset == onset)
            ranks[count++] = (Rank){random_unit(&random), i};
    qsort(ranks, count, sizeof *ranks, by_key);
    return count;
}

static bool mark_faults(Score *score, const SingerSpec *spec)
{
    Rank *ranks = malloc((score->syllable_count + 1) * sizeof *ranks);
    if (!ranks)
        return false;
    const size_t sibilants = rank_onsets(score, ONSET_SIBILANT, random_stream(spec->seed, STREAM_ESSES), ranks);
    const double share = spec->esses_share > 0 ? spec->esses_share : 0.3;
    const size_t raised = (size_t)lrint(share * (double)sibilants);
    for (size_t i = 0; i < raised; i++)
        score->syllables[ranks[i].which].raised_db = spec->esses_db;
    const size_t plosives = rank_onsets(score, ONSET_PLOSIVE, random_stream(spec->seed, STREAM_POPS), ranks);
    for (size_t i = 0; i < plosives && i < spec->pops; i++)
        score->syllables[ranks[i].which].popped_db = spec->pop_db != 0 ? spec->pop_db : 15;
    free(ranks);
    return true;
}

bool score_write(Score *score, const SingerSpec *spec)
{
    memset(score, 0, sizeof *score);
    score->seconds = spec->seconds > 0 ? spec->seconds : 30;
    const VoiceTraits *traits = voice_traits(spec->voice);
    Composer c = {.spec = spec, .traits = traits, .ladder_step = 1, .random = random_stream(spec->seed, STREAM_SCORE)};
    c.low = spec->low_note > 0 ? spec->low_note : traits->low_note;
    c.high = spec->high_note > 0 ? spec->high_note : traits->high_note;
    c.key = random_below(&c.random, 12);
    c.minor = random_below(&c.random, 2);
    c.place = round(c.low + (c.high - c.low) * 0.4);
    fill_decks(&c);

    const double edge = fmin(0.5, 0.1 * score->seconds);
    double at = edge;
    for (;;) {
        const size_t before = score->phrase_count;
        if (!write_phrase(&c, score, at, score->seconds - edge))
            return false;
        if (score->phrase_count == before)
            break;
        at += score->phrases[before].length + rest_length(&c);
    }
    return mark_faults(score, spec);
}

void score_free(Score *score)
{
    free(score->syllables);
    free(score->phrases);
    memset(score, 0, sizeof *score);
}
