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

/* MIDI notes. A sung take: the range (bass E2-E4, baritone A2-A4, tenor C3-C5, alto F3-F5, mezzo-soprano A3-A5, soprano
 * C4-C6, as common usage has them) whose ends lie nearest to the lowest and the highest note, by the sum of both
 * distances squared. A spoken take: high if its middle note lies above E3 (165 Hz: between the usual pitches of men,
 * about 120 Hz, and of women, about 210 Hz; from memory). */
VoiceRange voice_range_of(double lowest, double highest, double middle, bool sung);

/* Speech glides, sung notes stay. A take is sung if one of these shares of its voiced frames lies in notes that stay so
 * long (notes.h): as it is, for 0.25 s; by its mean, for 0.4 s; by its mean, for 0.7 s. */
#define VOICE_RANGE_STEADY  0.45
#define VOICE_RANGE_SUNG    0.55
#define VOICE_RANGE_LASTING 0.13

#endif
