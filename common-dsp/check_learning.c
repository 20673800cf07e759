#include "check_learning.h"

#include "check_faults.h"
#include "units.h"

#define TOPS_NEAR 1.0 /* dB: that far from their mean lie those that were clipped */

/* Frames from the end of a block of voice to the frame that reports its level. */
enum { BLOCK_LATE = VOICE_LEVEL_NEAR * VOICE_LEVEL_FRAMES };

/* ---- What is counted, and when a fault was heard ---- */

static double seconds(const Check *c)
{
    return c->began + (double)c->cells * DSP_CELL / c->rate;
}

/* s from a frame's sound to what is found in it. */
static double frame_lag(const Check *c)
{
    return (c->hearing.listening.late + c->hearing.hop) / c->rate;
}

static void learn(Check *c, CheckTally which, double value)
{
    check_memory_count(&c->memory, which, value);
    ++c->version;
}

/* A fault was heard `ago` seconds ago. */
static void date(Check *c, CheckFault fault, double ago)
{
    if (check_memory_when(&c->memory, fault, seconds(c) - ago))
        ++c->version;
}

/* The same, but only if `level` (dB) lies more than `over` (dB) above the voice's level. */
static void date_level(Check *c, CheckFault fault, double level, double over, double ago)
{
    const double voice = c->report.voice_level;
    if (voice > UNITS_DB_FLOOR && level > voice + over)
        date(c, fault, ago);
}

static void learn_level(Check *c, double db)
{
    const double level = db - pops_raise(&c->pops, BLOCK_LATE),
                 ago = frame_lag(c) + BLOCK_LATE * c->hearing.hop / c->rate;
    check_memory_block(&c->memory, level);
    ++c->version;
    if (level < -check_faults_limit(FAULT_TOO_QUIET))
        date(c, FAULT_TOO_QUIET, ago);
    if (level > check_faults_limit(FAULT_TOO_LOUD))
        date(c, FAULT_TOO_LOUD, ago);
}

static void learn_rest(Check *c, const RestFound *rest)
{
    if (rest->first)
        check_memory_more(&c->memory, CHECK_MORE_RESTS);
    if (rest->silent)
        check_memory_more(&c->memory, CHECK_MORE_SILENT);
    if (rest->first || rest->silent)
        ++c->version;
    if (!rest->block)
        return;
    learn(c, CHECK_NOISE, rest->block_db);
    if (rest->block_db < c->report.voice_level - MAINS_REST_UNDER)
        date_level(c, FAULT_NOISY, rest->block_db, check_faults_limit(FAULT_NOISY), frame_lag(c));
}

static void learn_hum(Check *c, const double *db)
{
    static const CheckTally tally[HUM_FAMILIES] = {CHECK_HUM_50, CHECK_HUM_60};
    for (uint32_t f = 0; f < HUM_FAMILIES; ++f) {
        learn(c, tally[f], db[f]);
        date_level(c, FAULT_HUM, db[f], check_faults_limit(FAULT_HUM), frame_lag(c));
    }
}

static void learn_decay(Check *c, const DecayFound *fall)
{
    if (!fall->times)
        return;
    check_memory_count_many(&c->memory, CHECK_DECAYS, log2(fall->t60), fall->times);
    check_memory_more(&c->memory, CHECK_MORE_FALLS);
    ++c->version;
    if (fall->t60 > check_faults_limit(FAULT_ROOMY))
        date(c, FAULT_ROOMY, frame_lag(c));
}

/* A phrase is uneven when its level is more than half the limit away from the voice's level, either way. */
static void learn_phrase(Check *c, double db)
{
    learn(c, CHECK_PHRASES, db);
    if (c->report.voice_level > UNITS_DB_FLOOR &&
        fabs(db - c->report.voice_level) > 0.5 * check_faults_limit(FAULT_UNEVEN))
        date(c, FAULT_UNEVEN, frame_lag(c));
}

static void learn_burst(Check *c, double db)
{
    learn(c, CHECK_BURSTS, db);
    date_level(c, FAULT_POPPING, db, 0.0, frame_lag(c) + POPS_AFTER * c->hearing.hop / c->rate);
}

static void learn_breath(Check *c, double db)
{
    learn(c, CHECK_BREATH_LEVELS, db);
    if (db < c->report.voice_level - CHECK_BREATH_MOST)
        date_level(c, FAULT_BREATHY, db, -CHECK_BREATH_UNDER, frame_lag(c));
}

