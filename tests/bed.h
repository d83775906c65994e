/* What the tests of runs share: one class of containers on a built-in dryer, at the shelf or on its manifold. */
#ifndef DRYFRONT_TESTS_BED_H
#define DRYFRONT_TESTS_BED_H

#include "kit.h"

#include "dryfront/drying.h"

typedef struct bed {
    df_frozen_path path;
    df_deposit deposit;
    df_dryer dryer;
    df_setup setup;
} bed;

static inline bed *make_lying_bed(const kit *k, const char *dryer, const char *text, const char *container,
                                  double volume, long count, df_place place, df_lie lie) {
    bed *b = calloc(1, sizeof *b);
    df_composition c;
    assert_non_null(b);
    if (df_dryer_builtin(k->ctx, &b->dryer, dryer) != DF_OK ||
        df_composition_parse(k->ctx, &c, k->substances, text, NULL) != DF_OK ||
        df_frozen_path_make(k->ctx, &b->path, k->pairs, &c, DF_FREEZING_PRACTICE) != DF_OK ||
        df_deposit_make(k->ctx, &b->deposit, k->pairs, &c) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    df_setup_defaults(&b->setup);
    b->setup.dryer = &b->dryer;
    b->setup.deposit = &b->deposit;
    b->setup.class_count = 1;
    df_class *q = &b->setup.classes[0];
    df_class_defaults(q);
    q->count = count;
    q->path = &b->path;
    q->composition = c;
    q->mass = volume * df_composition_density(&c);
    q->place = place;
    q->start_temperature = 203.15;
    df_cake_assume(&q->cake, 0.0);
    if (df_container_find(k->ctx, &q->container, NULL, container, NULL) != DF_OK ||
        df_shape_make(k->ctx, &q->shape, &q->container, q->mass / b->path.frozen_density, lie, NULL) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    b->setup.recipe.n = 1;
    b->setup.recipe.shelf_temperature[0] = 235.15;
    return b;
}

static inline bed *make_bed(const kit *k, const char *dryer, const char *text, const char *container, double volume,
                            long count, df_place place) {
    return make_lying_bed(k, dryer, text, container, volume, count, place, DF_LIE_REST);
}

static inline df_run run_bed(const kit *k, const bed *b) {
    df_run run;
    if (df_run_simulate(k->ctx, &run, &b->setup) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    for (size_t i = 0; i < run.species; i++)
        near(df_run_account_error(&run, i), 0.0, 1e-8, "account of %s", run.substance[i]->key);
    return run;
}

#endif
