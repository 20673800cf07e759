#define TWO_PLAIN
#define lanes_run   plain_lanes_run
#define lanes_glide plain_lanes_glide

#include "plain_lanes.h"

/* The same source under other names. NOLINTNEXTLINE(bugprone-suspicious-include) */
#include "../common-dsp/lanes.c"