static void learn_click(Check *c, double db)
{
    learn(c, CHECK_CLICK_LEVELS, db);
    date_level(c, FAULT_CLICKING, db, -CHECK_CLICK_UNDER, CLICKS_LAG);
}

static void learn_note(Check *c, const NoteFound *note)
{
    if (!note->voiced)
        return;
    for (uint32_t i = 0; i < note->held.frames; ++i)
        check_memory_count(&c->memory, CHECK_NOTES, note->held.note[i]);
    if (note->sung)
        check_memory_count(&c->memory, CHECK_CENTS, note->centre - floor(note->centre));
    check_memory_frame(&c->memory, note->steady, note->sung, note->lasting);
    ++c->version;
}

static void learn_loudness(Check *c)
{
    if (c->loudness.hops == c->hops)
        return;
    c->hops = c->loudness.hops;
    const double momentary = loudness_now_momentary(&c->loudness), short_term = loudness_now_short_term(&c->loudness);
    if (momentary > LOUDNESS_LOW)
        learn(c, CHECK_MOMENTARY, momentary);
    if (short_term > LOUDNESS_LOW)
        learn(c, CHECK_SHORT_TERM, short_term);
}

/* A lower peak changes nothing. It is a hair under the peak learned, so that this is not learned again. */
static float known_peak(const Check *c)
{
    return (float)(0.99999 * db_to_gain(c->memory.peak));
}

static void learn_peaks(Check *c)
{
    if (check_memory_peak(&c->memory, gain_to_db(c->cell_peak), c->cell_clipped))
        ++c->version;
    if (c->cell_clipped)
        date(c, FAULT_CLIPPED, 0.0);
    c->cell_peak = known_peak(c);
    c->cell_clipped = 0;
}

/* A flat top by itself proves nothing. It is a clipped one where it lies among those that do, or while nothing is known
 * of any clipping. */
static bool is_clipped(const Check *c, double db)
{
    const CheckReport *r = &c->report;
    return r->flat_tops > 0.0 ? fabs(db - r->flat_tops_level) < TOPS_NEAR : !c->memory.counter[CHECK_COUNT_CLIPPED];
}

static void learn_tops(Check *c, FlatTops *heard)
{
    for (uint32_t i = 0; i < heard->tops; ++i) {
        const double db = gain_to_db(heard->top[i].level);
        check_memory_top(&c->memory, db, heard->top[i].flat);
        if (heard->top[i].flat && is_clipped(c, db))
            date(c, FAULT_CLIPPED, c->hearing.hop / c->rate);
    }
    c->version += heard->tops > 0;
    heard->tops = 0;
}

/* ---- What a cell and a frame brought ---- */

static void hear_frame(Check *c, const HearingFrame *frame)
{
    double value;
    if (frame->voice.block)
        learn_level(c, frame->voice.db);
    const RestFound rest = rests_hear(&c->rests, frame);
    learn_rest(c, &rest);
    if (rest.window && !c->hearing.hum.busy && check_memory_window(&c->memory, rest.window_db))
        hum_look(&c->hearing.hum, frame->end);
    const DecayFound fall = decay_hear(&c->decay, frame);
    learn_decay(c, &fall);
    if (pops_hear(&c->pops, frame, &value))
        learn_burst(c, value);
    if (breaths_hear(&c->breaths, frame, &value))
        learn_breath(c, value);
    if (phrases_hear(&c->phrases, frame, c->report.voice_level, &value))
        learn_phrase(c, value);
    const NoteFound note = notes_hear(&c->notes, frame);
    learn_note(c, &note);
    for (uint32_t k = 0; k < c->channels; ++k)
        learn_tops(c, &c->flat_tops[k]);
}

void check_learning_cell(Check *c)
{
    double value, hum[HUM_FAMILIES];
    const HearingFrame *frame = hearing_frame(&c->hearing);
    if (frame)
        hear_frame(c, frame);
    if (hum_found(&c->hearing.hum, hum))
        learn_hum(c, hum);
    if (clicks_found(&c->clicks, &value))
        learn_click(c, value);
    learn_loudness(c);
    learn_peaks(c);
    date(c, (CheckFault)CHECK_NOW, 0.0);
    ++c->cells;
}
