#include "advice.h"

#include "fill.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>

/* ---- Faults ---- */

/* The limits and what to do at the source are those of ttl/check.ttl; both are common practice. */
static const Advice advices[] = {
    {"clipped", "clipped", "{clipped_samples} samples sit flat at full scale.",
     "Record again with less gain: nothing mends what was cut off.",
     "If this take has to do: no plug-in here brings the peaks back. Trim only makes room for what comes after.",
     "clipped_samples>3"},
    {"clipped", "clipped",
     "{flat_tops} tops of the wave are flat at {flat_tops_level}: it was clipped there, and then its level or rate was "
     "changed.",
     "Record again with less gain, and see that nothing on the way to the file clips: nothing mends what was cut off.",
     "If this take has to do: no plug-in here brings the peaks back, and turning it down does not either.",
     "!clipped_samples>3"},
    {"too_quiet", "too quiet", "The voice lies at {voice_level}; -24 dB is the least.",
     "More gain at the input, or closer to the microphone; closer also leaves noise and room behind.",
     "Trim brings the voice up to its target, by 30 dB at most; the noise comes up with it.", NULL},
    {"too_loud", "too loud", "The voice lies at {voice_level}; -12 dB is the most.",
     "Less gain at the input, rather than farther away: farther lets the room in.",
     "Trim brings the voice down to its target.", NULL},
    {"noisy", "noisy", "The noise floor lies at {noise_floor}, {signal_to_noise} under the voice, hum counted in.",
     "Come closer and take gain back; switch off what whirs; turn the deaf side of the microphone to the noise.",
     "Floor turns it down, by 10 dB or as floor.noise_down asks: --repair floor. Tone's low cut takes the rumble; a "
     "smaller compressor.wanted_reduction lifts the noise less.",
     NULL},
    {"hum", "hum",
     "A hum of {hum_mains} mains lies at {hum_level}, {hum_level~voice_level} under the voice; 50 dB is the least.",
     "Look for a ground loop, or a cable beside a mains lead or a transformer; use balanced cables.",
     "Hum turns it down, its harmonics too, as far as it is sure of it, and no note with it: --repair hum.", NULL},
    {"roomy", "roomy", "The room takes {decay} to decay by 60 dB.",
     "Come closer; hang something soft behind the singer and opposite; leave the corners and the middle of the room.",
     "Booth makes it drier, by 12 dB in the gaps or as booth.room_down asks: --repair booth. Tone finds its resonances "
     "and dips them; Plate can be lower or left out: this take brings its own room.",
     NULL},
    {"popping", "popping", "{pops} bursts of air.",
     "Use a pop filter, some centimetres before the microphone, or sing past the microphone.",
     "Pops tames them: --repair pops. Tone's low cut takes what is left of them under the lowest note.", NULL},
    {"uneven", "uneven", "The phrases spread over {phrase_spread}; 8 dB is the most.",
     "Keep the distance; lean back for the loud phrases only a little.",
     "--repair phrase brings them together, each as a whole, before the Compressor has the rest to do; in your host "
     "Phrase does it slowly, as it hears them come.",
     NULL},
    {"clicking", "clicking", "{clicks} clicks.",
     "If they keep time, they are a click track's: turn the headphones down. If not, a dry mouth clicks: drink "
     "something, not cold, and no milk. If it is neither: look for a bad contact.",
     "Ticks takes them out, in words and between them: --repair ticks.", NULL},
    {"breathy", "breathy", "{breaths} loud breaths, the middle one at {breath_level}.",
     "Turn the head a little to breathe, or lean back; the microphone a little above the mouth.",
     "Rests turns them down, by 6 dB or as rests.breath_down asks, before the Compressor lifts them: --repair rests.",
     NULL},
};

enum { ADVICES = sizeof advices / sizeof *advices };

/* 0 where there is no such port. */
static double shown(const Readings *r, const char *symbol)
{
    const Port *port;
    const Reading *reading = readings_of(r, symbol, &port);
    return reading ? (double)reading->last : 0.0;
}

static bool is_on(const Readings *r, const char *symbol)
{
    return shown(r, symbol) > 0.0;
}

static bool is_worst(const Readings *check, const Advice *a)
{
    const Port *port;
    const Reading *verdict = readings_of(check, "verdict", &port);
    const char *word = verdict ? port_label(port, verdict->last) : NULL;
    return word && label_is(word, a->verdict, false);
}

static bool applies(const Readings *check, const Advice *a)
{
    return is_on(check, a->port) && (!a->when || fill_holds(&(Said){.readings = check}, a->when));
}

/* Since the beginning of what was heard, and not past its end, which Check hears on after; nothing where Check has no
 * such port, or knows none. */
