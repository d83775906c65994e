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

/* Salting-out: log10 of the activity coefficient of a trace of an organic rises by k for each mol/L of sodium chloride.
 * k = 0.04 log Kow + 0.114 (Ni & Yalkowsky, Int. J. Pharm. 254 (2003) 167): 0.10 to 0.13 here; measured for 43 compounds between
 * about 0.05 and 0.35 (Endo, Pfennigsdorff & Goss, Environ. Sci. Technol. 46 (2012) 1496, abstract; range from memory). */
static void salting_out(void **state) {
    const kit *k = *state;
    static const char *const organics[] = {"acetonitrile", "acetone",     "thf",
                                           "2-propanol",   "1,4-dioxane", "tert-butanol"};
    for (size_t i = 0; i < sizeof organics / sizeof organics[0]; i++) {
        const df_substance *s[3] = {kit_substance(k, "water"), kit_substance(k, organics[i]),
                                    kit_substance(k, "NaCl")};
        df_mixture *m = NULL;
        double gamma[2][3];
        assert_int_equal(df_mixture_create(k->ctx, &m, k->pairs, s, 3), DF_OK);
        for (int j = 0; j < 2; j++) { /* 0.5 mol of salt, 1 mol of particles, in a litre: 55 mol of water */
            double x[3] = {1.0, 1e-7, j * 1.0 / 55.3}, total = x[0] + x[1] + x[2];
            for (int c = 0; c < 3; c++)
                x[c] /= total;
            df_mixture_activity(gamma[j], NULL, m, 298.15, x);
        }
        double setschenow = (gamma[1][1] - gamma[0][1]) / log(10.0) / 0.5;
        print_message("%s: k %.3f L/mol\n", organics[i], setschenow);
        if (!(setschenow > 0.05 && setschenow < 0.35))
            fail_msg("%s: k = %.3f L/mol", organics[i], setschenow);
        df_mixture_free(m);
    }
}

/* A salt hardly moves the eutectic of ice and acetonitrile (-45.9 °C) and is nearly insoluble in it; potassium chloride in
 * ethanol: 0.022 g in 100 g at 25 °C (Turner & Bissett as quoted in a public handbook). */
static void salts_beside_organics(void **state) {
    const kit *k = *state;
    static const char *const salts[] = {"ammonium bicarbonate", "sodium chloride", "potassium chloride"};
    double liquidus, plain, solidus;
    range(k, "acetonitrile 30 %w/w, water", &liquidus, &plain, DF_FREEZING_PRACTICE);
    for (size_t i = 0; i < 3; i++) {
        char text[96];
        double z[DF_MAX_COMPONENTS];
        bool allowed[DF_MAX_SOLIDS];
        df_assemblage a;
        snprintf(text, sizeof text, "%s 1 %%w/w, acetonitrile 30 %%w/w, water", salts[i]);
        range(k, text, &liquidus, &solidus, DF_FREEZING_PRACTICE);
        near(solidus, plain, 0.3, "%s", text);
        df_mixture *m = mix(k, text, z);
        df_mixture_allow(allowed, m, DF_FREEZING_PRACTICE);
        assert_int_equal(df_mixture_equilibrium(k->ctx, &a, m, 243.15, z, allowed, false), DF_OK);
        assert_int_equal(a.liquids, 1);
        assert_true(a.liquid[0][0] < 1e-4 * a.liquid[0][1]);
        df_mixture_free(m);
    }
    double z[DF_MAX_COMPONENTS];
    bool allowed[DF_MAX_SOLIDS];
    df_assemblage a;
    df_mixture *m = mix(k, "potassium chloride 5 %w/w, ethanol 94.999 %w/w, water 0.001 %w/w", z);
    df_mixture_allow(allowed, m, DF_FREEZING_PRACTICE);
    assert_int_equal(df_mixture_equilibrium(k->ctx, &a, m, 298.15, z, allowed, false), DF_OK);
    double grams = 100.0 * a.liquid[0][0] * 74.551 / 2.0 / (a.liquid[0][1] * 46.068);
    print_message("KCl in ethanol: %.4f g in 100 g\n", grams);
    assert_int_equal(a.liquids, 1);
    if (!(grams > 0.022 / 4.0 && grams < 0.022 * 4.0))
        fail_msg("KCl in ethanol: %.4f g in 100 g", grams);
    df_mixture_free(m);
}

