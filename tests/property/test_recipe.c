/* The search for recipes on random jobs: the path against every recipe of one and two holds on a grid, against an integral for one
 * vial, against model (b); and that more room never costs time. */
#include "chance.h"
#include "kit.h"

#include "advice/quest.h"
#include "dryfront/report.h"
#include "dryfront/transient.h"

static uint64_t seed = 0x5DEECE66D1234567u;

static double between(double low, double high) {
    return low + (high - low) * uniform(&seed);
}

typedef struct plan {
    df_job job;
    df_dryer dryer;
    df_recipe_advice advice;
    char text[1200];
} plan;

static void read_plan(const kit *k, plan *p, const char *dryer) {
    if (df_job_parse(k->ctx, &p->job, k->substances, NULL, p->text, strlen(p->text), "job.yaml") != DF_OK ||
        df_dryer_builtin(k->ctx, &p->dryer, dryer) != DF_OK)
        fail_msg("%s\n%s", df_context_message(k->ctx), p->text);
}

static const char *const solvents[] = {"water", "acetonitrile %.1f %%v/v, water", "tert-butanol %.1f %%v/v, water",
                                       "1,4-dioxane %.1f %%v/v, water"};

static plan *make_plan(const kit *k, int trial, bool edge) {
    static const char *const dryers[] = {"bench-55", "bench-85", "deep-105"};
    static const char *const solutes[] = {"sucrose", "trehalose", "mannitol", "small_molecule"};
    char composition[100], spots[40] = "";
    plan *p = calloc(1, sizeof *p);
    assert_non_null(p);
    snprintf(composition, sizeof composition, solvents[trial % 4], between(3.0, 25.0));
    long count = (long)between(40.0, 400.0);
    if (edge)
        snprintf(spots, sizeof spots, ", edge: %ld", count / 4);
    snprintf(p->text, sizeof p->text,
             "job: random %d\npurpose: archive\ndryer: any\nsample:\n  composition: %s\n  solutes:\n"
             "    - {name: %s, concentration: %.1f g/L}\n"
             "containers:\n  - {type: vial_20R, count: %ld%s, fill: %.2f mL, place: shelf}\n"
             "freezing: {means: liquid_nitrogen}\n"
             "recipe:\n  - {time: 0 h, shelf_temperature: %.1f °C}\n"
             "limits: {margin: %.2f K, time: 300 h}\n"
             "cake: {r0: %.4g m/s, a1: %.4g 1/s}\n",
             trial, composition, solutes[below(&seed, 4)], between(10.0, 80.0), count, spots, between(1.5, 6.0),
             between(-35.0, 10.0), between(0.5, 3.0), between(5e3, 4e4), between(1e6, 3e7));
    read_plan(k, p, dryers[trial % 3]);
    return p;
}

static double pressure_of(int trial) {
    static const double pressures[] = {0.0, 6.0, 10.0, 20.0};
    return pressures[trial % 4 == 0 ? trial / 4 % 4 : (trial / 4 + trial) % 4];
}

