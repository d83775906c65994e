/* Attempts to break the phase equilibrium: what must hold for any mixture, tried on random ones and on awkward ones.
 * DRYFRONT_PROPERTY_SCALE multiplies the number of mixtures (default 1). The seeds are fixed. */
#include "chance.h"
#include "kit.h"
#include "mixture/mixture.h"

#include <time.h>

#define SHOWN 12           /* failures written out for each test */
#define BEYOND_REASON 45.0 /* ln of an activity coefficient at infinite dilution that no real pair has */

/* ---- chance --------------------------------------------------------------------------------------------------- */

static int scaled(int count) {
    const char *text = getenv("DRYFRONT_PROPERTY_SCALE");
    double scale = text != NULL ? atof(text) : 1.0;
    return (int)fmax(1.0, scale * count);
}

/* Random point of the simplex, even or drawn out towards its corners and edges. */
static void random_composition(double *x, size_t n, uint64_t *s) {
    double total = 0.0;
    size_t way = below(s, 3);
    for (size_t i = 0; i < n; i++) {
        x[i] = way == 2 ? pow(10.0, -8.0 * uniform(s)) : -log(uniform(s));
        if (way == 1)
            x[i] = x[i] * x[i] * x[i];
        total += x[i] = fmax(x[i], 1e-300);
    }
    for (size_t i = 0; i < n; i++)
        x[i] /= total;
}

/* ---- a mixture and what is asked of it ------------------------------------------------------------------------ */

typedef struct question {
    size_t n;
    const df_substance *component[DF_MAX_COMPONENTS];
    df_mixture *mixture;
    double z[DF_MAX_COMPONENTS];
    double temperature;
    bool allowed[DF_MAX_SOLIDS];
} question;

