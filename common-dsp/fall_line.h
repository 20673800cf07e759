/* How long a room goes on sounding, from a level that falls: a straight line through it by least squares, and the time
 * in which that falls by 60 dB (T60, ISO 3382-1, from memory). Check (decay.h) and Booth (booth_falls.h) each decide
 * for themselves which part of a fall is fitted. */
#ifndef LINCTUS_FALL_LINE_H
#define LINCTUS_FALL_LINE_H

enum { FALL_LINE_LEAST = 4 }; /* points that make a line */

/* Zero it to begin. */
typedef struct {
    double points, sum_t, sum_y, sum_tt, sum_ty, sum_yy;
} FallLine;

/* One more point. seconds: from any time on, the same for all of them; power: with that of the noise taken off: where
 * nothing is left, 0 or less, the point does not count. */
void fall_line_add(FallLine *l, double seconds, double power);

/* Seconds for 60 dB; 0: it does not fall, or the points are fewer than FALL_LINE_LEAST or all of one time. */
double fall_line_time(const FallLine *l);

/* dB: how far the levels lie off the line, standard deviation. 0 where it has no time. */
double fall_line_off(const FallLine *l);

#endif
