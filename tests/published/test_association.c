/* Acids in the vapour: how far they pair up, against published densities and constants; what it does over water. */
#include "kit.h"

#define CALORIE 4.184 /* J, thermochemical */

/* Mole fraction of dimer in the vapour of an acid alone, and its apparent molar mass (kg/mol). */
static double dimers(const df_substance *s, double temperature, double pressure, double *mass) {
    double p1 = df_monomer_pressure(s, temperature, pressure), p2 = df_dimer_constant(s, temperature) * p1 * p1;
    near((p1 + p2) / pressure, 1.0, 1e-12, "%s: both together", s->key);
    if (mass != NULL)
        *mass = s->molar_mass * (p1 + 2.0 * p2) / pressure;
    return p2 / pressure;
}

/* Ebbing & Gammon, General Chemistry, 9th ed., problem 11.149: over liquid acetic acid at 100.6 °C there are 436
 * mmHg, with a mole fraction of dimer of 0.630; density of that vapour 1.837 g/L. */
static void acetic_acid_at_100(void **state) {
    const df_substance *s = kit_substance(*state, "acetic_acid");
    double t = 373.75, mass, p = df_liquid_pressure(s, t);
    near(p / 133.322, 436.0, 5.0, "pressure, mmHg");
    near(dimers(s, t, p, &mass), 0.630, 0.01, "mole fraction of dimer");
    near(mass * p / (DF_GAS_CONSTANT * t), 1.837, 0.02, "density, g/L");
}

/* At the boiling point: between thermal conductivity (Frurip, Curtiss & Blander, J. Am. Chem. Soc. 102 (1980) 2610:
 * -14.64 kcal/mol and -35.50 cal/(mol K) at 1 atm) and compressibility of the saturated vapour (J. Chem. Eng. Data
 * 44 (1999) 48: ln K = -136/R + 58500/(R T) for acids other than formic; 1/bar or 1/atm). About 95 g/mol (from
 * memory). */
static void acetic_acid_boiling(void **state) {
    const df_substance *s = kit_substance(*state, "acetic_acid");
    df_substance low = *s, high = *s;
    double t = s->boiling_temperature, m, least, most;
    low.dimer_enthalpy = -14640.0 * CALORIE;
    low.dimer_entropy = -35.50 * CALORIE;
    high.dimer_enthalpy = -58500.0;
    high.dimer_entropy = -136.0;
    dimers(&low, t, 101325.0, &least);
    dimers(&high, t, 101325.0, &most);
    dimers(s, t, 101325.0, &m);
    assert_true(least < m && m < most);
    near(m, 0.095, 0.0015, "apparent molar mass at the boiling point");
    /* The enthalpy of a pair of hydrogen bonds: 13.6 kcal/mol, the mean of all acids (J. Chem. Soc. A 1969, 2203:
     * 6.8 for each bond), against 14.64. */
    near(-s->dimer_enthalpy / (1000.0 * CALORIE), 13.6, 1.2, "enthalpy");
}

/* Formic acid: 73 g/mol at its boiling point (Ritter, thesis, Pennsylvania State College 1945, p. 1, quoting earlier
 * work); ln K = -149/R + 58500/(R T) from the saturated vapour between 30 and 150 °C (J. Chem. Eng. Data 44 (1999)
 * 48); enthalpy and entropy -60.1 kJ/mol and -154.3 J/(mol K) at 25 °C (table of formation: monomer -362.63 and
 * 251.0, dimer -785.34 and 347.7, a textbook's). */
static void formic_acid(void **state) {
    const df_substance *s = kit_substance(*state, "formic_acid");
    double m, t = s->boiling_temperature;
    dimers(s, t, 101325.0, &m);
    near(m, 0.073, 0.004, "apparent molar mass at the boiling point");
    for (t = 303.15; t < 424.0; t += 20.0) {
        double k = exp((58500.0 / t - 149.0) / DF_GAS_CONSTANT);
        near(log(df_dimer_constant(s, t) * DF_ATMOSPHERE / k), 0.0, 0.1, "ln K at %.0f K", t);
    }
    double k = exp((-154.3 + 60080.0 / 298.15) / DF_GAS_CONSTANT);
    near(log(df_dimer_constant(s, 298.15) * DF_ATMOSPHERE / k), 0.0, 0.1, "ln K at 25 °C");
}

/* Trifluoroacetic acid: 13.7 +- 0.4 kcal/mol from the infrared spectrum, where at 100 °C the (thin) vapour is mostly
 * single and at room temperature both are present (abstract of "Infrared spectrum of trifluoroacetic acid vapor").
 * No density of the boiling vapour was found; its dimer is weaker than acetic acid's (Frurip et al. 1980). */
static void trifluoroacetic_acid(void **state) {
    const df_substance *s = kit_substance(*state, "trifluoroacetic_acid"), *a = kit_substance(*state, "acetic_acid");
    near(-s->dimer_enthalpy / (1000.0 * CALORIE), 13.7, 0.4, "enthalpy");
    for (double t = 290.0; t < 400.0; t += 20.0)
        assert_true(df_dimer_constant(s, t) < df_dimer_constant(a, t));
    assert_true(dimers(s, 373.15, 1000.0, NULL) < 0.1); /* 10 mbar in a cell at 100 °C */
    double cold = dimers(s, 298.15, 1000.0, NULL);
    assert_true(cold > 0.2 && cold < 0.8);
}

