/* Strip distillation against Rayleigh's closed form, conservation and known azeotropes. */
#include "kit.h"

static df_mixture *mixture_of(const kit *k, const char *const *keys, size_t n) {
    const df_substance *s[DF_MAX_COMPONENTS];
    df_mixture *m = NULL;
    for (size_t i = 0; i < n; i++)
        s[i] = kit_substance(k, keys[i]);
    if (df_mixture_create(k->ctx, &m, k->pairs, s, n) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    return m;
}

/* At a pressure, down to a mole fraction; everything else may be changed afterwards. */
static df_strip_task task_of(const double *x, size_t n, double pressure, size_t component, double target) {
    df_strip_task t = {.hold = DF_STRIP_AT_PRESSURE, .pressure = pressure, .temperature = NAN};
    t.aim = DF_STRIP_TO_FRACTION;
    t.component = component;
    t.target = target;
    for (size_t i = 0; i < n; i++) {
        t.amount[i] = x[i];
        t.measure[i] = 1.0;
    }
    return t;
}

static df_strip run(const kit *k, const df_mixture *m, const df_strip_task *t) {
    df_strip s;
    if (df_strip_run(k->ctx, &s, m, t) < 0)
        fail_msg("%s", df_context_message(k->ctx));
    return s;
}

static double total(const double *v, size_t n) {
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += v[i];
    return sum;
}

static const df_strip_point *last(const df_strip *s) {
    return &s->point[s->points - 1];
}

/* Rayleigh's equation for a relative volatility alpha that does not change (Perry's Chemical Engineers' Handbook,
 * section on batch distillation; elementary integration): ln(n0/n) = [ln(x0/x) + alpha ln((1 - x)/(1 - x0))]/(alpha
 * - 1). */
static void constant_volatility(void **state) {
    const kit *k = *state;
    df_mixture *m = mixture_of(k, (const char *const[]){"benzene", "toluene"}, 2);
    df_nrtl_pair ideal = {.alpha = 0.3, .lowest = NAN, .highest = NAN, .grade = DF_PAIR_IDEAL, .source = "ideal"};
    df_mixture_set_pair(m, 0, 1, &ideal);
    const double temperature = 330.0, x0 = 0.6;
    double alpha = df_liquid_pressure(df_mixture_component(m, 0), temperature) /
                   df_liquid_pressure(df_mixture_component(m, 1), temperature);
    assert_true(alpha > 2.0 && alpha < 4.0);
    for (double x = 0.5; x > 0.001; x *= 0.3) {
        df_strip_task t = task_of((const double[]){3.0 * x0, 3.0 * (1.0 - x0)}, 2, NAN, 0, x);
        t.hold = DF_STRIP_AT_TEMPERATURE;
        t.temperature = temperature;
        df_strip s = run(k, m, &t);
        assert_int_equal(s.stop, DF_STRIP_REACHED);
        double expected = (log(x0 / x) + alpha * log((1.0 - x) / (1.0 - x0))) / (alpha - 1.0);
        near(log(3.0 / total(last(&s)->left, 2)), expected, 1e-7, "ln(n0/n) down to %g", x);
        near(last(&s)->left[0] / total(last(&s)->left, 2), x, 1e-9, "the target %g", x);
        near(last(&s)->pressure,
             x * df_liquid_pressure(df_mixture_component(m, 0), temperature) +
                 (1.0 - x) * df_liquid_pressure(df_mixture_component(m, 1), temperature),
             1e-6 * last(&s)->pressure, "Raoult's law");
        df_strip_free(&s);
    }
    df_mixture_free(m);
}

/* Three components, ideal: n_i/n_i0 = (n_r/n_r0)^(alpha_ir), the same elementary integration. */
static void constant_volatility_of_three(void **state) {
    const kit *k = *state;
    df_mixture *m = mixture_of(k, (const char *const[]){"benzene", "toluene", "acetone"}, 3);
    df_nrtl_pair ideal = {.alpha = 0.3, .lowest = NAN, .highest = NAN, .grade = DF_PAIR_IDEAL, .source = "ideal"};
    for (size_t i = 0; i < 3; i++)
        for (size_t j = i + 1; j < 3; j++)
            df_mixture_set_pair(m, i, j, &ideal);
    df_strip_task t = task_of((const double[]){0.2, 0.5, 0.3}, 3, NAN, 1, 0.9);
    t.hold = DF_STRIP_AT_TEMPERATURE;
    t.temperature = 320.0;
    t.aim = DF_STRIP_TO_AMOUNT;
    t.target = 0.05;
    df_strip s = run(k, m, &t);
    assert_int_equal(s.stop, DF_STRIP_REACHED);
    for (size_t p = 1; p < s.points; p++)
        for (size_t i = 0; i < 3; i += 2) {
            double alpha = df_liquid_pressure(df_mixture_component(m, i), 320.0) /
                           df_liquid_pressure(df_mixture_component(m, 1), 320.0);
            double expected = alpha * log(s.point[p].left[1] / t.amount[1]);
            near(log(s.point[p].left[i] / t.amount[i]), expected, 1e-6 * (1.0 + fabs(expected)), "point %zu of %zu",
                 p, i);
        }
    near(total(last(&s)->left, 3), 0.05, 1e-9, "what is left");
    df_strip_free(&s);
    df_mixture_free(m);
}

/* What left and what is left make what was put in; what left is the integral of the vapour that left (trapezoids). */
static void conservation(void **state) {
    const kit *k = *state;
    df_mixture *m = mixture_of(k, (const char *const[]){"acetonitrile", "formic_acid", "methanol", "water"}, 4);
    df_strip_task t = task_of((const double[]){0.15, 0.01, 0.05, 0.79}, 4, 1e4, 0, 1e-3);
    df_strip s = run(k, m, &t);
    assert_int_equal(s.stop, DF_STRIP_REACHED);
    double gone[4] = {0}, mass = 0.0, heat = 0.0;
    for (size_t i = 0; i < 4; i++)
        mass += t.amount[i] * df_mixture_component(m, i)->molar_mass;
    for (size_t p = 0; p < s.points; p++) {
        const df_strip_point *b = &s.point[p], *a = p > 0 ? b - 1 : b;
        double step = total(a->left, 4) - total(b->left, 4);
        for (size_t i = 0; i < 4; i++)
            gone[i] += 0.5 * (a->vapour[i] + b->vapour[i]) * step;
        near((b->mass_left + b->mass_taken) / mass, 1.0, 1e-10, "mass at point %zu", p);
        near((b->volume_left + b->volume_taken) / (s.point[0].volume_left), 1.0, 1e-10, "volume at point %zu", p);
        near(total(b->vapour, 4), 1.0, 1e-12, "vapour at point %zu", p);
        near(b->pressure, 1e4, 1e-5, "pressure at point %zu", p);
        assert_true(p == 0 || (step > 0.0 && b->heat > a->heat));
        for (size_t i = 0; i < 4; i++)
            assert_true(b->left[i] >= 0.0 && b->left[i] <= t.amount[i]);
    }
    for (size_t i = 0; i < 4; i++)
        near(gone[i], t.amount[i] - last(&s)->left[i], 5e-4 * t.amount[i], "component %zu", i);
    /* Between 30 and 50 kJ for each mole of formula: methanol's and water's heats, the acid's a little less. */
    heat = last(&s)->heat / (1.0 - total(last(&s)->left, 4));
    assert_true(heat > 3.0e4 && heat < 5.0e4);
    df_strip_free(&s);
    df_mixture_free(m);
}

/* Pure water at 1 atm takes its heat of vaporisation, 40.65 kJ/mol at 373.12 K (CRC Handbook; 2257 kJ/kg). The heats
 * here follow from Clapeyron's equation with an ideal vapour: 1.6 % more, since steam is 1.5 % denser than ideal. */
static void one_component(void **state) {
    const kit *k = *state;
    df_mixture *m = mixture_of(k, (const char *const[]){"water"}, 1);
    df_strip_task t = task_of((const double[]){2.0}, 1, 101325.0, 0, 0.5);
    t.aim = DF_STRIP_TO_DRYNESS;
    df_strip s = run(k, m, &t);
    assert_int_equal(s.stop, DF_STRIP_REACHED);
    assert_false(s.azeotrope);
    near(total(last(&s)->left, 1), 2.0 * DF_STRIP_DRY, 1e-8, "left");
    near(last(&s)->temperature, 373.12, 0.05, "boiling point");
    near(last(&s)->heat / (2.0 * (1.0 - DF_STRIP_DRY)), 40650.0, 800.0, "heat");
    df_strip_free(&s);
    t.aim = DF_STRIP_TO_FRACTION; /* never below 100 % */
    s = run(k, m, &t);
    assert_int_equal(s.stop, DF_STRIP_EMPTY);
    near(s.lowest, 1.0, 1e-12, "fraction");
    df_strip_free(&s);
    df_mixture_free(m);
    /* A component of amount nought changes nothing. */
    m = mixture_of(k, (const char *const[]){"ethanol", "water"}, 2);
    t = task_of((const double[]){0.0, 2.0}, 2, 101325.0, 1, 0.5);
    t.aim = DF_STRIP_TO_DRYNESS;
    s = run(k, m, &t);
    near(last(&s)->temperature, 373.12, 0.05, "boiling point");
    assert_true(last(&s)->left[0] == 0.0);
    df_strip_free(&s);
    df_mixture_free(m);
}

/* A flask moves away from a minimum azeotrope: ethanol-water, 89.4 mol% (Lange; Gmehling), in both directions. */
/* Seven times as much is seven times the heat, mass and volume; shares and azeotrope stay. */
static void amount_of_liquid(void **state) {
    const kit *k = *state;
    df_mixture *m = mixture_of(k, (const char *const[]){"formic_acid", "water"}, 2);
    df_strip s[2];
    for (size_t i = 0; i < 2; i++) {
        double n = i == 0 ? 1.0 : 7.0;
        df_strip_task t = task_of((const double[]){0.5 * n, 0.5 * n}, 2, 101325.0, 1, 0.01);
        s[i] = run(k, m, &t);
        assert_true(s[i].azeotrope && s[i].settled_left > 1e-5 && s[i].settled_left < 0.9);
    }
    near(s[1].settled_left / s[0].settled_left, 1.0, 0.02, "when it settled");
    near(s[1].lowest_left, s[0].lowest_left, 1e-6, "lowest");
    near(s[1].azeotrope_x[0], s[0].azeotrope_x[0], 1e-9, "azeotrope");
    near(last(&s[1])->heat / last(&s[0])->heat, 7.0, 1e-5, "heat");
    near(last(&s[1])->mass_taken / last(&s[0])->mass_taken, 7.0, 1e-6, "mass");
    near(last(&s[1])->volume_taken / last(&s[0])->volume_taken, 7.0, 1e-6, "volume");
    df_strip_free(&s[0]);
    df_strip_free(&s[1]);
    /* What a target counts in: by mass the share of water is less. */
    df_strip_task t = task_of((const double[]){0.3, 0.7}, 2, 101325.0, 1, 0.45);
    for (size_t i = 0; i < 2; i++)
        t.measure[i] = df_mixture_component(m, i)->molar_mass;
    df_strip by_mass = run(k, m, &t);
    assert_int_equal(by_mass.stop, DF_STRIP_REACHED);
    double acid = last(&by_mass)->left[0] * 0.046026, water = last(&by_mass)->left[1] * 0.018015;
    near(water / (acid + water), 0.45, 1e-4, "mass fraction at the target");
    assert_true(by_mass.points > 3);
    df_strip_free(&by_mass);
    df_mixture_free(m);
}

static void minimum_azeotrope(void **state) {
    const kit *k = *state;
    df_mixture *m = mixture_of(k, (const char *const[]){"ethanol", "water"}, 2);
    df_azeotrope a[DF_MAX_AZEOTROPES];
    size_t count;
    assert_int_equal(df_azeotropes_find(k->ctx, a, &count, m, 0, 1, 101325.0, NAN), DF_OK);
    assert_int_equal(count, 1);
    near(a[0].x, 0.8925, 0.03, "composition");
    near(a[0].temperature, 351.25, 0.5, "temperature");
    assert_false(a[0].maximum);
    assert_false(a[0].heterogeneous);

    df_strip_task t = task_of((const double[]){0.6, 0.4}, 2, 101325.0, 0, 0.001);
    df_strip s = run(k, m, &t);
    assert_int_equal(s.stop, DF_STRIP_REACHED); /* water is left */
    assert_true(last(&s)->temperature > 372.0);
    assert_false(s.azeotrope);
    df_strip_free(&s);

    t = task_of((const double[]){0.97, 0.03}, 2, 101325.0, 1, 0.02);
    s = run(k, m, &t);
    assert_int_equal(s.stop, DF_STRIP_REACHED); /* ethanol is left: slowly, for the two are nearly alike there */
    for (size_t p = 1; p < s.points; p++)
        assert_true(s.point[p].left[1] / s.point[p].left[0] < s.point[p - 1].left[1] / s.point[p - 1].left[0]);
    df_strip_free(&s);

    t = task_of((const double[]){0.97, 0.03}, 2, 101325.0, 0, 0.5);
    s = run(k, m, &t);
    assert_int_equal(s.stop, DF_STRIP_EMPTY); /* its fraction only rises */
    near(s.lowest, 0.97, 1e-12, "lowest");
    near(s.lowest_left, 1.0, 1e-12, "at the start");
    assert_false(s.azeotrope);
    df_strip_free(&s);

    /* Begun at the azeotrope it stays there, and that is said. */
    t = task_of((const double[]){a[0].x, 1.0 - a[0].x}, 2, 101325.0, 1, 0.01);
    s = run(k, m, &t);
    assert_int_equal(s.stop, DF_STRIP_AZEOTROPE);
    assert_true(s.azeotrope);
    assert_false(s.azeotrope_stable);
    near(s.azeotrope_x[0], a[0].x, 1e-6, "azeotrope");
    df_strip_free(&s);
    df_mixture_free(m);
}

/* A flask tends to a maximum azeotrope from both sides: formic acid-water 57.4 mol% (Lange 10th ed./CRC 44th ed.),
 * trifluoroacetic acid-water 37.9 mol% (Horsley 1973, from memory: 79.4 % by mass). */
static void maximum_azeotropes(void **state) {
    const kit *k = *state;
    static const struct {
        const char *key;
        double x, t;
    } rows[] = {{"formic_acid", 0.5741, 380.45}, {"trifluoroacetic_acid", 0.3785, 378.65}};
    for (size_t r = 0; r < 2; r++) {
        df_mixture *m = mixture_of(k, (const char *const[]){rows[r].key, "water"}, 2);
        df_azeotrope a[DF_MAX_AZEOTROPES];
        size_t count;
        assert_int_equal(df_azeotropes_find(k->ctx, a, &count, m, 0, 1, 101325.0, NAN), DF_OK);
        assert_int_equal(count, 1);
        assert_true(a[0].maximum);
        near(a[0].x, rows[r].x, 0.03, "%s", rows[r].key);
        near(a[0].temperature, rows[r].t, 1.0, "%s", rows[r].key);
        for (int side = 0; side < 2; side++) {
            double x = side == 0 ? 0.1 : 0.9;
            df_strip_task t = task_of((const double[]){x, 1.0 - x}, 2, 101325.0, side == 0 ? 1 : 0, 0.01);
            df_strip s = run(k, m, &t);
            assert_int_equal(s.stop, DF_STRIP_AZEOTROPE);
            assert_true(s.azeotrope && s.azeotrope_stable && !s.azeotrope_heterogeneous);
            near(s.azeotrope_x[0], a[0].x, 1e-6, "%s from %.1f", rows[r].key, x);
            near(s.azeotrope_temperature, a[0].temperature, 1e-5, "%s from %.1f", rows[r].key, x);
            near(s.azeotrope_fraction, side == 0 ? 1.0 - a[0].x : a[0].x, 1e-6, "%s from %.1f", rows[r].key, x);
            double end = last(&s)->left[0] / total(last(&s)->left, 2);
            near(end, a[0].x, 0.02, "%s from %.1f: what is left", rows[r].key, x);
            assert_true(s.lowest >= s.azeotrope_fraction - 1e-6);
            df_strip_free(&s);
        }
        df_mixture_free(m);
    }
}

/* Two liquids boil to one: ethyl acetate-water (heterogeneous, 69.9 mol%, 70.4 °C: Lange's Handbook);
 * water-rich it ends as water. */
static void two_liquids(void **state) {
    const kit *k = *state;
    df_mixture *m = mixture_of(k, (const char *const[]){"ethyl_acetate", "water"}, 2);
    df_azeotrope a[DF_MAX_AZEOTROPES];
    size_t count;
    assert_int_equal(df_azeotropes_find(k->ctx, a, &count, m, 0, 1, 101325.0, NAN), DF_OK);
    assert_int_equal(count, 1);
    near(a[0].x, 0.6988, 0.03, "composition");
    near(a[0].temperature, 343.55, 1.0, "temperature");
    df_strip_task t = task_of((const double[]){0.4, 0.6}, 2, 101325.0, 0, 1e-3);
    df_strip s = run(k, m, &t);
    assert_int_equal(s.stop, DF_STRIP_REACHED);
    assert_int_equal(s.point[0].liquids, 2);
    assert_int_equal(last(&s)->liquids, 1);
    bool single = false;
    for (size_t p = 1; p < s.points; p++) {
        if (!single && s.point[p].liquids == 2) /* a constant boiling point while both are there */
            near(s.point[p].temperature, s.point[0].temperature, 1e-4, "point %zu", p);
        single = single || s.point[p].liquids == 1;
        if (single)
            assert_int_equal(s.point[p].liquids, 1);
    }
    assert_true(last(&s)->temperature > 371.0);
    df_strip_free(&s);

    /* A second liquid that appears on the way: acetone holds toluene in water, and leaves first. */
    df_mixture *three = mixture_of(k, (const char *const[]){"acetone", "toluene", "water"}, 3);
    t = task_of((const double[]){0.6, 0.05, 0.35}, 3, 3e4, 1, 1e-5);
    s = run(k, three, &t);
    assert_int_equal(s.stop, DF_STRIP_REACHED);
    size_t most = 0;
    for (size_t p = 0; p < s.points; p++)
        most = s.point[p].liquids > most ? s.point[p].liquids : most;
    assert_int_equal(s.point[0].liquids, 1);
    assert_int_equal(most, 2);
    assert_int_equal(last(&s)->liquids, 1);
    df_strip_free(&s);
    df_mixture_free(three);
    df_mixture_free(m);
}

/* Acetonitrile 30 %v/v in water at 100 mbar: to 5 %v/v, the common case before a freeze-drying. The vapour is richer
 * than the flask up to the azeotrope (69.3 mol% at 1 atm: Horsley), so it gets there with more than half of the
 * water left. */
static void acetonitrile(void **state) {
    const kit *k = *state;
    df_mixture *m = mixture_of(k, (const char *const[]){"acetonitrile", "water"}, 2);
    const df_substance *a = kit_substance(k, "acetonitrile"), *w = kit_substance(k, "water");
    double va = a->molar_mass / df_liquid_density(a, 293.15), vw = w->molar_mass / df_liquid_density(w, 293.15);
    df_strip_task t = task_of((const double[]){0.3e-3 / va, 0.7e-3 / vw}, 2, 1e4, 0, 0.05);
    t.measure[0] = va;
    t.measure[1] = vw;
    df_strip s = run(k, m, &t);
    assert_int_equal(s.stop, DF_STRIP_REACHED);
    const df_strip_point *e = last(&s);
    near(s.point[0].volume_left, 1e-3, 1e-9, "one litre");
    near(e->left[0] * va / e->volume_left, 0.05, 1e-9, "5 %% v/v");
    assert_true(e->volume_left > 0.6e-3 && e->volume_left < 0.74e-3);
    assert_true(s.point[0].temperature > 290.0 && s.point[0].temperature < e->temperature);
    assert_true(e->temperature < 319.0); /* water boils at 45.8 °C under 100 mbar (IAPWS) */
    double reached = total(e->left, 2);
    df_strip_free(&s);

    /* A bath below that boiling point ends it earlier. */
    t.temperature = 308.15;
    t.target = 1e-4;
    s = run(k, m, &t);
    assert_int_equal(s.stop, DF_STRIP_LIMIT);
    near(last(&s)->temperature, 308.15, 1e-5, "the bath");
    df_strip_free(&s);

    /* Held at the bath's temperature with a pressure floor, the path ends where the pressure has fallen to it. */
    t.hold = DF_STRIP_AT_TEMPERATURE;
    s = run(k, m, &t);
    assert_int_equal(s.stop, DF_STRIP_LIMIT);
    near(last(&s)->pressure, 1e4, 1e-4, "the floor");
    df_strip_free(&s);

    /* Bounds that do not bind change nothing. */
    t.hold = DF_STRIP_AT_PRESSURE;
    t.temperature = 350.0;
    t.target = 0.05;
    s = run(k, m, &t);
    near(total(last(&s)->left, 2), reached, 1e-7 * reached, "the same");
    df_strip_free(&s);
    df_mixture_free(m);
}

static void order(void **state) {
    const kit *k = *state;
    static const char *const keys[4] = {"dichloromethane", "methanol", "trifluoroacetic_acid", "water"};
    static const double x[4] = {0.02, 0.2, 0.03, 0.75};
    static const size_t turn[4] = {2, 0, 3, 1};
    const char *turned[4];
    double y[4];
    for (size_t i = 0; i < 4; i++) {
        turned[i] = keys[turn[i]];
        y[i] = x[turn[i]];
    }
    df_mixture *a = mixture_of(k, keys, 4), *b = mixture_of(k, turned, 4);
    df_strip_task s = task_of(x, 4, 2e4, 1, 0.02), t = task_of(y, 4, 2e4, 3, 0.02);
    df_strip p = run(k, a, &s), q = run(k, b, &t);
    assert_int_equal(p.stop, DF_STRIP_REACHED);
    assert_int_equal(q.stop, DF_STRIP_REACHED);
    for (size_t i = 0; i < 4; i++)
        near(last(&q)->left[i], last(&p)->left[turn[i]], 1e-7, "component %zu", i);
    near(last(&q)->heat, last(&p)->heat, 1e-6 * last(&p)->heat, "heat");
    assert_true(last(&p)->left[0] < 1e-6 && last(&p)->left[0] >= 0.0); /* dichloromethane is long gone */
    df_strip_free(&p);
    df_strip_free(&q);
    df_mixture_free(a);
    df_mixture_free(b);
}

static void refusals(void **state) {
    const kit *k = *state;
    df_mixture *m = mixture_of(k, (const char *const[]){"ethanol", "water"}, 2);
    df_strip s;
    df_strip_task good = task_of((const double[]){0.5, 0.5}, 2, 1e4, 0, 0.1), t = good;
    t.amount[0] = -1.0;
    assert_int_equal(df_strip_run(k->ctx, &s, m, &t), DF_E_INPUT);
    t = good;
    t.amount[0] = t.amount[1] = 0.0;
    assert_int_equal(df_strip_run(k->ctx, &s, m, &t), DF_E_INPUT);
    t = good;
    t.target = 0.0;
    assert_int_equal(df_strip_run(k->ctx, &s, m, &t), DF_E_INPUT);
    t = good;
    t.target = 1.0;
    assert_int_equal(df_strip_run(k->ctx, &s, m, &t), DF_E_INPUT);
    t = good;
    t.pressure = -5.0;
    assert_int_equal(df_strip_run(k->ctx, &s, m, &t), DF_E_INPUT);
    t = good;
    t.pressure = 1e8; /* above every critical pressure: nothing boils */
    assert_int_equal(df_strip_run(k->ctx, &s, m, &t), DF_E_INPUT);
    assert_true(s.point == NULL);
    t = good;
    t.hold = DF_STRIP_AT_TEMPERATURE;
    t.temperature = 600.0;
    assert_int_equal(df_strip_run(k->ctx, &s, m, &t), DF_E_INPUT);
    t = good;
    t.target = 0.6; /* already there */
    assert_int_equal(df_strip_run(NULL, &s, m, &t), DF_OK);
    assert_int_equal(s.stop, DF_STRIP_REACHED);
    assert_int_equal(s.points, 1);
    df_strip_free(&s);
    t = good;
    t.temperature = 290.0; /* the bath is colder than what would boil */
    assert_true(df_strip_run(k->ctx, &s, m, &t) >= 0);
    assert_int_equal(s.stop, DF_STRIP_LIMIT);
    assert_int_equal(s.points, 1);
    df_strip_free(&s);
    df_mixture_free(m);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(constant_volatility),
        cmocka_unit_test(constant_volatility_of_three),
        cmocka_unit_test(conservation),
        cmocka_unit_test(one_component),
        cmocka_unit_test(amount_of_liquid),
        cmocka_unit_test(minimum_azeotrope),
        cmocka_unit_test(maximum_azeotropes),
        cmocka_unit_test(two_liquids),
        cmocka_unit_test(acetonitrile),
        cmocka_unit_test(order),
        cmocka_unit_test(refusals),
    };
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