/* Sugar drives acetonitrile out of water, the more the colder (Dhamole, Mahajan & Feng, J. Chem. Eng. Data 55 (2010) 3803). */
static void sugaring_out(void **state) {
    static const bool none[DF_MAX_SOLIDS] = {false};
    const kit *k = *state;
    size_t liquids[2];
    for (int i = 0; i < 2; i++) {
        double z[DF_MAX_COMPONENTS];
        df_assemblage a;
        df_mixture *m =
            mix(k, i == 0 ? "acetonitrile 45 %w/w, water" : "sucrose 10 %w/w, acetonitrile 45 %w/w, water", z);
        assert_int_equal(df_mixture_equilibrium(k->ctx, &a, m, 277.0, z, none, false), DF_OK);
        liquids[i] = a.liquids;
        df_mixture_free(m);
    }
    assert_int_equal(liquids[0], 1);
    assert_int_equal(liquids[1], 2);
}

/* No solute of the table leaves water by itself (its Margules term is below 2) or is more stable molten than as its crystal in
 * the cold. */
static void table_of_solutes(void **state) {
    const kit *k = *state;
    size_t count = 0;
    for (size_t i = 0; i < df_substances_count(k->substances); i++) {
        const df_substance *both[2] = {df_substances_at(k->substances, i), kit_substance(k, "water")};
        if (!both[0]->is_involatile)
            continue;
        df_mixture *m = NULL;
        count++;
        assert_int_equal(df_mixture_create(k->ctx, &m, k->pairs, both, 2), DF_OK);
        const df_nrtl_pair *pair = df_mixture_pair(m, 0, 1);
        if (!(pair->a[0] + pair->a[1] < 2.0))
            fail_msg("%s: Margules term %.2f", both[0]->key, pair->a[0] + pair->a[1]);
        for (size_t n = 1; n < df_mixture_solids(m); n++)
            for (double t = 180.0; t <= 273.0; t += 31.0)
                if (!(df_solid_constant_ln(m, n, t) < 0.0))
                    fail_msg("%s is more stable molten at %.0f K", df_mixture_solid(m, n)->name, t);
        df_mixture_free(m);
    }
    assert_int_equal(count, 19);
}

/* Ammonium bicarbonate: 59 mmHg at 25.4 °C (from memory; the same from standard properties of gases and salt, NBS tables as on a
 * public page); its slope is that of the heat of reaction, and what is left beside a held pressure of water keeps the product.
 * Its solubility in water at 20 °C, 17.4 g in 100 mL (International Chemical Safety Card 1333), from the eutectic and the measured
 * heat of solution. */
static void salts_as_gases(void **state) {
    const kit *k = *state;
    const df_substance *s = kit_substance(k, "ammonium bicarbonate");
    near(df_dissociation_pressure(s, 298.55, NAN) / 133.322, 59.0, 9.0, "mmHg at 25.4 °C");
    double t = 250.0, cold = df_dissociation_pressure(s, t, NAN), warm = df_dissociation_pressure(s, t + 0.01, NAN);
    near(8.314462618 * t * (t + 0.01) * log(warm / cold) / 0.01, 168000.0 / 3.0, 1.0, "J for each mole of gas");
    for (double water = 1.0; water < 100.0; water *= 5.0) {
        double each = 0.5 * df_dissociation_pressure(s, t, water);
        near(each * each * water / pow(cold / 3.0, 3.0), 1.0, 1e-9, "product of the pressures");
    }
    assert_true(isnan(df_dissociation_pressure(kit_substance(k, "sucrose"), t, NAN)));
    assert_true(isnan(df_dissociation_pressure(kit_substance(k, "water"), t, NAN)));
    /* acetate and formate hold their gases far better */
    assert_true(df_dissociation_pressure(kit_substance(k, "ammonium acetate"), t, NAN) < 0.05 * cold);
    assert_true(df_dissociation_pressure(kit_substance(k, "ammonium formate"), t, NAN) < 0.05 * cold);
    double z[DF_MAX_COMPONENTS];
    bool allowed[DF_MAX_SOLIDS];
    df_assemblage a;
    df_mixture *m = mix(k, "ammonium bicarbonate 40 %w/w, water", z);
    df_mixture_allow(allowed, m, DF_FREEZING_PRACTICE);
    assert_int_equal(df_mixture_equilibrium(k->ctx, &a, m, 293.15, z, allowed, false), DF_OK);
    double grams = 100.0 * a.liquid[0][0] * df_mixture_component(m, 0)->molar_mass /
                   (a.liquid[0][1] * df_mixture_component(m, 1)->molar_mass);
    print_message("ammonium bicarbonate: %.1f g in 100 g of water at 20 °C\n", grams);
    near(grams, 17.4, 5.0, "solubility at 20 °C");
    df_mixture_free(m);
}

