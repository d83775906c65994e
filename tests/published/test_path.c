/* The frozen path against the equilibria that it is made of, each asked for by itself, and its sums worked out here. */
#include "kit.h"

#include "dryfront/sample.h"

static const char *const samples[] = {"water",
                                      "acetonitrile 30 %v/v, water",
                                      "acetonitrile 20 %v/v, methanol 10 %v/v, water",
                                      "ethanol 15 %v/v, water",
                                      "tert-butanol 15 %w/w, water",
                                      "acetic acid 30 %v/v, water",
                                      "1,4-dioxane 30 %v/v, water",
                                      "dmso 10 %v/v, water",
                                      "thf 15 %v/v, water"};

static void nodes(void **state) {
    const kit *k = *state;
    size_t wet = 0, dimers = 0, hydrates = 0;
    for (size_t i = 0; i < sizeof samples / sizeof samples[0]; i++) {
        df_composition c;
        df_frozen_path path;
        df_mixture *m = NULL;
        bool allowed[DF_MAX_SOLIDS];
        double mean = 0.0;
        if (df_composition_parse(k->ctx, &c, k->substances, samples[i], NULL) != DF_OK ||
            df_frozen_path_make(k->ctx, &path, k->pairs, &c, DF_FREEZING_PRACTICE) != DF_OK ||
            df_mixture_create(k->ctx, &m, k->pairs, c.component, c.n) != DF_OK ||
            df_composition_allow(k->ctx, allowed, m, &c, DF_FREEZING_PRACTICE) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        for (size_t j = 0; j < c.n; j++)
            mean += c.x[j] * c.component[j]->molar_mass;
        for (size_t at = 70; at < path.points; at += 13) {
            double t = path.lowest + path.step * (double)at, p[DF_MAX_COMPONENTS], p1[DF_MAX_COMPONENTS],
                   p2[DF_MAX_COMPONENTS], enthalpy = 0.0;
            df_assemblage a;
            double wet_mass = 0.0, wet_volume = 0.0, dry_volume = 0.0, heat = 0.0; /* of one mole */
            bool set = false;
            assert_int_equal(df_mixture_equilibrium(k->ctx, &a, m, t, c.x, allowed, false), DF_OK);
            for (size_t l = 0; l < a.liquids; l++)
                set = set || df_mixture_glass_temperature(m, a.liquid[l]) > t - 1.0;
            if (set)
                continue;
            for (size_t j = 0; j < c.n; j++) {
                const df_substance *s = c.component[j];
                heat += c.x[j] * df_liquid_enthalpy(s, t);
                for (size_t l = 0; l < a.liquids; l++) {
                    wet_mass += a.liquid[l][j] * s->molar_mass;
                    wet_volume += a.liquid[l][j] * s->molar_mass / df_liquid_density(s, t);
                }
                for (size_t q = 0; q < df_mixture_solids(m); q++)
                    dry_volume +=
                        a.solid[q] * df_mixture_solid(m, q)->formula[j] * s->molar_mass / df_solid_density(s, t);
            }
            for (size_t q = 0; q < df_mixture_solids(m); q++) {
                const df_solid *s = df_mixture_solid(m, q);
                heat -=
                    a.solid[q] * (s->component >= 0 ? df_fusion_enthalpy(c.component[s->component], t) : s->enthalpy);
            }
            df_mixture_vapour(p, p1, p2, m, t, a.activity_ln);
            near(path.liquid_mass[at], wet_mass / mean, 1e-6, "%s: liquid at %.1f K", samples[i], t);
            near(path.solid_volume[at], dry_volume / (dry_volume + wet_volume), 1e-6, "%s: solid at %.1f K",
                 samples[i], t);
            near(path.enthalpy[at], heat / mean, 1e-6 * 3e5, "%s: enthalpy at %.1f K", samples[i], t);
            wet += path.liquid_mass[at] > 0.1 && path.liquid_mass[at] < 0.9;
            for (size_t j = 0; j < c.n; j++) {
                const df_substance *s = c.component[j];
                double liquid = 0.0;
                for (size_t l = 0; l < a.liquids; l++)
                    liquid += a.liquid[l][j];
                double melted = liquid / c.x[j];
                double own = (df_liquid_enthalpy(s, t) - (1.0 - melted) * df_fusion_enthalpy(s, t)) / s->molar_mass;
                near(path.species_liquid[j][at], melted, 1e-5, "%s: liquid %s at %.1f K", samples[i], s->key, t);
                near(path.species_enthalpy[j][at], own, 1e-5 * 3e5, "%s: enthalpy of %s at %.1f K", samples[i],
                     s->key, t);
                near(path.pressure_ln[j][at], log(p1[j] + 2.0 * p2[j]), 1e-6, "%s: pressure of %s at %.1f K",
                     samples[i], s->key, t);
                dimers += p2[j] > 0.3 * p1[j];
                enthalpy += c.x[j] * s->molar_mass / mean * own;
            }
            bool hydrate = false;
            for (size_t q = 0; q < df_mixture_solids(m); q++)
                hydrate = hydrate || (df_mixture_solid(m, q)->component < 0 && a.solid[q] > 0.0);
            hydrates += hydrate;
            if (!hydrate) /* whose heat is its own */
                near(enthalpy, path.enthalpy[at], 1e-5 * 3e5, "%s: sum of enthalpies at %.1f K", samples[i], t);
        }
        df_mixture_free(m);
    }
    assert_true(wet > 10 && dimers > 3 && hydrates > 3);
}

/* Volumes of the frozen body: those of the crystals at 160 K, and ice as it weighs there, to 1.2 % (932 kg/m3: Feistel & Wagner, J. Phys.
 * Chem. Ref. Data 35 (2006) 1021, from memory). */
static void volumes(void **state) {
    const kit *k = *state;
    for (size_t i = 0; i < 2; i++) {
        df_composition c;
        df_frozen_path path;
        double mass[DF_MAX_COMPONENTS], volume = 0.0;
        if (df_composition_parse(k->ctx, &c, k->substances, samples[i], NULL) != DF_OK ||
            df_frozen_path_make(k->ctx, &path, k->pairs, &c, DF_FREEZING_PRACTICE) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        df_composition_fractions(mass, &c, DF_BASIS_MASS);
        for (size_t j = 0; j < c.n; j++)
            volume += mass[j] / df_solid_density(c.component[j], 160.0);
        near(path.frozen_density * volume, 1.0, 1e-9, "%s: density", samples[i]);
        for (size_t j = 0; j < c.n; j++)
            near(path.volume_fraction[j], mass[j] / df_solid_density(c.component[j], 160.0) / volume, 1e-9,
                 "%s: share of %s", samples[i], c.component[j]->key);
        if (i == 0)
            near(path.frozen_density / 932.0, 1.0, 0.012, "ice at 160 K");
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(nodes), cmocka_unit_test(volumes)};
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
