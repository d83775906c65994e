/* Solutes: freezing of salt and sugar solutions, eutectics, glasses. */
#include "kit.h"

#include "dryfront/sample.h"

static df_mixture *mix(const kit *k, const char *text, double *z) {
    df_composition c;
    df_mixture *m = NULL;
    if (df_composition_parse(k->ctx, &c, k->substances, text, NULL) != DF_OK ||
        df_mixture_create(k->ctx, &m, k->pairs, c.component, c.n) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    memcpy(z, c.x, sizeof c.x);
    return m;
}

static void range(const kit *k, const char *text, double *liquidus, double *solidus, df_freezing_mode mode) {
    double z[DF_MAX_COMPONENTS];
    bool allowed[DF_MAX_SOLIDS];
    df_mixture *m = mix(k, text, z);
    df_mixture_allow(allowed, m, mode);
    if (df_mixture_freezing_range(k->ctx, liquidus, solidus, m, z, allowed, 180.0) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    df_mixture_free(m);
}

/* Smithsonian Physical Tables 9th ed. as in the CRC Handbook: freezing point lowering by NaCl, K at molality. */
static void salt_lowers_freezing(void **state) {
    static const double rows[][2] = {{0.05, 0.18}, {0.1, 0.35}, {0.25, 0.85}, {0.5, 1.68}, {0.75, 2.6}};
    for (size_t i = 0; i < 5; i++) {
        char text[96];
        double w = rows[i][0] * 58.443e-3 / (1.0 + rows[i][0] * 58.443e-3), liquidus, solidus;
        snprintf(text, sizeof text, "sodium chloride %.6f %%w/w, water", 100.0 * w);
        range(*state, text, &liquidus, &solidus, DF_FREEZING_PRACTICE);
        near(273.16 - liquidus, rows[i][1], 0.03 + 0.12 * rows[i][1], "NaCl %.2f mol/kg", rows[i][0]);
        near(solidus, 252.05, 0.1, "eutectic"); /* Lange's Handbook 15th ed., table 5.13: -21.1 °C */
    }
}

/* The eutectic is one point whatever the feed; cryohydrate table: KCl -10.7 °C. */
static void eutectics(void **state) {
    double liquidus, solidus;
    range(*state, "potassium chloride 5 %w/w, water", &liquidus, &solidus, DF_FREEZING_PRACTICE);
    near(solidus - 273.15, -10.7, 0.1, "KCl");
    range(*state, "mannitol 5 %w/w, water", &liquidus, &solidus, DF_FREEZING_PRACTICE);
    near(solidus - 273.15, -1.5, 0.6, "mannitol, -1.0 to -2.2 °C (Her & Nail 1994, from memory)");
    /* Two salts together melt below either. */
    range(*state, "sodium chloride 5 %w/w, potassium chloride 5 %w/w, water", &liquidus, &solidus,
          DF_FREEZING_PRACTICE);
    assert_true(solidus < 252.05 && solidus > 240.0);
}

/* Maximally freeze-concentrated solutions: Levine & Slade, J. Chem. Soc. Faraday Trans. 1 84 (1988) 2619 (from memory):
 * -32 °C sucrose, -29.5 °C trehalose, whatever the start; about 80 % solids by Gordon-Taylor. Glycerol 164 K at 76 % by mass
 * (Inaba & Andersson, Thermochim. Acta 461 (2007) 44; seen) to 170 K (Sci. Rep. 5 (2015), PMC4621610; seen). */
static void glasses(void **state) {
    const kit *k = *state;
    static const struct {
        const char *text;
        double t, tolerance, low, high;
    } rows[] = {{"sucrose 10 %w/w, water", 241.15, 0.3, 0.70, 0.85},
                {"sucrose 30 %w/w, water", 241.15, 0.3, 0.70, 0.85},
                {"trehalose 10 %w/w, water", 243.65, 0.3, 0.70, 0.85},
                {"glycerol 30 %w/w, water", 167.0, 6.0, 0.68, 0.84}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double z[DF_MAX_COMPONENTS], t;
        bool allowed[DF_MAX_SOLIDS];
        df_assemblage a;
        df_mixture *m = mix(k, rows[i].text, z);
        df_mixture_allow(allowed, m, DF_FREEZING_PRACTICE);
        if (df_mixture_arrest(k->ctx, &t, &a, m, z, allowed, 120.0) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        near(t, rows[i].t, rows[i].tolerance, "%s", rows[i].text);
        assert_int_equal(a.liquids, 1);
        double mass[2] = {a.liquid[0][0] * df_mixture_component(m, 0)->molar_mass,
                          a.liquid[0][1] * df_mixture_component(m, 1)->molar_mass};
        double w = mass[0] / (mass[0] + mass[1]);
        if (!(w > rows[i].low && w < rows[i].high))
            fail_msg("%s: concentrate holds %.3f", rows[i].text, w);
        /* Gordon-Taylor's limits. */
        double pure_water[2] = {0.0, 1.0}, pure[2] = {1.0, 0.0};
        near(df_mixture_glass_temperature(m, pure_water), 136.0, 1e-9, "glass of water");
        assert_true(df_mixture_glass_temperature(m, pure) > df_mixture_glass_temperature(m, a.liquid[0]));
        df_mixture_free(m);
    }
}

static void overrides(void **state) {
    const kit *k = *state;
    double z[DF_MAX_COMPONENTS], liquidus, solidus;
    bool allowed[DF_MAX_SOLIDS];
    df_mixture *m = mix(k, "acetone 30 %w/w, water", z);
    df_mixture_allow(allowed, m, DF_FREEZING_PRACTICE);
    assert_int_equal(df_mixture_freezing_range(k->ctx, &liquidus, &solidus, m, z, allowed, 100.0), DF_OK);
    assert_true(isnan(solidus));
    assert_int_equal(df_mixture_allow_solid(k->ctx, allowed, m, "acetone", true), DF_OK);
    assert_int_equal(df_mixture_freezing_range(k->ctx, &liquidus, &solidus, m, z, allowed, 100.0), DF_OK);
    if (!(solidus > 100.0 && solidus < 178.5))
        fail_msg("acetone and ice: %.2f K", solidus);
    assert_int_equal(df_mixture_allow_solid(k->ctx, allowed, m, "ice", false), DF_OK);
    assert_int_equal(df_mixture_freezing_range(k->ctx, &liquidus, &solidus, m, z, allowed, 100.0), DF_OK);
    assert_true(isnan(liquidus) || liquidus < 178.5);
    assert_int_equal(df_mixture_allow_solid(k->ctx, allowed, m, "sand", true), DF_E_UNKNOWN_NAME);
    df_mixture_free(m);
    /* Annealing lets DMSO's trihydrate form, simple freezing does not. */
    m = mix(k, "dmso 30 %w/w, water", z);
    df_mixture_allow(allowed, m, DF_FREEZING_PRACTICE);
    assert_int_equal(df_mixture_freezing_range(k->ctx, &liquidus, &solidus, m, z, allowed, 170.0), DF_OK);
    double simple = solidus;
    df_mixture_allow(allowed, m, DF_FREEZING_ANNEALED);
    assert_int_equal(df_mixture_freezing_range(k->ctx, &liquidus, &solidus, m, z, allowed, 170.0), DF_OK);
    assert_true(solidus > 200.0 && !(simple >= solidus));
    df_mixture_free(m);
}

/* Homogeneous nucleation: -37.8 °C in pure water (Zhang et al., J. Phys. Chem. B 108 (2004) 16717); colder the less active the
 * water is; of 45 % w/w DMSO and 50 % w/w glycerol the first nucleates only about 3 K above its glass, the second 20 K (peak rate;
 * Cryobiology 33 (1996) 205). For dilute solutions the fall is about twice that of the melting point (from memory). */
static void undercooling(void **state) {
    static const bool none[DF_MAX_SOLIDS] = {false};
    const kit *k = *state;
    const char *text[] = {"water 100 %w/w", "glycerol 20 %w/w, water", "glycerol 50 %w/w, water",
                          "dmso 45 %w/w, water", "acetonitrile 40 %w/w, water"};
    double t[5], glass[5];
    for (size_t i = 0; i < 5; i++) {
        double z[DF_MAX_COMPONENTS], liquidus, solidus;
        bool allowed[DF_MAX_SOLIDS];
        df_mixture *m = mix(k, text[i], z);
        assert_int_equal(df_mixture_nucleation(k->ctx, &t[i], m, z), DF_OK);
        glass[i] = df_mixture_glass_temperature(m, z);
        df_mixture_allow(allowed, m, DF_FREEZING_PRACTICE);
        if (i == 1) {
            assert_int_equal(df_mixture_freezing_range(k->ctx, &liquidus, &solidus, m, z, allowed, 150.0), DF_OK);
            double ratio = (235.35 - t[i]) / (273.15 - liquidus);
            if (!(ratio > 1.3 && ratio < 2.5))
                fail_msg("glycerol 20 %%: %.2f times the fall of the melting point", ratio);
        }
        if (i == 4) { /* two liquids there: both have the same water */
            df_assemblage a;
            assert_int_equal(df_mixture_equilibrium(k->ctx, &a, m, t[i], z, none, false), DF_OK);
            assert_int_equal(a.liquids, 2);
            assert_true(t[i] < 235.35);
        }
        df_mixture_free(m);
    }
    near(t[0], 235.35, 1e-2, "pure water");
    assert_true(t[0] > t[1] && t[1] > t[2] && t[2] > glass[2]);
    assert_true(isnan(t[3]) || t[3] < glass[3] + 10.0);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(salt_lowers_freezing), cmocka_unit_test(eutectics),
                                       cmocka_unit_test(glasses), cmocka_unit_test(overrides),
                                       cmocka_unit_test(undercooling)};
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
