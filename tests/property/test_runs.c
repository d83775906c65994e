/* Random jobs, recipes and events: whatever is asked, a run stays within nature and its accounts close. */
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
    df_deposit deposit;
    df_setup setup;
    char text[160];
} plan;

static bool chance(double probability) {
    return uniform(&seed) < probability;
}

static void change_dryer(df_dryer *d) {
    d->chamber.control = (df_pressure_control)between(0.0, 2.999);
    d->chamber.degassing = chance(0.3) ? between(0.0, 0.01) : 0.0;
    if (chance(0.4)) {
        df_trap *t = &d->trap[d->traps++];
        *t = (df_trap){.kind = DF_TRAP_FINGER,
                       .area = between(0.01, 0.1),
                       .volume = between(5e-4, 5e-3),
                       .capacity = 0.3,
                       .heat_capacity = 500.0,
                       .power = NAN,
                       .coolant = chance(0.5) ? DF_COOLANT_DRY_ICE : DF_COOLANT_NITROGEN,
                       .charge = between(0.2, 3.0),
                       .loss = between(1.0, 20.0)};
        t->temperature = df_coolant_temperature(t->coolant);
        d->link = (df_tube){between(0.02, 0.06), between(0.2, 1.0)};
    }
    if (d->pump.kind == DF_PUMP_OIL_SEALED && chance(0.5))
        d->pump.ballast = between(0.0, 2e-4);
    if (chance(0.2)) {
        d->pump.kind = DF_PUMP_SCROLL;
        d->pump.ultimate = 1.0;
        df_pump_generic(d, between(5e-4, 3e-3));
    }
}

static void make_events(plan *p) {
    df_setup *s = &p->setup;
    double time = 0.0;
    s->events = (size_t)between(0.0, 4.999);
    for (size_t i = 0; i < s->events; i++) {
        df_event *e = &s->event[i];
        time += between(0.0, 2e4);
        e->kind = (df_event_kind)between(0.0, 3.999);
        if (e->kind == DF_EVENT_REFILL && p->dryer.traps < 2)
            e->kind = DF_EVENT_POWER_CUT;
        e->time = time;
        e->length = e->kind == DF_EVENT_REFILL ? 0.0 : between(60.0, 5000.0);
        e->thaw = 0.6 * e->length;
        e->trap = e->kind == DF_EVENT_REFILL ? 1 : (size_t)between(0.0, (double)p->dryer.traps - 0.001);
        if (chance(0.7)) /* else the next one overlaps */
            time += e->length;
    }
}

