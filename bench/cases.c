/* The loads of the benchmarks, and the clock. */
#include "cases.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define SOLIDS 4.0      /* kg of solutes in a m3 of fill, of no kind that holds water */
#define SUCROSE 50.0    /* the same, of sucrose */
#define SUCROSE_TOP 2.0 /* W/(m2 K) from above to its vials */
#define RESIDUAL 0.02   /* kg of water per kg of it that is asked for */
#define HOUR 3600.0

void bench_check(const bench_data *data, df_status status) {
    if (status >= 0)
        return;
    fprintf(stderr, "bench: %s\n", df_context_message(data->ctx));
    exit(df_status_exit(status));
}

void bench_open(bench_data *data) {
    memset(data, 0, sizeof *data);
    if (df_context_create(&data->ctx) != DF_OK) {
        fputs("bench: out of memory\n", stderr);
        exit(3);
    }
    bench_check(data, df_substances_create(data->ctx, &data->substances));
    bench_check(data, df_pairs_create(data->ctx, &data->pairs));
}

void bench_close(bench_data *data) {
    df_pairs_free(data->pairs);
    df_substances_free(data->substances);
    df_context_destroy(data->ctx);
}

typedef struct population {
    const char *container;
    long count;
    double fill; /* m3 */
    df_lie lie;
    df_place place;
    double kv_factor;
    bool edge;
} population;

typedef struct load {
    const char *name, *composition;
    double shelf[2]; /* K: until ten hours, from twelve hours on */
    bool secondary;  /* sucrose, whose water is followed; the shelf then goes to 30 °C from 30 to 36 hours */
    size_t populations;
    population population[DF_MAX_CLASSES];
} load;

#define VIALS(count, mL, kv, edge)                                                                                   \
    { "vial_20R", count, (mL)*1e-6, DF_LIE_REST, DF_PLACE_SHELF, kv, edge }
#define FLASKS(key, count, mL, lie)                                                                                  \
    { key, count, (mL)*1e-6, lie, DF_PLACE_MANIFOLD, 1.0, false }

static const load loads[] = {
    {"water", "water", {248.15, 263.15}, false, 1, {VIALS(240, 6, 1.0, false)}},
    {"acetonitrile", "acetonitrile 30 %v/v, water", {235.15, 239.15}, false, 1, {VIALS(240, 6, 1.0, false)}},
    {"two_classes",
     "acetonitrile 30 %v/v, water",
     {235.15, 239.15},
     false,
     2,
     {VIALS(180, 6, 1.0, false), VIALS(60, 6, 1.0, true)}},
    {"manifold",
     "tert-butanol 20 %w/w, water",
     {0.0, 0.0},
     false,
     2,
     {FLASKS("flask_500", 4, 100, DF_LIE_SHELL), FLASKS("flask_250", 4, 40, DF_LIE_REST)}},
    {"secondary", "water", {248.15, 263.15}, true, 1, {VIALS(240, 3, 1.0, false)}},
    {"ten_classes",
     "acetonitrile 30 %v/v, water",
     {235.15, 239.15},
     false,
     10,
     {VIALS(24, 6, 0.92, false), VIALS(24, 6, 0.96, false), VIALS(24, 6, 1.00, false), VIALS(24, 6, 1.04, false),
      VIALS(24, 6, 1.08, false), VIALS(24, 5, 0.95, true), VIALS(24, 5, 1.00, true), VIALS(24, 5, 1.05, true),
      VIALS(24, 4, 1.00, true), VIALS(24, 4, 1.10, true)}},
};

const char *bench_case_name(size_t index) {
    return index < sizeof loads / sizeof loads[0] ? loads[index].name : NULL;
}

void bench_case_make(bench_case *out, const bench_data *data, const char *name) {
    const load *l = NULL;
    for (size_t i = 0; i < sizeof loads / sizeof loads[0]; i++)
        if (strcmp(loads[i].name, name) == 0)
            l = &loads[i];
    if (l == NULL) {
        fprintf(stderr, "bench: no case is called '%s'\n", name);
        exit(2);
    }
    df_composition composition;
    memset(out, 0, sizeof *out);
    bench_check(data, df_dryer_builtin(data->ctx, &out->dryer, "bench-55"));
    bench_check(data, df_composition_parse(data->ctx, &composition, data->substances, l->composition, NULL));
    bench_check(data, df_frozen_path_make(data->ctx, &out->path, data->pairs, &composition, DF_FREEZING_PRACTICE));
    df_setup_defaults(&out->setup);
    bench_check(data, df_deposit_make(data->ctx, &out->deposit, data->pairs, &composition));
    out->setup.dryer = &out->dryer;
    out->setup.deposit = &out->deposit;
    out->setup.keep_going = true; /* a whole run is timed, however it stands */
    if (l->shelf[0] > 0.0) {
        df_recipe *r = &out->setup.recipe;
        r->n = 3;
        r->time[1] = 10.0 * HOUR;
        r->time[2] = 12.0 * HOUR;
        r->shelf_temperature[0] = r->shelf_temperature[1] = l->shelf[0];
        r->shelf_temperature[2] = l->shelf[1];
        if (l->secondary) {
            r->n = 5;
            r->time[3] = 30.0 * HOUR;
            r->time[4] = 36.0 * HOUR;
            r->shelf_temperature[3] = l->shelf[1];
            r->shelf_temperature[4] = 303.15;
            for (size_t i = 0; i < r->n; i++)
                r->pressure[i] = 10.0;
        }
    }
    df_solute sugar;
    double solids = l->secondary ? SUCROSE : SOLIDS;
    if (l->secondary) {
        bench_check(data, df_solute_find(data->ctx, &sugar, data->substances, "sucrose", NULL));
        sugar.concentration = SUCROSE;
        out->setup.secondary = true;
        out->setup.target[0] = RESIDUAL;
    }
    double density = df_composition_density(&composition);
    for (size_t i = 0; i < l->populations; i++) {
        const population *p = &l->population[i];
        df_class *c = &out->setup.classes[out->setup.class_count++];
        df_class_defaults(c);
        bench_check(data, df_container_find(data->ctx, &c->container, NULL, p->container, NULL));
        bench_check(data, df_shape_make(data->ctx, &c->shape, &c->container,
                                        p->fill * density / out->path.frozen_density, p->lie, NULL));
        snprintf(c->name, sizeof c->name, "%ld x %s", p->count, p->container);
        c->count = p->count;
        c->path = &out->path;
        c->composition = composition;
        c->mass = p->fill * density;
        c->solids = p->fill * solids;
        df_cake_assume(&c->cake, solids);
        c->place = p->place;
        c->kv_factor = p->kv_factor;
        c->room_area = p->edge ? 0.5 * M_PI * c->container.outer_diameter * c->shape.thickness : 0.0;
        c->start_temperature = 203.15;
        if (l->secondary) {
            c->top_coefficient = SUCROSE_TOP;
            bench_check(data, df_class_bind(data->ctx, c, &sugar, 1));
        }
    }
}

static double clock_at(clockid_t which) {
    struct timespec t;
    clock_gettime(which, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

double bench_now(void) {
    return clock_at(CLOCK_MONOTONIC);
}

double bench_cpu(void) {
    return clock_at(CLOCK_PROCESS_CPUTIME_ID);
}

static int by_value(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double bench_median(double *values, size_t n) {
    qsort(values, n, sizeof *values, by_value);
    return n % 2 == 1 ? values[n / 2] : 0.5 * (values[n / 2 - 1] + values[n / 2]);
}
