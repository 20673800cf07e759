#include "run.h"

#include <stdlib.h>

uint32_t run_groups(const Run *r)
{
    return r->options.ins / plan_group(&r->plan);
}

Take *run_takes(const Run *r, uint32_t group)
{
    return &r->take[(size_t)group * plan_group(&r->plan)];
}

StageResult *run_results(const Run *r, uint32_t group)
{
    return &r->result[(size_t)group * r->options.stages];
}

static void free_lessons(Lesson *lesson, uint32_t groups)
{
    for (uint32_t g = 0; lesson && g < groups; ++g)
        lesson_free(&lesson[g]);
    free(lesson);
}

void run_forget_results(Run *r)
{
    const uint32_t takes = plan_group(&r->plan), results = r->result ? run_groups(r) * r->options.stages : 0;
    for (uint32_t i = 0; i < results; ++i) {
        lesson_free(&r->result[i].lesson);
        for (uint32_t t = 0; r->result[i].effect && t < takes; ++t)
            effect_free(&r->result[i].effect[t]);
        for (uint32_t t = 0; r->result[i].ride && t < takes; ++t)
            ride_free(&r->result[i].ride[t]);
        for (uint32_t t = 0; r->result[i].hum && t < takes; ++t)
            hum_whole_free(&r->result[i].hum[t]);
        free(r->result[i].effect);
        free(r->result[i].ride);
        free(r->result[i].hum);
    }
    free(r->result);
    r->result = NULL;
}

void run_free(Run *r)
{
    if (r->plan.options) {
        run_forget_results(r);
        free_lessons(r->check, run_groups(r));
        lesson_free(&r->all);
        free_lessons(r->tone, run_groups(r));
        free_lessons(r->esses, run_groups(r));
    }
    for (uint32_t t = 0; r->look && t < r->options.ins; ++t)
        look_free(&r->look[t]);
    free(r->look);
    takes_free(r->take, r->options.ins);
    take_close(&r->like.other);
    leftovers_free(&r->left);
    preset_bundle_free(&r->preset);
    outputs_free(&r->outputs);
    plan_free(&r->plan);
    options_free(&r->options);
    *r = (Run){0};
}
