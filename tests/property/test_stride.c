/* Equilibria in strides against the same asked for one by one: bit by bit, over mixtures that part into two liquids, make hydrates,
 * hold traces and solutes. */
#include "chance.h"
#include "kit.h"

#include "dryfront/sample.h"

#define WARMEST 300.0 /* K */
#define STEPS 280

static size_t compared, changes;

static void one_mixture(const kit *k, const df_mixture *m, const double *z, const bool *allowed, double step,
                        const char *what) {
    df_assemblage single = {0}, from = {0}, out[DF_STRIDE];
    size_t at = 0, known = 0;
    for (size_t i = 0; i < STEPS; i++) {
        double t = WARMEST - step * (double)i;
        if (t < 160.0)
            return;
        df_assemblage before = single;
        df_status status = df_mixture_equilibrium(k->ctx, &single, m, t, z, allowed, i > 0);
        df_status strided = DF_OK;
        if (i == 0)
            from = single;
        else {
            if (at == known) {
                size_t n = STEPS - i < DF_STRIDE ? STEPS - i : DF_STRIDE;
                at = 0;
                strided = df_mixture_stride(k->ctx, out, &known, &from, m, t, -step, n, z, allowed);
                strided = known > 0 ? DF_OK : strided;
            }
            if (strided == DF_OK)
                from = out[at++];
        }
        if (status != strided)
            fail_msg("%s at %.2f K: %d, in strides %d", what, t, (int)status, (int)strided);
        if (status != DF_OK)
            return; /* both give up */
        bool same = single.liquids == from.liquids && memcmp(single.liquid, from.liquid, sizeof from.liquid) == 0 &&
                    memcmp(single.solid, from.solid, sizeof from.solid) == 0 &&
                    memcmp(single.activity_ln, from.activity_ln, sizeof from.activity_ln) == 0;
        if (!same)
            fail_msg("%s at %.2f K: another equilibrium in strides", what, t);
        compared++;
        for (size_t s = 0; i > 0 && s < DF_MAX_SOLIDS; s++)
            changes += (before.solid[s] > 0.0) != (single.solid[s] > 0.0);
        changes += i > 0 && before.liquids != single.liquids;
    }
}

static void by_mode(const kit *k, const char *text, df_freezing_mode mode, double step) {
    df_composition c;
    df_mixture *m = NULL;
    bool allowed[DF_MAX_SOLIDS];
    if (df_composition_parse(k->ctx, &c, k->substances, text, NULL) != DF_OK ||
        df_mixture_create(k->ctx, &m, k->pairs, c.component, c.n) < 0 ||
        df_composition_allow(k->ctx, allowed, m, &c, mode) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    one_mixture(k, m, c.x, allowed, step, text);
    df_mixture_free(m);
}

static void mixtures(void **state) {
    const kit *k = *state;
    static const char *const solvents[] = {
        "acetonitrile", "tert-butanol", "1,4-dioxane",     "dmso",          "thf",      "1-propanol",
        "acetic acid",  "methanol",     "dichloromethane", "ethyl acetate", "pyridine", "dmf"};
    uint64_t dice = seed_of(11);
    char text[160];
    for (size_t i = 0; i < sizeof solvents / sizeof solvents[0]; i++)
        for (int draw = 0; draw < 12; draw++) {
            double share = 3.0 + 90.0 * uniform(&dice);
            snprintf(text, sizeof text, "%s %.3f %%v/v, water", solvents[i], share);
            by_mode(k, text, DF_FREEZING_PRACTICE, 0.5);
            by_mode(k, text, DF_FREEZING_EQUILIBRIUM, 0.5);
            by_mode(k, text, DF_FREEZING_PRACTICE, 2.0); /* as deposits on a trap */
        }
    by_mode(k, "acetonitrile 35 %v/v, trifluoroacetic acid 0.1 %v/v, water", DF_FREEZING_PRACTICE, 0.5);
    by_mode(k, "acetonitrile 20 %v/v, tert-butanol 15 %v/v, water", DF_FREEZING_PRACTICE, 0.5);
    by_mode(k, "acetonitrile 20 %v/v, dmso 15 %v/v, water", DF_FREEZING_EQUILIBRIUM, 0.5);
    print_message("%zu compared, %zu changes of phases\n", compared, changes);
    assert_true(compared > 50000 && changes > 500);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(mixtures)};
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
