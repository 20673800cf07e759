#include "gain_move.h"

#include "units.h"

#include <string.h>

#define STEPS_PER_DB 16777216.0 /* 2^24: 60 dB, and twice as much between two levels, fit in 32 bits */

/* Downward, so that a limit given in dB holds. */
static int32_t to_steps(double db)
{
    return (int32_t)floor(dsp_clamp(db, -60.0, 60.0) * STEPS_PER_DB);
}

void gain_move_init(GainMove *m, double rate, double rise, double fall, double seconds)
{
    memset(m, 0, sizeof *m);
    m->rise = (int32_t)fmax(1.0, floor(rise / rate * STEPS_PER_DB));
    m->fall = (int32_t)fmax(1.0, floor(fall / rate * STEPS_PER_DB));
    m->length = (uint32_t)dsp_clamp(floor(seconds * rate / 3.0), 1.0, GAIN_MOVE_LONGEST);
    gain_move_jump(m, 0.0);
}

void gain_move_jump(GainMove *m, double db)
{
    const int64_t n = m->length;
    m->goal = m->now = to_steps(db);
    for (uint32_t i = 0; i < m->length; ++i) {
        m->path[i] = m->now;
        m->once[i] = n * m->now;
        m->twice[i] = n * n * m->now;
    }
    m->sum_once = n * m->now;
    m->sum_twice = n * n * m->now;
    m->sum = n * n * n * m->now;
    m->moving = 0;
    m->gain = db_to_gain(gain_move_db(m));
}

static void set_out(GainMove *m)
{
    m->moving = 3 * m->length;
}

void gain_move_to(GainMove *m, double db)
{
    const int32_t goal = to_steps(db);
    if (goal == m->goal)
        return;
    m->goal = goal;
    set_out(m);
}

void gain_move_cut(GainMove *m, double db)
{
    const int32_t limit = to_steps(db);
    if (m->now <= limit)
        return;
    m->now = limit;
    set_out(m);
}

double gain_move_db(const GainMove *m)
{
    const double n = m->length;
    return (double)m->sum / (n * n * n * STEPS_PER_DB);
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
    m->sum_once += m->now - m->path[m->at];
    m->path[m->at] = m->now;
    m->sum_twice += m->sum_once - m->once[m->at];
    m->once[m->at] = m->sum_once;
    m->sum += m->sum_twice - m->twice[m->at];
    m->twice[m->at] = m->sum_twice;
    m->at = m->at + 1 == m->length ? 0 : m->at + 1;
    m->moving = m->now == m->goal ? m->moving - 1 : 3 * m->length;
    m->gain = db_to_gain(gain_move_db(m));
}
