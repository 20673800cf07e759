#include "starter.h"

/* C has no constant that another could begin with, so what the chain shares with the two stands in a macro. */
#define COMPRESSOR                                                                                                     \
    {                                                                                                                  \
        .wanted = true, .threshold = -24.0, .wanted_reduction = 6.0, .learn = true, .ratio = 2.5, .attack = 1.0,       \
        .release = 10.0, .knee = 6.0, .look_ahead = 2.0, .detector_low_cut = 80.0, .even_loudness = true,              \
        .blend = 100.0                                                                                                 \
    }
#define ESSES                                                                                                          \
    {                                                                                                                  \
        .centre = 5500.0, .listening = true, .width = 1.0, .learn = true, .most_cut = -8.0                             \
    }

const CompressorParams starter_compressor = COMPRESSOR;
const EssesParams starter_esses = ESSES;
const ChainParams starter_chain = {
    .trim = {.target = -18.0, .learn = true, .ceiling = -1.0},
    .tone = {.low_cut = 100.0,
             .slope = TONE_CUT_18,
             .dip = {{250.0, 0.0, 1.0, false}, {400.0, 0.0, 1.0, false}, {800.0, 0.0, 1.0, false}},
             .air_freq = 12000.0,
             .air_lift = 3.0,
             .learn = true,
             .listening = true,
             .cut_listening = true,
             .even_loudness = true,
             .take_out = 5.0},
    .compressor = COMPRESSOR,
    .esses = ESSES,
    .plate = {.pre_delay = 20.0, .decay = 2.2, .low_cut = 200.0, .damping = 6500.0, .wet = -20.0, .width = 100.0},
};

ChainParams starter_held(ChainParams p)
{
    p.trim.learn = p.tone.learn = p.compressor.learn = p.esses.learn = false;
    return p;
}
