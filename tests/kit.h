/* What several tests share: the tables, and checks with a sentence. */
#ifndef DRYFRONT_TESTS_KIT_H
#define DRYFRONT_TESTS_KIT_H

#include "context.h"
#include "dryfront/mixture.h"

typedef struct kit {
    df_context *ctx;
    df_substances *substances;
    df_pairs *pairs;
} kit;

static inline int kit_open(void **state) {
    kit *k = calloc(1, sizeof *k);
    if (k == NULL || df_context_create(&k->ctx) != DF_OK)
        return -1;
    if (df_substances_create(k->ctx, &k->substances) != DF_OK || df_pairs_create(k->ctx, &k->pairs) != DF_OK) {
        fprintf(stderr, "%s\n", df_context_message(k->ctx));
        return -1;
    }
    *state = k;
    return 0;
}

static inline int kit_close(void **state) {
    kit *k = *state;
    df_pairs_free(k->pairs);
    df_substances_free(k->substances);
    df_context_destroy(k->ctx);
    free(k);
    return 0;
}

static inline const df_substance *kit_substance(const kit *k, const char *name) {
    const df_substance *s = NULL;
    if (df_substances_find(k->ctx, &s, k->substances, name, NULL) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    return s;
}

/* Binary of a solvent (component 0) with water (component 1). */
static inline df_mixture *kit_binary(const kit *k, const char *solvent) {
    const df_substance *both[2] = {kit_substance(k, solvent), kit_substance(k, "water")};
    df_mixture *m = NULL;
    if (df_mixture_create(k->ctx, &m, k->pairs, both, 2) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    return m;
}

static inline double kit_mole_fraction(const kit *k, const char *solvent, double mass_fraction) {
    double a = mass_fraction / kit_substance(k, solvent)->molar_mass;
    double b = (1.0 - mass_fraction) / kit_substance(k, "water")->molar_mass;
    return a / (a + b);
}

#define near(value, expected, tolerance, ...)                                                                        \
    do {                                                                                                             \
        double near_v = (value), near_e = (expected), near_t = (tolerance);                                          \
        if (!(fabs(near_v - near_e) <= near_t)) {                                                                    \
            print_error(__VA_ARGS__);                                                                                \
            fail_msg(": %.9g, expected %.9g within %.3g", near_v, near_e, near_t);                                   \
        }                                                                                                            \
    } while (0)

#endif