/* Acetic acid-water at 1 atm: CRC Handbook 44th ed. as in a public data page, mol% of water in liquid and vapour.
 * The pair is not fitted to it. */
static void acetic_acid_over_water(void **state) {
    const kit *k = *state;
    static const double rows[][3] = {{116.5, 2.2, 5.8},   {114.6, 5.4, 12.3},  {113.4, 8.6, 16.8},
                                     {113.5, 9.9, 18.3},  {113.1, 10.1, 18.8}, {110.6, 18.9, 29.8},
                                     {107.8, 30.3, 43.3}, {106.1, 41.3, 54.5}, {104.4, 52.2, 64.9},
                                     {103.1, 62.4, 73.5}, {102.3, 69.6, 79.2}};
    df_mixture *m = kit_binary(k, "acetic_acid");
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double x = rows[i][1] / 100.0, z[2] = {1.0 - x, x}, y[2], t;
        assert_int_equal(df_mixture_bubble_point(k->ctx, &t, y, m, 101325.0, z), DF_OK);
        near(t - 273.15, rows[i][0], 1.5, "boiling point at %.1f mol%% water", rows[i][1]);
        near(100.0 * y[1], rows[i][2], 4.0, "vapour at %.1f mol%% water", rows[i][1]);
    }
    /* No azeotrope, at 1 atm and at 100 mbar, and water is the more volatile throughout. */
    for (int low = 0; low < 2; low++) {
        df_azeotrope a[DF_MAX_AZEOTROPES];
        size_t count;
        double p = low ? 1e4 : 101325.0;
        assert_int_equal(df_azeotropes_find(k->ctx, a, &count, m, 0, 1, p, NAN), DF_OK);
        assert_int_equal(count, 0);
        for (double x = 0.001; x < 1.0; x += 0.0499) {
            double z[2] = {1.0 - x, x}, y[2], t;
            assert_int_equal(df_mixture_bubble_point(k->ctx, &t, y, m, p, z), DF_OK);
            assert_true(y[1] > x);
        }
    }
    df_mixture_free(m);
    /* Without dimers the same pair would have one: they are what keeps it away. */
    df_substance plain = *kit_substance(k, "acetic_acid");
    plain.dimer_enthalpy = plain.dimer_entropy = 0.0;
    const df_substance *both[2] = {&plain, kit_substance(k, "water")};
    assert_int_equal(df_mixture_create(k->ctx, &m, k->pairs, both, 2), DF_OK);
    df_azeotrope a[DF_MAX_AZEOTROPES];
    size_t count;
    assert_int_equal(df_azeotropes_find(k->ctx, a, &count, m, 0, 1, 101325.0, NAN), DF_OK);
    assert_true(count > 0);
    df_mixture_free(m);
}

/* A heat that is paid: thin vapour of acetic acid takes more to form than the saturated one, in which pairs stay
 * together; the pure acid's 23.7 kJ/mol at its boiling point is to the paired vapour (CRC Handbook 95th ed.). */
static void heat(void **state) {
    const kit *k = *state;
    const df_substance *s = kit_substance(k, "acetic_acid");
    near(df_vaporisation_enthalpy(s, s->boiling_temperature), 23700.0, 1500.0, "heat of vaporisation");
    df_mixture *m = kit_binary(k, "acetic_acid");
    df_strip_task t = {.hold = DF_STRIP_AT_PRESSURE, .pressure = 1e4, .temperature = NAN, .aim = DF_STRIP_TO_DRYNESS};
    double each[2];
    for (int dilute = 0; dilute < 2; dilute++) {
        df_strip r;
        t.amount[0] = 1.0;
        t.amount[1] = dilute ? 200.0 : 0.0;
        assert_true(df_strip_run(k->ctx, &r, m, &t) >= 0);
        const df_strip_point *e = &r.point[r.points - 1];
        double water = 0.0;
        for (size_t p = 1; p < r.points; p++)
            water += (r.point[p - 1].left[1] - r.point[p].left[1]) *
                     df_vaporisation_enthalpy(kit_substance(k, "water"),
                                              0.5 * (r.point[p - 1].temperature + r.point[p].temperature));
        each[dilute] = (e->heat - water) / (t.amount[0] - e->left[0]);
        df_strip_free(&r);
    }
    df_mixture_free(m);
    assert_true(each[1] > each[0] + 8000.0 && each[1] < each[0] - 0.5 * s->dimer_enthalpy);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(acetic_acid_at_100),
        cmocka_unit_test(acetic_acid_boiling),
        cmocka_unit_test(formic_acid),
        cmocka_unit_test(trifluoroacetic_acid),
        cmocka_unit_test(acetic_acid_over_water),
        cmocka_unit_test(heat),
    };
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
