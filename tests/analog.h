/* The analog prototypes that the filters are held against, straight from their transfer functions: W3C "Audio EQ
 * Cookbook" (Note, 2021) and Butterworth's |H|^2 = 1 / (1 + (fc/f)^2n). All in dB at frequency hz. */
#ifndef LINCTUS_ANALOG_H
#define LINCTUS_ANALOG_H

double analog_bell(double hz, double f0, double db, double q);
double analog_high_shelf(double hz, double f0, double db); /* S = 1 */
double analog_high_pass(double hz, double f0, double q);
double analog_low_pass(double hz, double f0, double q);
double analog_band_pass(double hz, double f0, double q);
double analog_butterworth_high_pass(double hz, double fc, int order);
double analog_butterworth_low_pass(double hz, double fc, int order);

/* Point i of `points`, spread evenly in log-frequency from lo to hi. */
double analog_grid(int i, int points, double lo, double hi);

#endif
