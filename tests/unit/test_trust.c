/* Spreads of computed numbers: against hand calculation, against random draws, and what happens at the edges. */
#include "chance.h"
#include "kit.h"

#include "dryfront/sample.h"
#include "mixture/mixture.h"

/* tau_ij and tau_ji of the pair (0, 1) at each temperature. */
static df_status taus(df_context *ctx, double *values, size_t n, const df_mixture *m, void *data) {
    const double *temperature = data;
    const df_nrtl_pair *p = df_mixture_pair(m, 0, 1);
    (void)ctx;
    for (size_t i = 0; i < n; i++) {
        double t = temperature[i / 2];
        values[i] = p->a[i % 2] + p->b[i % 2] / t + p->c[i % 2] * log(t);
    }
    return DF_OK;
}

/* tau is linear in the parameters: sigma2 = g C g with g = (1, t) for v2 and v3. */
static void linear(void **state) {
    const kit *k = *state;
    /* C = {{0.04, 0.01}, {0.01, 0.09}} of v2, v3; its Cholesky factor by hand */
    df_pair_covariance c = {.n = 2, .parameter = {2, 3}, .column = {{0.2, 0.05}, {0.0, 0.29580398915498085}}};
    df_mixture *m = kit_binary(k, "ethanol");
    df_nrtl_pair pair = *df_mixture_pair(m, 0, 1);
    pair.covariance = &c;
    double temperature[2] = {200.0, 300.0}, value[4], sigma[4];
    for (int reversed = 0; reversed < 2; reversed++) {
        pair.reversed = reversed != 0;
        df_mixture_set_pair(m, 0, 1, &pair);
        assert_int_equal(df_mixture_spread(k->ctx, value, sigma, 4, m, taus, temperature, false), DF_OK);
        for (int i = 0; i < 2; i++) {
            double t = 273.15 / temperature[i] - 1.0, expected = sqrt(0.04 + 2.0 * 0.01 * t + 0.09 * t * t);
            near(sigma[2 * i + (reversed ? 0 : 1)], expected, 1e-9, "the one that spreads");
            near(sigma[2 * i + (reversed ? 1 : 0)], 0.0, 1e-12, "the other");
            near(value[2 * i], pair.a[0] + pair.b[0] / temperature[i] + pair.c[0] * log(temperature[i]), 1e-12,
                 "value");
        }
    }
    df_mixture_free(m);
}

/* The spread that goes with a grade: level and slope, as docs/trust.md states them. */
static void by_grade(void **state) {
    const kit *k = *state;
    static const struct {
        df_pair_grade grade;
        double at[2]; /* 300 K, 250 K */
    } rows[] = {{DF_PAIR_PREDICTED, {0.3, 0.5}},
                {DF_PAIR_IDEAL, {1.0, 1.0770329614269007}},
                {DF_PAIR_WARM, {0.238630, 0.562229}}};
    df_mixture *m = kit_binary(k, "ethanol");
    double temperature[2] = {300.0, 250.0}, value[4], sigma[4];
    for (size_t r = 0; r < sizeof rows / sizeof rows[0]; r++) {
        df_nrtl_pair pair = *df_mixture_pair(m, 0, 1);
        pair.covariance = NULL;
        pair.grade = rows[r].grade;
        df_mixture_set_pair(m, 0, 1, &pair);
        assert_int_equal(df_mixture_spread(k->ctx, value, sigma, 4, m, taus, temperature, false), DF_OK);
        for (int i = 0; i < 4; i++)
            near(sigma[i], rows[r].at[i / 2], 1e-5, "%s at %.0f K", df_pair_grade_name(rows[r].grade),
                 temperature[i / 2]);
    }
    df_mixture_free(m);
}

typedef struct feed {
    double x, temperature;
} feed;