/* The shortest time of all recipes of one and two holds on a grid that keep the limits, with a degree and four hours between. */
static double best_of_grid(const kit *k, const plan *p, double pressure, long *tried) {
    df_ground *ground = calloc(1, sizeof *ground);
    df_quest q;
    double best = INFINITY, low = p->advice.coldest, high = p->advice.warmest;
    assert_non_null(ground);
    if (df_ground_prepare(k->ctx, ground, &p->job, &p->dryer, k->pairs, true) != DF_OK ||
        df_quest_open(&q, ground) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    for (double first = low; first <= high; first += 4.0) {
        for (double until = 2.0; until <= 20.0; until *= 1.8) {
            bool any = false;
            double top = high;
            for (double second = low + 1.0; second <= top; second += 3.0) {
                df_recipe_plan trial = {.recipe = {.n = 3}};
                df_recipe *r = &trial.recipe;
                r->time[1] = 3600.0 * until;
                r->time[2] = r->time[1] + fmax(fabs(second - first) / p->advice.shelf_ramp, 1.0);
                r->shelf_temperature[0] = r->shelf_temperature[1] = first;
                r->shelf_temperature[2] = second;
                r->pressure[0] = r->pressure[1] = r->pressure[2] = pressure;
                if (df_quest_plan(&q, &trial, fmin(best, p->job.time_limit), 1e-4, 0.0) != DF_OK)
                    fail_msg("%s", df_context_message(q.ctx));
                ++*tried;
                any = any || trial.kept;
                if (!trial.kept && second > low + 1.0)
                    break; /* warmer still is none the better */
                if (trial.kept && trial.dry)
                    best = fmin(best, trial.time);
            }
            if (!any)
                break;
        }
    }
    df_quest_close(&q);
    free(ground);
    return best;
}

static void no_grid_is_faster(void **state) {
    const kit *k = *state;
    int with = 0, ruled[DF_BOUNDS] = {0};
    for (int trial = 0; trial < 20; trial++) {
        plan *p = make_plan(k, trial, trial % 5 == 4);
        double pressure = pressure_of(trial);
        long tried = 0;
        const df_recipe_task task = {between(270.0, 300.0), pressure, NAN};
        if (df_recipe_find(k->ctx, &p->advice, &p->job, &p->dryer, k->pairs, &task) != DF_OK)
            fail_msg("trial %d: %s", trial, df_context_message(k->ctx));
        const df_recipe_advice *a = &p->advice;
        double grid = best_of_grid(k, p, pressure, &tried);
        if (getenv("DRYFRONT_SHOW") != NULL) {
            printf("%2d %-36.36s path %6.2f h grid %6.2f h of %ld; holds", trial,
                   strstr(p->text, "composition: ") + 13, a->path.time / 3600.0, grid / 3600.0, tried);
            for (size_t n = 0; n < DF_MOST_HOLDS; n++)
                printf(" %6.2f", a->hold[n].kept && a->hold[n].dry ? a->hold[n].time / 3600.0 : NAN);
            printf(" best %zu, %ld runs %s\n", a->best, a->runs, a->because);
        }
        if (!a->found) {
            if (isfinite(grid))
                fail_msg("trial %d: nothing found, and yet %.2f h by the grid; %s\n%s", trial, grid / 3600.0,
                         a->because, p->text);
            free(p);
            continue;
        }
        with++;
        assert_true(a->path.kept && a->path.dry);
        if (!(a->path.time <= 1.005 * grid))
            fail_msg("trial %d: path %.3f h, grid %.3f h\n%s", trial, a->path.time / 3600.0, grid / 3600.0, p->text);
        for (size_t n = 0; n < DF_MOST_HOLDS; n++) {
            const df_recipe_plan *h = &a->hold[n];
            if (!h->kept || !h->dry)
                continue;
            df_recipe_plan again;
            if (!(a->path.time <= 1.005 * h->time))
                fail_msg("trial %d: path %.3f h, %zu holds %.3f h", trial, a->path.time / 3600.0, n + 1,
                         h->time / 3600.0);
            bool slow = h->slow > 0.0;
            assert_int_equal(h->recipe.n, 2 * n + 1 + (slow ? 2 : 0));
            if (df_recipe_check(k->ctx, &again, &p->job, &p->dryer, k->pairs, &h->recipe, false) != DF_OK)
                fail_msg("%s", df_context_message(k->ctx));
            assert_true(again.kept && again.dry && again.margin >= p->job.margin);
            for (size_t i = 0; i < h->recipe.n; i++) {
                if (slow && i + 1 == h->recipe.n) {
                    near(remainder(60.0 * h->slow, 0.005), 0.0, 1e-9, "steps of 0.005 K/min");
                    near((h->recipe.shelf_temperature[i] - h->recipe.shelf_temperature[i - 1]) /
                             (h->recipe.time[i] - h->recipe.time[i - 1]) / h->slow,
                         1.0, 1e-9, "the slow ramp as it is named");
                } else
                    near(remainder(h->recipe.time[i], 1800.0), 0.0, 1e-6, "half hours");
                near(remainder(h->recipe.shelf_temperature[i] - DF_ZERO_CELSIUS, 1.0), 0.0, 1e-6, "whole degrees");
                near(remainder(h->recipe.pressure[i], 1.0), 0.0, 1e-9, "hundredths of a mbar");
                assert_true(h->recipe.shelf_temperature[i] >= a->coldest - 1e-6 &&
                            h->recipe.shelf_temperature[i] <= a->warmest + 1e-6);
                if (i > 0 && !(fabs(h->recipe.shelf_temperature[i] - h->recipe.shelf_temperature[i - 1]) <=
                               1.0001 * a->ramp * (h->recipe.time[i] - h->recipe.time[i - 1])))
                    fail_msg("trial %d: a ramp is too steep", trial);
            }
        }
        for (size_t i = 0; i < a->path.recipe.n; i++) {
            const df_recipe *r = &a->path.recipe;
            assert_true(r->shelf_temperature[i] >= a->coldest - 1e-9 && r->shelf_temperature[i] <= a->warmest + 1e-9);
            if (i > 0 && !(fabs(r->shelf_temperature[i] - r->shelf_temperature[i - 1]) <=
                           1.0001 * a->shelf_ramp * (r->time[i] - r->time[i - 1]) + 1e-6))
                fail_msg("trial %d: the path passes the shelf's ramp", trial);
            /* what is said to rule does */
            double rise = i > 0 ? r->shelf_temperature[i] - r->shelf_temperature[i - 1] : 0.0;
            if (a->path.bound[i] == DF_BOUND_SHELF)
                near(r->shelf_temperature[i], a->warmest, 0.2, "trial %d: as warm as may be at point %zu", trial, i);
            else if (a->path.bound[i] == DF_BOUND_RAMP && i > 0)
                near(rise / (a->shelf_ramp * (r->time[i] - r->time[i - 1])), 1.0, 0.05, "trial %d: ramp to point %zu",
                     trial, i);
            ruled[a->path.bound[i]]++;
        }
        free(p);
    }
    assert_true(with >= 15 && ruled[DF_BOUND_PRODUCT] > 50 && ruled[DF_BOUND_RAMP] + ruled[DF_BOUND_SHELF] > 3);
}

/* What the dryer can hold bounds the path: a narrow duct near sonic flow, a pressure that the framework's own vapour must not pass.
 * Seen in a run of the path by itself. */
static void dryer_bounds_the_path(void **state) {
    const kit *k = *state;
    for (int held = 0; held < 2; held++) {
        plan *p = calloc(1, sizeof *p);
        df_ground *g = calloc(1, sizeof *g);
        assert_true(p != NULL && g != NULL);
        snprintf(p->text, sizeof p->text,
                 "job: narrow\npurpose: archive\ndryer: any\nsample: {composition: water}\n"
                 "containers:\n  - {type: vial_20R, count: 200, fill: 3 mL, place: shelf}\n"
                 "freezing: {means: liquid_nitrogen}\nrecipe:\n  - {time: 0 h, shelf_temperature: -30 °C}\n"
                 "limits: {margin: 2 K, time: 300 h}\ncake: {r0: 1e4 m/s, a1: 3e6 1/s}\n");
        read_plan(k, p, "deep-105");
        p->dryer.duct.diameter = held ? 0.05 : 0.025;
        p->dryer.chamber.control = held ? DF_CONTROL_BLEED : DF_CONTROL_NONE;
        const df_recipe_task task = {300.0, held ? 12.0 : 0.0, NAN};
        if (df_recipe_find(k->ctx, &p->advice, &p->job, &p->dryer, k->pairs, &task) != DF_OK ||
            df_ground_prepare(k->ctx, g, &p->job, &p->dryer, k->pairs, true) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        assert_true(p->advice.found);
        df_run run;
        g->setup.recipe = p->advice.path.recipe;
        if (df_run_simulate(k->ctx, &run, &g->setup) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        double most = 0.0;
        for (size_t i = 0; i < run.moments; i++)
            if (run.moment[i].settled && held && run.moment[i].wanted > 0.0 && run.moment[i].time > 7200.0)
                most = fmax(most, run.moment[i].chamber[0] / run.moment[i].wanted);
        if (getenv("DRYFRONT_SHOW") != NULL)
            printf("held %d: choke %.3f, vapour %.3f of the set point\n", held, run.highest_choke, most);
        if (held)
            near(most, DF_HOLD_PRESSURE, 0.06, "vapour over the set point");
        else
            near(run.highest_choke, DF_HOLD_CHOKE, 0.03, "share of sonic flow");
        df_run_free(&run);
        free(g);
        free(p);
    }
}

/* Where only a framework is kept, its own limit counts while solvent is left: a shelf whose hottest point lies between solidus and
 * that limit is kept as wetted and not as rigid, a warmer one as neither. The limit is read off the frozen path. */
static void wetted_keeps_the_framework(void **state) {
    const kit *k = *state;
    plan *p = calloc(1, sizeof *p);
    df_ground *g = calloc(1, sizeof *g);
    assert_true(p != NULL && g != NULL);
    snprintf(
        p->text, sizeof p->text,
        "job: wetted\npurpose: screening\ndryer: any\nsample: {composition: \"acetonitrile 20 %%v/v, water\"}\n"
        "containers:\n  - {type: vial_20R, count: 60, fill: 3 mL, place: shelf}\n"
        "freezing: {means: liquid_nitrogen}\nrecipe:\n  - {time: 0 h, shelf_temperature: -30 °C}\n"
        "limits: {margin: 8 K, time: 300 h}\nmodel: {least_framework: 75 %%}\ncake: {r0: 1e6 m/s, a1: 1e8 1/s}\n");
    read_plan(k, p, "deep-105");
    if (df_ground_prepare(k->ctx, g, &p->job, &p->dryer, k->pairs, true) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    double solidus = df_effective_solidus(&g->path, p->job.trace_liquid), limit = g->path.lowest;
    for (size_t i = 0; i < g->path.points; i++)
        if (g->path.solid_volume[i] >= p->job.least_framework)
            limit = g->path.lowest + g->path.step * (double)i;
    double margin = p->job.margin;
    assert_true(limit > solidus + 20.0);
    int kept[2] = {0}, broken = 0;
    for (double shelf = solidus - 12.0; shelf < limit + 30.0; shelf += 3.0) {
        df_recipe recipe = {.n = 1, .shelf_temperature = {shelf}, .pressure = {0.0}};
        df_recipe_plan as[2];
        df_run run;
        for (int wetted = 0; wetted < 2; wetted++)
            if (df_recipe_check(k->ctx, &as[wetted], &p->job, &p->dryer, k->pairs, &recipe, wetted == 1) != DF_OK)
                fail_msg("%s", df_context_message(k->ctx));
        g->setup.recipe = recipe;
        if (df_run_simulate(k->ctx, &run, &g->setup) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        double hottest = 0.0, rest = INFINITY; /* while solvent is left; margin behind it */
        for (size_t i = 0; i < run.moments; i++) {
            const df_class_moment *c = &run.moment[i].container[0];
            if (!(run.moment[i].time > run.classes[0].solvent_time))
                hottest = fmax(hottest, c->hottest);
            else if (!isnan(c->limit))
                rest = fmin(rest, c->limit - c->hottest);
        }
        if (getenv("DRYFRONT_SHOW") != NULL)
            printf("shelf %.1f K: hottest %.2f K, limits %.2f and %.2f K, behind %.2f K; kept %d %d\n", shelf,
                   hottest, solidus, limit, rest, as[0].kept, as[1].kept);
        bool clear = fabs(limit - margin - hottest) > 0.2 && fabs(rest - margin) > 0.2;
        if (clear)
            assert_int_equal(as[1].kept, hottest < limit - margin && rest > margin);
        if (fabs(solidus - margin - hottest) > 0.2 && clear)
            assert_int_equal(as[0].kept, hottest < solidus - margin && rest > margin);
        kept[0] += as[0].kept;
        kept[1] += as[1].kept;
        broken += clear && !as[1].kept && as[1].broken == DF_BOUND_PRODUCT && rest > margin;
        df_run_free(&run);
    }
    if (!(kept[1] > kept[0] + 1 && broken > 0))
        fail_msg("kept as rigid %d, as wetted %d; %d too warm for the framework", kept[0], kept[1], broken);
    free(g);
    free(p);
}

/* What rules changes when a class's solvent or framework has gone: the path has a set point there, so that it does not slope across
 * the change. Times by a run of the path. */
static void path_stops_at_a_change(void **state) {
    const kit *k = *state;
    static const char *const samples[] = {"acetonitrile 8 %v/v, water", "acetonitrile 15 %v/v, water",
                                          "tert-butanol 8 %v/v, water"};
    for (size_t trial = 0; trial < sizeof samples / sizeof samples[0]; trial++) {
        plan *p = calloc(1, sizeof *p);
        df_ground *g = calloc(1, sizeof *g);
        df_run run;
        assert_true(p != NULL && g != NULL);
        snprintf(p->text, sizeof p->text,
                 "job: change\npurpose: archive\ndryer: any\nsample:\n  composition: %s\n  solutes:\n"
                 "    - {name: sucrose, concentration: 30 g/L}\n"
                 "containers:\n  - {type: vial_20R, count: 100, fill: 4 mL, place: shelf}\n"
                 "freezing: {means: liquid_nitrogen}\nrecipe:\n  - {time: 0 h, shelf_temperature: -45 °C}\n"
                 "limits: {margin: 2 K, time: 300 h}\ncake: {r0: 2e4 m/s, a1: 1e7 1/s}\n",
                 samples[trial]);
        read_plan(k, p, "deep-105");
        const df_recipe_task task = {283.15, 0.0, NAN};
        if (df_recipe_find(k->ctx, &p->advice, &p->job, &p->dryer, k->pairs, &task) != DF_OK ||
            df_ground_prepare(k->ctx, g, &p->job, &p->dryer, k->pairs, true) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        assert_true(p->advice.found);
        g->setup.recipe = p->advice.path.recipe;
        if (df_run_simulate(k->ctx, &run, &g->setup) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        const double change[2] = {run.classes[0].solvent_time, run.classes[0].species_time[g->framework]};
        for (int n = 0; n < 2; n++) {
            double nearest = INFINITY, gap = NAN;
            for (size_t i = 1; i < g->setup.recipe.n; i++)
                if (fabs(g->setup.recipe.time[i] - change[n]) < fabs(nearest)) {
                    nearest = g->setup.recipe.time[i] - change[n];
                    gap = g->setup.recipe.time[i] - g->setup.recipe.time[i - 1];
                }
            if (getenv("DRYFRONT_SHOW") != NULL)
                printf("%zu: change at %.3f h, a set point %+.1f s from it, %.0f s behind the one before\n", trial,
                       change[n] / 3600.0, nearest, gap);
            if (!(nearest > -60.0 && nearest < 120.0)) /* steps there are 1000 s and more */
                fail_msg("%zu: change at %.3f h, the next set point %.0f s from it", trial, change[n] / 3600.0,
                         nearest);
        }
        df_run_free(&run);
        free(g);
        free(p);
    }
}

/* A shelf that gets no colder than a little above the whole degree at which a hold is just kept: the path is still found, holds stay
 * where the shelf can go or there are none. */
static void holds_within_a_poor_shelf(void **state) {
    const kit *k = *state;
    plan *p = calloc(1, sizeof *p);
    assert_non_null(p);
    snprintf(p->text, sizeof p->text,
             "job: poor shelf\npurpose: archive\ndryer: any\nsample:\n  composition: acetonitrile 8 %%v/v, water\n  "
             "solutes:\n"
             "    - {name: sucrose, concentration: 30 g/L}\n"
             "containers:\n  - {type: vial_20R, count: 100, fill: 4 mL, place: shelf}\n"
             "freezing: {means: liquid_nitrogen}\nrecipe:\n  - {time: 0 h, shelf_temperature: 0 °C}\n"
             "limits: {margin: 2 K, time: 300 h}\ncake: {r0: 2e4 m/s, a1: 1e7 1/s}\n");
    read_plan(k, p, "deep-105");
    const df_recipe_task task = {283.15, 0.0, NAN};
    double kept = NAN; /* warmest end of the shelf with which a hold stands at it */
    int found = 0;
    for (double lowest = 245.15; lowest < 252.0; lowest += 1.0) {
        p->dryer.shelf.lowest = lowest;
        if (df_recipe_find(k->ctx, &p->advice, &p->job, &p->dryer, k->pairs, &task) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        if (p->advice.found && p->advice.best > 0)
            kept = lowest;
    }
    assert_true(kept > 245.15 && kept < 251.0);
    for (int step = 1; step < 10; step++) {
        p->dryer.shelf.lowest = kept + 0.1 * step;
        if (df_recipe_find(k->ctx, &p->advice, &p->job, &p->dryer, k->pairs, &task) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        double coldest = INFINITY;
        for (size_t n = 0; n < DF_MOST_HOLDS; n++)
            for (size_t i = 0; i < p->advice.hold[n].recipe.n && p->advice.hold[n].kept && p->advice.hold[n].dry; i++)
                coldest = fmin(coldest, p->advice.hold[n].recipe.shelf_temperature[i]);
        if (getenv("DRYFRONT_SHOW") != NULL)
            printf("shelf from %.2f K: holds from %.2f K, path %.2f h %d\n", p->dryer.shelf.lowest, coldest,
                   p->advice.path.time / 3600.0, p->advice.found);
        found += p->advice.found;
        assert_true(coldest >= p->dryer.shelf.lowest - 1e-6);
    }
    assert_true(found > 0);
    free(p);
}

/* A vial of sugar water that rides its limit: the wall at T, the front colder by what the ice needs to conduct, the flow by the
 * resistance of what is dry. Time as an integral over depth, from 5 to 95 % dried, apart from the program's own model but for vapour
 * pressure and shape. */
static void path_follows_the_integral(void **state) {
    const kit *k = *state;
    plan *p = calloc(1, sizeof *p);
    assert_non_null(p);
    snprintf(
        p->text, sizeof p->text,
        "job: integral\npurpose: archive\ndryer: any\nsample:\n  composition: water 100 %%v/v\n  solutes:\n"
        "    - {name: something, concentration: 1 g/L, critical_temperature: -30 °C}\n"
        "containers:\n  - {type: vial_20R, count: 20, fill: 4 mL, place: shelf}\nfreezing: {means: liquid_nitrogen}\n"
        "recipe:\n  - {time: 0 h, shelf_temperature: -30 °C}\nlimits: {margin: 2 K, time: 300 h}\n"
        "cake: {r0: 3e5 m/s, a1: 3e7 1/s}\n");
    read_plan(k, p, "deep-105");
    const df_recipe_task task = {330.0, 0.0, NAN};
    df_ground *g = calloc(1, sizeof *g);
    assert_non_null(g);
    if (df_recipe_find(k->ctx, &p->advice, &p->job, &p->dryer, k->pairs, &task) != DF_OK ||
        df_ground_prepare(k->ctx, g, &p->job, &p->dryer, k->pairs, true) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    const df_class *c = &g->setup.classes[0];
    const double limit = 243.15 - 2.0, sublimation = 2.838e6, ice = 488.0 / 241.0; /* J/kg, W/(m K): from memory */
    double area = c->shape.volume / c->shape.thickness, time = 0.0, from = NAN, to = NAN;
    const df_substance *water = kit_substance(k, "water");
    df_run run;
    g->setup.recipe = p->advice.path.recipe;
    if (df_run_simulate(k->ctx, &run, &g->setup) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    double around = 0.0; /* Pa of vapour in the chamber, half-way */
    for (size_t i = 1; i < run.moments; i++) {
        const df_moment *m = &run.moment[i - 1], *n = &run.moment[i];
        double a = m->container[0].left[0], b = n->container[0].left[0];
        if (a > 0.95 && b <= 0.95)
            from = m->time + (n->time - m->time) * (a - 0.95) / (a - b);
        if (a > 0.5 && b <= 0.5)
            around = n->chamber[0];
        if (a > 0.05 && b <= 0.05)
            to = m->time + (n->time - m->time) * (a - 0.05) / (a - b);
    }
    const int steps = 4000;
    for (int i = steps / 20; i < steps - steps / 20; i++) {
        double part = (i + 0.5) / steps, depth = part * c->shape.thickness, rest = c->shape.thickness - depth;
        double resistance = 3e5 + 3e7 * depth, low = 180.0, high = limit;
        for (int n = 0; n < 60; n++) { /* conduction to the front = heat of sublimation there */
            double t = 0.5 * (low + high), flux = (df_solid_pressure(water, t) - around) / resistance;
            *(ice * (limit - t) / rest > flux * sublimation ? &low : &high) = t;
        }
        time += c->mass / steps / ((df_solid_pressure(water, low) - around) / resistance * area);
    }
    if (getenv("DRYFRONT_SHOW") != NULL)
        printf("path %.2f h, integral %.2f h, %.2f Pa\n", (to - from) / 3600.0, time / 3600.0, around);
    near((to - from) / time, 1.0, 0.02, "ride of a limit, %.2f h by the integral", time / 3600.0);
    df_run_free(&run);
    free(g);
    free(p);
}

static void more_room_is_no_slower(void **state) {
    const kit *k = *state;
    for (int trial = 0; trial < 4; trial++) {
        plan *p = make_plan(k, 4 * trial + trial % 2, false);
        df_recipe_task task = {283.15, trial % 2 == 0 ? 8.0 : 0.0, NAN};
        double time[4];
        for (int step = 0; step < 4; step++) {
            if (step == 1)
                p->job.margin += 2.0;
            if (step == 2)
                p->job.margin -= 2.0;
            if (step == 2)
                task.warmest = 263.15;
            if (step == 3) {
                task.warmest = 283.15;
                p->dryer.shelf.ramp = 0.1 / 60.0;
            }
            df_ground *g = calloc(1, sizeof *g);
            df_quest q;
            df_recipe_plan path;
            df_slack worst;
            assert_non_null(g);
            if (df_ground_prepare(k->ctx, g, &p->job, &p->dryer, k->pairs, true) != DF_OK ||
                df_quest_open(&q, g) != DF_OK)
                fail_msg("%s", df_context_message(k->ctx));
            q.coldest = p->dryer.shelf.lowest;
            q.warmest = task.warmest;
            q.ramp = df_shelf_ramp(&p->dryer);
            if (df_quest_ride(&q, &path, &worst, task.pressure, task.pressure) != DF_OK)
                fail_msg("%s", df_context_message(q.ctx));
            time[step] = path.kept && path.dry ? path.time : INFINITY;
            df_quest_close(&q);
            free(g);
        }
        for (int step = 1; step < 4; step++)
            if (!(time[step] >= 0.997 * time[0]))
                fail_msg("trial %d: with less room (%d) %.3f h, with more %.3f h\n%s", trial, step,
                         time[step] / 3600.0, time[0] / 3600.0, p->text);
        free(p);
    }
}

/* Secondary drying along a glass: the holds end with a slow ramp, come near to the path, keep every limit in the full run, and a
 * slower or later ramp is no faster. */
static void slow_ramp_comes_near_the_path(void **state) {
    const kit *k = *state;
    static const char *const jobs[][2] = {{"water 100 %v/v", "bench-55"},
                                          {"acetonitrile 10 %v/v, water", "deep-105"},
                                          {"tert-butanol 5 %v/v, water", "bench-85"}};
    for (size_t trial = 0; trial < sizeof jobs / sizeof jobs[0]; trial++) {
        plan *p = calloc(1, sizeof *p);
        assert_non_null(p);
        snprintf(p->text, sizeof p->text,
                 "job: glass\npurpose: archive\ndryer: any\nsample:\n  composition: %s\n  solutes:\n"
                 "    - {name: sucrose, concentration: 50 g/L}\n"
                 "containers:\n  - {type: vial_20R, count: 100%s, fill: 4 mL, place: shelf}\n"
                 "freezing: {means: liquid_nitrogen}\nrecipe:\n  - {time: 0 h, shelf_temperature: -45 °C}\n"
                 "residual: {water: 2 %%}\nlimits: {margin: 1 K, time: 300 h}\n",
                 jobs[trial][0], trial == 0 ? "" : ", edge: 25");
        read_plan(k, p, jobs[trial][1]);
        const df_recipe_task task = {298.15, 0.0, NAN};
        if (df_recipe_find(k->ctx, &p->advice, &p->job, &p->dryer, k->pairs, &task) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        const df_recipe_advice *a = &p->advice;
        assert_true(a->found && a->best > 0);
        const df_recipe_plan *h = &a->hold[a->best - 1];
        if (getenv("DRYFRONT_SHOW") != NULL)
            for (size_t n = 0; n < DF_MOST_HOLDS; n++)
                printf("%zu path %.2f h, %zu holds %.2f h, ramp %.3f K/min, Tg %.2f K, product %.2f K\n", trial,
                       a->path.time / 3600.0, n + 1, a->hold[n].time / 3600.0, 60.0 * a->hold[n].slow,
                       a->hold[n].glass_margin, a->hold[n].margin);
        assert_true(h->slow > 0.0 && h->kept && h->dry);
        const double *ends = &h->recipe.shelf_temperature[h->recipe.n - 2], *from = &h->recipe.time[h->recipe.n - 2];
        near((ends[1] - ends[0]) / (from[1] - from[0]) / h->slow, 1.0, 1e-9, "as slow as it is named");
        if (!(h->time <= 1.2 * a->path.time))
            fail_msg("%zu: holds %.2f h, path %.2f h", trial, h->time / 3600.0, a->path.time / 3600.0);
        assert_true(h->margin >= p->job.margin && h->glass_margin >= p->job.margin);
        df_recipe_plan other;
        df_recipe r = h->recipe;
        r.time[r.n - 1] += 3600.0;
        if (df_recipe_check(k->ctx, &other, &p->job, &p->dryer, k->pairs, &r, false) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        assert_true(other.time > h->time);
        r = h->recipe; /* half as steep again is too fast */
        r.time[r.n - 1] = r.time[r.n - 2] + (r.time[r.n - 1] - r.time[r.n - 2]) / 1.5;
        if (df_recipe_check(k->ctx, &other, &p->job, &p->dryer, k->pairs, &r, false) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        assert_true(!other.kept && other.broken == DF_BOUND_GLASS);
        free(p);
    }
}

/* The path under model (b): where that says it agrees, no frozen point comes nearer to its limit than the margin less the half
 * kelvin to which the two agree. */
static void the_reference_keeps_the_margin(void **state) {
    const kit *k = *state;
    int agreeing = 0;
    for (int trial = 0; trial < 6; trial++) {
        plan *p = make_plan(k, 4 * trial, false); /* water: one limit throughout */
        df_ground *g = calloc(1, sizeof *g);
        df_quest q;
        df_recipe_plan path;
        df_slack worst;
        df_run run;
        df_transient t;
        df_transient_range r;
        df_transient_options o;
        assert_non_null(g);
        df_transient_defaults(&o);
        if (df_ground_prepare(k->ctx, g, &p->job, &p->dryer, k->pairs, false) != DF_OK ||
            df_quest_open(&q, g) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        q.coldest = p->dryer.shelf.lowest;
        q.warmest = 283.15;
        q.ramp = df_shelf_ramp(&p->dryer);
        if (df_quest_ride(&q, &path, &worst, pressure_of(trial), pressure_of(trial)) != DF_OK)
            fail_msg("%s", df_context_message(q.ctx));
        assert_true(path.kept && path.dry);
        g->setup.recipe = path.recipe;
        if (df_run_simulate(k->ctx, &run, &g->setup) != DF_OK ||
            df_transient_range_find(k->ctx, &r, &g->setup, &run, 0, &o.pores) != DF_OK ||
            df_transient_replay(k->ctx, &t, &g->setup, &run, 0, &o) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        double limit = run.classes[0].least_margin_limit,
               allowed = r.agrees ? DF_RANGE_TEMPERATURE : 2.0 * fabs(r.temperature);
        agreeing += r.agrees;
        if (getenv("DRYFRONT_SHOW") != NULL)
            printf("%d limit %.2f (a) margin %.2f (b) %.2f of %.2f; agrees %d, estimated %+.2f K; (b) hottest at "
                   "%.2f h, (a) %.2f h, dry (a) %.2f h (b) %.2f h\n",
                   trial, limit - 273.15, run.classes[0].least_margin, limit - t.hottest, p->job.margin, r.agrees,
                   r.temperature, t.hottest_time / 3600.0, run.classes[0].least_margin_time / 3600.0,
                   run.primary_time / 3600.0, t.time_dry / 3600.0);
        if (!(limit - t.hottest >= p->job.margin - allowed - 0.1))
            fail_msg("trial %d: %.2f K from the limit in model (b), %.2f K asked for\n%s", trial, limit - t.hottest,
                     p->job.margin, p->text);
        df_transient_free(&t);
        df_run_free(&run);
        df_quest_close(&q);
        free(g);
        free(p);
    }
    assert_true(agreeing >= 2);
}

/* Least distance of model (b)'s hottest frozen point to its limit: the solidus while solvent that counts is in the framework, by
 * the model's own account, then the solute's limit. */
static double margin_of_the_reference(const df_class *c, const df_transient *t, double trace) {
    double solidus = df_effective_solidus(c->path, trace), least = INFINITY;
    for (size_t i = 0; i < t->moments; i++) {
        const df_transient_moment *m = &t->moment[i];
        double framed = m->left[t->framework], other = 0.0, all = 0.0;
        if (framed < 0.01)
            break;
        for (size_t j = 0; j < t->species; j++) {
            double inside = t->initial[j] * fmin(m->left[j], framed);
            all += inside;
            other += j == t->framework ? 0.0 : inside;
        }
        double limit = other > trace * all ? fmin(solidus, c->critical_temperature) : c->critical_temperature;
        least = fmin(least, limit - m->hottest);
    }
    return least;
}

/* The recipe in holds of jobs with solvent under model (b), whose limit jumps when its own solvent has gone: the margin is kept but
 * for the half kelvin to which the two agree. */
static void the_reference_with_solvent(void **state) {
    const kit *k = *state;
    static const char *const samples[] = {"acetonitrile 8 %v/v, water", "acetonitrile 15 %v/v, water",
                                          "tert-butanol 8 %v/v, water"};
    for (size_t trial = 0; trial < sizeof samples / sizeof samples[0]; trial++) {
        plan *p = calloc(1, sizeof *p);
        df_ground *g = calloc(1, sizeof *g);
        df_run run;
        df_transient t;
        df_transient_options o;
        assert_true(p != NULL && g != NULL);
        snprintf(p->text, sizeof p->text,
                 "job: solvent\npurpose: archive\ndryer: any\nsample:\n  composition: %s\n  solutes:\n"
                 "    - {name: sucrose, concentration: 30 g/L}\n"
                 "containers:\n  - {type: vial_20R, count: 100, fill: 4 mL, place: shelf}\n"
                 "freezing: {means: liquid_nitrogen}\nrecipe:\n  - {time: 0 h, shelf_temperature: -45 °C}\n"
                 "limits: {margin: 2 K, time: 300 h}\ncake: {r0: 2e4 m/s, a1: 1e7 1/s}\n",
                 samples[trial]);
        read_plan(k, p, "deep-105");
        const df_recipe_task task = {283.15, 0.0, NAN};
        df_transient_defaults(&o);
        if (df_recipe_find(k->ctx, &p->advice, &p->job, &p->dryer, k->pairs, &task) != DF_OK ||
            df_ground_prepare(k->ctx, g, &p->job, &p->dryer, k->pairs, false) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        assert_true(p->advice.best > 0);
        const df_recipe_plan *h = &p->advice.hold[p->advice.best - 1];
        g->setup.recipe = h->recipe;
        if (df_run_simulate(k->ctx, &run, &g->setup) != DF_OK ||
            df_transient_replay(k->ctx, &t, &g->setup, &run, 0, &o) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        double margin = margin_of_the_reference(&g->setup.classes[0], &t, g->setup.trace_liquid);
        if (getenv("DRYFRONT_SHOW") != NULL)
            printf(
                "%zu (a) margin %.2f K (b) %.2f K of %.2f K; solvent gone (a) %.2f h (b) %.2f h, dry (a) %.2f h (b) "
                "%.2f h\n",
                trial, h->margin, margin, p->job.margin, run.classes[0].solvent_time / 3600.0,
                t.species_time[0] / 3600.0, run.primary_time / 3600.0, t.time_dry / 3600.0);
        if (!(margin >= p->job.margin - DF_RANGE_TEMPERATURE))
            fail_msg("trial %zu: %.2f K from the limit in model (b)", trial, margin);
        df_transient_free(&t);
        df_run_free(&run);
        free(g);
        free(p);
    }
}

/* Where the shelf cannot be warmer, a low pressure while the solvent leaves and a higher one behind it is faster than any one. */
static void a_second_pressure_is_found(void **state) {
    const kit *k = *state;
    plan *p = calloc(1, sizeof *p);
    double single = INFINITY;
    assert_non_null(p);
    snprintf(
        p->text, sizeof p->text,
        "job: two pressures\npurpose: archive\ndryer: any\nsample:\n  composition: acetonitrile 20 %%v/v, water\n"
        "  solutes:\n    - {name: sucrose, concentration: 20 g/L}\n"
        "containers:\n  - {type: vial_20R, count: 100, edge: 25, fill: 3 mL, place: shelf}\n"
        "freezing: {means: liquid_nitrogen}\nrecipe:\n  - {time: 0 h, shelf_temperature: -45 °C}\n"
        "limits: {margin: 1 K, time: 300 h}\n");
    read_plan(k, p, "deep-105");
    for (double pressure = 0.0; pressure < 65.0; pressure = 1.25 * pressure + 2.0) {
        const df_recipe_task one = {248.15, pressure, NAN};
        if (df_recipe_find(k->ctx, &p->advice, &p->job, &p->dryer, k->pairs, &one) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        if (p->advice.found)
            single = fmin(single, p->advice.path.time);
    }
    const df_recipe_task task = {248.15, NAN, NAN};
    if (df_recipe_find(k->ctx, &p->advice, &p->job, &p->dryer, k->pairs, &task) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    const df_recipe *r = &p->advice.path.recipe;
    const df_recipe_plan *h = &p->advice.hold[1];
    if (getenv("DRYFRONT_SHOW") != NULL)
        printf("%.1f and %.1f Pa: %.2f h; one alone %.2f h\n", r->pressure[0], r->pressure[r->n - 1],
               p->advice.path.time / 3600.0, single / 3600.0);
    assert_true(p->advice.found && p->advice.path.kept && r->pressure[r->n - 1] > r->pressure[0]);
    assert_true(p->advice.path.time < 0.98 * single);
    assert_true(h->kept && h->dry && h->time < 1.05 * p->advice.path.time &&
                h->recipe.pressure[0] < h->recipe.pressure[h->recipe.n - 1]);
    free(p);
}

/* A cell is what a run of its own gives; a warmer shelf dries sooner and comes nearer to the limit. */
static void space_is_made_of_runs(void **state) {
    const kit *k = *state;
    plan *p = make_plan(k, 0, false);
    df_space s;
    df_ground *g = calloc(1, sizeof *g);
    df_text csv = {0}, drawn = {0};
    assert_non_null(g);
    p->dryer.chamber.control = DF_CONTROL_BLEED;
    if (df_space_find(k->ctx, &s, &p->job, &p->dryer, k->pairs, 8, 228.15, 288.15, 6, 4.0, 60.0, NULL) != DF_OK ||
        df_ground_prepare(k->ctx, g, &p->job, &p->dryer, k->pairs, false) != DF_OK ||
        df_report_space_csv(k->ctx, &csv, &s) != DF_OK ||
        df_report_space_figure(k->ctx, &drawn, &s, &p->job, &p->dryer, NULL) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    size_t rows = 0;
    for (const char *c = csv.data; *c != '\0'; c++)
        rows += *c == '\n';
    assert_int_equal(rows, 1 + 8 * 6);
    assert_non_null(strstr(drawn.data, "</svg>"));
    for (size_t j = 0; j < s.pressures; j++)
        for (size_t i = 0; i < s.shelves; i++) {
            const df_space_cell *c = &s.cell[j * s.shelves + i];
            if (i > 0) {
                const df_space_cell *colder = c - 1;
                assert_true(isnan(c->time) || isnan(colder->time) || c->time <= 1.001 * colder->time);
                assert_true(c->product <= colder->product + 0.02);
            }
            if ((i + j) % 5 != 0)
                continue;
            df_run run;
            g->setup.recipe = (df_recipe){.n = 1, .shelf_temperature = {s.shelf[i]}, .pressure = {s.pressure[j]}};
            if (df_run_simulate(k->ctx, &run, &g->setup) != DF_OK)
                fail_msg("%s", df_context_message(k->ctx));
            if (run.end == DF_END_DRY)
                near(c->time / run.primary_time, 1.0, 2e-3, "time of cell %zu, %zu", i, j);
            near(c->product, run.classes[0].least_margin - p->job.margin, 0.05, "margin of cell %zu, %zu", i, j);
            df_run_free(&run);
        }
    if (s.fastest != SIZE_MAX)
        assert_int_equal(s.cell[s.fastest].broken, DF_BOUND_NONE);
    df_space_free(&s);
    p->dryer.chamber.control = DF_CONTROL_NONE;
    assert_int_equal(df_space_find(k->ctx, &s, &p->job, &p->dryer, k->pairs, 8, 228.15, 288.15, 6, 4.0, 60.0, NULL),
                     DF_E_INPUT);
    df_text_free(&csv);
    df_text_free(&drawn);
    free(g);
    free(p);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(dryer_bounds_the_path),
                                       cmocka_unit_test(wetted_keeps_the_framework),
                                       cmocka_unit_test(path_stops_at_a_change),
                                       cmocka_unit_test(holds_within_a_poor_shelf),
                                       cmocka_unit_test(path_follows_the_integral),
                                       cmocka_unit_test(more_room_is_no_slower),
                                       cmocka_unit_test(slow_ramp_comes_near_the_path),
                                       cmocka_unit_test(the_reference_keeps_the_margin),
                                       cmocka_unit_test(the_reference_with_solvent),
                                       cmocka_unit_test(a_second_pressure_is_found),
                                       cmocka_unit_test(no_grid_is_faster),
                                       cmocka_unit_test(space_is_made_of_runs)};
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
