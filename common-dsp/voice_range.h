/* The voice range a take lies in, from the notes heard. */
#ifndef LINCTUS_VOICE_RANGE_H
#define LINCTUS_VOICE_RANGE_H

#include <stdbool.h>

typedef enum {
    RANGE_UNKNOWN,
    RANGE_BASS,
    RANGE_BARITONE,
    RANGE_TENOR,
    RANGE_ALTO,
    RANGE_MEZZO_SOPRANO,
    RANGE_SOPRANO,
    RANGE_SPOKEN_LOW,
    RANGE_SPOKEN_HIGH,
} VoiceRange;

/* lowest, highest, middle: MIDI notes. A sung take gets the range whose ends lie nearest to its lowest and highest
 * note, by the sum of both distances squared. The ranges are those in common use: bass E2-E4, baritone A2-A4, tenor
 * C3-C5, alto F3-F5, mezzo-soprano A3-A5, soprano C4-C6. A spoken take is high if its middle note lies above E3 (165
 * Hz: between the usual pitches of men, about 120 Hz, and of women, about 210 Hz; from memory). */
VoiceRange voice_range_of(double lowest, double highest, double middle, bool sung);

/* Speech glides, sung notes stay. A take is sung if its voiced frames reach one of these shares in notes that stay
 * (notes.h): for 0.25 s by the pitch itself (STEADY), for 0.4 s by its mean (SUNG), for 0.7 s by its mean (LASTING). */
#define VOICE_RANGE_STEADY  0.45
#define VOICE_RANGE_SUNG    0.55
#define VOICE_RANGE_LASTING 0.13

#endif
