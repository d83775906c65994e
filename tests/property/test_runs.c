/* Random jobs: whatever is asked, a run stays within nature and its accounts close. */
#include "chance.h"
#include "kit.h"

#include "dryfront/drying.h"

static uint64_t seed = 0x9e3779b97f4a7c15u;

static double between(double low, double high) {
    return low + (high - low) * uniform(&seed);
}

static const char *const samples[] = {
    "water",
    "acetonitrile %.2f %%v/v, water",
    "tert-butanol %.2f %%v/v, water",
    "ethanol %.2f %%v/v, water",
    "acetone %.2f %%v/v, water",
    "acetic acid %.2f %%v/v, water",
    "dmso %.2f %%v/v, water",
    "acetonitrile %.2f %%v/v, methanol 3 %%v/v, trifluoroacetic acid 0.1 %%v/v, water",
};

typedef struct plan {
    df_dryer dryer;
    df_frozen_path path;
    df_setup setup;
    char text[160];
} plan;

static plan *make_plan(const kit *k) {
    static const char *const dryers[] = {"bench-55", "bench-85", "deep-105"}, *const vessels[] = {"vial_10R",
                                                                                                  "vial_20R",
                                                                                                  "flask_500"};
    plan *p = calloc(1, sizeof *p);
    df_composition c;
    assert_non_null(p);
    size_t sample = (size_t)between(0.0, 7.999), vessel = (size_t)between(0.0, 2.999);
    snprintf(p->text, sizeof p->text, samples[sample], between(1.0, 40.0));
    if (df_dryer_builtin(k->ctx, &p->dryer, dryers[(size_t)between(0.0, 2.999)]) != DF_OK ||
        df_composition_parse(k->ctx, &c, k->substances, p->text, NULL) != DF_OK ||
        df_frozen_path_make(k->ctx, &p->path, k->pairs, &c, DF_FREEZING_PRACTICE) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    p->dryer.chamber.control = (df_pressure_control)between(0.0, 2.999);
    df_setup_defaults(&p->setup);
    p->setup.dryer = &p->dryer;
    p->setup.class_count = uniform(&seed) < 0.3 ? 2 : 1;
    p->setup.keep_going = true;
    p->setup.time_limit = 60.0 * 3600.0;
    for (size_t i = 0; i < p->setup.class_count; i++) {
        df_class *q = &p->setup.classes[i];
        double fill = vessel == 2 ? between(50e-6, 250e-6) : between(1e-6, 5e-6);
        bool hung = vessel == 2;
        df_class_defaults(q);
        q->count = vessel == 2 ? 1 + (long)between(0.0, 8.0) : 1 + (long)between(0.0, 400.0);
        q->path = &p->path;
        q->composition = c;
        q->mass = fill * df_composition_density(&c);
        q->solids = fill * between(0.0, 30.0);
        df_cake_assume(&q->cake, between(0.0, 50.0));
        q->place = hung ? DF_PLACE_MANIFOLD : DF_PLACE_SHELF;
        q->room_area = hung ? 0.0 : between(0.0, 4e-4);
        q->start_temperature = between(165.0, 225.0);
        if (df_container_find(k->ctx, &q->container, vessels[vessel], NULL) != DF_OK ||
            df_shape_make(k->ctx, &q->shape, &q->container, q->mass / p->path.frozen_density,
                          hung && uniform(&seed) < 0.5 ? DF_LIE_SHELL : DF_LIE_REST, NULL) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
    }
    df_recipe *r = &p->setup.recipe;
    r->n = 1 + (size_t)between(0.0, 3.999);
    double pressure = uniform(&seed) < 0.5 ? 0.0 : between(3.0, 40.0);
    for (size_t i = 0; i < r->n; i++) {
        r->time[i] = i == 0 ? 0.0 : r->time[i - 1] + between(600.0, 4e4);
        r->shelf_temperature[i] = between(223.0, 288.0);
        r->pressure[i] = pressure;
    }
    return p;
}

static void random_runs(void **state) {
    const kit *k = *state;
    for (int trial = 0; trial < 250; trial++) {
        plan *p = make_plan(k);
        df_run run;
        if (df_run_simulate(k->ctx, &run, &p->setup) != DF_OK)
            fail_msg("trial %d, %s: %s", trial, p->text, df_context_message(k->ctx));
        for (size_t i = 0; i < run.species; i++) {
            near(df_run_account_error(&run, i), 0.0, 1e-8, "trial %d, %s: %s", trial, p->text, run.substance[i]->key);
            if (run.product[i] < -1e-6 * run.initial[i] || run.deposit[i] < -0.01 * run.initial[i] ||
                run.exhaust[i] < -1e-4 * run.initial[i])
                fail_msg("trial %d, %s: %s: product %.3g, trap %.3g, exhaust %.3g of %.3g kg", trial, p->text,
                         run.substance[i]->key, run.product[i], run.deposit[i], run.exhaust[i], run.initial[i]);
        }
        near((run.heat_out + run.heat_stored) / run.heat_in, 1.0, 1e-6, "trial %d, %s: heat", trial, p->text);
        double warmest = p->dryer.chamber.room_temperature, before = -1.0;
        for (size_t i = 0; i < p->setup.recipe.n; i++)
            warmest = fmax(warmest, p->setup.recipe.shelf_temperature[i]);
        for (size_t i = 0; i < run.moments; i++) {
            const df_moment *m = &run.moment[i];
            assert_true(m->time >= before);
            before = m->time;
            for (size_t j = 0; j <= run.species; j++)
                if (m->chamber[j] < -3.0)
                    fail_msg("trial %d, %s: %.3f Pa of gas %zu at %.2f h", trial, p->text, m->chamber[j], j,
                             m->time / 3600.0);
            for (size_t c = 0; c < run.class_count; c++)
                if (!(m->container[c].front > 150.0 && m->container[c].hottest < warmest + 0.5))
                    fail_msg("trial %d, %s: front %.2f K, hottest %.2f K at %.2f h", trial, p->text,
                             m->container[c].front, m->container[c].hottest, m->time / 3600.0);
        }
        df_run_free(&run);
        free(p);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(random_runs)};
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
