#define FOUR_PLAIN
#define WIDE_OFF
#define plate                plain_plate
#define plate_init_with      plain_plate_init_with
#define plate_chain_place    plain_plate_chain_place
#define plate_chain_run      plain_plate_chain_run
#define plate_loss_tune      plain_plate_loss_tune
#define plate_loss_hush      plain_plate_loss_hush
#define plate_chain_tune     plain_plate_chain_tune
#define plate_shade_reset    plain_plate_shade_reset
#define plate_shade_tune     plain_plate_shade_tune
#define plate_shade_run      plain_plate_shade_run
#define plate_tank_place     plain_plate_tank_place
#define plate_tank_tune      plain_plate_tank_tune
#define plate_tank_feed      plain_plate_tank_feed
#define plate_tank_hear      plain_plate_tank_hear
#define plate_tank_mean_loss plain_plate_tank_mean_loss
#define plate_tank_hush      plain_plate_tank_hush
#define plate_tank_seconds   plain_plate_tank_seconds
#define plate_loops_four     plain_plate_loops

#include "plain_plate.h"

/* The same sources under other names. NOLINTBEGIN(bugprone-suspicious-include) */
#include "../common-dsp/plate.c"
#include "../common-dsp/plate_chain.c"
#include "../common-dsp/plate_loss.c"
#include "../common-dsp/plate_shade.c"
#include "../common-dsp/plate_tank.c"
/* NOLINTEND(bugprone-suspicious-include) */
