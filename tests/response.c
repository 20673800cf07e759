#include "response.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>

#include <cmocka.h>

static void play_cells(Plate *p, Response *r)
{
    for (uint32_t at = 0; at < r->n; at += DSP_CELL) {
        float in[2][DSP_CELL] = {{0}};
        const uint32_t n = r->n - at < DSP_CELL ? r->n - at : DSP_CELL;
        for (uint32_t c = 0; c < 2; ++c)
            in[c][0] = at == 0 ? r->out[c][0] : 0.f;
        plate.tick(p);
        plate.cell(p, (const float *const[]){in[0], in[1]}, (float *const[]){r->out[0] + at, r->out[1] + at}, n);
    }
}

void response_take_from(Response *r, uint32_t seed, ResponseInput input, double rate, double decay, double damping,
                        double seconds)
{
    const uint32_t n = (uint32_t)ceil(rate * seconds);
    *r = (Response){.rate = rate, .n = n, .out = {calloc(n, sizeof(float)), calloc(n, sizeof(float))}};
    Plate *p = calloc(1, sizeof *p);
    assert_true(p && plate_init_with(p, seed, rate, 2));
    assert_true(r->out[0] && r->out[1]);
    plate.set(p, &(PlateParams){
                     .decay = decay, .damping = damping, .low_cut = 200.0, .wet = 0.0, .dry = -60.0, .width = 100.0});
    r->out[0][0] = input != RESPONSE_TO_RIGHT;
    r->out[1][0] = input != RESPONSE_TO_LEFT;
    play_cells(p, r);
    plate.done(p);
    free(p);
}

void response_take(Response *r, double rate, double decay, double damping, double seconds)
{
    response_take_from(r, plate_tables_seed(rate), RESPONSE_TO_BOTH, rate, decay, damping, seconds);
}

void response_free(Response *r)
{
    free(r->out[0]);
    free(r->out[1]);
    *r = (Response){0};
}

uint32_t response_first(const Response *r, uint32_t channel)
{
    float peak = 0.f;
    for (uint32_t i = 0; i < r->n; ++i)
        peak = fmaxf(peak, fabsf(r->out[channel][i]));
    uint32_t first = 0;
    while (first < r->n && fabsf(r->out[channel][first]) < 1e-3f * peak)
        ++first;
    return first;
}
