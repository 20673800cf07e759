/* Recorded voices with one fault each, and plain measures of what is left of it: the same for a plug-in and for any
 * tool. What came out may be late and louder or softer: it is laid on the take first. */
#ifndef LINCTUS_BENCH_BESIDE_H
#define LINCTUS_BENCH_BESIDE_H

#include "worded.h"

enum { BESIDE_VOICES = 3 };

typedef enum { FAULT_FLOOR, FAULT_HUM, FAULT_TICKS, FAULT_POPS, FAULT_RESTS, FAULT_PHRASE, BESIDE_FAULTS } BesideFault;

/* Named as the plug-in that mends it. */
extern const char *const beside_fault[BESIDE_FAULTS];

enum { BESIDE_MOMENTS = 40 };

typedef struct {
    Worded w;
    float *clean, *planted, *faulty; /* planted: what was added; of uneven phrases nothing */
    uint32_t moments;                /* clicks or pops: */
    double at[BESIDE_MOMENTS];       /* s */
} BesideTake;

/* Always the same for a voice and a fault. false: the recordings are not installed. */
bool beside_make(BesideTake *t, uint32_t voice, BesideFault fault);
void beside_free(BesideTake *t);

/* floor   first: dB of noise less in the rests; second: dB by which the segmental signal to noise is better (frames of
 *         20 ms within 30 dB of the voice, each counted from -10 to 35 dB: common practice)
 * hum     dB by which the hum is down, and what else differs from the clean take with it; dB by which it is down in the
 *         rests
 * ticks   per cent of the clicks of which less is left than the words about them have; dB by which the segmental
 *         signal to noise of the frames with clicks is better
 * pops    dB of the bursts' energy under 200 Hz that went; dB by which the voice's level under 300 Hz elsewhere changes
 * rests   dB of noise less in the rests; per cent of the first and last 50 ms of words that change by less than 1 dB
 * phrase  dB from the faintest phrase to the loudest, then; dB by which the rest is lifted that is lifted most
 * taken: per cent of the energy of the clean take that is another; of a phrase, of its loudness nothing is counted. */
typedef struct {
    double first, second, taken;
} BesideFigures;

/* out, clean: what a tool made of the faulty take and of the clean one, as long as the take or longer; both are moved.
 */
BesideFigures beside_judge(const BesideTake *t, BesideFault fault, float *out, float *clean);

#endif
