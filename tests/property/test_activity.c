/* Activity coefficients: what thermodynamics asks of any model, tried on random mixtures, and how well the pairs'
 * model repeats the group contributions it is fitted to. The seeds are fixed. */
#include "chance.h"
#include "kit.h"
#include "mixture/mixture.h"

#define SAME 1e-7

typedef struct sample {
    size_t n;
    const df_substance *component[DF_MAX_COMPONENTS];
    df_mixture *mixture;
    double temperature, x[DF_MAX_COMPONENTS];
} sample;

static df_mixture *create(const kit *k, const df_substance *const *component, size_t n) {
    df_mixture *m = NULL;
    if (df_mixture_create(k->ctx, &m, k->pairs, component, n) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    return m;
}

/* 2 to 6 volatile substances at 170 K to 370 K; every third one holds a pair with correction in the cold. */
static void draw(const kit *k, sample *q, uint64_t number) {
    static const char *const corrected[] = {"acetonitrile", "ethanol", "methanol", "glycerol", "tert-butanol"};
    uint64_t s = seed_of(number);
    double total = 0.0;
    size_t have = 0;
    memset(q, 0, sizeof *q);
    q->n = 2 + below(&s, 5);
    if (number % 3 == 0) {
        q->component[have++] = kit_substance(k, corrected[below(&s, 5)]);
        q->component[have++] = kit_substance(k, "water");
    }
    while (have < q->n) {
        const df_substance *one = df_substances_at(k->substances, below(&s, df_substances_count(k->substances)));
        bool again = one->is_involatile;
        for (size_t i = 0; i < have; i++)
            again = again || q->component[i] == one;
        if (!again)
            q->component[have++] = one;
    }
    q->mixture = create(k, q->component, q->n);
    q->temperature = 170.0 + 200.0 * uniform(&s);
    for (size_t i = 0; i < q->n; i++)
        total += q->x[i] = uniform(&s) < 0.2 ? 1e-6 * uniform(&s) : -log(uniform(&s));
    for (size_t i = 0; i < q->n; i++)
        q->x[i] /= total;
}

static double largest(const double *v, size_t n) {
    double most = 0.0;
    for (size_t i = 0; i < n; i++)
        most = fmax(most, fabs(v[i]));
    return most;
}

/* sum x_i d ln gamma_i/d n_j = 0 for every j; the slope is symmetric; ln gamma is of degree 0:
 * sum_j n_j d ln gamma_i/d n_j = 0. */
static void gibbs_duhem_by_slope(void **state) {
    for (uint64_t number = 0; number < 4000; number++) {
        sample q;
        double g[DF_MAX_COMPONENTS], h[DF_MAX_COMPONENTS * DF_MAX_COMPONENTS];
        draw(*state, &q, number);
        df_mixture_activity(g, h, q.mixture, q.temperature, q.x);
        double size = 1.0 + largest(h, q.n * q.n);
        for (size_t i = 0; i < q.n; i++) {
            double column = 0.0, row = 0.0;
            for (size_t j = 0; j < q.n; j++) {
                column += q.x[j] * h[j * q.n + i];
                row += q.x[j] * h[i * q.n + j];
                near(h[i * q.n + j], h[j * q.n + i], 1e-11 * size, "mixture %d: symmetry", (int)number);
            }
            near(column, 0.0, 1e-11 * size, "mixture %d: Gibbs-Duhem", (int)number);
            near(row, 0.0, 1e-11 * size, "mixture %d: degree", (int)number);
        }
        df_mixture_free(q.mixture);
    }
}

/* The same, and the slope itself, from differences of ln gamma alone. */
static void gibbs_duhem_by_differences(void **state) {
    for (uint64_t number = 0; number < 2000; number++) {
        sample q;
        double g[DF_MAX_COMPONENTS], h[DF_MAX_COMPONENTS * DF_MAX_COMPONENTS];
        draw(*state, &q, number);
        double total = 0.0;
        for (size_t i = 0; i < q.n; i++)
            total += q.x[i] = 0.02 + q.x[i]; /* differences need room */
        for (size_t i = 0; i < q.n; i++)
            q.x[i] /= total;
        df_nrtl model;
        df_nrtl_setup(&model, q.mixture, q.temperature);
        df_nrtl_activity(g, h, &model, q.x);
        double size = 1.0 + largest(h, q.n * q.n);
        for (size_t j = 0; j < q.n; j++) {
            double slope[DF_MAX_COMPONENTS] = {0.0}, sum = 0.0;
            static const double weights[] = {672.0, -168.0, 32.0, -3.0}; /* eighth order: over 840 steps */
            const double step = 2e-4;
            for (int k = 1; k <= 4; k++) {
                double up[DF_MAX_COMPONENTS], down[DF_MAX_COMPONENTS], x[DF_MAX_COMPONENTS];
                memcpy(x, q.x, sizeof x);
                x[j] = q.x[j] + k * step;
                df_nrtl_activity(up, NULL, &model, x);
                x[j] = q.x[j] - k * step;
                df_nrtl_activity(down, NULL, &model, x);
                for (size_t i = 0; i < q.n; i++)
                    slope[i] += weights[k - 1] * (up[i] - down[i]) / (840.0 * step);
            }
            for (size_t i = 0; i < q.n; i++) {
                sum += q.x[i] * slope[i];
                near(h[i * q.n + j], slope[i], 1e-7 * size, "mixture %d: slope %d %d", (int)number, (int)i, (int)j);
            }
            near(sum, 0.0, 1e-7 * size, "mixture %d: Gibbs-Duhem", (int)number);
        }
        df_mixture_free(q.mixture);
    }
}

/* Order and amount mean nothing. SAME: a predicted pair is fitted anew in each order, to no more digits. */
static void order_and_degree(void **state) {
    for (uint64_t number = 0; number < 2000; number++) {
        sample q, p;
        double g[DF_MAX_COMPONENTS], other[DF_MAX_COMPONENTS], h[DF_MAX_COMPONENTS * DF_MAX_COMPONENTS],
            k[DF_MAX_COMPONENTS * DF_MAX_COMPONENTS];
        draw(*state, &q, number);
        p = q;
        for (size_t i = 0; i < q.n; i++) { /* turned round, and three times as much */
            p.component[i] = q.component[q.n - 1 - i];
            p.x[i] = q.x[q.n - 1 - i];
        }
        p.mixture = create(*state, p.component, p.n);
        df_mixture_activity(g, h, q.mixture, q.temperature, q.x);
        df_nrtl model;
        df_nrtl_setup(&model, p.mixture, q.temperature);
        for (size_t i = 0; i < q.n; i++)
            p.x[i] *= 3.0;
        df_nrtl_activity(other, k, &model, p.x);
        double size = 1.0 + largest(h, q.n * q.n) + largest(g, q.n);
        for (size_t i = 0; i < q.n; i++) {
            near(other[q.n - 1 - i], g[i], SAME * size, "mixture %d", (int)number);
            for (size_t j = 0; j < q.n; j++)
                near(3.0 * k[(q.n - 1 - i) * q.n + q.n - 1 - j], h[i * q.n + j], SAME * size, "mixture %d",
                     (int)number);
        }
        df_mixture_free(p.mixture);
        df_mixture_free(q.mixture);
    }
}

/* gamma of a component goes to 1 where it is alone, with the square of what else there is; and a component of which
 * there is nothing leaves the others as they are without it. */
static void limits(void **state) {
    for (uint64_t number = 0; number < 1000; number++) {
        sample q;
        double g[DF_MAX_COMPONENTS], less[DF_MAX_COMPONENTS], x[DF_MAX_COMPONENTS];
        draw(*state, &q, number);
        for (size_t pure = 0; pure < q.n; pure++) {
            for (size_t i = 0; i < q.n; i++)
                x[i] = i == pure ? 1.0 : 0.0;
            df_mixture_activity(g, NULL, q.mixture, q.temperature, x);
            near(g[pure], 0.0, 1e-14, "mixture %d: pure %s", (int)number, q.component[pure]->key);
            double before = NAN;
            for (int k = 0; k < 3; k++) {
                double there = k == 0 ? 1e-7 : k == 1 ? 1e-8 : 1e-9;
                for (size_t i = 0; i < q.n; i++)
                    x[i] = i == pure ? 1.0 - (double)(q.n - 1) * there : there;
                df_mixture_activity(g, NULL, q.mixture, q.temperature, x);
                if (k > 0 && fabs(before) > 1e-10)
                    near(g[pure] / before, 0.01, 0.003, "mixture %d: near pure %s", (int)number,
                         q.component[pure]->key);
                before = g[pure];
            }
        }
        if (q.n > 2) { /* the last to nothing */
            df_mixture *m = create(*state, q.component, q.n - 1);
            double share = 1.0 - q.x[q.n - 1];
            for (size_t i = 0; i + 1 < q.n; i++)
                x[i] = q.x[i] / share;
            df_mixture_activity(less, NULL, m, q.temperature, x);
            for (int k = 0; k < 2; k++) {
                x[q.n - 1] = k == 0 ? 0.0 : 1e-14;
                df_mixture_activity(g, NULL, q.mixture, q.temperature, x);
                for (size_t i = 0; i + 1 < q.n; i++)
                    near(g[i], less[i], k == 0 ? 1e-12 : 1e-9, "mixture %d without %s", (int)number,
                         q.component[q.n - 1]->key);
            }
            df_mixture_free(m);
        }
        df_mixture_free(q.mixture);
    }
}

/* Modified UNIFAC by itself: Gibbs-Duhem by differences, pure limits, order. */
static void group_contributions(void **state) {
    const kit *k = *state;
    int tried = 0;
    for (uint64_t number = 0; number < 3000; number++) {
        sample q;
        double g[DF_MAX_COMPONENTS], up[DF_MAX_COMPONENTS], down[DF_MAX_COMPONENTS], x[DF_MAX_COMPONENTS];
        draw(k, &q, number);
        df_mixture_free(q.mixture);
        double total = 0.0, most = 0.0;
        for (size_t i = 0; i < q.n; i++)
            total += q.x[i] = 0.05 + q.x[i];
        for (size_t i = 0; i < q.n; i++)
            q.x[i] /= total;
        if (!df_unifac_activity(g, k->pairs, q.component, q.n, q.temperature, q.x))
            continue;
        tried++;
        const double step = 1e-3;
        for (size_t j = 1; j < q.n; j++) { /* along the exchange of the first for j */
            double sum = 0.0;
            static const double weights[] = {672.0, -168.0, 32.0, -3.0};
            for (int m = 1; m <= 4; m++) {
                memcpy(x, q.x, sizeof x);
                x[j] = q.x[j] + m * step;
                x[0] = q.x[0] - m * step;
                assert_true(df_unifac_activity(up, k->pairs, q.component, q.n, q.temperature, x));
                x[j] = q.x[j] - m * step;
                x[0] = q.x[0] + m * step;
                assert_true(df_unifac_activity(down, k->pairs, q.component, q.n, q.temperature, x));
                for (size_t i = 0; i < q.n; i++) {
                    sum += q.x[i] * weights[m - 1] * (up[i] - down[i]) / (840.0 * step);
                    most = fmax(most, fabs(up[i] - down[i]) / step);
                }
            }
            near(sum, 0.0, 1e-5 * (1.0 + most), "mixture %d: Gibbs-Duhem of groups", (int)number);
        }
        const df_substance *turned[DF_MAX_COMPONENTS];
        for (size_t i = 0; i < q.n; i++) {
            turned[i] = q.component[q.n - 1 - i];
            x[i] = q.x[q.n - 1 - i];
        }
        assert_true(df_unifac_activity(up, k->pairs, turned, q.n, q.temperature, x));
        for (size_t i = 0; i < q.n; i++)
            near(up[q.n - 1 - i], g[i], 1e-11 * (1.0 + fabs(g[i])), "mixture %d: order", (int)number);
        for (size_t i = 0; i < q.n; i++) {
            for (size_t j = 0; j < q.n; j++)
                x[j] = i == j ? 1.0 : 0.0;
            assert_true(df_unifac_activity(up, k->pairs, q.component, q.n, q.temperature, x));
            near(up[i], 0.0, 1e-11, "mixture %d: pure %s", (int)number, q.component[i]->key);
        }
    }
    print_message("%d mixtures whose groups are all known\n", tried);
    assert_true(tried > 300);
}

/* How well NRTL of one alpha and four numbers repeats modified UNIFAC between 230 K and 390 K, pair by pair: rms of
 * ln gamma at 25 compositions and 9 temperatures. Nine in ten within 0.1, all within 0.45 but for cyclohexane with
 * glycerol (two nearly pure liquids, ln gamma goes to 12). Two are refused: modified UNIFAC's a = -5894 K from cyclic
 * CH2 to pyridine gives cyclohexane in pyridine ln gamma = -800 at 230 K. */
static void repeats_group_contributions(void **state) {
    const kit *k = *state;
    size_t all = df_substances_count(k->substances);
    int predicted = 0, without = 0, within[3] = {0}, wrong = 0;
    double mean = 0.0;
    for (size_t i = 0; i < all; i++)
        for (size_t j = i + 1; j < all; j++) {
            const df_substance *both[2] = {df_substances_at(k->substances, i), df_substances_at(k->substances, j)};
            if (both[0]->is_involatile || both[1]->is_involatile)
                continue;
            df_nrtl_pair pair;
            if (!df_predict_pair(&pair, k->pairs, both[0], both[1])) {
                without++;
                continue;
            }
            df_mixture *m = create(k, both, 2);
            df_mixture_set_pair(m, 0, 1, &pair);
            double sum = 0.0, most = 0.0;
            int points = 0;
            for (double t = 230.0; t < 391.0; t += 20.0)
                for (double x = 0.02; x < 1.0; x += 0.04) {
                    double z[2] = {x, 1.0 - x}, g[2], u[2];
                    assert_true(df_unifac_activity(u, k->pairs, both, 2, t, z));
                    df_mixture_activity(g, NULL, m, t, z);
                    for (int c = 0; c < 2; c++, points++) {
                        sum += (g[c] - u[c]) * (g[c] - u[c]);
                        most = fmax(most, fabs(g[c] - u[c]));
                    }
                }
            df_mixture_free(m);
            double rms = sqrt(sum / points);
            predicted++;
            within[0] += rms < 0.05;
            within[1] += rms < 0.1;
            within[2] += rms < 0.2;
            bool glycerol = strcmp(both[0]->key, "cyclohexane") == 0 && strcmp(both[1]->key, "glycerol") == 0;
            double bound = glycerol ? 1.0 : 0.45;
            mean += rms;
            if (!(rms <= bound))
                wrong++;
            if (rms > 0.2 || !(rms <= bound)) {
                df_nrtl_pair used;
                df_pairs_get(&used, k->pairs, both[0], both[1]);
                print_message("%s with %s: rms %.3f, most %.2f%s\n", both[0]->key, both[1]->key, rms, most,
                              used.grade == DF_PAIR_PREDICTED ? "" : " (has a row of its own)");
            }
        }
    mean /= predicted;
    print_message("%d pairs, %d without parameters; rms below 0.05: %d, 0.1: %d, 0.2: %d; mean %.3f\n", predicted,
                  without, within[0], within[1], within[2], mean);
    assert_int_equal(wrong, 0);
    assert_true(predicted >= 240);
    assert_true(10 * within[1] >= 9 * predicted);
    assert_true(mean < 0.06);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gibbs_duhem_by_slope), cmocka_unit_test(gibbs_duhem_by_differences),
        cmocka_unit_test(order_and_degree),     cmocka_unit_test(limits),
        cmocka_unit_test(group_contributions),  cmocka_unit_test(repeats_group_contributions),
    };
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
