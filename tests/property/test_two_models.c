/* Random vials and shells, dried by model (a) and replayed by model (b): where the one says that they agree, they do; balances
 * close and nothing leaves nature in any case. */
#include "chance.h"
#include "kit.h"

#include "dryfront/transient.h"

static uint64_t seed = 0x2545F4914F6CDD1Du;

static double between(double low, double high) {
    return low + (high - low) * uniform(&seed);
}

/* Evenly in the logarithm. */
static double order(double low, double high) {
    return low * pow(high / low, uniform(&seed));
}

typedef struct plan {
    df_dryer dryer;
    df_frozen_path path;
    df_setup setup;
    char text[200];
} plan;

static plan *make_plan(const kit *k, bool shell) {
    static const char *const samples[] = {"water", "acetonitrile %.1f %%v/v, water", "tert-butanol %.1f %%w/w, water",
                                          "ethanol %.1f %%v/v, water",
                                          "acetonitrile %.1f %%v/v, tert-butanol 5 %%v/v, water"};
    plan *p = calloc(1, sizeof *p);
    df_composition c;
    assert_non_null(p);
    snprintf(p->text, sizeof p->text, samples[below(&seed, 5)], between(8.0, 32.0));
    if (df_dryer_builtin(k->ctx, &p->dryer, "deep-105") != DF_OK ||
        df_composition_parse(k->ctx, &c, k->substances, p->text, NULL) != DF_OK ||
        df_frozen_path_make(k->ctx, &p->path, k->pairs, &c, DF_FREEZING_PRACTICE) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    p->dryer.chamber.control = uniform(&seed) < 0.5 ? DF_CONTROL_BLEED : DF_CONTROL_NONE;
    p->dryer.shelf.contact = order(5.0, 40.0);
    p->dryer.shelf.gas = 0.0;
    df_setup_defaults(&p->setup);
    p->setup.dryer = &p->dryer;
    p->setup.class_count = 1;
    p->setup.keep_going = true;
    p->setup.time_limit = 60.0 * 86400.0;
    df_class *q = &p->setup.classes[0];
    df_class_defaults(q);
    double fill = shell ? between(60e-6, 200e-6) : order(1.5e-6, 14e-6);
    q->count = shell ? 4 : 100;
    q->path = &p->path;
    q->composition = c;
    q->mass = fill * df_composition_density(&c);
    q->solids = fill * order(5.0, 150.0);
    q->start_temperature = between(205.0, 225.0);
    q->cake = (df_cake){.r0 = order(5e3, 1e5), .a1 = order(1e6, 1e8), .a2 = between(0.0, 200.0), .stated = true};
    q->place = shell ? DF_PLACE_MANIFOLD : DF_PLACE_SHELF;
    q->top_coefficient = uniform(&seed) < 0.3 ? between(0.5, 3.0) : 0.0;
    if (df_container_find(k->ctx, &q->container, NULL, shell ? "flask_500" : "vial_20R", NULL) != DF_OK ||
        df_shape_make(k->ctx, &q->shape, &q->container, q->mass / p->path.frozen_density,
                      shell ? DF_LIE_SHELL : DF_LIE_REST, NULL) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    if (shell)
        return p;
    p->setup.recipe.n = 1;
    p->setup.recipe.shelf_temperature[0] = between(233.0, strcmp(p->text, "water") == 0 ? 293.0 : 243.0);
    p->setup.recipe.pressure[0] = between(3.0, 40.0);
    return p;
}

/* Largest difference of the front's temperature, (b) less (a), at the same share of the framework, once all that leaves before
 * it has left in both: until then the two are at different mixtures. */
static double apart(const df_run *run, const df_transient *t) {
    size_t w = t->framework, at = 1;
    double worst = 0.0, from = 0.0, from_b = 0.0;
    for (size_t i = 0; i < t->species; i++)
        if (i != w && run->classes[0].species_time[i] < run->classes[0].species_time[w]) {
            from = fmax(from, run->classes[0].species_time[i] * 1.02);
            from_b = fmax(from_b, t->species_time[i] * 1.02);
        }
    for (size_t k = 0; k < run->moments; k++) {
        const df_moment *m = &run->moment[k];
        double left = m->container[0].left[w];
        if (m->time < from || left > 0.95 || left < 0.05)
            continue;
        while (at + 1 < t->moments && t->moment[at].left[w] > left)
            at++;
        const df_transient_moment *a = &t->moment[at - 1], *b = &t->moment[at];
        if (a->time < from_b || !(a->left[w] > b->left[w]))
            continue;
        double e = a->front + (a->left[w] - left) / (a->left[w] - b->left[w]) * (b->front - a->front) -
                   m->container[0].front;
        worst = fabs(e) > fabs(worst) ? e : worst;
    }
    return worst;
}

static void two_models(void **state) {
    const kit *k = *state;
    int agreeing = 0, parting = 0;
    for (int trial = 0; trial < 70; trial++) {
        bool shell = trial % 7 == 6;
        plan *p = make_plan(k, shell);
        df_run run;
        df_transient t;
        df_transient_range r;
        df_transient_options o;
        df_transient_defaults(&o);
        if (strcmp(p->text, "water") == 0 && trial % 3 == 0) /* a denser cake than model (a) has in mind */
            o.pores.openness = 0.2;
        if (df_run_simulate(k->ctx, &run, &p->setup) != DF_OK ||
            df_transient_replay(k->ctx, &t, &p->setup, &run, 0, &o) != DF_OK ||
            df_transient_range_find(k->ctx, &r, &p->setup, &run, 0, &o.pores) != DF_OK)
            fail_msg("trial %d, %s: %s", trial, p->text, df_context_message(k->ctx));
        for (size_t i = 0; i < t.species; i++)
            near((t.product[i] + t.vapour[i]) / t.initial[i], 1.0, 1e-8, "trial %d, %s: mass of %zu", trial, p->text,
                 i);
        near((t.heat_wall + t.heat_top - t.heat_vapour - t.heat_stored) / t.heat_vapour, 0.0, 1e-8,
             "trial %d, %s: heat", trial, p->text);
        double warmest = shell ? p->dryer.chamber.room_temperature : p->setup.recipe.shelf_temperature[0];
        for (size_t i = 0; i < t.moments; i++)
            if (!(t.moment[i].hottest < warmest + 0.1 && t.moment[i].front > 160.0))
                fail_msg("trial %d, %s: hottest %.2f K, front %.2f K at %.2f h", trial, p->text, t.moment[i].hottest,
                         t.moment[i].front, t.moment[i].time / 3600.0);
        size_t w = t.framework;
        double time = t.species_time[w] / run.classes[0].species_time[w] - 1.0, front = apart(&run, &t);
        if (getenv("DRYFRONT_SHOW") != NULL)
            printf(
                "%3d %-40s %s A1 %.1e Kv %4.1f P %4.1f | %7.2f h %+5.2f %% (est %+5.2f %%) front %+.2f K (%+.2f K) "
                "%ld steps %s\n",
                trial, p->text, shell ? "shell" : "vial ", p->setup.classes[0].cake.a1, p->dryer.shelf.contact,
                p->setup.recipe.pressure[0], run.classes[0].species_time[w] / 3600.0, 100.0 * time, 100.0 * r.time,
                front, r.temperature, t.steps, r.reason);
        /* Since model (a) has the gas over and in the cake, too, they differ by 1 % as a rule, and what is estimated is a
         * difference of two larger terms; 3.5 % where two vapours flow together. */
        near(r.time, time, 0.035 + 0.25 * fabs(time), "trial %d, %s: time as estimated", trial, p->text);
        if (r.agrees) {
            agreeing++;
            /* an estimate of 3 % and 0.5 K is itself not quite exact */
            near(time, 0.0, 0.035, "trial %d, %s: time where the models agree", trial, p->text);
            if (r.solvents_agree)
                near(front, 0.0, 0.6, "trial %d, %s: front where the models agree", trial, p->text);
        } else {
            parting++;
            assert_true(strlen(r.reason) > 20);
        }
        df_transient_free(&t);
        df_run_free(&run);
        free(p);
    }
    assert_true(agreeing > 50 && parting > 0);
}

/* What drives the vapour of model (a) is p* less its own pressure and less what the gas in its way takes, F (1 - exp(-Pe)): the rest
 * falls over the cake's resistance, flow R/A. The range's own drive is read back from how far a warmer front makes good, ease =
 * 1/(1 + p*' span/drive). */
static void the_gas_takes_its_part(void **state) {
    const kit *k = *state;
    double most = 0.0;
    for (int trial = 0; trial < 6; trial++) {
        plan *p = calloc(1, sizeof *p);
        df_composition c;
        df_run run;
        df_transient_range r;
        df_transient_options o;
        const double pressure = 10.0 * (trial + 1);
        df_transient_defaults(&o);
        assert_non_null(p);
        if (df_dryer_builtin(k->ctx, &p->dryer, "deep-105") != DF_OK ||
            df_composition_parse(k->ctx, &c, k->substances, "water", NULL) != DF_OK ||
            df_frozen_path_make(k->ctx, &p->path, k->pairs, &c, DF_FREEZING_PRACTICE) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        p->dryer.chamber.control = DF_CONTROL_BLEED;
        df_setup_defaults(&p->setup);
        p->setup.dryer = &p->dryer;
        p->setup.class_count = 1;
        p->setup.keep_going = true;
        p->setup.time_limit = 60.0 * 86400.0;
        df_class *q = &p->setup.classes[0];
        df_class_defaults(q);
        q->count = 20;
        q->path = &p->path;
        q->composition = c;
        q->mass = 3e-3;
        q->start_temperature = 220.0;
        q->cake = (df_cake){.r0 = 1e4, .a1 = 1e6, .stated = true};
        q->place = DF_PLACE_SHELF;
        if (df_container_find(k->ctx, &q->container, NULL, "vial_20R", NULL) != DF_OK ||
            df_shape_make(k->ctx, &q->shape, &q->container, q->mass / p->path.frozen_density, DF_LIE_REST, NULL) !=
                DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        p->setup.recipe.n = 1;
        p->setup.recipe.shelf_temperature[0] = 268.0;
        p->setup.recipe.pressure[0] = pressure;
        if (df_run_simulate(k->ctx, &run, &p->setup) != DF_OK ||
            df_transient_range_find(k->ctx, &r, &p->setup, &run, 0, &o.pores) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        const df_moment *m = run.moment;
        while (!(m->container[0].left[0] < 0.5))
            m++;
        const df_substance *water = kit_substance(k, "water");
        double t = m->container[0].front, span = m->shelf - t;
        double steep = df_solid_pressure(water, t + 0.5) - df_solid_pressure(water, t - 0.5);
        double drive = steep * span * r.ease / (1.0 - r.ease);
        double flow = m->rate[0] / (double)q->count, area = q->shape.volume / q->shape.thickness;
        double over = flow * (q->cake.r0 + q->cake.a1 * m->container[0].depth) / area;
        double plain = df_solid_pressure(water, t) - m->chamber[0];
        if (getenv("DRYFRONT_SHOW") != NULL)
            printf("%.0f Pa: of %.2f Pa the cake has %.2f Pa, the range %.2f Pa\n", pressure, plain, over, drive);
        near(drive / over, 1.0, 0.01, "drive at %.0f Pa", pressure);
        most = fmax(most, plain / over);
        df_run_free(&run);
        free(p);
    }
    assert_true(most > 1.5); /* the gas counts here */
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(two_models), cmocka_unit_test(the_gas_takes_its_part)};
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
