/* Pure substances against published values. The source stands beside each check. */
#include "kit.h"

/* IAPWS R14-08(2011), table 3: 8.94735 Pa at 230 K. CRC Handbook, Sublimation Pressure of Solids, for the others. */
static void ice_pressure(void **state) {
    const df_substance *water = kit_substance(*state, "water");
    near(df_solid_pressure(water, 230.0) / 8.94735, 1.0, 1e-5, "IAPWS check value at 230 K");
    near(df_solid_pressure(water, 273.16), 611.657, 1e-6 * 611.657, "triple point");
    static const double crc[][2] = {{210, 0.702}, {225, 4.942}, {240, 27.28},
                                    {250, 76.04}, {260, 195.8}, {270, 470.1}};
    for (size_t i = 0; i < sizeof crc / sizeof crc[0]; i++)
        near(df_solid_pressure(water, crc[i][0]) / crc[i][1], 1.0, 1e-3, "CRC at %.0f K", crc[i][0]);
    /* Common practice, no source: triple point at 0 °C and 6.1 mbar. */
    near(df_solid_pressure(water, 273.15) / 100.0, 6.1, 0.05, "6.1 mbar");
}

/* IAPWS SR1-86(1992): 101325 Pa at 373.1243 K; density 996.509 kg/m3 at 300 K (open library's example). */
static void liquid_water(void **state) {
    const df_substance *water = kit_substance(*state, "water");
    near(df_liquid_pressure(water, 373.1243), 101325.0, 2.0, "boiling");
    near(df_liquid_pressure(water, 647.096) / 22064000.0, 1.0, 1e-6, "critical");
    near(df_liquid_density(water, 300.0), 996.509, 0.01, "density");
    /* IAPWS-95 vapour enthalpy less IAPWS R10-06 ice enthalpy at the triple point: 2834.36 kJ/kg. */
    near(df_sublimation_enthalpy(water, 273.16) / water->molar_mass / 2834360.0, 1.0, 2e-3, "heat of sublimation");
    /* IAPWS R10-06: heat capacity of ice 2096.78 J/(kg K), density 916.709 kg/m3 at 273.16 K. */
    near(df_solid_heat_capacity(water, 273.16) / water->molar_mass, 2096.78, 25.0, "heat capacity of ice");
    near(df_solid_density(water, 273.16), 916.709, 1.0, "density of ice");
}

/* Supercooled water over ice: Murphy & Koop, Q. J. R. Meteorol. Soc. 131 (2005) 1539, eqs. (7) and (10), coefficients from
 * memory; our curve rests on IAPWS ice and fusion data alone. */
static void supercooled_water(void **state) {
    const df_substance *water = kit_substance(*state, "water");
    for (double t = 235.0; t < 273.0; t += 2.0) {
        double liquid = exp(54.842763 - 6763.22 / t - 4.210 * log(t) + 0.000367 * t +
                            tanh(0.0415 * (t - 218.8)) * (53.878 - 1331.22 / t - 9.44523 * log(t) + 0.014025 * t));
        near(df_liquid_pressure(water, t) / liquid, 1.0, 0.01, "liquid water at %.0f K", t);
    }
}

/* Every liquid gives one atmosphere at its normal boiling point; DMSO, on which sources disagree, within 7 %. */
static void boiling_points(void **state) {
    const kit *k = *state;
    assert_true(df_substances_count(k->substances) >= 26);
    for (size_t i = 0; i < df_substances_count(k->substances); i++) {
        const df_substance *s = df_substances_at(k->substances, i);
        if (s->is_involatile)
            continue;
        double tolerance = strcmp(s->key, "dmso") == 0 ? 0.07 : 0.01;
        near(df_liquid_pressure(s, s->boiling_temperature) / 101325.0, 1.0, tolerance, "%s at %.2f K", s->key,
             s->boiling_temperature);
    }
    /* CRC Handbook 95th ed. boiling points, independent of the constants table. */
    static const struct {
        const char *key;
        double t;
    } crc[] = {{"acetonitrile", 354.75}, {"methanol", 337.65},     {"ethanol", 351.39},     {"2-propanol", 355.36},
               {"acetone", 329.23},      {"tert-butanol", 355.45}, {"1,4-dioxane", 374.35}, {"thf", 339.15},
               {"toluene", 383.75},      {"pyridine", 388.35},     {"acetic_acid", 391.05}, {"chloroform", 334.35},
               {"mtbe", 328.25},         {"dmf", 425.95}};
    for (size_t i = 0; i < sizeof crc / sizeof crc[0]; i++)
        near(df_liquid_pressure(kit_substance(k, crc[i].key), crc[i].t) / 101325.0, 1.0, 0.03, "%s at CRC's %.2f K",
             crc[i].key, crc[i].t);
}

