/* In the place of tests/spoken.c and tests/voices.c, for machines that libsndfile is not there for: no speech, so that
 * its tests skip. */
#include "spoken.h"
#include "voices.h"

#include <stdio.h>

static bool none(Spoken *s)
{
    *s = (Spoken){0};
    printf("no speech: sound files are not read on this machine\n");
    return false;
}

bool spoken_say(Spoken *s, const char *voice, const char *text)
{
    (void)voice;
    (void)text;
    return none(s);
}

bool spoken_robot(Spoken *s, const char *voice, int pitch, const char *text)
{
    (void)voice;
    (void)pitch;
    (void)text;
    return none(s);
}

bool spoken_load(Spoken *s, const char *which)
{
    (void)which;
    return none(s);
}

bool voices_speak(Spoken *take, uint32_t voice, uint32_t part, double seconds)
{
    (void)voice;
    (void)part;
    (void)seconds;
    return none(take);
}

bool voices_sing(VoicesSong *song, uint32_t voice, uint32_t part, double seconds, uint32_t seed, double semitones)
{
    (void)seed;
    (void)semitones;
    *song = (VoicesSong){0};
    return voices_speak(&song->take, voice, part, seconds);
}

void voices_song_free(VoicesSong *song)
{
    spoken_free(&song->take);
}

bool voices_pitch(VoicesPitch *pitch, uint32_t voice, uint32_t part, double seconds, uint32_t seed, double semitones)
{
    (void)voice;
    (void)part;
    (void)seconds;
    (void)seed;
    (void)semitones;
    *pitch = (VoicesPitch){0};
    return false;
}

void voices_pitch_free(VoicesPitch *pitch)
{
    *pitch = (VoicesPitch){0};
}