/* Liquidus (K), ln of the activities of solvent and water in the liquid at a temperature. */
static df_status cold_numbers(df_context *ctx, double *values, size_t n, const df_mixture *m, void *data) {
    const feed *f = data;
    bool allowed[DF_MAX_SOLIDS], none[DF_MAX_SOLIDS] = {false};
    size_t water = df_mixture_component(m, 0)->is_water ? 0 : 1;
    double z[2], solidus;
    df_assemblage a;
    assert_int_equal(n, 3);
    z[water] = 1.0 - f->x;
    z[1 - water] = f->x;
    df_mixture_allow(allowed, m, DF_FREEZING_PRACTICE);
    df_status status = df_mixture_freezing_range(ctx, &values[0], &solidus, m, z, allowed, 140.0);
    if (status >= 0)
        status = df_mixture_equilibrium(ctx, &a, m, f->temperature, z, none, false);
    if (status < 0)
        return status;
    values[1] = a.activity_ln[1 - water];
    values[2] = a.activity_ln[water];
    return DF_OK;
}

static double normal(uint64_t *seed) { /* Box and Muller, Ann. Math. Stat. 29 (1958) 610 */
    double r = sqrt(-2.0 * log(uniform(seed)));
    return r * cos(6.283185307179586 * uniform(seed));
}

/* Standard deviation over random draws of all parameters at once. */
static void random_draws(void **state) {
    const kit *k = *state;
    static const struct {
        const char *solvent;
        feed feed;
    } cases[] = {
        {"ethanol", {0.15, 250.0}}, {"methanol", {0.1, 260.0}}, {"dmso", {0.1, 260.0}}, {"acetone", {0.05, 300.0}}};
    const int draws = 600;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        feed f = cases[i].feed;
        double value[3], sigma[3], sum[3] = {0}, square[3] = {0};
        uint64_t seed = 1 + i;
        df_mixture *m = kit_binary(k, cases[i].solvent);
        assert_int_equal(df_mixture_spread(k->ctx, value, sigma, 3, m, cold_numbers, &f, false), DF_OK);
        const df_pair_covariance *c = df_mixture_pair(m, 0, 1)->covariance;
        assert_non_null(c);
        for (int draw = 0; draw < draws; draw++) {
            df_mixture *other = kit_binary(k, cases[i].solvent);
            double delta[DF_PAIR_PARAMETERS] = {0}, there[3];
            for (size_t column = 0; column < c->n; column++) {
                double size = normal(&seed);
                for (size_t row = 0; row < c->n; row++)
                    delta[c->parameter[row]] += size * c->column[column][row];
            }
            df_mixture_move_pair(other, 0, 1, delta);
            assert_int_equal(cold_numbers(k->ctx, there, 3, other, &f), DF_OK);
            for (int j = 0; j < 3; j++) {
                sum[j] += there[j] - value[j];
                square[j] += (there[j] - value[j]) * (there[j] - value[j]);
            }
            df_mixture_free(other);
        }
        for (int j = 0; j < 3; j++) {
            double mean = sum[j] / draws, spread = sqrt(square[j] / draws - mean * mean);
            print_message("%s %d: %.4f by columns, %.4f by draws\n", cases[i].solvent, j, sigma[j], spread);
            near(sigma[j] / spread, 1.0, 0.15, "%s, number %d", cases[i].solvent, j);
        }
        df_mixture_free(m);
    }
}

static double eutectic(const kit *k, const df_mixture *m) {
    const double z[2] = {0.1, 0.9};
    bool allowed[DF_MAX_SOLIDS];
    double liquidus, solidus;
    df_mixture_allow(allowed, m, DF_FREEZING_PRACTICE);
    assert_int_equal(df_mixture_freezing_range(k->ctx, &liquidus, &solidus, m, z, allowed, 100.0), DF_OK);
    return solidus;
}

static double moved_eutectic(const kit *k, const df_mixture *m, const df_pair_covariance *c, const double *size) {
    df_mixture moved = *m;
    double delta[DF_PAIR_PARAMETERS] = {0};
    for (size_t column = 0; column < c->n; column++)
        for (size_t row = 0; row < c->n; row++)
            delta[c->parameter[row]] += size[column] * c->column[column][row];
    df_mixture_move_pair(&moved, 0, 1, delta);
    return eutectic(k, &moved);
}

