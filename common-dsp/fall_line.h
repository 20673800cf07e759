/* Reverberation time from a falling level: a least-squares straight line through the levels in dB, and the time in
 * which that line falls by 60 dB (T60, ISO 3382-1, from memory). Check (decay.h) and Booth (booth_falls.h) each choose
 * which part of a decay is fitted. */
#ifndef LINCTUS_FALL_LINE_H
#define LINCTUS_FALL_LINE_H

#include <stdint.h>

enum { FALL_LINE_LEAST = 4 }; /* fewest points that are fitted */

/* Zero it to begin. */
typedef struct {
    double points, sum_t, sum_y, sum_tt, sum_ty, sum_yy;
} FallLine;

/* Adds a point. seconds: counted from any origin, the same for all points. power: mean square less that of the noise; a
 * point of power 0 or less does not count. */
void fall_line_add(FallLine *l, double seconds, double power);

/* Seconds for a fall of 60 dB; 0 where the line does not fall, or there are fewer than FALL_LINE_LEAST points, or all
 * are at one time. */
double fall_line_time(const FallLine *l);

/* Standard deviation of the levels from the line, dB. 0 where fall_line_time() is 0. */
double fall_line_off(const FallLine *l);

/* Mean of the `smooth` powers around a frame, in a ring of `frames` of them. */
static inline double fall_mean(const float *power, uint32_t frames, uint64_t frame, uint32_t smooth)
{
    double sum = 0.0;
    for (uint32_t i = 0; i < smooth; ++i)
        sum += (double)power[(frame + i - smooth / 2) % frames] / smooth;
    return sum;
}

#endif