/* Rises from 120 K to the critical point with a positive heat throughout, and no corner where it leaves its correlation. */
static void curves_are_sound(void **state) {
    const kit *k = *state;
    for (size_t i = 0; i < df_substances_count(k->substances); i++) {
        const df_substance *s = df_substances_at(k->substances, i);
        if (s->is_involatile)
            continue;
        double before = -INFINITY;
        for (double t = 120.0; t < s->critical_temperature - 0.05; t += 0.5) {
            double now = df_liquid_pressure_ln(s, t);
            if (!(now > before))
                fail_msg("%s: pressure does not rise at %.1f K", s->key, t);
            if (!(df_vaporisation_enthalpy(s, t) > 0.0))
                fail_msg("%s: heat of vaporisation %.3g at %.1f K", s->key, df_vaporisation_enthalpy(s, t), t);
            before = now;
        }
        near(df_liquid_pressure(s, s->critical_temperature) / s->critical_pressure, 1.0, 0.06, "%s critical pressure",
             s->key);
        double edges[2] = {s->is_water ? 273.16 : s->edge_low, s->edge_high};
        for (int e = 0; e < 2; e++) {
            double t = edges[e], d = 0.01;
            if (e == 1 && s->critical_temperature - t < 1.0)
                continue;
            double left = (df_liquid_pressure_ln(s, t - 1e-9) - df_liquid_pressure_ln(s, t - d)) / d;
            double right = (df_liquid_pressure_ln(s, t + d) - df_liquid_pressure_ln(s, t + 1e-9)) / d;
            near(right / left, 1.0, s->is_water ? 3e-3 : 1e-3, "%s slope at %.2f K", s->key, t);
            near(df_liquid_pressure_ln(s, t + 1e-9), df_liquid_pressure_ln(s, t - 1e-9), 1e-6, "%s value at %.2f K",
                 s->key, t);
        }
    }
}

static void solid_meets_liquid(void **state) {
    const kit *k = *state;
    for (size_t i = 0; i < df_substances_count(k->substances); i++) {
        const df_substance *s = df_substances_at(k->substances, i);
        if (s->is_involatile)
            continue;
        double t = s->melting_temperature;
        near(df_solid_pressure(s, t) / df_liquid_pressure(s, t), 1.0, 1e-9, "%s at its melting point", s->key);
        for (double below = t - 0.5; below > fmax(120.0, t - 100.0); below -= 2.5) {
            if (!(df_solid_pressure(s, below) < df_liquid_pressure(s, below)))
                fail_msg("%s: crystal not below liquid at %.1f K", s->key, below);
            if (!(df_fusion_enthalpy(s, below) > 0.0))
                fail_msg("%s: heat of fusion %.3g at %.1f K", s->key, df_fusion_enthalpy(s, below), below);
        }
        assert_true(df_solid_liquid_ratio_ln(s, t + 5.0) > 0.0);
        /* d ln(fs/fl)/dT = dH_fus(T)/(R T^2): the sign of the heat-capacity term. */
        double d = 0.01, at = t - 8.0;
        double slope = (df_solid_liquid_ratio_ln(s, at + d) - df_solid_liquid_ratio_ln(s, at - d)) / (2.0 * d);
        near(slope * DF_GAS_CONSTANT * at * at / df_fusion_enthalpy(s, at), 1.0, 1e-4, "%s fusion slope", s->key);
    }
}

/* Crystals against published sublimation pressures: benzene and cyclohexane at 250 K, Landolt-Boernstein/Dykyj & Hall
 * sublimation sets (500 Pa, 783 Pa); acetonitrile's triple point -43.9 °C: common practice, no source. */
/* Clausius and Clapeyron: every heat is R T2 times the slope of its ln p, inside the correlation, beyond both its ends, through
 * transitions of the crystal, and for a mole of formula where the vapour associates. The liquid's enthalpy is the integral of its
 * heat capacity. */
