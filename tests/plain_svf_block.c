#define TWO_PLAIN
#define svf_block_of  plain_svf_block_of
#define svf_block_run plain_svf_block_run

#include "plain_svf_block.h"

/* The same source under other names. NOLINTNEXTLINE(bugprone-suspicious-include) */
#include "../common-dsp/svf_block.c"
