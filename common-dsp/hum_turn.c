#include "hum_turn.h"

#include "dsp.h"

#include <math.h>
#include <string.h>

/* Set by trial over the voices for tuning, as those of hum_follower.c, not searched one by one. */
#define MAINS_RANGE       0.013 /* of the nominal frequency: public supply holds 1 % */
#define FIRST_PHASE_ERROR 1.0   /* rad: error of the phase at first */
#define FIRST_SPEED_ERROR 1.8   /* rad/s: error of the speed at first, from the nominal one */
#define DRIFT_TIME        8.0   /* s: how long it drifts one way */
#define PHASE_WANDER      0.003 /* rad in a second: what is neither speed nor drift */
#define MOST_STEP         0.5   /* rad: no step moves it further */
#define SURPRISING_RATIO  9.0   /* times the variance expected: from here on that was too small */
#define SURPRISE_FACTOR   2.0   /* times: by this factor */
#define STATE_TIME        30.0  /* s: how long it goes on standing still, or drifting */
#define OUTLIER_RATIO     16.0  /* times the variance expected: what is further off tells no more */
#define LEAST_CHANCE      1e-6  /* of either filter, at least */

/* rad/s^2: how fast it drifts, if it all but stands still, and if not. */
static const double drift[TURN_FILTERS] = {0.02, 0.45};

enum { PHASE_AT, SPEED_AT, DRIFT_AT };

void turn_begin(HumTurn *t, double hz)
{
    memset(t, 0, sizeof *t);
    t->nominal = t->speed = t->before = 2.0 * DSP_PI * hz;
    for (int i = 0; i < TURN_FILTERS; ++i)
        t->filter[i] = (TurnFilter){.at = {0.0, t->nominal, 0.0},
                                    .doubt = {{FIRST_PHASE_ERROR * FIRST_PHASE_ERROR, 0.0, 0.0},
                                              {0.0, FIRST_SPEED_ERROR * FIRST_SPEED_ERROR, 0.0},
                                              {0.0, 0.0, drift[i] * drift[i]}},
                                    .share = 1.0 / TURN_FILTERS};
    t->phase_doubt = FIRST_PHASE_ERROR * FIRST_PHASE_ERROR;
    t->speed_doubt = FIRST_SPEED_ERROR * FIRST_SPEED_ERROR;
}

/* ---- The filters meet ---- */

static void add_state(TurnFilter *to, const TurnFilter *from, double part)
{
    for (int i = 0; i < TURN_STATES; ++i)
        to->at[i] += part * from->at[i];
}

/* With the spread of the states about their mean. */
static void add_doubt(TurnFilter *to, const TurnFilter *from, double part)
{
    for (int i = 0; i < TURN_STATES; ++i)
        for (int j = 0; j < TURN_STATES; ++j)
            to->doubt[i][j] += part * (from->doubt[i][j] + (from->at[i] - to->at[i]) * (from->at[j] - to->at[j]));
}

static TurnFilter mixed(const TurnFilter *filter, const double part[TURN_FILTERS])
{
    TurnFilter m = {.share = 0.0};
    for (int i = 0; i < TURN_FILTERS; ++i)
        add_state(&m, &filter[i], part[i]);
    for (int i = 0; i < TURN_FILTERS; ++i)
        add_doubt(&m, &filter[i], part[i]);
    return m;
}

/* What was steady may have begun to drift, and the other way round. */
static void exchange(HumTurn *t, double seconds)
{
    const double leaves = fmin(seconds / STATE_TIME, 0.5);
    TurnFilter after[TURN_FILTERS];
    for (int i = 0; i < TURN_FILTERS; ++i) {
        double part[TURN_FILTERS], sum = 0.0;
        for (int j = 0; j < TURN_FILTERS; ++j)
            sum += part[j] = t->filter[j].share * (i == j ? 1.0 - leaves : leaves);
        for (int j = 0; j < TURN_FILTERS; ++j)
            part[j] /= sum;
        after[i] = mixed(t->filter, part);
        after[i].share = sum;
    }
    memcpy(t->filter, after, sizeof after);
}

static void combine(HumTurn *t)
{
    const double part[TURN_FILTERS] = {t->filter[0].share, t->filter[1].share};
    for (int i = 0; i < TURN_FILTERS; ++i) {
        double *const speed = &t->filter[i].at[SPEED_AT];
        *speed = dsp_clamp(*speed, t->nominal * (1.0 - MAINS_RANGE), t->nominal * (1.0 + MAINS_RANGE));
    }
    const TurnFilter all = mixed(t->filter, part);
    t->speed = all.at[SPEED_AT];
    t->phase_doubt = all.doubt[PHASE_AT][PHASE_AT];
    t->speed_doubt = all.doubt[SPEED_AT][SPEED_AT];
}

/* ---- One filter ---- */

