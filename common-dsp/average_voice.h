/* The spectrum of people's voices on average: D. Byrne et al., "An international comparison of long-term average speech
 * spectra", JASA 96 (1994), Table II, twelve languages, seen second-hand (the power sums are 69.998 and 69.740
 * dB, as they should be). Third octaves from 63 Hz to 16 kHz, dB per band. */
#ifndef LINCTUS_AVERAGE_VOICE_H
#define LINCTUS_AVERAGE_VOICE_H

enum { AVERAGE_VOICE_BANDS = 25 };

/* Middle of a band, Hz. */
double average_voice_hz(int band);

/* Power in a band, men's and women's together; 70 dB over all bands is 2e7. */
double average_voice_power(int band);

#endif