/* Acetic acid's eutectic hangs on one measured point, 246.45 +- 1 K (fit_points.csv). By first order it is sure to 1.0 K; along
 * straight lines every draw off the middle lowers it, 8 K and more. Brute force: straight draws, each weighed by what the point
 * itself says of it over what its straight line says; the shipped sample comes to the same without any line. */
static void a_sample_keeps_to_the_points(void **state) {
    const kit *k = *state;
    enum { DRAWS = 4000 };
    const double measured = 246.45, sure = 1.0, h = 0.02;
    df_mixture *m = kit_binary(k, "acetic_acid");
    const df_pair_covariance *c = df_mixture_pair(m, 0, 1)->covariance;
    double base = eutectic(k, m), slope[DF_PAIR_PARAMETERS], first = 0.0, size[DF_PAIR_PARAMETERS] = {0};
    assert_non_null(c->draw);
    for (size_t i = 0; i < c->n; i++) {
        size[i] = h;
        double up = moved_eutectic(k, m, c, size);
        size[i] = -h;
        slope[i] = (up - moved_eutectic(k, m, c, size)) / (2.0 * h);
        size[i] = 0.0;
        first += slope[i] * slope[i];
    }
    double sum[3] = {0}, plain[2] = {0}; /* of weights, numbers, squares */
    uint64_t seed = seed_of(11);
    for (int draw = 0; draw < DRAWS; draw++) {
        double line = base;
        for (size_t i = 0; i < c->n; i++) {
            size[i] = normal(&seed);
            line += slope[i] * size[i];
        }
        double t = moved_eutectic(k, m, c, size);
        double here = isnan(t) ? 100.0 : t; /* colder than was looked */
        double weight = exp(0.5 * (pow((line - measured) / sure, 2.0) - pow((here - measured) / sure, 2.0)));
        sum[0] += weight;
        sum[1] += weight * (here - base);
        sum[2] += weight * (here - base) * (here - base);
        plain[0] += here - base;
        plain[1] += (here - base) * (here - base);
    }
    double mean = sum[1] / sum[0], brute = sqrt(sum[2] / sum[0] - mean * mean);
    double straight = sqrt(plain[1] / DRAWS - pow(plain[0] / DRAWS, 2.0)), own[2] = {0};
    for (size_t draw = 0; draw < DF_PAIR_DRAWS; draw++) {
        df_mixture moved = *m;
        df_mixture_move_pair(&moved, 0, 1, c->draw[draw]);
        double d = eutectic(k, &moved) - base;
        own[0] += d / DF_PAIR_DRAWS;
        own[1] += d * d / DF_PAIR_DRAWS;
    }
    double sampled = sqrt(own[1] - own[0] * own[0]);
    print_message(
        "eutectic of acetic acid: first order %.2f K, weighed draws %.2f (mean %+.2f), sample %.2f (%+.2f), straight "
        "draws %.1f (%+.1f)\n",
        sqrt(first), brute, mean, sampled, own[0], straight, plain[0] / DRAWS);
    near(sampled / brute, 1.0, 0.25, "sample");
    near(sqrt(first) / brute, 1.0, 0.25, "first order");
    near(own[0], mean, 0.5, "its middle");
    assert_true(straight > 4.0 * brute);
    df_mixture_free(m);
}

/* Water may stand first or second. */
static void order(void **state) {
    const kit *k = *state;
    const df_substance *both[2][2] = {{kit_substance(k, "ethanol"), kit_substance(k, "water")},
                                      {kit_substance(k, "water"), kit_substance(k, "ethanol")}};
    double value[2][3], sigma[2][3];
    feed f = {0.15, 250.0};
    for (int i = 0; i < 2; i++) {
        df_mixture *m = NULL;
        assert_int_equal(df_mixture_create(k->ctx, &m, k->pairs, both[i], 2), DF_OK);
        assert_int_equal(df_mixture_spread(k->ctx, value[i], sigma[i], 3, m, cold_numbers, &f, false), DF_OK);
        df_mixture_free(m);
    }
    for (int j = 0; j < 3; j++) {
        near(value[1][j], value[0][j], 1e-6, "value %d", j);
        near(sigma[1][j], sigma[0][j], 2e-3, "sigma %d", j); /* a freezing range is found to 1 mK */
        assert_true(sigma[0][j] > 0.0);
    }
}