/* F P F' + Q */
static void let_time_pass(TurnFilter *f, double t, double taken_speed, double fastest)
{
    const double keep = exp(-t / DRIFT_TIME);
    const double m[3][3] = {{1.0, t, 0.5 * t * t}, {0.0, 1.0, t}, {0.0, 0.0, keep}};
    double mp[3][3] = {{0.0}}, p[3][3] = {{0.0}};
    for (int i = 0; i < 3; ++i)
        for (int j = 0; j < 3; ++j)
            for (int k = 0; k < 3; ++k)
                mp[i][j] += m[i][k] * f->doubt[k][j];
    for (int i = 0; i < 3; ++i)
        for (int j = 0; j < 3; ++j)
            for (int k = 0; k < 3; ++k)
                p[i][j] += mp[i][k] * m[j][k];
    memcpy(f->doubt, p, sizeof p);
    f->doubt[DRIFT_AT][DRIFT_AT] += (1.0 - keep * keep) * fastest * fastest;
    f->doubt[PHASE_AT][PHASE_AT] += t * PHASE_WANDER * PHASE_WANDER;
    f->at[PHASE_AT] += t * (f->at[SPEED_AT] - taken_speed) + 0.5 * t * t * f->at[DRIFT_AT];
    f->at[SPEED_AT] += t * f->at[DRIFT_AT];
    f->at[DRIFT_AT] *= keep;
}

/* It has drifted otherwise than was to be expected. */
static void doubt_all(TurnFilter *f)
{
    if (f->doubt[SPEED_AT][SPEED_AT] > FIRST_SPEED_ERROR * FIRST_SPEED_ERROR ||
        f->doubt[PHASE_AT][PHASE_AT] > FIRST_PHASE_ERROR * FIRST_PHASE_ERROR)
        return;
    for (int i = 0; i < TURN_STATES; ++i)
        for (int j = 0; j < TURN_STATES; ++j)
            f->doubt[i][j] *= SURPRISE_FACTOR;
}

/* sees: how the states add up to what is measured. row: covariance of each state with that. Returns its variance. */
static double doubt_of(const TurnFilter *f, const double sees[TURN_STATES], double row[TURN_STATES])
{
    double sum = 0.0;
    for (int i = 0; i < TURN_STATES; ++i) {
        row[i] = 0.0;
        for (int j = 0; j < TURN_STATES; ++j)
            row[i] += sees[j] * f->doubt[j][i];
        sum += sees[i] * row[i];
    }
    return sum;
}

/* The phase as it was `late` seconds ago, since when the hum was taken to turn by `taken` radians. */
typedef struct {
    double ahead, noise, late, taken;
    bool exact;
} Measured;

/* Its share grows by how likely the measurement was to it. */
static void correct(TurnFilter *f, const Measured *m)
{
    const double sees[TURN_STATES] = {1.0, -m->late, 0.5 * m->late * m->late};
    double row[TURN_STATES], expected = m->taken;
    for (int i = 0; i < TURN_STATES; ++i)
        expected += sees[i] * f->at[i];
    double sum = doubt_of(f, sees, row) + m->noise;
    const double off = dsp_clamp(m->ahead - expected, -MOST_STEP, MOST_STEP);
    f->share *= exp(-0.5 * fmin(off * off / sum, OUTLIER_RATIO)) / sqrt(sum);
    if (m->exact && off * off > SURPRISING_RATIO * sum) {
        doubt_all(f);
        sum = doubt_of(f, sees, row) + m->noise;
    }
    for (int i = 0; i < TURN_STATES; ++i) {
        f->at[i] += row[i] / sum * off;
        for (int j = 0; j < TURN_STATES; ++j)
            f->doubt[i][j] -= row[i] * row[j] / sum;
    }
}

static void share_out(HumTurn *t)
{
    double sum = 0.0;
    for (int i = 0; i < TURN_FILTERS; ++i)
        sum += t->filter[i].share;
    for (int i = 0; i < TURN_FILTERS; ++i)
        t->filter[i].share = LEAST_CHANCE + (1.0 - TURN_FILTERS * LEAST_CHANCE) * t->filter[i].share / sum;
}

double turn_step(HumTurn *t, double seconds, double ahead, double worth, bool exact)
{
    const Measured m = {.ahead = ahead,
                        .noise = worth > 0.0 ? 1.0 / worth : HUGE_VAL,
                        .late = TURN_LATE * seconds,
                        .taken = seconds * (t->speed + (TURN_LATE - 1.0) * t->before),
                        .exact = exact};
    double moved = 0.0;
    t->before = t->speed;
    exchange(t, seconds);
    for (int i = 0; i < TURN_FILTERS; ++i) {
        let_time_pass(&t->filter[i], seconds, t->speed, drift[i]);
        if (worth > 0.0)
            correct(&t->filter[i], &m);
    }
    share_out(t);
    for (int i = 0; i < TURN_FILTERS; ++i)
        moved += t->filter[i].share * t->filter[i].at[PHASE_AT];
    for (int i = 0; i < TURN_FILTERS; ++i)
        t->filter[i].at[PHASE_AT] -= moved;
    combine(t);
    return moved;
}

void turn_placed(HumTurn *t, double phase_doubt, double speed_doubt)
{
    for (int i = 0; i < TURN_FILTERS; ++i) {
        TurnFilter *const f = &t->filter[i];
        f->at[PHASE_AT] = 0.0;
        f->doubt[PHASE_AT][PHASE_AT] = phase_doubt;
        f->doubt[SPEED_AT][SPEED_AT] = fmax(f->doubt[SPEED_AT][SPEED_AT], speed_doubt);
        f->doubt[PHASE_AT][SPEED_AT] = f->doubt[SPEED_AT][PHASE_AT] = 0.0;
        f->doubt[PHASE_AT][DRIFT_AT] = f->doubt[DRIFT_AT][PHASE_AT] = 0.0;
    }
    combine(t);
}
