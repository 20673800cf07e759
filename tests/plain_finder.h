/* The finder's equations once more, plainly and in double, for tests of its stages: nothing stepped, nothing shared
 * with common-dsp but the shapes of what goes in and comes out. Slow, and simple to check against resonance.md. */
#ifndef LINCTUS_PLAIN_FINDER_H
#define LINCTUS_PLAIN_FINDER_H

#include "bells.h"
#include "fixed_curve.h"

/* The fit of `passes` passes over pieces first..end - 1; *model is where it starts, and then where it ended. */
FixedCurve plain_fit(const ResonancePiece *piece, uint32_t first, uint32_t end, VowelKind kind, uint32_t passes,
                     FixedModel *model);

/* The `wanted` likeliest bells in a curve. */
Bells plain_bells(const FixedCurve *curve, uint32_t wanted);

#endif