/* THF.17H2O is known to melt at 277.45 +- 0.02 K whatever the activities are: its constant goes along with them. */
static void hydrate_goes_along(void **state) {
    const kit *k = *state;
    df_mixture *m = kit_binary(k, "thf");
    feed f = {1.0 / 18.0, 280.0};
    double value[3], sigma[3];
    assert_int_equal(df_mixture_spread(k->ctx, value, sigma, 3, m, cold_numbers, &f, false), DF_OK);
    near(sigma[0], 0.02, 0.005, "melting");
    assert_true(sigma[1] > 0.02); /* the activities themselves do spread */
    df_mixture_free(m);
}

typedef struct edge {
    double a;
    int kind; /* 0: only above, 1: only near by, 2: only at the middle, 3: fails beside the middle */
} edge;

/* a_ij of the pair, where it exists. */
static df_status at_an_edge(df_context *ctx, double *values, size_t n, const df_mixture *m, void *data) {
    const edge *e = data;
    double a = df_mixture_pair(m, 0, 1)->a[0];
    assert_int_equal(n, 1);
    values[0] = a;
    if ((e->kind == 0 && a < e->a - 1e-9) || (e->kind == 1 && fabs(a - e->a) > 0.05) || (e->kind == 2 && a != e->a))
        values[0] = NAN;
    if (e->kind == 3 && a < e->a - 1e-9)
        return df_fail(ctx, DF_E_CONVERGENCE, "not here");
    return DF_OK;
}

static void edges(void **state) {
    const kit *k = *state;
    df_pair_covariance c = {.n = 1, .parameter = {0}, .column = {{0.2}}};
    df_mixture *m = kit_binary(k, "ethanol");
    df_nrtl_pair pair = *df_mixture_pair(m, 0, 1);
    pair.covariance = &c;
    df_mixture_set_pair(m, 0, 1, &pair);
    for (int kind = 0; kind < 4; kind++) {
        edge e = {pair.a[0], kind};
        double value, sigma;
        assert_int_equal(df_mixture_spread(k->ctx, &value, &sigma, 1, m, at_an_edge, &e, false), DF_OK);
        assert_string_equal(df_context_message(k->ctx), "");
        if (kind == 2)
            assert_true(isnan(sigma));
        else
            near(sigma, 0.2, 1e-9, "kind %d", kind);
    }
    df_mixture_free(m);
}

/* The table's covariance is the product of the columns with themselves. */
static void columns(void **state) {
    const kit *k = *state;
    size_t length = 0;
    const char *text = df_embedded(&length, "pairs_covariance.csv");
    df_csv *csv = NULL;
    assert_non_null(text);
    assert_int_equal(df_csv_parse(k->ctx, &csv, text, length, "pairs_covariance.csv"), DF_OK);
    assert_int_equal(df_csv_rows(csv), 25);
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        df_nrtl_pair pair;
        df_pairs_get(&pair, k->pairs, kit_substance(k, df_csv_cell(csv, row, 0)), kit_substance(k, "water"));
        const df_pair_covariance *c = pair.covariance;
        assert_non_null(c);
        const char *at = df_csv_cell(csv, row, 2);
        for (size_t i = 0; i < c->n; i++)
            for (size_t j = i; j < c->n; j++) {
                double listed, product = 0.0, size = 0.0;
                assert_true(df_number_scan(&listed, &at, at));
                for (size_t column = 0; column < c->n; column++) {
                    product += c->column[column][i] * c->column[column][j];
                    size += fabs(c->column[column][i] * c->column[column][j]);
                }
                near(product, listed, 1e-7 * size, "%s, %zu and %zu", df_csv_cell(csv, row, 0), i, j);
            }
        assert_string_equal(at, "");
    }
    df_csv_free(csv);
}