static void heats_are_slopes(void **state) {
    const kit *k = *state;
    const double gas = DF_GAS_CONSTANT, d = 0.02;
    size_t transitions = 0;
    for (size_t i = 0; i < df_substances_count(k->substances); i++) {
        const df_substance *s = df_substances_at(k->substances, i);
        if (s->is_involatile)
            continue;
        for (double t = 152.3; t < fmin(s->critical_temperature - 5.0, 500.0); t += 7.1) {
            double slope = (df_liquid_pressure_ln(s, t + d) - df_liquid_pressure_ln(s, t - d)) / (2.0 * d);
            double total = df_liquid_pressure(s, t), p1 = df_monomer_pressure(s, t, total), p2 = total - p1;
            if (fabs(t - s->edge_low) > 0.1 && fabs(t - s->edge_high) > 0.1)
                near(df_vaporisation_enthalpy(s, t) / (gas * t * t * slope * (p1 + p2) / (p1 + 2.0 * p2)), 1.0, 1e-3,
                     "%s: heat of vaporisation at %.1f K", s->key, t);
            double sum = 0.0, zero = DF_ZERO_CELSIUS;
            const int steps = 2000;
            for (int j = 0; j < steps; j++)
                sum += df_liquid_heat_capacity(s, zero + (t - zero) * (j + 0.5) / steps) * (t - zero) / steps;
            near(df_liquid_enthalpy(s, t), sum, 1e-4 * fabs(sum), "%s: enthalpy at %.1f K", s->key, t);
            slope = (df_liquid_enthalpy(s, t + d) - df_liquid_enthalpy(s, t - d)) / (2.0 * d);
            near(slope / df_liquid_heat_capacity(s, t), 1.0, 1e-3, "%s: slope of enthalpy at %.1f K", s->key, t);
            bool near_transition = t > s->melting_temperature - 0.1;
            for (size_t j = 0; j < s->transitions; j++) {
                near_transition = near_transition || fabs(t - s->transition[j].temperature) < 0.1;
                transitions += t < s->transition[j].temperature;
            }
            if (near_transition)
                continue;
            slope = (df_solid_liquid_ratio_ln(s, t + d) - df_solid_liquid_ratio_ln(s, t - d)) / (2.0 * d);
            near(df_fusion_enthalpy(s, t) / (gas * t * t * slope), 1.0, 1e-3, "%s: heat of fusion at %.1f K", s->key,
                 t);
            slope = log(df_solid_pressure(s, t + d) / df_solid_pressure(s, t - d)) / (2.0 * d);
            if (s->dimer_enthalpy == 0.0)
                near(df_sublimation_enthalpy(s, t) / (gas * t * t * slope), 1.0, 1e-3,
                     "%s: heat of sublimation at %.1f K", s->key, t);
        }
    }
    assert_true(transitions > 20);
}

/* Forms that a file of one's own may use, against published figures of the same equations: water by Wagner's second form (Reid,
 * Prausnitz & Poling, 4th ed.; 101325 Pa at 373.15 K) and Antoine's (NIST WebBook; 1.6 % off there), heats and heat capacities of
 * Perry's Chemical Engineers' Handbook: water 44.73 kJ/mol at 273.16 K, steam 33.58 J/(mol K) at 300 K, 41.27 at 1000 K (JANAF), ammonia 75.75 and
 * 418.47 J/(mol K) at 203.15 and 401.15 K, steam's conductivity 0.0157 W/(m K) at 273.16 K; constants and figures from memory.
 * Those of Zabransky and the last of ChemSep in numbers worked out beside this, and as polynomials. */
