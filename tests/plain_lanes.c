#define TWO_PLAIN
#define lanes_run        plain_lanes_run
#define lanes_glide      plain_lanes_glide
#define lanes_run_both   plain_lanes_run_both
#define lanes_glide_both plain_lanes_glide_both

#include "plain_lanes.h"

/* The same source under other names. NOLINTNEXTLINE(bugprone-suspicious-include) */
#include "../common-dsp/lanes.c"