static df_solute solute(const kit *k, const char *name, double concentration) {
    df_solute s;
    if (df_solute_find(k->ctx, &s, k->substances, name, NULL) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    s.concentration = concentration;
    return s;
}

static void follow_path(const kit *k, df_frozen_path *path, const char *text, const df_solute *solutes, size_t n) {
    df_composition c;
    df_mixture *m = NULL;
    double z[DF_MAX_COMPONENTS];
    if (df_composition_parse(k->ctx, &c, k->substances, text, NULL) != DF_OK ||
        df_frozen_mixture(k->ctx, &m, z, k->pairs, &c, solutes, n) != DF_OK ||
        df_frozen_path_follow(k->ctx, path, m, z, &c, DF_FREEZING_PRACTICE) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    df_mixture_free(m);
}

/* A job's solutes in the frozen path: the depression of the salt table, the glass of the concentrate with its water, and what
 * must not change. */
/* A eutectic whose composition nobody states lies on the ideal branch of ice: no correction to it is left. Without a published Tg
 * an organic liquid sets at 0.65 of its melting point (docs/mixture.md). */
static void rules_for_gaps(void **state) {
    const kit *k = *state;
    const df_substance *water = kit_substance(k, "water"), *cyclohexane = kit_substance(k, "cyclohexane");
    static const char *const open[] = {"mannitol", "glycine"};
    double x;
    for (size_t i = 0; i < 2; i++) {
        const df_substance *s = kit_substance(k, open[i]);
        near(df_involatile_margules(&x, s, water), 0.0, 1e-9, "%s: correction", open[i]);
        near(1.0 - x, exp(df_solid_liquid_ratio_ln(water, s->involatile.anchor_temperature)), 1e-12, "%s: ice",
             open[i]);
    }
    df_mixture *m = kit_binary(k, "cyclohexane");
    double pure[2] = {1.0, 0.0};
    assert_true(!(cyclohexane->glass_temperature > 0.0));
    near(df_mixture_glass_temperature(m, pure), 0.65 * cyclohexane->melting_temperature, 1e-9, "cyclohexane's glass");
    df_mixture_free(m);
}

/* Mole fractions of what a fill holds, worked out for a litre of it (the liquids before mixing, at 20 C). */
static void amounts_by_hand(void **state) {
    const kit *k = *state;
    df_composition c;
    df_mixture *m = NULL;
    double z[DF_MAX_COMPONENTS];
    df_solute both[2] = {solute(k, "sucrose", 50.0), solute(k, "NaCl", 4.0)};
    if (df_composition_parse(k->ctx, &c, k->substances, "acetonitrile 40 %v/v, water", NULL) != DF_OK ||
        df_frozen_mixture(k->ctx, &m, z, k->pairs, &c, both, 2) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    assert_int_equal(df_mixture_count(m), 4);
    const df_substance *part[2] = {kit_substance(k, "acetonitrile"), kit_substance(k, "water")};
    double moles[4] = {0.4 * df_liquid_density(part[0], 293.15) / part[0]->molar_mass,
                       0.6 * df_liquid_density(part[1], 293.15) / part[1]->molar_mass, 50.0 / 0.342297,
                       2.0 * 4.0 / 0.058443}; /* its ions */
    double all = moles[0] + moles[1] + moles[2] + moles[3];
    for (size_t i = 0; i < 4; i++)
        near(z[i] / (moles[i] / all), 1.0, 1e-4, "mole fraction of %s", df_mixture_component(m, i)->key);
    df_mixture_free(m);
}

static void solutes_of_a_path(void **state) {
    const kit *k = *state;
    static df_frozen_path plain, path;
    follow_path(k, &plain, "water 100 %w/w", NULL, 0);
    /* 0.25 mol of NaCl to a kg of water: 0.85 K (Smithsonian Physical Tables 9th ed.) */
    df_solute salt = solute(k, "NaCl", 0.25 * 58.443e-3 * 998.2);
    follow_path(k, &path, "water 100 %w/w", &salt, 1);
    near(plain.liquidus - path.liquidus, 0.85, 0.12, "NaCl");
    near(path.solidus, 252.05, 0.1, "its eutectic");
    assert_true(path.n == 1 && path.water == 0);
    /* From 200 K on it also takes the heat of the salt's crystal, and the water in that does not melt as ice. */
    double span = df_frozen_path_at(&path, path.enthalpy, 275.0) - df_frozen_path_at(&path, path.enthalpy, 200.0);
    double bare = df_frozen_path_at(&plain, plain.enthalpy, 275.0) - df_frozen_path_at(&plain, plain.enthalpy, 200.0);
    near(span - bare, 0.25 * (21000.0 - 2.0 * df_fusion_enthalpy(kit_substance(k, "water"), 200.0)), 20.0,
         "heat of the salt's crystal, J/kg of water");
    /* Sucrose: liquid above -32 °C (Levine & Slade 1988), glass below, with 70 to 85 % by mass of sugar in it. */
    df_solute sugar = solute(k, "sucrose", 50.0);
    follow_path(k, &path, "water 100 %w/w", &sugar, 1);
    assert_true(df_frozen_path_at(&path, path.liquid_mass, 240.5) == 0.0);
    double unfrozen = df_frozen_path_at(&path, path.liquid_mass, 242.0) * 998.2 / 50.0;
    if (!(unfrozen > 0.15 / 0.85 && unfrozen < 0.30 / 0.70))
        fail_msg("%.3f g of water for each gram of sucrose", unfrozen);
    /* The glass keeps its water, and the pressure stays that of ice. */
    near(df_frozen_path_at(&path, path.species_liquid[0], 180.0),
         df_frozen_path_at(&path, path.species_liquid[0], 240.5), 1e-12, "water in the glass");
    near(df_frozen_path_at(&path, path.pressure_ln[0], 200.0),
         log(df_solid_pressure(kit_substance(k, "water"), 200.0)), 1e-6, "pressure of ice beside a glass");
    /* tert-Butanol beside its hydrate and ice: the hydrate's constant holds below the glass too. */
    follow_path(k, &path, "tert-butanol 10 %w/w, water", &sugar, 1);
    double water_ln = log(df_solid_pressure(kit_substance(k, "water"), 200.0));
    near(df_frozen_path_at(&path, path.pressure_ln[1], 200.0), water_ln, 1e-6, "ice beside hydrate and glass");
    double low = df_frozen_path_at(&path, path.pressure_ln[0], 200.0);
    follow_path(k, &plain, "tert-butanol 10 %w/w, water", NULL, 0);
    near(low, df_frozen_path_at(&plain, plain.pressure_ln[0], 200.0), 1e-6,
         "the hydrate's alcohol, with and without sugar");
    follow_path(k, &plain, "water 100 %w/w", NULL, 0);
    /* None of it, or one that is not known: as without. */
    sugar.concentration = 0.0;
    df_solute unknown = salt;
    unknown.known = false;
    const df_solute both[2] = {sugar, unknown};
    follow_path(k, &plain, "acetonitrile 30 %v/v, water", NULL, 0);
    follow_path(k, &path, "acetonitrile 30 %v/v, water", both, 2);
    assert_memory_equal(&plain, &path, sizeof path);
    /* Named twice counts together. */
    df_solute half = salt;
    half.concentration *= 0.5;
    const df_solute halves[2] = {half, half};
    follow_path(k, &plain, "acetonitrile 30 %v/v, water", &salt, 1);
    follow_path(k, &path, "acetonitrile 30 %v/v, water", halves, 2);
    near(path.liquidus, plain.liquidus, 2e-3, "twice");
    near(path.solidus, plain.solidus, 2e-3, "twice");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(salt_lowers_freezing),
        cmocka_unit_test(eutectics),
        cmocka_unit_test(glasses),
        cmocka_unit_test(overrides),
        cmocka_unit_test(undercooling),
        cmocka_unit_test(salting_out),
        cmocka_unit_test(salts_beside_organics),
        cmocka_unit_test(sugaring_out),
        cmocka_unit_test(salts_as_gases),
        cmocka_unit_test(table_of_solutes),
        cmocka_unit_test(rules_for_gaps),
        cmocka_unit_test(amounts_by_hand),
        cmocka_unit_test(solutes_of_a_path),
    };
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