static void forms(void **state) {
    (void)state;
    static const struct {
        df_correlation k;
        double t, value, within;
    } rows[] = {
        {{DF_FORM_WAGNER36, {-7.76451, 1.45838, -2.77580, -1.23303}, 647.3, 221.2e5, 275.0, 647.3, 1.0, 0, ""},
         373.15,
         101325.0,
         1e-3},
        {{DF_FORM_ANTOINE_LOG10, {9.6543, 1435.264, -64.848}, NAN, NAN, 256.0, 373.0, 1.0, 0, ""},
         373.15,
         99750.86,
         1e-6},
        {{DF_FORM_DIPPR107, {33363.0, 26790.0, 2610.5, 8896.0, 1169.0}, NAN, NAN, 100.0, 2273.15, 1e-3, 0, ""},
         300.0,
         33.58,
         1e-3},
        {{DF_FORM_DIPPR107, {33363.0, 26790.0, 2610.5, 8896.0, 1169.0}, NAN, NAN, 100.0, 2273.15, 1e-3, 0, ""},
         1000.0,
         41.27,
         5e-3},
        {{DF_FORM_DIPPR106, {5.2053e7, 0.3199, -0.212, 0.25795}, 647.096, NAN, 273.16, 647.096, 1e-3, 0, ""},
         273.16,
         44730.0,
         1e-3},
        {{DF_FORM_DIPPR114, {61.289, 80925.0, 799.4, -2651.0}, 405.65, NAN, 203.15, 401.15, 1e-3, 0, ""},
         203.15,
         75.75,
         1e-3},
        {{DF_FORM_DIPPR114, {61.289, 80925.0, 799.4, -2651.0}, 405.65, NAN, 203.15, 401.15, 1e-3, 0, ""},
         401.15,
         418.47,
         1e-3},
        {{DF_FORM_DIPPR102, {6.2041e-6, 1.3973}, NAN, NAN, 273.16, 1073.0, 1.0, 0, ""}, 273.16, 0.0157, 5e-3},
        {{DF_FORM_DIPPR102, {6.0, 1.0, 300.0, 180000.0}, NAN, NAN, 100.0, 500.0, 1.0, 0, ""}, 300.0, 450.0, 1e-12},
        {{DF_FORM_CHEMSEP16, {30000.0, -500.0, 9.0, 2e-3, 1e-6}, NAN, NAN, 100.0, 500.0, 1.0, 0, ""},
         300.0,
         33051.331504937894,
         1e-12},
        {{DF_FORM_ZAB_QUASI, {1.1, 0.2, 5.0, 3.0, -1.0, 0.5}, 500.0, NAN, 100.0, 500.0, 1.0, 0, ""},
         300.0,
         50.22002099053772,
         1e-9},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        near(df_correlation_value(&rows[i].k, rows[i].t) / rows[i].value, 1.0, rows[i].within, "row %zu", i);
    df_correlation cubic = {.form = DF_FORM_ZAB_CUBIC, .c = {10.0, -3.0, 2.0, 0.5}, .scale = 1.0}, same = cubic;
    same.form = DF_FORM_POLYNOMIAL;
    for (int i = 0; i < 4; i++)
        same.c[i] *= DF_GAS_CONSTANT / pow(100.0, i);
    for (double t = 150.0; t < 400.0; t += 50.0)
        near(df_correlation_value(&cubic, t) / df_correlation_value(&same, t), 1.0, 1e-12, "cubic at %.0f K", t);
}

/* kg/m3 of liquids (CRC Handbook, physical constants of organic compounds; from memory). */
static void densities(void **state) {
    static const struct {
        const char *key;
        double celsius, density;
    } crc[] = {{"water", 20, 998.2},       {"acetonitrile", 20, 785.7}, {"methanol", 20, 791.4},
               {"ethanol", 20, 789.3},     {"acetone", 25, 784.5},      {"dmso", 25, 1101.0},
               {"dmf", 25, 944.5},         {"1,4-dioxane", 20, 1033.7}, {"thf", 25, 883.3},
               {"toluene", 20, 866.8},     {"pyridine", 20, 981.9},     {"cyclohexane", 25, 773.9},
               {"chloroform", 25, 1478.8}, {"acetic_acid", 25, 1044.6}};
    for (size_t i = 0; i < sizeof crc / sizeof crc[0]; i++)
        near(df_liquid_density(kit_substance(*state, crc[i].key), crc[i].celsius + 273.15) / crc[i].density, 1.0,
             0.01, "%s", crc[i].key);
}

static void other_crystals(void **state) {
    near(df_solid_pressure(kit_substance(*state, "benzene"), 250.0) / 500.0, 1.0, 0.03, "benzene");
    near(df_solid_pressure(kit_substance(*state, "cyclohexane"), 250.0) / 783.0, 1.0, 0.03, "cyclohexane");
    near(kit_substance(*state, "acetonitrile")->melting_temperature - 273.15, -43.9, 0.2,
         "acetonitrile's triple point");
}

/* CRC Handbook 95th ed., heats of vaporisation at 298 K, J/mol. */
static void heats(void **state) {
    static const struct {
        const char *key;
        double h;
    } crc[] = {{"acetonitrile", 32940}, {"acetone", 30990},      {"methanol", 37430},    {"ethanol", 42320},
               {"2-propanol", 45390},   {"tert-butanol", 46690}, {"thf", 31990},         {"toluene", 38010},
               {"1,4-dioxane", 38600},  {"acetic_acid", 23360},  {"formic_acid", 20100}, {"pyridine", 40210}};
    for (size_t i = 0; i < sizeof crc / sizeof crc[0]; i++)
        near(df_vaporisation_enthalpy(kit_substance(*state, crc[i].key), 298.15) / crc[i].h, 1.0, 0.08, "%s",
             crc[i].key);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(ice_pressure),
                                       cmocka_unit_test(liquid_water),
                                       cmocka_unit_test(supercooled_water),
                                       cmocka_unit_test(boiling_points),
                                       cmocka_unit_test(curves_are_sound),
                                       cmocka_unit_test(solid_meets_liquid),
                                       cmocka_unit_test(forms),
                                       cmocka_unit_test(densities),
                                       cmocka_unit_test(heats_are_slopes),
                                       cmocka_unit_test(other_crystals),
                                       cmocka_unit_test(heats)};
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
