/* The spectrum of people's voices on average: D. Byrne et al., "An international comparison of long-term average speech
 * spectra", JASA 96 (1994), Table II, twelve languages, seen second-hand (the power sums are 69.998 and 69.740
 * dB, as they should be). Third octaves from 63 Hz to 16 kHz, dB per band. */
#ifndef LINCTUS_AVERAGE_VOICE_H
#define LINCTUS_AVERAGE_VOICE_H

enum { AVERAGE_VOICE_BANDS = 25 };

/* Middle of a band, Hz: thirds of an octave from 1 kHz, not rounded to nominal values. */
double average_voice_hz(int band);

typedef enum { AVERAGE_MEN, AVERAGE_WOMEN } AverageVoice;

/* dB in a band; 70 dB over all bands. band: 0..AVERAGE_VOICE_BANDS - 1, here and below. */
double average_voice_db(AverageVoice who, int band);

/* Power in a band, men's and women's together; 2e7, twice 70 dB, over all bands. */
double average_voice_power(int band);

#endif