static void print_last(const Readings *check, const Advice *a, double seconds, FILE *to)
{
    char symbol[64], text[64];
    snprintf(symbol, sizeof symbol, "%s_at", a->port);
    fill_time(fmin(shown(check, symbol), floor(seconds)), text, sizeof text);
    if (is_on(check, symbol))
        fprintf(to, "  last heard     at %s\n", text);
}

static void print_one(const Readings *check, const Advice *a, double seconds, FILE *to)
{
    char found[256];
    const Port *port;
    if (!readings_of(check, a->port, &port) || !fill_in(check, a->found, found, sizeof found))
        return;
    found[0] = (char)toupper((unsigned char)found[0]);
    fprintf(to, "\n%s\n  found          %s\n", port->name, found);
    print_last(check, a, seconds, to);
    fprintf(to, "  at the source  %s\n  then           %s\n", a->source, a->then);
}

const Advice *advice_at(const Readings *check, uint32_t rank)
{
    for (size_t i = 0; i < 2 * (size_t)ADVICES; ++i) {
        const Advice *a = &advices[i % ADVICES];
        if (applies(check, a) && is_worst(check, a) == (i < ADVICES) && !rank--)
            return a;
    }
    return NULL;
}

const char *advice_voiceless(const Readings *check)
{
    if (shown(check, "peak") < -199.0)
        return "The take is silent: see that this is the vocal's track, and that it was not muted when it was "
               "exported.";
    if (shown(check, "peak") < -45.0)
        return "The take is too quiet to judge: see that this is the vocal's track and the microphone was on, and "
               "record it with more gain.";
    return "No voice was heard, so nothing was learned: see that this is the vocal's track, and that it holds a few "
           "seconds of voice. A whisper counts as none: set its gain by hand, with --set trim.hand_trim=.";
}

static uint32_t print_faults(const Readings *check, double seconds, FILE *to)
{
    uint32_t printed = 0;
    for (const Advice *a; (a = advice_at(check, printed)) != NULL; ++printed)
        print_one(check, a, seconds, to);
    return printed;
}

/* ---- Resonances ---- */

const Setting advice_tone = {.plugin = "tone", .symbol = "take_out", .value = "12"};

#define HEARD_REST 1.0 /* dB of a resonance that a dip may leave without a word: hardly heard */

/* All of it is common practice; README's Words has the same names. */
static const Region regions[] = {
    {180.0, "Boom", "booming", "no closer to the microphone than a hand's span, and both away from walls and corners."},
    {250.0, "Mud", "muddy", "no closer to the microphone than a hand's span; away from walls, corners and the desk."},
    {400.0, "Box", "boxy", "away from walls and the desk, and out of whatever is like a box: a booth, a wardrobe."},
    {850.0, "Honk", "honking", "sing a little past the microphone; no music stand, screen or bare wall close to it."},
    {1300.0, "Nose", "nasal",
     "sing a little past the microphone, and higher or lower than now; no screen or bare wall close to it."},
};

enum { REGIONS = sizeof regions / sizeof *regions };

/* Tone's read-outs of what it found. */
typedef struct {
    const char *freq, *depth, *text;
} Place;

static const Place places[] = {
    {"found1_freq", "found1_depth", "{found1_freq}, {found1_width} wide, {found1_sure} sure"},
    {"found2_freq", "found2_depth", "{found2_freq}, {found2_width} wide, {found2_sure} sure"},
    {"found3_freq", "found3_depth", "{found3_freq}, {found3_width} wide, {found3_sure} sure"},
};

enum { PLACES = sizeof places / sizeof *places };

typedef struct {
    const Place *place;
    const Region *region;
    double hz, dip; /* dB, above 0: the dip that it is worth */
} Resonance;

const Region *region_of(double hz)
{
    uint32_t i = 0;
    while (i + 1 < REGIONS && hz * hz >= regions[i].near * regions[i + 1].near)
        ++i;
    return &regions[i];
}

static int lower_first(const void *a, const void *b)
{
    const double x = ((const Resonance *)a)->hz, y = ((const Resonance *)b)->hz;
    return (x > y) - (x < y);
}

static uint32_t resonances_in(const Readings *tone, Resonance *found)
{
    uint32_t n = 0;
    for (size_t i = 0; i < PLACES; ++i) {
        const double hz = shown(tone, places[i].freq);
        if (hz > 0.0)
            found[n++] = (Resonance){&places[i], region_of(hz), hz, -shown(tone, places[i].depth)};
    }
    qsort(found, n, sizeof *found, lower_first);
    return n;
}

