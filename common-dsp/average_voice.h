/* The long-term average spectrum of speech, men and women: third octaves from 63 Hz to 16 kHz, dB per band.
 * Source: D. Byrne et al., "An international comparison of long-term average speech spectra", JASA 96 (1994), Table II,
 * twelve languages, seen second-hand (the power sums are 69.998 and 69.740 dB, as they should be). */
#ifndef LINCTUS_AVERAGE_VOICE_H
#define LINCTUS_AVERAGE_VOICE_H

enum { AVERAGE_VOICE_BANDS = 25 };

/* Centre of a band, Hz, in exact thirds of an octave from 1 kHz: 62.5 to 16000, not the nominal values.
 * band: 0..AVERAGE_VOICE_BANDS - 1, here and below. */
double average_voice_hz(int band);

typedef enum { AVERAGE_MEN, AVERAGE_WOMEN } AverageVoice;

/* Level of a band, dB; all bands together make 70 dB. */
double average_voice_db(AverageVoice who, int band);

/* Power of a band, men's plus women's; all bands together make 2e7, twice 70 dB. */
double average_voice_power(int band);

#endif
