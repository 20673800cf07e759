#include "gain_move.h"

#include "dsp.h"
#include "units.h"

#include <string.h>

#define STEPS_PER_DB 16777216.0 /* 2^24: 60 dB fit in 30 bits */

/* Rounds down, so that the gain never exceeds a limit given in dB. */
static int32_t to_steps(double db)
{
    return (int32_t)floor(dsp_clamp(db, -60.0, 60.0) * STEPS_PER_DB);
}

bool gain_move_init(GainMove *m, double rate, double rise, double fall, double seconds)
{
    memset(m, 0, sizeof *m);
    m->rise = (int32_t)fmax(1.0, floor(rise / rate * STEPS_PER_DB));
    m->fall = (int32_t)fmax(1.0, floor(fall / rate * STEPS_PER_DB));
    if (!triple_mean_init(&m->mean, (uint32_t)dsp_clamp(floor(seconds * rate / 3.0), 1.0, TRIPLE_MEAN_LONGEST)))
        return false;
    gain_move_jump(m, 0.0);
    return true;
}

void gain_move_done(GainMove *m)
{
    triple_mean_done(&m->mean);
}

/* The gain as a factor: exactly 1 at 0 dB, and within 3 units in the last place elsewhere. Takes a third of
 * db_to_gain(), while the gain moves in every sample. */
static double factor(const GainMove *m)
{
    const double octaves_per_db = 0.16609640474436813; /* log2(10) / 20 */
    return exp2(octaves_per_db * gain_move_db(m));
}

void gain_move_jump(GainMove *m, double db)
{
    m->goal = m->now = to_steps(db);
    triple_mean_rest(&m->mean, m->now);
    m->sum = m->mean.sum;
    m->moving = 0;
    m->gain = factor(m);
}

static void set_out(GainMove *m)
{
    m->moving = 3 * m->mean.length;
}

void gain_move_to(GainMove *m, double db)
{
    const int32_t goal = to_steps(db);
    if (goal == m->goal)
        return;
    m->goal = goal;
    set_out(m);
}

double gain_move_db(const GainMove *m)
{
    return (double)m->sum / (triple_mean_weight(&m->mean) * STEPS_PER_DB);
}

double gain_move_goal(const GainMove *m)
{
    return m->goal / STEPS_PER_DB;
}

static int32_t towards(const GainMove *m)
{
    if (m->now < m->goal)
        return m->goal - m->now > m->rise ? m->now + m->rise : m->goal;
    return m->now - m->goal > m->fall ? m->now - m->fall : m->goal;
}

void gain_move_advance(GainMove *m)
{
    m->now = towards(m);
    m->sum = triple_mean_step(&m->mean, m->now);
    m->moving = m->now == m->goal ? m->moving - 1 : 3 * m->mean.length;
    m->gain = factor(m);
}