/* Tone finds none that is not worth a dip. It dips each by a share of its height, and never deeper than take_out. */
static void print_resonance(const Readings *tone, const Resonance *r, bool again, const char *heading, FILE *to)
{
    char text[128];
    const Port *limit;
    if (!readings_of(tone, advice_tone.symbol, &limit) || !fill_in(tone, r->place->text, text, sizeof text))
        return;
    const double deepest = (double)limit->def;
    fprintf(to, "  %-13s  %s%s: %s; worth a dip of %.1f dB%s.\n", heading, r->region->name, again ? " too" : "", text,
            fmin(r->dip, deepest), r->dip > deepest + HEARD_REST ? ", and the rest is for the source" : "");
}

static void print_source(const Region *region, const Resonance *found, uint32_t n, FILE *to)
{
    for (uint32_t i = 0; i < n; ++i) {
        if (found[i].region != region)
            continue;
        fprintf(to, "  %-13s  %s: %s\n", "", region->name, region->source);
        return;
    }
}

static void print_resonances(const Readings *tone, const Resonance *found, uint32_t n, FILE *to)
{
    if (!n)
        return;
    fputs("\nResonances\n", to);
    for (uint32_t i = 0; i < n; ++i)
        print_resonance(tone, &found[i], i && found[i].region == found[i - 1].region, i ? "" : "found", to);
    fputs("  at the source  Sing the line again a step aside: what moves or goes is the room's; stay where there is "
          "least of it.\n",
          to);
    for (size_t i = 0; i < REGIONS; ++i)
        print_source(&regions[i], found, n, to);
    fputs("  then           Tone dips them by itself; by hand at those places with tone.dips_placed_by=hand.\n", to);
}

/* ---- The chain ---- */

/* What the chain will set by what it heard, however the take is; with the conditions under which it is said. */
typedef struct {
    const char *when, *text;
} Line;

static const Line check_lines[] = {
    {"voice_range", "  voice          {voice_range}: load the presets of that name\n"},
};

static const Line tone_lines[] = {
    {"found_low_cut", "  low cut        {found_low_cut}, found from a lowest note of {lowest_note}\n"},
    {"voice !found_low_cut", "  low cut        60 Hz, under every voice: no note is sure in {voice_heard} of voice\n"},
    {"voice !found1_freq !found2_freq !found3_freq",
     "  resonances     no dip: nothing stood out for sure in {voice_heard} of voice\n"},
};

static const Line esses_lines[] = {
    {"found_centre",
     "  sibilance      strongest at {found_centre}, found; if it stings, first sing past the microphone\n"},
};

static void print_lines(const Readings *r, const Line *line, size_t lines, bool voice, FILE *to)
{
    char text[192];
    for (size_t i = 0; i < lines && r->plugin; ++i)
        if (fill_holds(&(Said){.readings = r, .voice = voice}, line[i].when) &&
            fill_in(r, line[i].text, text, sizeof text))
            fputs(text, to);
}

static void print_settings(const Readings *check, const Readings *tone, const Readings *esses, FILE *to)
{
    const bool voice = shown(check, "lowest_pitch") > 0.0;
    if (!voice && !is_on(esses, "found_centre"))
        return;
    fputs("\nwhat the chain sets by itself\n", to);
    print_lines(check, check_lines, sizeof check_lines / sizeof *check_lines, voice, to);
    print_lines(tone, tone_lines, sizeof tone_lines / sizeof *tone_lines, voice, to);
    print_lines(esses, esses_lines, sizeof esses_lines / sizeof *esses_lines, voice, to);
}

static void print_no_fault(bool too_little, bool noise_told, bool lopsided, uint32_t resonances, FILE *to)
{
    if (lopsided && !too_little)
        fputs("\nWhat is wrong between the channels stands above; put that right first.\n", to);
    else if (too_little)
        fputs("\nThat was too little voice for a verdict: Check wants some 3 seconds of it.\n", to);
    else if (!noise_told)
        fputs("\nNothing found so far to put right; noise not told: too few rests. For it, let the recording run\n"
              "for some seconds before the first word and after the last.\n",
              to);
    else if (resonances)
        fputs("\nNo fault: the take is ready for the chain. It can be better yet:\n", to);
    else
        fputs("\nNothing to put right: the take is ready for the chain.\n", to);
}

void advice_print(const Readings *check, const Readings *tone, const Readings *esses, double seconds, bool lopsided,
                  FILE *to)
{
    const Port *port;
    const Reading *verdict = readings_of(check, "verdict", &port);
    Resonance found[PLACES];
    const uint32_t resonances = resonances_in(tone, found);
    if (!verdict)
        return;
    const uint32_t faults = print_faults(check, seconds, to);
    if (!(verdict->last > 0.f) || !faults)
        print_no_fault(!(verdict->last > 0.f), is_on(check, "signal_to_noise"), lopsided, resonances, to);
    print_resonances(tone, found, resonances, to);
    print_settings(check, tone, esses, to);
}
