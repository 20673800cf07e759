/* Work in steps, from a table: what each cell does with its budget, in order, over a rest, and begun anew. */
#include "work.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

enum { STEPS = 12, CELLS = 8 };

typedef struct {
    double budget;
    uint32_t steps, begins; /* how many there are, from which cell on */
    double cost[STEPS];     /* a step's; 0: the last one's before it */
    uint32_t done[CELLS];   /* steps done by the end of each cell */
    double most;            /* of a cell */
} Case;

static const Case cases[] = {
    {1.0, 4, 0, {1.0}, {1, 2, 3, 4, 4, 4, 4, 4}, 1.0},
    {0.5, 3, 0, {1.0}, {1, 1, 2, 2, 3, 3, 3, 3}, 1.0},
    {2.5, 12, 0, {1.0}, {3, 5, 8, 10, 12, 12, 12, 12}, 3.0},
    {4.0, 6, 0, {1.0, 5.0, 1.0}, {2, 4, 6, 6, 6, 6, 6, 6}, 6.0},
    {4.0, 4, 0, {10.0, 1.0}, {1, 1, 3, 4, 4, 4, 4, 4}, 10.0},
    {2.0, 8, 3, {1.0}, {0, 0, 0, 2, 4, 6, 8, 8}, 2.0}, /* nothing was saved up before */
    {3.0, 0, 0, {1.0}, {0}, 0.0},
};

static double cost_of(const Case *c, uint32_t step)
{
    double cost = c->cost[0];
    for (uint32_t s = 1; s <= step; ++s)
        cost = c->cost[s] > 0.0 ? c->cost[s] : cost;
    return cost;
}

static void a_budget_is_kept(void **state)
{
    (void)state;
    for (size_t k = 0; k < sizeof cases / sizeof *cases; ++k) {
        const Case *c = &cases[k];
        Work w = {0};
        uint32_t done = 0;
        for (uint32_t cell = 0; cell < CELLS; ++cell) {
            for (work_grant(&w, c->budget); work_next(&w) && cell >= c->begins && done < c->steps; ++done)
                work_did(&w, cost_of(c, done));
            assert_int_equal(done, c->done[cell]);
        }
        assert_true(w.most == c->most);
    }
}

/* Costs that nobody has chosen: on average the budget is spent, and no cell takes more than it and one step. */
static void any_costs_keep_to_it(void **state)
{
    enum { MANY = 1000 };
    const double budget = 7.0, dearest = 12.0;
    Work w = {0};
    double spent = 0.0;
    uint32_t dice = 1;
    (void)state;
    for (int cell = 0; cell < MANY; ++cell) {
        for (work_grant(&w, budget); work_next(&w); spent += 1.0 + (dice >> 16) % 12)
            work_did(&w, 1.0 + ((dice = dice * 1103515245u + 12345u) >> 16) % 12);
        assert_true(w.cell < budget + dearest);
        assert_true(spent >= budget * (cell + 1) && spent < budget * (cell + 1) + dearest);
    }
}

static void it_begins_anew(void **state)
{
    Work w = {0};
    (void)state;
    work_grant(&w, 1.0);
    work_did(&w, 5.0);
    work_grant(&w, 1.0);
    assert_false(work_next(&w));
    assert_true(w.cell == 0.0 && w.most == 5.0);
    memset(&w, 0, sizeof w);
    assert_false(work_next(&w));
    work_grant(&w, 1.0);
    assert_true(work_next(&w));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_budget_is_kept),
        cmocka_unit_test(any_costs_keep_to_it),
        cmocka_unit_test(it_begins_anew),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