/* Vapour pressures: sure inside the range, less so the further outside. */
static void pressures(void **state) {
    const df_substance *s = kit_substance(*state, "acetonitrile");
    double inside = df_pressure_sigma_ln(s, 300.0, false), cold = df_pressure_sigma_ln(s, 240.0, false),
           colder = df_pressure_sigma_ln(s, 200.0, false), crystal = df_pressure_sigma_ln(s, 200.0, true);
    assert_true(inside > 0.0 && inside < cold && cold < colder && colder < crystal && crystal < 0.3);
    assert_true(df_pressure_sigma_ln(kit_substance(*state, "water"), 220.0, true) < 0.01);
}

/* Another way to the bands of a frozen path: the whole equilibrium solved anew for each step of the parameters. */
typedef struct whole {
    const double *z;
    bool allowed[DF_MAX_SOLIDS];
} whole;

static df_status whole_range(df_context *ctx, double *values, size_t n, const df_mixture *m, void *data) {
    const whole *w = data;
    (void)n;
    return df_mixture_freezing_range(ctx, &values[0], &values[1], m, w->z, w->allowed, 150.0);
}

static void bands_of_a_path(void **state) {
    const kit *k = *state;
    static const char *const text[] = {"acetonitrile 30 %v/v, water", "tert-butanol 20 %w/w, water",
                                       "acetic acid 30 %w/w, water",
                                       "acetonitrile 20 %v/v, tert-butanol 10 %v/v, water"};
    static df_frozen_path path;
    for (size_t i = 0; i < sizeof text / sizeof text[0]; i++) {
        df_composition c;
        df_mixture *m = NULL;
        double liquidus, solidus, value[2], sigma[2];
        whole w;
        assert_int_equal(df_composition_parse(k->ctx, &c, k->substances, text[i], NULL), DF_OK);
        assert_int_equal(df_frozen_path_make(k->ctx, &path, k->pairs, &c, DF_FREEZING_PRACTICE), DF_OK);
        assert_int_equal(df_mixture_create(k->ctx, &m, k->pairs, c.component, c.n), DF_OK);
        assert_int_equal(
            df_frozen_path_spread(k->ctx, &liquidus, &solidus, &path, m, c.x, &c, DF_FREEZING_PRACTICE, path.solidus),
            DF_OK);
        w.z = c.x;
        assert_int_equal(df_composition_allow(k->ctx, w.allowed, m, &c, DF_FREEZING_PRACTICE), DF_OK);
        assert_int_equal(df_mixture_spread(k->ctx, value, sigma, 2, m, whole_range, &w, false), DF_OK);
        near(value[0], path.liquidus, 0.01, "%s: liquidus", text[i]);
        near(liquidus, sigma[0], 0.02 + 0.1 * sigma[0], "%s: band of the liquidus", text[i]);
        near(solidus, sigma[1], 0.02 + 0.1 * sigma[1], "%s: band of the solidus", text[i]);
        df_mixture_free(m);
    }
}

/* A eutectic is as sure however little there is above it: close to it, where either solid may be the first, as far from it. */
static void bands_beside_a_eutectic(void **state) {
    const kit *k = *state;
    static const char *const text[][2] = {{"acetic acid 20 %w/w, water", "acetic acid 59 %w/w, water"},
                                          {"benzene 10 %v/v, water", "benzene 0.1 %v/v, water"},
                                          {"benzene 10 %v/v, water", "benzene 0.08 %v/v, water"},
                                          {"tert-butanol 20 %w/w, water", "tert-butanol 24 %w/w, water"}};
    static df_frozen_path path;
    for (size_t i = 0; i < sizeof text / sizeof text[0]; i++) {
        double liquidus, solidus[2];
        for (int side = 0; side < 2; side++) {
            df_composition c;
            df_mixture *m = NULL;
            assert_int_equal(df_composition_parse(k->ctx, &c, k->substances, text[i][side], NULL), DF_OK);
            assert_int_equal(df_frozen_path_make(k->ctx, &path, k->pairs, &c, DF_FREEZING_PRACTICE), DF_OK);
            assert_int_equal(df_mixture_create(k->ctx, &m, k->pairs, c.component, c.n), DF_OK);
            assert_int_equal(df_frozen_path_spread(k->ctx, &liquidus, &solidus[side], &path, m, c.x, &c,
                                                   DF_FREEZING_PRACTICE, path.solidus),
                             DF_OK);
            df_mixture_free(m);
        }
        assert_true(path.liquidus - path.solidus < 2.0 && solidus[0] > 0.0);
        near(solidus[1], solidus[0], 0.002 + 0.02 * solidus[0], "%s against %s", text[i][1], text[i][0]);
    }
}

