#define FOUR_PLAIN
#include "plain_four.h"

#include "four_by_name.h"

void plain_four(PlainFunction f, const float *a, const float *b, float *y)
{
    four_by_name(f, a, b, y);
}
