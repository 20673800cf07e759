/* Unit conversion. dB is 20 log10 of an amplitude, or 10 log10 where a name says power. */
#ifndef LINCTUS_UNITS_H
#define LINCTUS_UNITS_H

#include <math.h>

#define UNITS_DB_FLOOR (-200.0) /* dB that silence reads */

static inline double db_to_gain(double db)
{
    return pow(10.0, db / 20.0);
}

/* Silence (and anything below -200 dB) reads UNITS_DB_FLOOR. */
static inline double gain_to_db(double gain)
{
    return gain > 1e-10 ? 20.0 * log10(gain) : UNITS_DB_FLOOR;
}

static inline double power_to_db(double power)
{
    return power > 1e-20 ? 10.0 * log10(power) : UNITS_DB_FLOOR;
}

static inline double db_to_power(double db)
{
    return pow(10.0, db / 10.0);
}

/* MIDI note number of a frequency, A4 = 440 Hz = 69 (equal temperament); fractions are kept. */
static inline double hz_to_note(double hz)
{
    return 69.0 + 12.0 * log2(hz / 440.0);
}

static inline double note_to_hz(double note)
{
    return 440.0 * exp2((note - 69.0) / 12.0);
}

/* Coefficient c of the one-pole y = c y + (1 - c) x that covers 1 - 1/e of a step in tau seconds; rate: samples a
 * second. Giannoulis, Massberg, Reiss, JAES 60(6), 2012. tau 0 gives 0: no smoothing. */
static inline double one_pole(double tau, double rate)
{
    return tau > 0.0 ? exp(-1.0 / (tau * rate)) : 0.0;
}

#endif