/* Where no solid begins at the solidus, but the last of a liquid shrinks to 1 % by mass: bisection on the whole
 * equilibrium against following the phases. */
static df_status last_liquid(df_context *ctx, double *values, size_t n, const df_mixture *m, void *data) {
    const whole *w = data;
    double low = 200.0, high = 273.0, all = 0.0;
    for (size_t i = 0; i < df_mixture_count(m); i++)
        all += w->z[i] * df_mixture_component(m, i)->molar_mass;
    while (high - low > 1e-3) {
        df_assemblage a;
        df_assemblage_amounts amounts;
        double middle = 0.5 * (low + high);
        df_status status = df_mixture_equilibrium(ctx, &a, m, middle, w->z, w->allowed, false);
        if (status != DF_OK)
            return status;
        df_assemblage_measure(&amounts, m, &a);
        *(amounts.liquid_mass > 0.01 * all ? &high : &low) = middle;
    }
    (void)n;
    values[0] = low;
    return DF_OK;
}

static void band_of_a_share(void **state) {
    const kit *k = *state;
    static const char *const text[] = {"ethanol 0.2 %w/w, water", "ethanol 0.4 %w/w, water",
                                       "acetone 0.3 %w/w, water"};
    static df_frozen_path path;
    for (size_t i = 0; i < sizeof text / sizeof text[0]; i++) {
        df_composition c;
        df_mixture *m = NULL;
        double liquidus, solidus, value, sigma;
        whole w;
        assert_int_equal(df_composition_parse(k->ctx, &c, k->substances, text[i], NULL), DF_OK);
        assert_int_equal(df_frozen_path_make(k->ctx, &path, k->pairs, &c, DF_FREEZING_PRACTICE), DF_OK);
        assert_int_equal(df_mixture_create(k->ctx, &m, k->pairs, c.component, c.n), DF_OK);
        w.z = c.x;
        assert_int_equal(df_composition_allow(k->ctx, w.allowed, m, &c, DF_FREEZING_PRACTICE), DF_OK);
        assert_int_equal(df_mixture_spread(k->ctx, &value, &sigma, 1, m, last_liquid, &w, false), DF_OK);
        assert_true(value > 220.0 && value < 270.0 && sigma > 0.05);
        assert_int_equal(
            df_frozen_path_spread(k->ctx, &liquidus, &solidus, &path, m, c.x, &c, DF_FREEZING_PRACTICE, value),
            DF_OK);
        near(solidus, sigma, 0.01 + 0.1 * sigma, "%s: band where 1 %% is liquid, %.2f K", text[i], value);
        df_mixture_free(m);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(linear),
        cmocka_unit_test(by_grade),
        cmocka_unit_test(random_draws),
        cmocka_unit_test(order),
        cmocka_unit_test(hydrate_goes_along),
        cmocka_unit_test(edges),
        cmocka_unit_test(columns),
        cmocka_unit_test(pressures),
        cmocka_unit_test(bands_of_a_path),
        cmocka_unit_test(band_of_a_share),
        cmocka_unit_test(bands_beside_a_eutectic),
        cmocka_unit_test(a_sample_keeps_to_the_points),
    };
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
