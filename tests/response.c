#include "response.h"

#include "play.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>

#include <cmocka.h>

void response_take(Response *r, double rate, double decay, double damping, double seconds)
{
    const uint32_t n = (uint32_t)ceil(rate * seconds);
    *r = (Response){.rate = rate, .n = n, .out = {calloc(n, sizeof(float)), calloc(n, sizeof(float))}};
    Player player;
    assert_true(play_init(&player, &plate, rate, 1));
    assert_true(r->out[0] && r->out[1]);
    play_set(
        &player,
        &(PlateParams){.decay = decay, .damping = damping, .low_cut = 200.0, .wet = 0.0, .dry = -60.0, .width = 100.0});
    r->out[0][0] = 1.f;
    play(&player, (const float *const[]){r->out[0]}, r->out, n);
    play_done(&player);
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
