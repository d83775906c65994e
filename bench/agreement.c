/* agreement: model (b) beside model (a) over the range of docs/transient.md, as its table. */
#include "cases.h"
#include "dryfront/transient.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* One vial 20R on the deepest of the shipped dryers, a hundred of them. */
typedef struct vial {
    const char *text;
    double r0, a1, kv, fill, shelf, pressure; /* m/s, 1/s, W/(m2 K), mL, °C, Pa of air and vapour by bleed; 0: none */
} vial;

static const vial base = {"water", 2e4, 1e7, 15.0, 6.0, -20.0, 0.0};

static double front_at(const df_run *run, double left, size_t framework) {
    for (size_t k = 1; k < run->moments; k++) {
        const df_class_moment *a = &run->moment[k - 1].container[0], *b = &run->moment[k].container[0];
        if (b->left[framework] < left)
            return a->front +
                   (a->left[framework] - left) / (a->left[framework] - b->left[framework]) * (b->front - a->front);
    }
    return NAN;
}

static double pressure_at(const df_run *run, double left, size_t framework) {
    for (size_t k = 0; k < run->moments; k++)
        if (run->moment[k].container[0].left[framework] < left) {
            double total = run->moment[k].chamber[run->species];
            for (size_t i = 0; i < run->species; i++)
                total += run->moment[k].chamber[i];
            return total;
        }
    return NAN;
}

static double replayed_front_at(const df_transient *t, double left) {
    for (size_t k = 1; k < t->moments; k++) {
        const df_transient_moment *a = &t->moment[k - 1], *b = &t->moment[k];
        if (b->left[t->framework] < left)
            return a->front + (a->left[t->framework] - left) / (a->left[t->framework] - b->left[t->framework]) *
                                  (b->front - a->front);
    }
    return NAN;
}

static void line(const bench_data *data, vial v) {
    static df_dryer dryer;
    static df_frozen_path path;
    static df_setup setup;
    df_composition composition;
    bench_check(data, df_dryer_builtin(data->ctx, &dryer, "deep-105"));
    bench_check(data, df_composition_parse(data->ctx, &composition, data->substances, v.text, NULL));
    bench_check(data, df_frozen_path_make(data->ctx, &path, data->pairs, &composition, DF_FREEZING_PRACTICE));
    dryer.chamber.control = v.pressure > 0.0 ? DF_CONTROL_BLEED : DF_CONTROL_NONE;
    dryer.shelf.contact = v.kv;
    dryer.shelf.gas = 0.0;
    df_setup_defaults(&setup);
    setup.dryer = &dryer;
    setup.class_count = 1;
    setup.keep_going = true;
    setup.time_limit = 60.0 * 86400.0;
    df_class *c = &setup.classes[0];
    df_class_defaults(c);
    c->count = 100;
    c->path = &path;
    c->composition = composition;
    c->mass = v.fill * 1e-6 * df_composition_density(&composition);
    c->solids = v.fill * 1e-6 * 50.0;
    c->start_temperature = 213.15;
    c->cake = (df_cake){.r0 = v.r0, .a1 = v.a1, .stated = true};
    bench_check(data, df_container_find(data->ctx, &c->container, NULL, "vial_20R", NULL));
    bench_check(data,
                df_shape_make(data->ctx, &c->shape, &c->container, c->mass / path.frozen_density, DF_LIE_REST, NULL));
    setup.recipe.n = 1;
    setup.recipe.shelf_temperature[0] = v.shelf + DF_ZERO_CELSIUS;
    setup.recipe.pressure[0] = v.pressure;
    df_run run;
    df_transient t;
    df_transient_options options;
    df_transient_range range;
    df_transient_defaults(&options);
    bench_check(data, df_run_simulate(data->ctx, &run, &setup));
    bench_check(data, df_transient_replay(data->ctx, &t, &setup, &run, 0, &options));
    bench_check(data, df_transient_range_find(data->ctx, &range, &setup, &run, 0, &options.pores));
    size_t w = t.framework;
    const df_class_run *r = &run.classes[0];
    printf("| %s | %.0e | %.0e | %.0f | %.1f | %.0f | %s%.1f | %.2f | %+.1f | %+.1f | %+.2f | %+.2f |", v.text, v.r0,
           v.a1, v.kv, 1e3 * c->shape.thickness, v.shelf, v.pressure > 0.0 ? "held, " : "free, ",
           pressure_at(&run, 0.5, w), r->species_time[w] / 3600.0,
           100.0 * (t.species_time[w] / r->species_time[w] - 1.0), 100.0 * range.time,
           replayed_front_at(&t, 0.5) - front_at(&run, 0.5, w), t.hottest - r->hottest);
    bool any = false;
    for (size_t i = 0; i < t.species; i++)
        if (i != w && !isnan(range.solvent_time[i])) {
            printf(" %+.0f (%+.0f)", 100.0 * (t.species_time[i] / r->species_time[i] - 1.0),
                   100.0 * range.solvent_time[i]);
            any = true;
        }
    printf("%s | %s |\n", any ? "" : " with it", range.agrees ? "yes" : "no");
    df_transient_free(&t);
    df_run_free(&run);
}

int main(void) {
    static const char *const texts[] = {"acetonitrile 10 %v/v, water", "acetonitrile 20 %v/v, water",
                                        "acetonitrile 30 %v/v, water", "tert-butanol 10 %w/w, water",
                                        "tert-butanol 20 %w/w, water"};
    static const double a1[] = {1e6, 3e7, 1e8}, r0[] = {5e3, 1e5}, kv[] = {5.0, 40.0}, fill[] = {1.5, 14.0},
                        shelf[] = {-40.0, 20.0}, pressure[] = {5.0, 10.0, 20.0, 40.0};
    bench_data data;
    bench_open(&data);
    puts("| sample | R0, m/s | A1, 1/s | Kv | depth, mm | shelf, °C | pressure, Pa | (a), h | time, % | estimated, % "
         "| "
         "front half-way, K | hottest, K | solvent's time, % (estimated) | agree |");
    puts("| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |");
    vial v = base;
    line(&data, v);
    for (size_t i = 0; i < sizeof a1 / sizeof a1[0]; i++, v = base) {
        v.a1 = a1[i];
        line(&data, v);
    }
    for (size_t i = 0; i < sizeof r0 / sizeof r0[0]; i++, v = base) {
        v.r0 = r0[i];
        line(&data, v);
    }
    for (size_t i = 0; i < sizeof kv / sizeof kv[0]; i++, v = base) {
        v.kv = kv[i];
        line(&data, v);
    }
    for (size_t i = 0; i < sizeof fill / sizeof fill[0]; i++, v = base) {
        v.fill = fill[i];
        line(&data, v);
    }
    for (size_t i = 0; i < sizeof shelf / sizeof shelf[0]; i++, v = base) {
        v.shelf = shelf[i];
        line(&data, v);
    }
    for (size_t i = 0; i < sizeof pressure / sizeof pressure[0]; i++, v = base) {
        v.pressure = pressure[i];
        line(&data, v);
    }
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        v = base;
        v.text = texts[i];
        v.shelf = -40.0;
        line(&data, v);
        v.a1 = 1e6;
        line(&data, v);
        v.a1 = 1e8;
        line(&data, v);
        v.a1 = base.a1;
        v.kv = 30.0;
        line(&data, v);
    }
    bench_close(&data);
    return 0;
}
