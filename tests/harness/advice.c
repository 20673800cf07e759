#include "advice.h"

#include "low_cut.h"
#include "report.h"

/* The limits and what to do at the source are those of ttl/check.ttl; both are common practice. */
typedef struct {
    const char *port;    /* Check's yes/no */
    const char *verdict; /* the word it has for it */
    const char *found, *source, *then;
} Advice;

static const Advice advices[] = {
    {"clipped", "clipped", "{clipped_samples} samples sit flat at full scale.",
     "Record again with less gain: nothing mends what was cut off.",
     "If this take has to do: no plug-in here brings the peaks back. Trim only makes room for what comes after."},
    {"too_quiet", "level", "The voice lies at {voice_level}; -24 dB is the least.",
     "More gain at the input, or closer to the microphone; closer also leaves noise and room behind.",
     "Trim brings the voice up to its target; the noise comes up with it."},
    {"too_loud", "level", "The voice lies at {voice_level}; -12 dB is the most.",
     "Less gain at the input, rather than farther away: farther lets the room in.",
     "Trim brings the voice down to its target."},
    {"noisy", "noisy", "The noise floor lies at {noise_floor}, {signal_to_noise} under the voice, hum counted in.",
     "Come closer and take gain back; switch off what whirs; turn the deaf side of the microphone to the noise.",
     "No plug-in here takes noise out of a voice. Tone's low cut takes the rumble; a smaller "
     "compressor.wanted_reduction "
     "lifts the noise less."},
    {"hum", "hum", "A hum of {hum_mains} mains lies at {hum_level}.",
     "Look for a ground loop, or a cable beside a mains lead or a transformer; use balanced cables.",
     "Tone's low cut at 24 dB per octave takes what lies under the lowest note; the harmonics above it stay."},
    {"roomy", "roomy", "The room takes {decay} to decay by 60 dB.",
     "Come closer; hang something soft behind the singer and opposite; leave the corners and the middle of the room.",
     "No plug-in here dries a room. Tone finds its resonances with tone.dips_placed_by=listening; Plate can be lower "
     "or "
     "left out: this take brings its own room."},
    {"popping", "popping", "{pops} bursts of air.",
     "Use a pop filter, some centimetres before the microphone, or sing past the microphone.",
     "Tone's low cut, 24 dB per octave, as high as the lowest note lets it, softens them."},
    {"uneven", "uneven", "The phrases spread over {phrase_spread}; 8 dB is the most.",
     "Keep the distance; lean back for the loud phrases only a little.",
     "Ride the level of the phrases in the host before the chain; then the Compressor has only the rest to even out."},
};

enum { ADVICES = sizeof advices / sizeof *advices };

static bool is_on(const Readings *check, const char *symbol)
{
    const Port *port;
    const Reading *reading = readings_of(check, symbol, &port);
    return reading && reading->last > 0.f;
}

static bool is_worst(const Readings *check, const Advice *a)
{
    const Port *port;
    const Reading *verdict = readings_of(check, "verdict", &port);
    const char *word = verdict ? port_label(port, verdict->last) : NULL;
    return word && label_is(word, a->verdict, false);
}

static void print_one(const Readings *check, const Advice *a, FILE *to)
{
    char found[256];
    const Port *port;
    if (!readings_of(check, a->port, &port) || !report_fill_in(check, a->found, found, sizeof found))
        return;
    fprintf(to, "\n%s\n  found          %s\n  at the source  %s\n  then           %s\n", port->name, found, a->source,
            a->then);
}

static uint32_t print_faults(const Readings *check, bool worst, FILE *to)
{
    uint32_t printed = 0;
    for (size_t i = 0; i < ADVICES; ++i) {
        if (!is_on(check, advices[i].port) || is_worst(check, &advices[i]) != worst)
            continue;
        print_one(check, &advices[i], to);
        ++printed;
    }
    return printed;
}

/* What to set in the chain, however the take is. */
static void print_settings(const Readings *check, FILE *to)
{
    const Port *port;
    const Reading *lowest = readings_of(check, "lowest_pitch", &port);
    char range[128];
    if (!lowest || !(lowest->last > 0.f))
        return;
    fputs("\nfor the chain\n", to);
    if (is_on(check, "voice_range") && report_fill_in(check, "{voice_range}", range, sizeof range))
        fprintf(to, "  voice          %s: load the presets of that name\n", range);
    fprintf(to, "  low cut        %.0f Hz (tone.low_cut): the lowest note is %.0f Hz\n",
            low_cut_for((double)lowest->last), (double)lowest->last);
}

void advice_print(const Readings *check, FILE *to)
{
    const Port *port;
    const Reading *verdict = readings_of(check, "verdict", &port);
    if (!verdict)
        return;
    const uint32_t faults = print_faults(check, true, to) + print_faults(check, false, to);
    if (!(verdict->last > 0.f))
        fputs("\nThat was too little voice for a verdict: Check wants some 3 seconds of it.\n", to);
    else if (!faults)
        fputs("\nNothing to put right: the take is ready for the chain.\n", to);
    print_settings(check, to);
}