static void create(const kit *k, question *q) {
    if (df_mixture_create(k->ctx, &q->mixture, k->pairs, q->component, q->n) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
}

static void describe(const question *q, const char *what) {
    print_error("  %s at %.6f K, solids", what, q->temperature);
    for (size_t k = 0; k < df_mixture_solids(q->mixture); k++)
        print_error("%c", q->allowed[k] ? '1' : '0');
    for (size_t i = 0; i < q->n; i++)
        print_error(", %s %.9g", q->component[i]->key, q->z[i]);
    print_error("\n");
}

/* The largest |ln gamma| of one component at infinite dilution in another. */
static double strangest(const df_mixture *m, double temperature) {
    size_t n = df_mixture_count(m);
    double most = 0.0;
    for (size_t j = 0; j < n; j++) {
        double x[DF_MAX_COMPONENTS], g[DF_MAX_COMPONENTS];
        for (size_t i = 0; i < n; i++)
            x[i] = i == j ? 1.0 : 1e-15;
        df_mixture_activity(g, NULL, m, temperature, x);
        for (size_t i = 0; i < n; i++)
            most = fmax(most, fabs(g[i]));
    }
    return most;
}

/* A random mixture of 2 to 6 of the volatile substances, with water four times in five, with traces, at 165 K to
 * 330 K. Solids by turns those of practice, of equilibrium, none, or any. Pairs whose prediction is beyond reason
 * (see test_activity.c) are drawn again. */
static void draw(const kit *k, question *q, uint64_t *s) {
    static const double traces[] = {1e-3, 1e-6, 1e-9, 1e-12};
    size_t all = df_substances_count(k->substances);
    memset(q, 0, sizeof *q);
    for (;;) {
        size_t have = 0;
        q->n = 2 + below(s, 5);
        if (uniform(s) < 0.8)
            q->component[have++] = kit_substance(k, "water");
        while (have < q->n) {
            const df_substance *one = df_substances_at(k->substances, below(s, all));
            bool again = one->is_involatile;
            for (size_t i = 0; i < have; i++)
                again = again || q->component[i] == one;
            if (!again)
                q->component[have++] = one;
        }
        size_t j = below(s, q->n); /* water stands anywhere */
        const df_substance *first = q->component[0];
        q->component[0] = q->component[j];
        q->component[j] = first;
        q->temperature = 165.0 + 165.0 * uniform(s);
        create(k, q);
        if (strangest(q->mixture, 165.0) < BEYOND_REASON)
            break;
        df_mixture_free(q->mixture);
    }
    double total = 0.0;
    for (size_t i = 0; i < q->n; i++) {
        q->z[i] = -log(uniform(s));
        if (uniform(s) < 0.3)
            q->z[i] *= traces[below(s, 4)];
        total += q->z[i];
    }
    for (size_t i = 0; i < q->n; i++)
        q->z[i] = fmax(q->z[i] / total, 1e-12); /* below 5e-13 a component counts as absent */
    size_t way = below(s, 8);
    df_mixture_allow(q->allowed, q->mixture, way < 3 ? DF_FREEZING_PRACTICE : DF_FREEZING_EQUILIBRIUM);
    for (size_t c = 0; c < df_mixture_solids(q->mixture) && way >= 6; c++)
        q->allowed[c] = way == 7 && uniform(s) < 0.5;
}

/* Gibbs energy of liquid amounts over pure liquids, in RT; potentials in `mu`. */
static double liquid_energy(double *mu, const df_nrtl *model, const double *amount) {
    double total = 0.0, energy = 0.0;
    for (size_t i = 0; i < model->n; i++)
        total += amount[i];
    df_nrtl_activity(mu, NULL, model, amount);
    for (size_t i = 0; i < model->n; i++) {
        mu[i] += log(amount[i] / total);
        if (amount[i] > 0.0)
            energy += amount[i] * mu[i];
    }
    return energy;
}

/* Gibbs energy of an assemblage at any temperature, in RT. */
static double energy_at(const question *q, const df_assemblage *a, double temperature) {
    df_nrtl model;
    double mu[DF_MAX_COMPONENTS], energy = 0.0;
    df_nrtl_setup(&model, q->mixture, temperature);
    for (size_t l = 0; l < a->liquids; l++) {
        /* what is absent from the whole may stand as nought */
        double amount[DF_MAX_COMPONENTS];
        for (size_t i = 0; i < q->n; i++)
            amount[i] = fmax(a->liquid[l][i], 1e-200);
        energy += liquid_energy(mu, &model, amount);
    }
    for (size_t k = 0; k < df_mixture_solids(q->mixture); k++)
        if (a->solid[k] != 0.0)
            energy += a->solid[k] * df_solid_constant_ln(q->mixture, k, temperature);
    return energy;
}

static double distance(const df_nrtl *model, const double *x, const double *potential) {
    double mu[DF_MAX_COMPONENTS], d = liquid_energy(mu, model, x);
    for (size_t i = 0; i < model->n; i++)
        d -= x[i] * potential[i];
    return d;
}

/* Goes down from x by half steps of substitution; returns the least distance met, and where in x. */
static double go_down(const df_nrtl *model, double *x, const double *potential, int steps) {
    double least = INFINITY, best[DF_MAX_COMPONENTS] = {0.0};
    for (int step = 0; step < steps; step++) {
        double mu[DF_MAX_COMPONENTS], d = liquid_energy(mu, model, x), total = 0.0;
        for (size_t i = 0; i < model->n; i++)
            d -= x[i] * potential[i];
        if (d < least) {
            least = d;
            memcpy(best, x, sizeof best);
        }
        for (size_t i = 0; i < model->n; i++)
            total += x[i] = fmax(x[i] * exp(0.5 * fmin(fmax(potential[i] - mu[i], -100.0), 100.0)), 1e-250);
        for (size_t i = 0; i < model->n; i++)
            x[i] /= total;
    }
    memcpy(x, best, sizeof best);
    return least;
}

/* Everything that can be said of one answer: finite and not negative, mass balance, equal potentials, saturation of
 * what is there, undersaturation of what is not, no liquid under the plane from `descents` random starts. All
 * components of z must be there (no noughts). False, with a line, where something is amiss. */
static bool holds(const question *q, const df_assemblage *a, int descents, uint64_t *s, int *shown) {
    char amiss[160] = "";
    size_t n = q->n, solids = df_mixture_solids(q->mixture);
    df_nrtl model;
    df_nrtl_setup(&model, q->mixture, q->temperature);
    double total = 0.0;
    for (size_t i = 0; i < n; i++)
        total += q->z[i];
    if (a->liquids > DF_MAX_LIQUIDS || a->temperature != q->temperature)
        snprintf(amiss, sizeof amiss, "not an answer");
    for (size_t k = 0; k < solids; k++)
        if (!(a->solid[k] >= 0.0) || (a->solid[k] > 0.0 && !q->allowed[k]))
            snprintf(amiss, sizeof amiss, "%.3g of %s", a->solid[k], df_mixture_solid(q->mixture, k)->name);
    for (size_t i = 0; i < n; i++) {
        double left = q->z[i] / total;
        for (size_t l = 0; l < a->liquids; l++)
            left -= a->liquid[l][i];
        for (size_t k = 0; k < solids; k++)
            left -= a->solid[k] * df_mixture_solid(q->mixture, k)->formula[i];
        if (!(fabs(left) <= 1e-10 * q->z[i] / total + 1e-15))
            snprintf(amiss, sizeof amiss, "balance of %s off by %.3g", q->component[i]->key, left);
    }
    for (size_t l = 0; l < a->liquids; l++) {
        double mu[DF_MAX_COMPONENTS];
        liquid_energy(mu, &model, a->liquid[l]);
        for (size_t i = 0; i < n; i++)
            if (!(a->liquid[l][i] > 0.0) || !(fabs(mu[i] - a->activity_ln[i]) <= 1e-9))
                snprintf(amiss, sizeof amiss, "potential of %s in liquid %zu off by %.3g", q->component[i]->key, l,
                         mu[i] - a->activity_ln[i]);
        for (size_t o = 0; o < l; o++) { /* two liquids differ */
            double apart = 0.0, one = 0.0, two = 0.0;
            for (size_t i = 0; i < n; i++) {
                one += a->liquid[l][i];
                two += a->liquid[o][i];
            }
            for (size_t i = 0; i < n; i++)
                apart = fmax(apart, fabs(a->liquid[l][i] / one - a->liquid[o][i] / two));
            if (!(apart > 1e-6))
                snprintf(amiss, sizeof amiss, "liquids %zu and %zu are the same", o, l);
        }
    }
    for (size_t k = 0; k < solids; k++) {
        const df_solid *solid = df_mixture_solid(q->mixture, k);
        double d = df_solid_constant_ln(q->mixture, k, q->temperature), size = 0.0;
        for (size_t i = 0; i < n; i++)
            if (solid->formula[i] > 0.0) {
                d -= solid->formula[i] * a->activity_ln[i];
                size += solid->formula[i];
            }
        if (a->solid[k] > 0.0 && !(fabs(d) <= 1e-9 * size))
            snprintf(amiss, sizeof amiss, "%s is there, saturation off by %.3g", solid->name, d);
        if (q->allowed[k] && !(d >= -1e-9 * size))
            snprintf(amiss, sizeof amiss, "%s lies under the plane by %.3g", solid->name, d);
    }
    for (int start = 0; start < descents && amiss[0] == '\0'; start++) {
        double x[DF_MAX_COMPONENTS];
        random_composition(x, n, s);
        double d = go_down(&model, x, a->activity_ln, 40);
        if (!(d >= -1e-9)) {
            size_t used = (size_t)snprintf(amiss, sizeof amiss, "a liquid lies under the plane by %.3g:", d);
            for (size_t i = 0; i < n && used < sizeof amiss; i++)
                used += (size_t)snprintf(amiss + used, sizeof amiss - used, " %.3g", x[i]);
        }
    }
    if (amiss[0] == '\0')
        return true;
    if ((*shown)++ < SHOWN)
        describe(q, amiss);
    return false;
}

/* Solved, and states that need more liquids than an assemblage can hold: those are refused in words, and rare. */
static long solved, crowded;

/* Fails where anything went wrong but for crowded states, or where more than 1 in 1000 is crowded. */
static void judge(int wrong, long crowded_before) {
    long excused = crowded - crowded_before;
    if (excused > 0)
        print_message("%ld states of more than %d liquids\n", excused, DF_MAX_LIQUIDS);
    assert_true(1000 * crowded <= solved + 1000);
    assert_true(wrong <= excused);
}

static bool solve(const kit *k, const question *q, df_assemblage *a, bool warm, int *shown) {
    solved++;
    if (df_mixture_equilibrium(k->ctx, a, q->mixture, q->temperature, q->z, q->allowed, warm) == DF_OK)
        return true;
    crowded += strstr(df_context_message(k->ctx), "more than") != NULL;
    if ((*shown)++ < SHOWN)
        describe(q, df_context_message(k->ctx));
    return false;
}

static double liquid_total(const df_assemblage *a, size_t i) {
    double total = 0.0;
    for (size_t l = 0; l < a->liquids; l++)
        total += a->liquid[l][i];
    return total;
}

/* The largest difference of amounts between liquids l.. of one answer and those of the other that are not in use yet,
 * in the order in which they differ least. */
static double liquid_difference(const question *q, const df_assemblage *a, const df_assemblage *b, size_t l,
                                unsigned used) {
    if (l == DF_MAX_LIQUIDS)
        return 0.0;
    double least = INFINITY;
    for (size_t o = 0; o < DF_MAX_LIQUIDS; o++) {
        if ((used >> o & 1u) != 0u)
            continue;
        double worst = liquid_difference(q, a, b, l + 1, used | 1u << o);
        for (size_t i = 0; i < q->n; i++) {
            double one = l < a->liquids ? a->liquid[l][i] : 0.0, two = o < b->liquids ? b->liquid[o][i] : 0.0;
            worst = fmax(worst, fabs(one - two));
        }
        least = fmin(least, worst);
    }
    return least;
}

/* The largest difference of amounts between two answers: of solids, of components in all liquids, and, with `each`,
 * of components in each liquid. */
static double difference(const question *q, const df_assemblage *a, const df_assemblage *b, bool each) {
    double most = 0.0;
    for (size_t k = 0; k < df_mixture_solids(q->mixture); k++)
        most = fmax(most, fabs(a->solid[k] - b->solid[k]));
    for (size_t i = 0; i < q->n; i++)
        most = fmax(most, fabs(liquid_total(a, i) - liquid_total(b, i)));
    return each ? fmax(most, liquid_difference(q, a, b, 0, 0u)) : most;
}

/* ---- random mixtures ------------------------------------------------------------------------------------------ */

static void random_mixtures(void **state) {
    long before = crowded;
    int count = scaled(6000), wrong = 0, shown = 0, liquids[DF_MAX_LIQUIDS + 1] = {0};
    for (int i = 0; i < count; i++) {
        uint64_t s = seed_of((uint64_t)i);
        question q;
        df_assemblage a;
        draw(*state, &q, &s);
        if (!solve(*state, &q, &a, false, &shown) || !holds(&q, &a, 24, &s, &shown))
            wrong++;
        else
            liquids[a.liquids]++;
        df_mixture_free(q.mixture);
    }
    print_message("%d mixtures: %d without a liquid, %d, %d and %d with one, two and three\n", count, liquids[0],
                  liquids[1], liquids[2], liquids[3]);
    judge(wrong, before);
    assert_true(liquids[0] > 0 && liquids[1] > 0 && liquids[2] > 0 && liquids[3] > 0); /* all kinds were met */
}

/* 1e5 trials a mixture: random liquids against the plane, and random amounts of random phases made out of what is
 * there. */
static void random_search(void **state) {
    long before = crowded;
    int count = scaled(16), wrong = 0, shown = 0;
    for (int i = 0; i < count; i++) {
        uint64_t s = seed_of(1000000u + (uint64_t)i);
        question q;
        df_assemblage a;
        do {
            draw(*state, &q, &s);
            if (!solve(*state, &q, &a, false, &shown)) {
                wrong++;
                a.liquids = 0;
            }
            if (a.liquids == 0 && i % 4 != 0)
                df_mixture_free(q.mixture);
        } while (a.liquids == 0 && i % 4 != 0);
        df_nrtl model;
        df_nrtl_setup(&model, q.mixture, q.temperature);
        double lowest = 0.0, least = energy_at(&q, &a, q.temperature), fall = 0.0;
        for (int trial = 0; trial < 80000; trial++) {
            double x[DF_MAX_COMPONENTS];
            random_composition(x, q.n, &s);
            lowest = fmin(lowest, distance(&model, x, a.activity_ln));
        }
        for (int trial = 0; trial < 20000; trial++) {
            /* a share of one liquid or of all solids goes to one more liquid, and some of it into a solid */
            df_assemblage b = a;
            double out[DF_MAX_COMPONENTS] = {0.0}, mu[DF_MAX_COMPONENTS], share = pow(10.0, -4.0 * uniform(&s));
            if (a.liquids > 0) {
                size_t l = below(&s, a.liquids);
                for (size_t c = 0; c < q.n; c++) {
                    out[c] = a.liquid[l][c] * share * uniform(&s);
                    b.liquid[l][c] -= out[c];
                }
            }
            for (size_t k = 0; k < df_mixture_solids(q.mixture); k++) {
                double taken = a.liquids == 0 || uniform(&s) < 0.3 ? a.solid[k] * share * uniform(&s) : 0.0;
                b.solid[k] -= taken;
                for (size_t c = 0; c < q.n; c++)
                    out[c] += taken * df_mixture_solid(q.mixture, k)->formula[c];
            }
            size_t k = below(&s, df_mixture_solids(q.mixture));
            double most = INFINITY, energy = 0.0, all = 0.0;
            for (size_t c = 0; c < q.n; c++)
                if (df_mixture_solid(q.mixture, k)->formula[c] > 0.0)
                    most = fmin(most, out[c] / df_mixture_solid(q.mixture, k)->formula[c]);
            if (q.allowed[k] && isfinite(most)) {
                double made = 0.999 * most * uniform(&s);
                b.solid[k] += made;
                for (size_t c = 0; c < q.n; c++)
                    out[c] -= made * df_mixture_solid(q.mixture, k)->formula[c];
            }
            for (size_t c = 0; c < q.n; c++) {
                all += out[c];
                out[c] = fmax(out[c], 1e-200);
            }
            if (all > 0.0)
                energy = liquid_energy(mu, &model, out);
            fall = fmin(fall, energy + energy_at(&q, &b, q.temperature) - least);
        }
        if (!(lowest >= -1e-9 && fall >= -1e-9) || !holds(&q, &a, 400, &s, &shown)) {
            wrong++;
            print_error("distance %.3g, fall of energy %.3g\n", lowest, fall);
            describe(&q, "random search");
        }
        df_mixture_free(q.mixture);
    }
    judge(wrong, before);
}

/* The order in which components stand and the unit of the amounts mean nothing. */
static void order_and_scale(void **state) {
    long before = crowded;
    int count = scaled(800), wrong = 0, shown = 0;
    for (int i = 0; i < count; i++) {
        uint64_t s = seed_of(2000000u + (uint64_t)i);
        question q, p;
        df_assemblage a, b, back = {0};
        draw(*state, &q, &s);
        df_mixture_allow(q.allowed, q.mixture, i % 2 == 0 ? DF_FREEZING_PRACTICE : DF_FREEZING_EQUILIBRIUM);
        p = q;
        size_t place[DF_MAX_COMPONENTS]; /* of q's component in p */
        for (size_t c = 0; c < q.n; c++)
            place[c] = c;
        for (size_t c = q.n; c-- > 1;) {
            size_t j = below(&s, c + 1), t = place[c];
            place[c] = place[j];
            place[j] = t;
        }
        double scale = pow(10.0, 12.0 * uniform(&s) - 6.0);
        for (size_t c = 0; c < q.n; c++) {
            p.component[place[c]] = q.component[c];
            p.z[place[c]] = q.z[c] * scale;
        }
        create(*state, &p);
        df_mixture_allow(p.allowed, p.mixture, i % 2 == 0 ? DF_FREEZING_PRACTICE : DF_FREEZING_EQUILIBRIUM);
        if (!solve(*state, &q, &a, false, &shown) || !solve(*state, &p, &b, false, &shown)) {
            wrong++;
        } else {
            back.liquids = b.liquids;
            for (size_t l = 0; l < b.liquids; l++)
                for (size_t c = 0; c < q.n; c++)
                    back.liquid[l][c] = b.liquid[l][place[c]];
            for (size_t k = 0; k < df_mixture_solids(q.mixture); k++)
                for (size_t o = 0; o < df_mixture_solids(p.mixture); o++)
                    if (strcmp(df_mixture_solid(q.mixture, k)->name, df_mixture_solid(p.mixture, o)->name) == 0)
                        back.solid[k] = b.solid[o];
            double apart = difference(&q, &a, &back, true);
            if (!(apart <= 1e-7)) {
                wrong++;
                if (shown++ < SHOWN) {
                    print_error("amounts differ by %.3g\n", apart);
                    describe(&q, "another order");
                }
            }
        }
        df_mixture_free(p.mixture);
        df_mixture_free(q.mixture);
    }
    judge(wrong, before);
}

/* ---- along cooling paths -------------------------------------------------------------------------------------- */

/* Number of phases in either answer less the number of independent ones among them: from one on, a reaction runs
 * between them at constant temperature. Liquids count as the same where their compositions differ by less than 1e-3;
 * components of less than 1e-4 are left out: they spread the reaction over less than can be told from a point. */
static int reactions(const question *q, const df_assemblage *a, const df_assemblage *b) {
    double row[DF_MAX_SOLIDS + 2 * DF_MAX_LIQUIDS][DF_MAX_COMPONENTS];
    size_t rows = 0, n = q->n;
    for (size_t k = 0; k < df_mixture_solids(q->mixture); k++)
        if (a->solid[k] > 0.0 || b->solid[k] > 0.0)
            memcpy(row[rows++], df_mixture_solid(q->mixture, k)->formula, sizeof row[0]);
    size_t solids = rows;
    for (int side = 0; side < 2; side++) {
        const df_assemblage *of = side == 0 ? a : b;
        for (size_t l = 0; l < of->liquids; l++) {
            double total = 0.0;
            bool known = false;
            for (size_t i = 0; i < n; i++)
                total += of->liquid[l][i];
            for (size_t i = 0; i < n; i++)
                row[rows][i] = of->liquid[l][i] / total;
            for (size_t r = solids; r < rows && !known; r++) {
                double apart = 0.0;
                for (size_t i = 0; i < n; i++)
                    apart = fmax(apart, fabs(row[r][i] - row[rows][i]));
                known = apart < 1e-3;
            }
            rows += !known;
        }
    }
    int rank = 0;
    for (size_t c = 0; c < n; c++) {
        size_t pivot = (size_t)rank;
        for (size_t r = (size_t)rank; r < rows; r++)
            if (fabs(row[r][c]) > fabs(row[pivot][c]))
                pivot = r;
        if (q->z[c] < 1e-4 || (size_t)rank == rows || fabs(row[pivot][c]) < 1e-12)
            continue;
        for (size_t i = 0; i < n; i++) {
            double t = row[pivot][i];
            row[pivot][i] = row[rank][i];
            row[rank][i] = t;
        }
        for (size_t r = (size_t)rank + 1; r < rows; r++) {
            double f = row[r][c] / row[rank][c];
            for (size_t i = 0; i < n; i++)
                row[r][i] -= f * row[rank][i];
        }
        rank++;
    }
    return (int)rows - rank;
}

/* Closes in on a jump of amounts between two temperatures. True where it dissolves, or where at less than 1e-9 K it
 * stays and phases that can react are there. */
static bool jump_explained(const kit *k, question *q, df_assemblage upper, df_assemblage lower, int *shown) {
    double high = upper.temperature, low = lower.temperature;
    while (high - low > 1e-9) {
        if (difference(q, &upper, &lower, false) < 0.02)
            return true;
        df_assemblage middle;
        q->temperature = 0.5 * (high + low);
        if (!solve(k, q, &middle, false, shown))
            return false;
        bool up = difference(q, &upper, &middle, false) > difference(q, &middle, &lower, false);
        if (up) {
            lower = middle;
            low = q->temperature;
        } else {
            upper = middle;
            high = q->temperature;
        }
    }
    return difference(q, &upper, &lower, false) < 0.02 || reactions(q, &upper, &lower) > 0;
}

/* Reference energy of the pure liquids, in J per mole of mixture, with a heat capacity held constant: what has to be
 * added to RT g for a curve against temperature that is concave. */
static double reference_energy(const question *q, double temperature) {
    double energy = 0.0;
    for (size_t i = 0; i < q->n; i++) {
        double cp = df_liquid_heat_capacity(q->component[i], 250.0);
        energy += q->z[i] * cp * (temperature - 250.0 - temperature * log(temperature / 250.0));
    }
    return energy;
}

static void cooling_paths(void **state) {
    long before = crowded;
    enum { POINTS = 91 };
    static df_assemblage path[POINTS];
    int count = scaled(60), wrong = 0, shown = 0, jumps = 0, bent = 0, bends = 0;
    for (int i = 0; i < count; i++) {
        uint64_t s = seed_of(3000000u + (uint64_t)i);
        question q;
        df_assemblage warm;
        draw(*state, &q, &s);
        for (size_t c = 0; c < q.n; c++) /* traces smear a reaction over too little to be told from a jump */
            q.z[c] = fmax(q.z[c], 1e-5);
        bool sound = true;
        double g[POINTS];
        for (int k = 0; k < POINTS && sound; k++) {
            q.temperature = 300.0 - 1.5 * k;
            sound = solve(*state, &q, &path[k], false, &shown) && holds(&q, &path[k], 4, &s, &shown);
            if (!sound)
                break;
            if (k > 0) { /* the neighbour as a guess leads to the same */
                warm = path[k - 1];
                sound = solve(*state, &q, &warm, true, &shown);
                double apart = difference(&q, &path[k], &warm, true);
                if (sound && !(apart <= 1e-7)) {
                    sound = false;
                    if (shown++ < SHOWN) {
                        print_error("warm and cold differ by %.3g\n", apart);
                        describe(&q, "warm start");
                    }
                }
            }
            g[k] = DF_GAS_CONSTANT * q.temperature * energy_at(&q, &path[k], q.temperature) +
                   reference_energy(&q, q.temperature);
        }
        for (int k = 0; k < POINTS && sound; k++) {
            /* The phases of any temperature are no better at any other: so the curve is lowest and continuous. */
            for (int o = 0; o < POINTS && sound; o += k == o ? 1 : 1 + abs(k - o) / 4) {
                double own = energy_at(&q, &path[k], path[k].temperature);
                double theirs = energy_at(&q, &path[o], path[k].temperature);
                if (!(theirs >= own - 1e-9)) {
                    sound = false;
                    if (shown++ < SHOWN) {
                        q.temperature = path[k].temperature;
                        print_error("the phases of %.2f K lie lower by %.3g\n", path[o].temperature, own - theirs);
                        describe(&q, "cooling path");
                    }
                }
            }
            if (k > 0 && difference(&q, &path[k - 1], &path[k], false) > 0.05) {
                jumps++;
                if (!jump_explained(*state, &q, path[k - 1], path[k], &shown)) {
                    sound = false;
                    if (shown++ < SHOWN)
                        describe(&q, "amounts jump without a reaction");
                }
            }
            if (k > 1) {
                bends++;
                bent += g[k] - 2.0 * g[k - 1] + g[k - 2] > 1e-6;
            }
        }
        wrong += !sound;
        df_mixture_free(q.mixture);
    }
    print_message("%d paths, %d jumps explained by a reaction, %d of %d bends the wrong way\n", count, jumps, bent,
                  bends);
    judge(wrong, before);
    assert_true(jumps > 0);
    assert_int_equal(bent, 0);
}

/* What the freezing range says is seen on the path. It looks every 8 K, so what comes and goes within that may be
 * missed: only what contradicts it over 10 K counts. */
static void freezing_range(void **state) {
    long before = crowded;
    int count = scaled(80), wrong = 0, shown = 0, liquidi = 0, solidi = 0;
    for (int i = 0; i < count; i++) {
        uint64_t s = seed_of(4000000u + (uint64_t)i);
        question q;
        const kit *k = *state;
        draw(k, &q, &s);
        const double lowest = 165.0;
        double liquidus, solidus;
        bool sound = true;
        int against = 0; /* samples in a row */
        if (df_mixture_freezing_range(k->ctx, &liquidus, &solidus, q.mixture, q.z, q.allowed, lowest) != DF_OK) {
            describe(&q, df_context_message(k->ctx));
            wrong++;
            df_mixture_free(q.mixture);
            continue;
        }
        liquidi += isfinite(liquidus);
        solidi += isfinite(solidus);
        for (int at = 0; at < 70 && sound; at++) {
            double ends[] = {liquidus + 3e-3, liquidus - 3e-3, solidus + 3e-3, solidus - 3e-3};
            q.temperature = at < 4 ? ends[at] : 330.0 - 2.5 * (at - 4);
            if (!(q.temperature >= lowest) || (at > 1 && at < 4 && q.temperature > liquidus))
                continue;
            df_assemblage a;
            if (!(sound = solve(k, &q, &a, false, &shown)))
                break;
            bool any = false, whole = a.liquids == 0;
            for (size_t c = 0; c < df_mixture_solids(q.mixture); c++)
                any = any || a.solid[c] > 0.0;
            bool more = (any && !(q.temperature <= liquidus)) || (whole && !(q.temperature <= solidus));
            against = more ? against + 1 : 0;
            sound = against < (at < 4 ? 1 : 5) && (at != 1 || any) && (at != 3 || whole);
            if (!sound && shown++ < SHOWN) {
                print_error("liquidus %.4f K, solidus %.4f K\n", liquidus, solidus);
                describe(&q, "freezing range");
            }
        }
        wrong += !sound;
        df_mixture_free(q.mixture);
    }
    print_message("%d liquidi, %d solidi\n", liquidi, solidi);
    judge(wrong, before);
    assert_true(liquidi > 0 && solidi > 0);
}

/* ---- awkward places ------------------------------------------------------------------------------------------- */

/* Little of a third component moves a binary's liquidus and invariant little. */
static void binary_limits(void **state) {
    long before = crowded;
    const kit *k = *state;
    static const char *const solvents[] = {"acetonitrile", "tert-butanol", "thf",      "acetic_acid",
                                           "1,4-dioxane",  "dmso",         "methanol", "ethanol"};
    static const char *const thirds[] = {"acetone", "ethanol", "dmf", "toluene", "glycerol"};
    int wrong = 0, shown = 0, invariants = 0;
    for (size_t i = 0; i < sizeof solvents / sizeof solvents[0]; i++)
        for (int w = 1; w < 10; w += 2) {
            question two = {.n = 2, .component = {kit_substance(k, solvents[i]), kit_substance(k, "water")}};
            create(k, &two);
            two.z[0] = kit_mole_fraction(k, solvents[i], 0.1 * w);
            two.z[1] = 1.0 - two.z[0];
            df_mixture_allow(two.allowed, two.mixture, DF_FREEZING_EQUILIBRIUM);
            double liquidus, solidus, other;
            if (df_mixture_freezing_range(k->ctx, &liquidus, &solidus, two.mixture, two.z, two.allowed, 145.0) !=
                DF_OK)
                fail_msg("%s", df_context_message(k->ctx));
            for (size_t t = 0; t < sizeof thirds / sizeof thirds[0]; t++) {
                question q = {.n = 3, .component = {two.component[0], kit_substance(k, thirds[t]), two.component[1]}};
                if (q.component[1] == q.component[0])
                    continue;
                create(k, &q);
                q.z[0] = two.z[0] * (1.0 - 1e-5);
                q.z[1] = 1e-5;
                q.z[2] = two.z[1] * (1.0 - 1e-5);
                df_mixture_allow(q.allowed, q.mixture, DF_FREEZING_EQUILIBRIUM);
                for (size_t c = 0; c < df_mixture_solids(q.mixture); c++) /* the third stays liquid */
                    if (df_mixture_solid(q.mixture, c)->formula[1] > 0.0)
                        q.allowed[c] = false;
                double none;
                if (df_mixture_freezing_range(k->ctx, &other, &none, q.mixture, q.z, q.allowed, 145.0) != DF_OK)
                    fail_msg("%s", df_context_message(k->ctx));
                bool sound = fabs(other - liquidus) <= 0.01 || (isnan(other) && isnan(liquidus));
                if (!isnan(solidus)) { /* the last liquid goes at the invariant, but for what the third holds */
                    invariants++;
                    df_assemblage a, b;
                    q.temperature = two.temperature = solidus + 0.05;
                    double had = 0.0, left = 0.0;
                    sound = sound && solve(k, &q, &a, false, &shown) && solve(k, &two, &b, false, &shown);
                    for (size_t c = 0; c < 3 && sound; c++)
                        had += liquid_total(&a, c) - (c < 2 ? liquid_total(&b, c) : 0.0);
                    q.temperature = solidus - 0.05;
                    sound = sound && fabs(had) < 0.02 && solve(k, &q, &a, false, &shown);
                    for (size_t c = 0; c < 3 && sound; c++)
                        left += liquid_total(&a, c);
                    sound = sound && left < 0.05; /* 1e-5 in that lowers its freezing point by about 0.02 K */
                    if (!sound && shown < SHOWN)
                        print_error("liquid above off by %.3g, below %.3g\n", had, left);
                }
                if (!sound && shown++ < SHOWN) {
                    print_error("liquidus %.4f K, of the binary %.4f K, its solidus %.4f K\n", other, liquidus,
                                solidus);
                    describe(&q, "limit");
                }
                wrong += !sound;
                df_mixture_free(q.mixture);
            }
            df_mixture_free(two.mixture);
        }
    print_message("%d invariants approached\n", invariants);
    judge(wrong, before);
    assert_true(invariants > 20);
}

/* At and beside invariants and liquidi, to 1e-12 K: found by bisection on what is there. */
static void near_invariants(void **state) {
    long before = crowded;
    int count = scaled(150), wrong = 0, shown = 0, met = 0;
    static const double steps[] = {0.0, 1e-12, 1e-10, 1e-9, 1e-8, 1e-7, 1e-6, 1e-5, 1e-4};
    for (int i = 0; i < count; i++) {
        uint64_t s = seed_of(5000000u + (uint64_t)i);
        question q;
        df_assemblage high, low, a;
        draw(*state, &q, &s);
        double up = 300.0, down = 165.0;
        bool sound = true;
        q.temperature = up;
        sound = sound && solve(*state, &q, &high, false, &shown);
        q.temperature = down;
        sound = sound && solve(*state, &q, &low, false, &shown);
        while (sound && up - down > 1e-11) { /* to some change of what is there */
            double middle = 0.5 * (up + down);
            if (middle >= up || middle <= down)
                break;
            q.temperature = middle;
            if (!(sound = solve(*state, &q, &a, false, &shown)))
                break;
            bool as_low = a.liquids == low.liquids;
            for (size_t k = 0; k < df_mixture_solids(q.mixture); k++)
                as_low = as_low && (a.solid[k] > 0.0) == (low.solid[k] > 0.0);
            if (as_low)
                down = middle;
            else
                up = middle;
        }
        met += up < 300.0;
        for (size_t k = 0; k < 2 * sizeof steps / sizeof steps[0] && sound; k++) {
            q.temperature = up + (k % 2 == 0 ? 1.0 : -1.0) * steps[k / 2];
            sound = solve(*state, &q, &a, false, &shown) && holds(&q, &a, 4, &s, &shown);
        }
        wrong += !sound;
        df_mixture_free(q.mixture);
    }
    print_message("%d changes approached\n", met);
    judge(wrong, before);
    assert_true(met > 20);
}

/* Compositions on the line of a hydrate, on the plane through two, and beside them by 1e-3 down to 1e-15. */
static void on_hydrate_lines(void **state) {
    long before = crowded;
    const kit *k = *state;
    static const char *const sets[][4] = {
        {"thf", "water"},
        {"tert-butanol", "water"},
        {"methanol", "water"},
        {"dmso", "water"},
        {"water", "thf", "tert-butanol"},
        {"dmso", "water", "methanol"},
        {"thf", "water", "acetone"},
        {"tert-butanol", "dmso", "water", "ethanol"},
    };
    int wrong = 0, shown = 0, tried = 0;
    for (size_t set = 0; set < sizeof sets / sizeof sets[0]; set++) {
        question q = {0};
        while (q.n < 4 && sets[set][q.n] != NULL) {
            q.component[q.n] = kit_substance(k, sets[set][q.n]);
            q.n++;
        }
        create(k, &q);
        size_t solids = df_mixture_solids(q.mixture);
        for (size_t one = 0; one < solids; one++)
            for (size_t two = one; two < solids; two++) {
                const df_solid *a_solid = df_mixture_solid(q.mixture, one);
                const df_solid *b_solid = df_mixture_solid(q.mixture, two);
                if (a_solid->component >= 0 && b_solid->component >= 0)
                    continue;
                for (int off = 0; off < 6; off++) {
                    uint64_t s = seed_of(6000000u + 1000u * set + 100u * one + 10u * two + (uint64_t)off);
                    static const double offs[] = {0.0, 1e-3, 1e-6, 1e-9, 1e-12, 1e-15};
                    double share = uniform(&s);
                    for (size_t i = 0; i < q.n; i++)
                        q.z[i] = share * a_solid->formula[i] + (1.0 - share) * b_solid->formula[i] +
                                 offs[off] * uniform(&s);
                    bool whole = true;
                    for (size_t i = 0; i < q.n; i++)
                        whole = whole && q.z[i] > 1e-11; /* `holds` wants every component there */
                    for (int mode = 0; mode < 2; mode++) {
                        df_mixture_allow(q.allowed, q.mixture,
                                         mode == 0 ? DF_FREEZING_PRACTICE : DF_FREEZING_EQUILIBRIUM);
                        for (double t = 150.0; t < 300.0; t += 12.5) {
                            df_assemblage a;
                            q.temperature = t;
                            tried++;
                            if (!solve(k, &q, &a, false, &shown) || (whole && !holds(&q, &a, 4, &s, &shown)))
                                wrong++;
                        }
                    }
                }
            }
        df_mixture_free(q.mixture);
    }
    print_message("%d tried\n", tried);
    judge(wrong, before);
}

/* Around the top of the gap of acetonitrile and water, alone and with some of a third component. */
static void near_critical_points(void **state) {
    long before = crowded;
    const kit *k = *state;
    int wrong = 0, shown = 0, two = 0, one = 0;
    for (int third = 0; third < 3; third++) {
        question q = {.n = third == 0 ? 2 : 3,
                      .component = {kit_substance(k, "acetonitrile"), kit_substance(k, "water"),
                                    kit_substance(k, third == 1 ? "methanol" : "benzene")}};
        create(k, &q);
        q.z[2] = third == 0 ? 0.0 : third == 1 ? 0.01 : 0.003;
        double low = 250.0, high = 330.0; /* the highest temperature at which any composition parts */
        while (high - low > 1e-9) {
            bool parts = false;
            q.temperature = 0.5 * (low + high);
            for (double x = 0.20; x < 0.60 && !parts; x += 0.002) {
                df_assemblage a;
                q.z[0] = x;
                q.z[1] = 1.0 - x - q.z[2];
                if (!solve(k, &q, &a, false, &shown)) {
                    wrong++;
                    continue;
                }
                parts = a.liquids > 1;
            }
            *(parts ? &low : &high) = q.temperature;
        }
        for (int step = -14; step <= 14; step++) {
            double t = step == 0 ? low : low + (step < 0 ? -1.0 : 1.0) * pow(10.0, 0.5 * (abs(step) - 16));
            for (double x = 0.25; x < 0.55; x += 0.0037) {
                uint64_t s = seed_of(7000000u + (uint64_t)(1e6 * x));
                df_assemblage a;
                q.temperature = t;
                q.z[0] = x;
                q.z[1] = 1.0 - x - q.z[2];
                if (!solve(k, &q, &a, false, &shown) || !holds(&q, &a, 4, &s, &shown))
                    wrong++;
                else
                    *(a.liquids == 2 ? &two : &one) += 1;
            }
        }
        df_mixture_free(q.mixture);
    }
    print_message("%d with one liquid, %d with two\n", one, two);
    judge(wrong, before);
    assert_true(one > 0 && two > 0);
}

/* Where three liquids meet: across the triangle and along cooling. */
static void three_liquids(void **state) {
    long before = crowded;
    const kit *k = *state;
    static const char *const sets[][3] = {{"water", "cyclohexane", "acetonitrile"},
                                          {"cyclohexane", "glycerol", "acetonitrile"},
                                          {"water", "ethyl_acetate", "cyclohexane"},
                                          {"water", "cyclohexane", "dmf"}};
    int wrong = 0, shown = 0, three = 0;
    for (size_t set = 0; set < sizeof sets / sizeof sets[0]; set++) {
        question q = {.n = 3};
        for (size_t i = 0; i < 3; i++)
            q.component[i] = kit_substance(k, sets[set][i]);
        create(k, &q);
        for (int t = 0; t < 12; t++)
            for (int i = 1; i < 16; i++)
                for (int j = 1; i + j < 16; j++) {
                    uint64_t s = seed_of(8000000u + 1000u * (uint64_t)t + 20u * (uint64_t)i + (uint64_t)j);
                    df_assemblage a;
                    q.temperature = 175.0 + 13.0 * t;
                    q.z[0] = i / 16.0;
                    q.z[1] = j / 16.0;
                    q.z[2] = 1.0 - q.z[0] - q.z[1];
                    if (!solve(k, &q, &a, false, &shown) || !holds(&q, &a, 6, &s, &shown))
                        wrong++;
                    else
                        three += a.liquids == 3;
                }
        df_mixture_free(q.mixture);
    }
    print_message("%d with three liquids\n", three);
    judge(wrong, before);
    assert_true(three > 50);
}

/* One component, components of amount nought, and what has to be refused. */
static void edges(void **state) {
    const kit *k = *state;
    question q = {.n = 3,
                  .component = {kit_substance(k, "ethanol"), kit_substance(k, "water"), kit_substance(k, "thf")}};
    df_assemblage a;
    create(k, &q);
    df_mixture_allow(q.allowed, q.mixture, DF_FREEZING_EQUILIBRIUM);
    q.z[1] = 3.0;
    assert_int_equal(df_mixture_equilibrium(k->ctx, &a, q.mixture, 273.2, q.z, q.allowed, false), DF_OK);
    assert_true(a.liquids == 1 && a.liquid[0][1] == 1.0 && a.liquid[0][0] == 0.0 && isinf(a.activity_ln[0]));
    near(a.activity_ln[1], 0.0, 1e-12, "activity of pure water");
    assert_int_equal(df_mixture_equilibrium(k->ctx, &a, q.mixture, 270.0, q.z, q.allowed, false), DF_OK);
    assert_true(a.liquids == 0 && a.solid[1] == 1.0);
    near(a.activity_ln[1], df_solid_constant_ln(q.mixture, 1, 270.0), 1e-12, "activity of ice");
    /* the guess of a mixture with more in it does no harm, nor does one that is nonsense */
    q.z[0] = 1.0;
    assert_int_equal(df_mixture_equilibrium(k->ctx, &a, q.mixture, 250.0, q.z, q.allowed, false), DF_OK);
    df_assemblage warm = a, odd = {.liquids = 3};
    q.z[0] = 0.0;
    assert_int_equal(df_mixture_equilibrium(k->ctx, &warm, q.mixture, 270.0, q.z, q.allowed, true), DF_OK);
    assert_true(warm.liquids == 0 && warm.solid[1] > 0.0);
    near(warm.solid[1], 1.0, 1e-12, "ice");
    q.z[0] = 1.0;
    assert_int_equal(df_mixture_equilibrium(k->ctx, &odd, q.mixture, 250.0, q.z, q.allowed, true), DF_OK);
    near(difference(&q, &a, &odd, true), 0.0, 1e-7, "from a guess of nothing");

    static const double bad[] = {-1.0, NAN, INFINITY};
    for (size_t i = 0; i < 3; i++) {
        q.z[0] = bad[i];
        assert_int_equal(df_mixture_equilibrium(k->ctx, &a, q.mixture, 250.0, q.z, q.allowed, false), DF_E_INPUT);
    }
    q.z[0] = q.z[1] = 0.0;
    assert_int_equal(df_mixture_equilibrium(k->ctx, &a, q.mixture, 250.0, q.z, q.allowed, false), DF_E_INPUT);
    q.z[0] = 1.0;
    assert_int_equal(df_mixture_equilibrium(k->ctx, &a, q.mixture, NAN, q.z, q.allowed, false), DF_E_INPUT);
    /* a pair without a number is refused in words, not answered with one */
    df_nrtl_pair pair = *df_mixture_pair(q.mixture, 0, 1);
    pair.a[0] = NAN;
    df_mixture_set_pair(q.mixture, 0, 1, &pair);
    q.z[1] = 1.0;
    assert_int_equal(df_mixture_equilibrium(k->ctx, &a, q.mixture, 250.0, q.z, q.allowed, false), DF_E_CONVERGENCE);
    assert_non_null(strstr(df_context_message(k->ctx), "ethanol"));
    df_mixture_free(q.mixture);
}

/* ---- speed: told, not judged ---------------------------------------------------------------------------------- */

static double seconds(void) {
    struct timespec t;
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static void speed(void **state) {
    const kit *k = *state;
    question q = {.n = 4,
                  .component = {kit_substance(k, "acetonitrile"), kit_substance(k, "methanol"),
                                kit_substance(k, "tert-butanol"), kit_substance(k, "water")},
                  .z = {0.15, 0.05, 0.05, 0.75}};
    create(k, &q);
    df_mixture_allow(q.allowed, q.mixture, DF_FREEZING_EQUILIBRIUM);
    df_assemblage a;
    int shown = 0, rounds = scaled(3);
    double start = seconds(), cold, path;
    for (int round = 0; round < rounds; round++)
        for (int step = 0; step < 200; step++) {
            q.temperature = 300.0 - 0.7 * step;
            assert_true(solve(k, &q, &a, false, &shown));
        }
    cold = (seconds() - start) / (200.0 * rounds);
    start = seconds();
    for (int round = 0; round < rounds; round++)
        for (int step = 0; step < 200; step++) {
            q.temperature = 300.0 - 0.7 * step;
            assert_true(solve(k, &q, &a, step > 0, &shown));
        }
    path = (seconds() - start) / rounds;
    print_message("4 components, %zu solids: %.1f us for one equilibrium from nothing, %.2f ms for a path of 200\n",
                  df_mixture_solids(q.mixture), 1e6 * cold, 1e3 * path);
    df_mixture_free(q.mixture);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(random_mixtures),
        cmocka_unit_test(random_search),
        cmocka_unit_test(order_and_scale),
        cmocka_unit_test(cooling_paths),
        cmocka_unit_test(freezing_range),
        cmocka_unit_test(binary_limits),
        cmocka_unit_test(near_invariants),
        cmocka_unit_test(on_hydrate_lines),
        cmocka_unit_test(near_critical_points),
        cmocka_unit_test(three_liquids),
        cmocka_unit_test(edges),
        cmocka_unit_test(speed),
    };
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
