/* Routes: the search against an exhaustive one, each route against a run of its own, boiling down against Rayleigh's closed
 * form, and what must hold for any of them. */
#include "advice/action.h"
#include "kit.h"

#ifdef _OPENMP
#include <omp.h>
#endif

static const char *const head = "job: a test\npurpose: %s\ndryer: bench-55\nsample:\n  composition: %s\n%s"
                                "containers:\n  - {type: %s, count: %d, fill: %s, place: %s}\n"
                                "freezing: {means: %s}\n%s";

typedef struct setting {
    df_job job;
    df_dryer dryer, other[2];
    df_routes_task task;
} setting;

static setting *setting_of(const kit *k, const char *purpose, const char *composition, const char *solutes,
                           const char *type, int count, const char *fill, const char *place, const char *means,
                           const char *rest) {
    char text[1200];
    setting *s = calloc(1, sizeof *s);
    assert_non_null(s);
    int n = snprintf(text, sizeof text, head, purpose, composition, solutes, type, count, fill, place, means, rest);
    if (df_job_parse(k->ctx, &s->job, k->substances, NULL, text, (size_t)n, "test") != DF_OK ||
        df_dryer_builtin(k->ctx, &s->dryer, "bench-55") != DF_OK ||
        df_dryer_builtin(k->ctx, &s->other[0], "bench-85") != DF_OK ||
        df_dryer_builtin(k->ctx, &s->other[1], "deep-105") != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    s->task = (df_routes_task){.job = &s->job, .dryer = &s->dryer, .other = s->other};
    return s;
}

static df_routes find(const kit *k, const df_routes_task *task) {
    df_routes r;
    if (df_routes_find(k->ctx, &r, task, k->substances, k->pairs) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    return r;
}

static void same_route(const df_route *a, const df_route *b) {
    assert_int_equal(a->actions, b->actions);
    for (size_t i = 0; i < a->actions; i++) {
        assert_int_equal(a->action[i].kind, b->action[i].kind);
        assert_true(a->action[i].to == b->action[i].to && a->action[i].hold == b->action[i].hold);
        assert_int_equal(a->action[i].passes, b->action[i].passes);
    }
    assert_int_equal(a->standing, b->standing);
    assert_true(a->cost == b->cost || (isnan(a->cost) && isnan(b->cost)));
    assert_true(a->margin == b->margin || (isnan(a->margin) && isnan(b->margin)));
    assert_true(a->hands_on == b->hands_on && a->vented == b->vented && a->loads == b->loads);
}

static void same(const df_routes *a, const df_routes *b) {
    assert_int_equal(a->count, b->count);
    for (size_t i = 0; i < a->count; i++)
        same_route(&a->route[i], &b->route[i]);
    assert_int_equal(a->nearest != NULL, b->nearest != NULL);
    if (a->nearest != NULL)
        same_route(a->nearest, b->nearest);
    assert_int_equal(a->miss, b->miss);
    assert_int_equal(a->serving, b->serving);
    assert_int_equal(a->dominated, b->dominated);
}

static const char recipe[] = "recipe:\n  - {time: 0 h, shelf_temperature: -20 °C}\n";

/* Small jobs: wetted that is accepted, wetted that is not, afloat, on a manifold, one that nothing helps within its time,
 * too much for the oil. */
static setting *small(const kit *k, int i) {
    switch (i) {
    case 1:
        return setting_of(k, "screening", "acetonitrile 30 %v/v, water", "", "vial_20R", 40, "6 mL", "shelf",
                          "dry_ice_bath", recipe);
    case 2:
        return setting_of(k, "archive", "acetonitrile 30 %v/v, water", "", "vial_20R", 40, "6 mL", "shelf",
                          "dry_ice_bath", recipe);
    case 3:
        return setting_of(k, "screening", "methanol 50 %v/v, water", "", "vial_20R", 40, "6 mL", "shelf",
                          "dry_ice_bath", recipe);
    case 4:
        return setting_of(k, "archive", "tert-butanol 20 %v/v, water", "", "flask_500", 4, "100 mL", "manifold",
                          "freezer", "");
    case 5:
        return setting_of(k, "archive", "dmso 30 %v/v, water", "", "vial_20R", 40, "6 mL", "shelf", "dry_ice_bath",
                          "recipe:\n  - {time: 0 h, shelf_temperature: -30 °C}\nlimits: {time: 20 h}\n");
    case 6: /* too much for the oil; boiled off to nothing */
        return setting_of(k, "intermediate", "thf 30 %v/v, water", "", "flask_1000", 12, "400 mL", "manifold",
                          "freezer", "");
    case 7: /* the shelf rises faster than the glass of the cake */
        return setting_of(k, "archive", "water", "  solutes:\n    - {name: sucrose, concentration: 50 g/L}\n",
                          "vial_20R", 40, "4 mL", "shelf", "liquid_nitrogen",
                          "recipe:\n  - {time: 0 h, shelf_temperature: -40 °C}\n"
                          "  - {time: 50 h, shelf_temperature: -40 °C}\n  - {time: 54 h, shelf_temperature: 25 °C}\n"
                          "  - {time: 64 h, shelf_temperature: 25 °C}\nresidual: {water: 2 %}\n");
    default:
        return NULL;
    }
}

static void as_exhaustive(void **state) {
    const kit *k = *state;
    size_t answers = 0, none = 0, changed = 0;
    for (int i = 1; i < 8; i++) {
        if (i == 3)
            continue; /* much as the second, and slow */
        setting *s = small(k, i);
        s->task.others = i == 4 ? 1 : 0;
        df_routes quick = find(k, &s->task);
        s->task.exhaustive = true;
        df_routes full = find(k, &s->task);
        same(&quick, &full);
        assert_true(quick.combinations <= full.combinations && quick.runs <= full.runs);
        print_message("job %d: %zu routes, %zu serving; %zu of %zu runs\n", i, quick.count, quick.serving, quick.runs,
                      full.runs);
        answers += quick.count;
        none += quick.count == 0;
        changed += quick.count > 0 && quick.route[0].actions > 0;
        df_routes_free(&quick);
        df_routes_free(&full);
        free(s);
    }
    assert_true(answers > 5 && none >= 1 && changed >= 3); /* the cases tell something */
}

/* Each route stands as it says when its job is run on its dryer from the start, and needs each of its actions. */
static void stands_alone(void **state) {
    const kit *k = *state;
    for (int i = 1; i < 5; i++) {
        setting *s = small(k, i);
        df_routes r = find(k, &s->task);
        for (size_t n = 0; n < r.count; n++) {
            const df_route *x = &r.route[n];
            df_stand *stand = calloc(1, sizeof *stand);
            if (df_stand_simulate(k->ctx, stand, &x->job, &x->dryer, k->pairs, NULL) != DF_OK)
                fail_msg("%s", df_context_message(k->ctx));
            assert_int_equal(stand->standing, x->standing);
            assert_true(stand->acceptable && x->acceptable);
            near(stand->run.time, x->run_time, 1e-9, "time of route %zu of job %d", n, i);
            assert_true(x->standing == DF_RIGID || df_purpose_accepts_wetted(s->job.purpose));
            df_stand_free(stand);
            free(stand);
            assert_true(n == 0 || r.route[n - 1].cost <= x->cost);
            assert_true(isnan(x->chance) || (x->chance >= 0.0 && x->chance <= 1.0));
            if (isfinite(x->margin)) /* more margin, more chance: half where there is none */
                assert_true(isnan(x->chance) || (x->margin > 0.0) == (x->chance > 0.5));
        }
        for (size_t a = 0; a < r.count; a++)
            for (size_t b = 0; b < r.count; b++)
                assert_true(a == b || r.route[a].standing > r.route[b].standing ||
                            !(r.route[a].time < r.route[b].time && r.route[a].hands_on < r.route[b].hands_on &&
                              r.route[a].vented < r.route[b].vented && r.route[a].margin > r.route[b].margin &&
                              r.route[a].purchase < r.route[b].purchase));
        df_routes_free(&r);
        free(s);
    }
}

/* What is put in is found again: in exhaust, trap, oil and distillate, to what the run leaves in gas and product. */
static void nothing_is_lost(void **state) {
    const kit *k = *state;
    size_t seen = 0, boiled = 0;
    for (int i = 1; i < 7; i++) {
        if (i == 4 || i == 5)
            continue; /* holds the same solvent; has no route */
        setting *s = small(k, i);
        df_routes r = find(k, &s->task);
        const df_composition *c = &s->job.composition;
        double mole = 0.0;
        for (size_t j = 0; j < c->n; j++)
            mole += c->x[j] * df_basis_measure(c->component[j], DF_BASIS_VOLUME);
        for (size_t n = 0; n < r.count; n++)
            for (size_t j = 0; j < c->n; j++) {
                const df_route *x = &r.route[n];
                double in = c->x[j] * c->component[j]->molar_mass / mole * (double)s->job.group[0].count *
                            s->job.group[0].fill,
                       found = 0.0;
                for (size_t h = 0; h < x->shares; h++)
                    if (x->share[h].substance == c->component[j])
                        found = x->share[h].vented + x->share[h].trapped + x->share[h].oil + x->share[h].distilled;
                if (c->component[j]->is_water)
                    continue; /* some is poured in */
                near(found / in, 1.0, 6e-3, "%s of route %zu of job %d", c->component[j]->key, n, i);
                boiled += x->boilings > 0;
                seen++;
            }
        df_routes_free(&r);
        free(s);
    }
    assert_true(seen > 6 && boiled > 2);
}

static void threads_do_not_matter(void **state) {
#ifdef _OPENMP
    const kit *k = *state;
    setting *s = small(k, 1);
    int before = omp_get_max_threads();
    omp_set_num_threads(1);
    df_routes one = find(k, &s->task);
    omp_set_num_threads(3);
    df_routes three = find(k, &s->task);
    omp_set_num_threads(before);
    same(&one, &three);
    df_routes_free(&one);
    df_routes_free(&three);
    free(s);
#else
    (void)state;
    skip();
#endif
}

/* ---- boiling down --------------------------------------------------------------------------------------------- */

static df_liquid *liquid_of(const kit *k, const df_job *job, const df_action *action, const df_efforts *e,
                            const df_pairs *pairs) {
    df_liquid *l = calloc(1, sizeof *l);
    if (df_liquid_make(k->ctx, l, action, job, e, kit_substance(k, "water"), pairs) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    return l;
}

/* The flask is held at one temperature: of an ideal mixture the relative volatility is then constant, and what is left
 * follows Rayleigh's closed form ln(n0/n) = [ln(x0/x) + alpha ln((1 - x)/(1 - x0))]/(alpha - 1). Methanol and ethanol are
 * near to ideal: alpha is taken from their pure pressures, and the mixture's own activities move it by less than 2 %. */
static void rayleigh(void **state) {
    const kit *k = *state;
    df_efforts e;
    assert_int_equal(df_efforts_read(k->ctx, &e), DF_OK);
    setting *s = setting_of(k, "screening", "methanol 40 %v/v, ethanol 60 %v/v, water 0 %v/v", "", "vial_20R", 40,
                            "5 mL", "shelf", "liquid_nitrogen", recipe);
    const df_substance *pair[2] = {s->job.composition.component[0], s->job.composition.component[1]};
    const double x0 = s->job.composition.x[0];
    df_strip_task task = {.aim = DF_STRIP_TO_AMOUNT,
                          .hold = DF_STRIP_AT_TEMPERATURE,
                          .temperature = e.strip_bath - e.strip_approach,
                          .pressure = NAN};
    df_action half = {.kind = DF_ACTION_EXCHANGE, .passes = 1};
    df_liquid *l = liquid_of(k, &s->job, &half, &e, k->pairs);
    assert_true(l->possible);
    assert_int_equal(l->boilings, 1);
    near(l->boiling[0].flask, task.temperature, 1e-9, "temperature of the flask");
    /* Moles left of each, from the weights and the volume: two equations. */
    double m0 = pair[0]->molar_mass, m1 = pair[1]->molar_mass, v0 = df_basis_measure(pair[0], DF_BASIS_VOLUME),
           v1 = df_basis_measure(pair[1], DF_BASIS_VOLUME);
    double det = m0 * v1 - m1 * v0;
    double n0 = (l->boiling[0].left * v1 - m1 * l->boiling[0].volume_left) / det;
    double n1 = (m0 * l->boiling[0].volume_left - v0 * l->boiling[0].left) / det;
    double p0 = (l->boiling[0].put_in * v1 - m1 * l->boiling[0].volume) / det;
    double p1 = (m0 * l->boiling[0].volume - v0 * l->boiling[0].put_in) / det;
    near(p0 / (p0 + p1), x0, 1e-6, "what is put in");
    near(l->boiling[0].volume_left, 0.5 * l->boiling[0].volume, 1e-9, "half the volume");
    double x = n0 / (n0 + n1);
    double alpha = df_liquid_pressure(pair[0], task.temperature) / df_liquid_pressure(pair[1], task.temperature);
    double closed = (log(x0 / x) + alpha * log((1.0 - x) / (1.0 - x0))) / (alpha - 1.0);
    assert_true(alpha > 1.8 && alpha < 2.6 && x < x0);
    near(closed, log((p0 + p1) / (n0 + n1)), 0.03, "ln(n0/n) against Rayleigh");
    /* The time is the heat over what the bath gives. Heats of vaporisation near 37.9 and 42.3 kJ/mol at 20 °C (from memory):
     * within 5 %. */
    double heat = 37.9e3 * (p0 - n0) + 42.3e3 * (p1 - n1);
    near(l->time / (heat / (e.strip_coefficient * e.strip_area * e.strip_approach)), 1.0, 0.05, "time of boiling");
    free(l);
    free(s);
}

/* Limits that stop a boiling down, each with its reason. */
static void refusals(void **state) {
    const kit *k = *state;
    df_efforts e;
    assert_int_equal(df_efforts_read(k->ctx, &e), DF_OK);
    static const struct {
        const char *composition, *limit;
        double to;
        bool possible;
        const char *why;
    } cases[] = {
        {"acetonitrile 30 %v/v, water", "", 0.05, true, ""},
        {"acetonitrile 30 %v/v, water", "limits: {product_temperature: 30 °C}\n", 0.05, true, ""},
        {"acetonitrile 30 %v/v, water", "limits: {product_temperature: 15 °C}\n", 0.05, false, "no room"},
        {"formic acid 60 %v/v, water", "", 0.3, false, "azeotrope"}, /* highest boiling: tends to it */
        {"dmso 30 %v/v, water", "", 0.1, false, "does not bring it down"},
        {"1,4-dioxane 80 %v/v, water", "", 0.02, false, "peroxide"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char rest[300];
        snprintf(rest, sizeof rest, "%s%s", recipe, cases[i].limit);
        setting *s = setting_of(k, "screening", cases[i].composition, "", "vial_20R", 40, "5 mL", "shelf",
                                "dry_ice_bath", rest);
        df_action strip = {.kind = DF_ACTION_STRIP, .to = cases[i].to};
        df_liquid *l = liquid_of(k, &s->job, &strip, &e, k->pairs);
        if (l->possible != cases[i].possible || strstr(l->why, cases[i].why) == NULL)
            fail_msg("%s to %g: %d '%s'", cases[i].composition, cases[i].to, l->possible, l->why);
        if (l->possible) {
            double f[DF_MAX_COMPONENTS];
            df_composition_fractions(f, &l->composition, DF_BASIS_VOLUME);
            near(f[0], cases[i].to, 1e-6, "fraction left of %s", cases[i].composition);
            double bath = s->job.product_temperature > 0.0 ? s->job.product_temperature : e.strip_bath;
            near(l->boiling[0].bath, bath, 1e-9, "bath");
        }
        bool peroxide = strstr(cases[i].composition, "dioxane") != NULL;
        assert_true(!peroxide || (l->warns & DF_WARN_PEROXIDE));
        free(l);
        free(s);
    }
}

/* Where the glass of the cake decides, a slower rise is among what serves, and it is the last rise alone that changes. */
static void slower_rise(void **state) {
    const kit *k = *state;
    setting *s = small(k, 7);
    df_routes r = find(k, &s->task);
    bool seen = false;
    assert_int_equal(r.as_it_is_cause, DF_CAUSE_GLASS);
    for (size_t i = 0; i < r.count; i++) {
        const df_route *q = &r.route[i];
        const df_recipe *a = &s->job.recipe, *b = &q->job.recipe;
        if (q->actions != 1 || q->action[0].kind != DF_ACTION_RISE)
            continue;
        seen = true;
        assert_true(q->standing == DF_RIGID && q->margin >= s->job.margin);
        assert_int_equal(b->n, a->n);
        assert_true(b->time[1] == a->time[1]);
        near(q->action[0].from, 65.0 / (4.0 * 3600.0), 1e-9, "rate before");
        near((b->shelf_temperature[2] - b->shelf_temperature[1]) / (b->time[2] - b->time[1]), q->action[0].to, 1e-9,
             "rate");
        near(b->time[3] - b->time[2], 10.0 * 3600.0, 1e-6, "what follows keeps its length");
    }
    assert_true(seen);
    df_routes_free(&r);
    free(s);
}

/* Nothing works: it says so, with what comes nearest and by how much. */
static void nothing_works(void **state) {
    const kit *k = *state;
    setting *s =
        setting_of(k, "release", "methanol 60 %v/v, water", "", "vial_20R", 40, "10 mL", "shelf", "dry_ice_bath",
                   "recipe:\n  - {time: 0 h, shelf_temperature: -40 °C}\nlimits: {time: 3 h}\n");
    df_routes r = find(k, &s->task);
    assert_int_equal(r.count, 0);
    assert_non_null(r.nearest);
    assert_false(r.nearest->acceptable);
    assert_int_not_equal(r.miss, DF_MISS_NONE);
    assert_true(r.missing > 0.0);
    df_routes_free(&r);
    free(s);
}

/* Side by side is as one by one. */
static void comparison(void **state) {
    const kit *k = *state;
    setting *a = small(k, 1), *b = small(k, 4);
    df_job *jobs = calloc(2, sizeof *jobs);
    df_comparison cell[4];
    jobs[0] = a->job;
    jobs[1] = b->job;
    if (df_compare(k->ctx, cell, jobs, 2, a->other, 2, k->pairs) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    for (size_t i = 0; i < 4; i++) {
        df_job job = jobs[i / 2];
        df_stand *stand = calloc(1, sizeof *stand);
        df_job_adapt(&job, &a->other[i % 2]);
        if (df_stand_simulate(k->ctx, stand, &job, &a->other[i % 2], k->pairs, NULL) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        assert_true(cell[i].fits && cell[i].standing == stand->standing && cell[i].cause == stand->cause);
        assert_true(!stand->simulated || cell[i].time == stand->run.time);
        df_stand_free(stand);
        free(stand);
    }
    a->other[1].shelf.area = 1e-3;
    if (df_compare(k->ctx, cell, jobs, 1, a->other, 2, k->pairs) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    assert_true(cell[0].fits && !cell[1].fits && strstr(cell[1].because, "shelf") != NULL);
    free(jobs);
    free(a);
    free(b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(as_exhaustive),         cmocka_unit_test(stands_alone),  cmocka_unit_test(nothing_is_lost),
        cmocka_unit_test(threads_do_not_matter), cmocka_unit_test(rayleigh),      cmocka_unit_test(refusals),
        cmocka_unit_test(slower_rise),           cmocka_unit_test(nothing_works), cmocka_unit_test(comparison),
    };
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