static void make_class(const kit *k, plan *p, df_class *q, const df_composition *c, const char *vessel) {
    bool hung = vessel[0] == 'f';
    double fill = hung ? between(50e-6, 250e-6) : between(1e-6, 5e-6), solids = between(0.0, 30.0);
    df_class_defaults(q);
    q->count = hung ? 1 + (long)between(0.0, 8.0) : 1 + (long)between(0.0, 400.0);
    q->path = &p->path;
    q->composition = *c;
    q->mass = fill * df_composition_density(c);
    q->solids = fill * solids;
    df_cake_assume(&q->cake, solids);
    q->place = hung ? DF_PLACE_MANIFOLD : DF_PLACE_SHELF;
    q->room_area = hung ? 0.0 : between(0.0, 4e-4);
    q->start_temperature = between(165.0, 225.0);
    if (chance(0.3))
        q->top_coefficient = between(0.5, 5.0);
    if (hung && chance(0.4))
        q->on_time = between(0.0, 2e4);
    if (hung && chance(0.3))
        q->off_time = fmax(q->on_time, 0.0) + between(1e3, 1e5);
    df_solute sugar;
    if (df_container_find(k->ctx, &q->container, NULL, vessel, NULL) != DF_OK ||
        df_shape_make(k->ctx, &q->shape, &q->container, q->mass / p->path.frozen_density,
                      hung && chance(0.5) ? DF_LIE_SHELL : DF_LIE_REST, NULL) != DF_OK ||
        df_solute_find(k->ctx, &sugar, k->substances, "sucrose", NULL) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    sugar.concentration = solids;
    if (df_class_bind(k->ctx, q, &sugar, 1) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
}

static plan *make_plan(const kit *k) {
    static const char *const dryers[] = {"bench-55", "bench-85", "deep-105"}, *const vessels[] = {"vial_10R",
                                                                                                  "vial_20R",
                                                                                                  "flask_500"};
    plan *p = calloc(1, sizeof *p);
    df_composition c;
    assert_non_null(p);
    const char *vessel = vessels[(size_t)between(0.0, 2.999)];
    snprintf(p->text, sizeof p->text, samples[(size_t)between(0.0, 7.999)], between(1.0, 40.0));
    if (df_dryer_builtin(k->ctx, &p->dryer, dryers[(size_t)between(0.0, 2.999)]) != DF_OK ||
        df_composition_parse(k->ctx, &c, k->substances, p->text, NULL) != DF_OK ||
        df_frozen_path_make(k->ctx, &p->path, k->pairs, &c, DF_FREEZING_PRACTICE) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    change_dryer(&p->dryer);
    df_setup_defaults(&p->setup);
    p->setup.dryer = &p->dryer;
    p->setup.class_count = chance(0.3) ? 2 : 1;
    p->setup.keep_going = true;
    p->setup.time_limit = 60.0 * 3600.0;
    p->setup.secondary = chance(0.5);
    p->setup.target[c.n - 1] = chance(0.5) ? between(0.01, 0.05) : 0.0;
    p->setup.loading = chance(0.5) ? between(60.0, 3600.0) : 0.0;
    p->setup.start_pressure = chance(0.5) ? DF_ATMOSPHERE : 100.0;
    if (chance(0.5)) {
        if (df_deposit_make(k->ctx, &p->deposit, k->pairs, &c) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        p->setup.deposit = &p->deposit;
    }
    for (size_t i = 0; i < p->setup.class_count; i++)
        make_class(k, p, &p->setup.classes[i], &c, vessel);
    make_events(p);
    df_recipe *r = &p->setup.recipe;
    r->n = 1 + (size_t)between(0.0, 3.999);
    double pressure = chance(0.5) ? 0.0 : between(3.0, 40.0);
    for (size_t i = 0; i < r->n; i++) {
        r->time[i] = i == 0 ? 0.0 : r->time[i - 1] + between(600.0, 4e4);
        r->shelf_temperature[i] = between(223.0, 298.0);
        r->pressure[i] = pressure;
    }
    return p;
}

static void check_accounts(const plan *p, const df_run *run, int trial) {
    for (size_t i = 0; i < run->species; i++) {
        double all = run->initial[i];
        near(df_run_account_error(run, i), 0.0, 1e-8, "trial %d, %s: %s", trial, p->text, run->substance[i]->key);
        if (run->product[i] < -1e-6 * all || run->bound[i] < -1e-6 * all || run->deposit[i] < -0.01 * all ||
            run->drained[i] < -0.01 * all || run->oil[i] < -1e-4 * all || run->exhaust[i] < -1e-4 * all)
            fail_msg("trial %d, %s: %s: product %.3g, bound %.3g, trap %.3g, drained %.3g, oil %.3g, exhaust %.3g of "
                     "%.3g kg",
                     trial, p->text, run->substance[i]->key, run->product[i], run->bound[i], run->deposit[i],
                     run->drained[i], run->oil[i], run->exhaust[i], all);
    }
    near((run->heat_out + run->heat_stored - run->heat_in) / fmax(fabs(run->heat_in), 100.0), 0.0, 1e-6,
         "trial %d, %s: heat", trial, p->text);
}

static void random_runs(void **state) {
    const kit *k = *state;
    for (int trial = 0; trial < 1000; trial++) {
        plan *p = make_plan(k);
        df_run run;
        if (df_run_simulate(k->ctx, &run, &p->setup) != DF_OK)
            fail_msg("trial %d, %s: %s", trial, p->text, df_context_message(k->ctx));
        check_accounts(p, &run, trial);
        double warmest = p->dryer.chamber.room_temperature, before = -INFINITY;
        for (size_t i = 0; i < p->setup.recipe.n; i++)
            warmest = fmax(warmest, p->setup.recipe.shelf_temperature[i]);
        for (size_t i = 0; i < run.moments; i++) {
            const df_moment *m = &run.moment[i];
            assert_true(m->time >= before);
            before = m->time;
            /* 3 Pa, and where air stands at one atmosphere what the integration's 3e-5 of it are worth */
            double least = -3.0 - 5e-5 * fmax(m->chamber[run.species], 0.0);
            for (size_t j = 0; j <= run.species; j++)
                if (m->chamber[j] < least || m->chamber[j] > 1.02 * DF_ATMOSPHERE)
                    fail_msg("trial %d, %s: %.3f Pa of gas %zu at %.2f h", trial, p->text, m->chamber[j], j,
                             m->time / 3600.0);
            for (size_t c = 0; c < run.class_count; c++)
                if (!(m->container[c].front > 150.0 && m->container[c].hottest < warmest + 0.5))
                    fail_msg("trial %d, %s: front %.2f K, hottest %.2f K of %.2f K at %.2f h", trial, p->text,
                             m->container[c].front, m->container[c].hottest, warmest, m->time / 3600.0);
            for (size_t j = 0; j < p->dryer.traps; j++)
                if (!(m->coil[j] > 70.0 && m->coil[j] < 330.0 && m->trap_surface[j] > 70.0 &&
                      m->trap_surface[j] < 330.0))
                    fail_msg("trial %d, %s: coil %.1f K, surface %.1f K at %.2f h", trial, p->text, m->coil[j],
                             m->trap_surface[j], m->time / 3600.0);
        }
        df_run_free(&run);
        free(p);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(random_runs)};
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
