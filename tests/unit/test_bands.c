/* Bands of slow results: joint moves, boiling down, azeotropes. */
#include "chance.h"
#include "kit.h"

#include "advice/stand.h"
#include "mixture/mixture.h"

static double normal(uint64_t *seed) { /* Box and Muller, Ann. Math. Stat. 29 (1958) 610 */
    double r = sqrt(-2.0 * log(uniform(seed)));
    return r * cos(6.283185307179586 * uniform(seed));
}

/* A V = V D and V orthogonal, for symmetric matrices by chance. */
static void eigenvalues(void **state) {
    uint64_t seed = seed_of(3);
    (void)state;
    for (size_t n = 1; n <= 12; n++) {
        double a[144], kept[144], v[144];
        for (size_t i = 0; i < n; i++)
            for (size_t j = 0; j <= i; j++)
                a[i * n + j] = a[j * n + i] = normal(&seed);
        memcpy(kept, a, sizeof a);
        df_eigen_symmetric(a, v, n);
        for (size_t i = 0; i < n; i++)
            for (size_t j = 0; j < n; j++) {
                double left = 0.0, product = 0.0;
                for (size_t k = 0; k < n; k++) {
                    left += kept[i * n + k] * v[k * n + j];
                    product += v[k * n + i] * v[k * n + j];
                }
                near(left, v[i * n + j] * a[j * n + j], 1e-12, "A V = V D of %zu", n);
                near(product, i == j ? 1.0 : 0.0, 1e-12, "V orthogonal of %zu", n);
            }
    }
}

typedef struct stretch {
    double low, high, stop; /* holds within; nowhere below stop */
    int asked;
} stretch;

static df_status within(df_context *ctx, int *holds, double x, void *data) {
    stretch *s = data;
    s->asked++;
    *holds = x < s->stop ? -1 : x >= s->low && x <= s->high;
    return x < -50.0 ? df_fail(ctx, DF_E_INPUT, "too far down") : DF_OK;
}

/* The highest x with a condition: found from above, clamped to the lower end, given up where told, errors passed on. */
static void highest_with(void **state) {
    const kit *k = *state;
    double x;
    for (double top = 3.0; top < 40.0; top += 7.3) {
        stretch s = {-INFINITY, top, -INFINITY, 0};
        assert_int_equal(df_highest_with(k->ctx, &x, -10.0, 41.0, 8.0, within, &s), DF_OK);
        near(x, top, 1e-3, "top of %g", top);
        assert_true(x <= top && s.asked < 25);
    }
    stretch last = {-10.0, -9.0, -INFINITY, 0}; /* the step to the very end finds it */
    assert_int_equal(df_highest_with(k->ctx, &x, -10.0, 41.0, 8.0, within, &last), DF_OK);
    near(x, -9.0, 1e-3, "at the end");
    stretch nowhere = {50.0, 60.0, -INFINITY, 0}, given_up = {-9.0, 0.0, 20.0, 0},
            fails = {-200.0, -100.0, -INFINITY, 0};
    assert_int_equal(df_highest_with(k->ctx, &x, -10.0, 41.0, 8.0, within, &nowhere), DF_OK);
    assert_true(isnan(x));
    assert_int_equal(df_highest_with(k->ctx, &x, -10.0, 41.0, 8.0, within, &given_up), DF_OK);
    assert_true(isnan(x) && given_up.asked == 3);
    assert_int_equal(df_highest_with(k->ctx, &x, -300.0, 41.0, 8.0, within, &fails), DF_E_INPUT);
}

/* ln of both pressures at two temperatures, of which the first is scaled up: what the moves are made from. */
static df_status pressures(df_context *ctx, double *values, size_t n, const df_mixture *m, void *data) {
    static const bool none[DF_MAX_SOLIDS] = {false};
    const double *z = data, at[2] = {290.0, 320.0};
    for (size_t k = 0; k < 2; k++) {
        df_assemblage a;
        double p[DF_MAX_COMPONENTS];
        df_status status = df_mixture_equilibrium(ctx, &a, m, at[k], z, none, false);
        if (status < 0)
            return status;
        df_mixture_vapour(p, NULL, NULL, m, at[k], a.activity_ln);
        for (size_t i = 0; i < n / 2; i++)
            values[k * n / 2 + i] = log(p[i]);
    }
    return DF_OK;
}

/* Along the moves the numbers that they were made from spread as in every direction. */
static void moves_carry(void **state) {
    const kit *k = *state;
    static const char *const solvents[] = {"ethanol", "acetonitrile", "dmso"};
    for (size_t s = 0; s < 3; s++) {
        df_mixture *m = kit_binary(k, solvents[s]);
        double z[2] = {0.1, 0.9}, value[4], all[4], few[4];
        df_moves moves;
        assert_int_equal(df_mixture_spread(k->ctx, value, all, 4, m, pressures, z, true), DF_OK);
        assert_int_equal(df_moves_make(k->ctx, &moves, m, pressures, 4, z, NULL, DF_MOST_MOVES), DF_OK);
        assert_true(moves.count >= 1 && moves.count <= DF_MOST_MOVES && moves.carried > 0.98);
        assert_int_equal(df_moves_spread(k->ctx, few, NULL, value, 4, &moves, pressures, z), DF_OK);
        double largest = fmax(fmax(all[0], all[1]), fmax(all[2], all[3]));
        for (int i = 0; i < 4; i++) /* what hardly spreads beside the others may be lost */
            if (all[i] > 0.1 * largest)
                near(few[i] / all[i], 1.0, 0.12, "%s, number %d: %g by moves, %g in all directions", solvents[s], i,
                     few[i], all[i]);
        df_moves_free(&moves);
        df_mixture_free(m);
    }
}

/* A pair that is known exactly: a boiling point's band is that of the pure pressures over d ln p/dT. */
static void boiling_point_by_hand(void **state) {
    const kit *k = *state;
    static const df_pair_covariance none = {.n = 0};
    df_mixture *m = kit_binary(k, "ethanol");
    df_nrtl_pair pair = *df_mixture_pair(m, 0, 1);
    pair.covariance = &none;
    df_mixture_set_pair(m, 0, 1, &pair);
    df_strip_task t = {.amount = {3.0, 7.0}, .hold = DF_STRIP_AT_PRESSURE, .pressure = 2e4, .temperature = NAN};
    t.aim = DF_STRIP_TO_FRACTION;
    t.target = 0.1;
    t.measure[0] = t.measure[1] = 1.0;
    df_strip s;
    df_strip_bands band;
    assert_true(df_strip_run(k->ctx, &s, m, &t) >= 0);
    assert_true(df_strip_spread(k->ctx, &band, &s, m, &t, t.measure) >= 0);
    for (int end = 0; end < 2; end++) {
        const df_strip_point *p = &s.point[end == 0 ? 0 : s.points - 1];
        double square = 0.0, y[2], warmer, cooler;
        for (size_t i = 0; i < 2; i++)
            square +=
                pow(p->vapour[i] * df_pressure_sigma_ln(df_mixture_component(m, i), p->temperature, false), 2.0);
        assert_int_equal(df_mixture_bubble_point(k->ctx, &warmer, y, m, 1.01 * t.pressure, p->left), DF_OK);
        assert_int_equal(df_mixture_bubble_point(k->ctx, &cooler, y, m, t.pressure / 1.01, p->left), DF_OK);
        double expected = sqrt(square) * (warmer - cooler) / (2.0 * log(1.01));
        /* at the end what is left is the same, since the target is */
        near(band.temperature[end] / expected, 1.0, 0.03, "end %d: %g K", end, band.temperature[end]);
    }
    near(band.left[0], 0.0, 1e-8, "the target is met whatever the pressures are");
    assert_true(band.mass_left > 1e-5 && band.mass_left < 0.05);
    df_strip_free(&s);
    df_mixture_free(m);
}

/* Draws of all parameters of a binary and of its two pressures at once. */
static void draw(df_mixture *m, const kit *k, const char *solvent, uint64_t *seed) {
    df_mixture *fresh = kit_binary(k, solvent);
    const df_pair_covariance *c = df_mixture_pair(fresh, 0, 1)->covariance;
    double delta[DF_PAIR_PARAMETERS] = {0};
    *m = *fresh;
    df_mixture_free(fresh);
    assert_non_null(c);
    for (size_t column = 0; column < c->n; column++) {
        double size = normal(seed);
        for (size_t row = 0; row < c->n; row++)
            delta[c->parameter[row]] += size * c->column[column][row];
    }
    df_mixture_move_pair(m, 0, 1, delta);
    for (size_t i = 0; i < 2; i++)
        m->pressure_shift[i] = normal(seed);
}

/* The end of a boiling down and an azeotrope by moves and by random draws. */
static void random_draws(void **state) {
    const kit *k = *state;
    static const struct {
        const char *solvent;
        double x, target, pressure;
    } cases[] = {{"acetone", 0.3, 0.02, 2e4}, {"ethanol", 0.3, 0.05, 1e4}, {"methanol", 0.4, 0.05, 2e4}};
    enum { DRAWS = 150 };
    for (size_t c = 0; c < 3; c++) {
        df_mixture *m = kit_binary(k, cases[c].solvent);
        df_strip_task t = {.amount = {cases[c].x, 1.0 - cases[c].x}, .hold = DF_STRIP_AT_PRESSURE};
        t.pressure = cases[c].pressure;
        t.temperature = NAN;
        t.aim = DF_STRIP_TO_FRACTION;
        t.target = cases[c].target;
        t.measure[0] = t.measure[1] = 1.0;
        df_strip s;
        df_strip_bands band;
        df_azeotrope a[DF_MAX_AZEOTROPES];
        size_t count;
        double sum[3] = {0}, square[3] = {0}, sigma[3], pressure_sigma;
        uint64_t seed = seed_of(c);
        assert_true(df_strip_run(k->ctx, &s, m, &t) >= 0);
        assert_true(df_strip_spread(k->ctx, &band, &s, m, &t, t.measure) >= 0);
        sigma[0] = band.temperature[0];
        sigma[1] = band.mass_left;
        assert_int_equal(df_azeotropes_find(k->ctx, a, &count, m, 0, 1, 101325.0, NAN), DF_OK);
        if (count > 0)
            assert_int_equal(
                df_azeotrope_spread(k->ctx, &sigma[2], &(double){0}, &pressure_sigma, m, 0, 1, &a[0], true), DF_OK);
        size_t numbers = count > 0 ? 3 : 2;
        double centre[3] = {s.point[0].temperature, s.point[s.points - 1].mass_left / s.point[0].mass_left, a[0].x};
        for (int i = 0; i < DRAWS; i++) {
            df_strip other;
            draw(m, k, cases[c].solvent, &seed);
            assert_true(df_strip_run(k->ctx, &other, m, &t) >= 0);
            double now[3] = {other.point[0].temperature,
                             other.point[other.points - 1].mass_left / other.point[0].mass_left, NAN};
            df_strip_free(&other);
            if (numbers == 3) {
                assert_int_equal(df_azeotropes_find(k->ctx, a, &count, m, 0, 1, 101325.0, NAN), DF_OK);
                assert_int_equal(count, 1);
                now[2] = a[0].x;
            }
            for (size_t j = 0; j < numbers; j++) {
                sum[j] += now[j] - centre[j];
                square[j] += pow(now[j] - centre[j], 2.0);
            }
        }
        for (size_t j = 0; j < numbers; j++) {
            double mean = sum[j] / DRAWS, spread = sqrt(square[j] / DRAWS - mean * mean);
            print_message("%s %zu: %.4g by moves, %.4g by draws\n", cases[c].solvent, j, sigma[j], spread);
            /* 150 draws tell a deviation to 6 %; the rest is what first order and the moves leave out */
            near(sigma[j] / spread, 1.0, 0.25, "%s, number %zu", cases[c].solvent, j);
        }
        df_strip_free(&s);
        df_mixture_free(m);
    }
}

static int rising(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Half of what lies between the 16th and the 84th part of a hundred: one standard deviation that a few wild draws do not
 * carry off. */
static double half_width(double *value, size_t n) {
    qsort(value, n, sizeof *value, rising);
    return 0.5 * (value[(size_t)(0.84 * (double)n)] - value[(size_t)(0.16 * (double)n)]);
}

static void move_by_chance(df_mixture *moved, const df_mixture *m, const kit *k, uint64_t *seed, double part) {
    double size[512];
    size_t n = df_mixture_directions(m);
    assert_true(n > 0 && n <= 512);
    for (size_t i = 0; i < n; i++)
        size[i] = part * normal(seed);
    *moved = *m;
    assert_int_equal(df_mixture_move_all(k->ctx, moved, size), DF_OK);
}

/* Margin and time of a job's run: by joint moves and by draws of everything at once, of a quarter of their spread, where the answer
 * is straight: tert-butanol is held by one cold point. *run_time: s. */
static void compare_bands(const kit *k, const char *composition, bool rigid, double ratio[2], double *apart,
                          double *run_time) {
    char text[400];
    snprintf(text, sizeof text,
             "job: a\npurpose: screening\ndryer: bench-55\nsample: {composition: \"%s\"}\n"
             "containers: [{type: vial_20R, count: 240, fill: 6 mL, place: shelf}]\nfreezing: {means: dry_ice_bath}\n"
             "recipe: [{time: 0 h, shelf_temperature: -30 °C}]\n",
             composition);
    enum { DRAWS = 60 };
    const double part = 0.25;
    df_job *job = calloc(1, sizeof *job);
    df_dryer *dryer = calloc(1, sizeof *dryer);
    df_stand *s = calloc(1, sizeof *s);
    df_frozen_path *path = calloc(1, sizeof *path);
    df_setup *setup = calloc(1, sizeof *setup);
    df_mixture *m = NULL, *moved = calloc(1, sizeof *moved);
    double z[DF_MAX_COMPONENTS], margin[DRAWS], time[DRAWS];
    uint64_t seed = seed_of(11);
    assert_int_equal(df_job_parse(k->ctx, job, k->substances, NULL, text, strlen(text), "job.yaml"), DF_OK);
    assert_int_equal(df_dryer_builtin(k->ctx, dryer, job->dryer), DF_OK);
    assert_int_equal(df_stand_judge(k->ctx, s, job, dryer, k->pairs, false), DF_OK);
    assert_int_equal(df_frozen_mixture(k->ctx, &m, z, k->pairs, &job->composition, NULL, 0), DF_OK);
    size_t draws = 0;
    for (size_t i = 0; i < DRAWS; i++) {
        df_run run;
        move_by_chance(moved, m, k, &seed, part);
        if (df_frozen_path_follow(k->ctx, path, moved, z, &job->composition, job->mode) != DF_OK)
            continue; /* a wild draw of a pair that is held by one cold point */
        *setup = s->setup;
        setup->classes[0].path = path;
        setup->terse = true;
        setup->tolerance = 1e-4;
        if (df_run_simulate(k->ctx, &run, setup) != DF_OK) {
            print_message("%s\n", df_context_message(k->ctx));
            continue;
        }
        margin[draws] = run.classes[0].least_margin;
        time[draws++] = run.time;
        df_run_free(&run);
    }
    assert_true(draws > DRAWS - 3);
    double drawn[2] = {half_width(margin, draws) / part, half_width(time, draws) / part};
    print_message("margin ± %.3f K (draws %.3f), time ± %.3f h (draws %.3f)\n", s->margin_sigma, drawn[0],
                  s->time_sigma / 3600.0, drawn[1] / 3600.0);
    ratio[0] = s->margin_sigma / drawn[0];
    ratio[1] = s->time_sigma / drawn[1];
    *apart = fabs(s->time_sigma - drawn[1]);
    *run_time = s->run.time;
    if (rigid)
        assert_true(s->best == DF_RIGID && s->worst == DF_RIGID && s->standing == DF_RIGID);
    df_stand_free(s);
    df_mixture_free(m);
    free(moved);
    free(job);
    free(dryer);
    free(s);
    free(path);
    free(setup);
}

static void stand_bands(void **state) {
    const kit *k = *state;
    double ratio[2], apart, time;
    compare_bands(k, "tert-butanol 20 %v/v, water", true, ratio, &apart, &time);
    near(ratio[0], 1.0, 0.3, "margin");
    /* what the moves follow, solidus, pressures and liquid, leaves its time alone to a thousandth: that is below what they resolve */
    near(apart / time, 0.0, 2e-3, "time of ice that is alone at the end");
    compare_bands(k, "1,4-dioxane 60 %v/v, water", false, ratio, &apart, &time);
    near(ratio[0], 1.0, 0.3, "margin");
    near(ratio[1], 1.0, 0.4, "time of a framework of solvent");
}

/* A ceiling's band by joint moves and by draws. */
static void ceiling_bands(void **state) {
    const kit *k = *state;
    enum { DRAWS = 30 };
    const df_substance *solvent = kit_substance(k, "dmso"), *both[2] = {solvent, kit_substance(k, "water")};
    df_dryer *dryer = calloc(1, sizeof *dryer);
    df_job *job = calloc(1, sizeof *job);
    df_frozen_path *path = calloc(1, sizeof *path);
    df_setup *setup = calloc(1, sizeof *setup);
    df_mixture *m = kit_binary(k, "dmso"), *moved = calloc(1, sizeof *moved);
    df_ceiling c[2];
    const df_substance *asked[2] = {solvent, kit_substance(k, "tert-butanol")};
    double found[DRAWS];
    uint64_t seed = seed_of(12);
    df_deposit *deposit = calloc(1, sizeof *deposit);
    df_composition half;
    df_composition_set(&half, both, (const double[]){0.5, 0.5}, 2, DF_BASIS_VOLUME);
    assert_int_equal(df_deposit_make(k->ctx, deposit, k->pairs, &half), DF_OK);
    assert_int_equal(df_dryer_builtin(k->ctx, dryer, "bench-55"), DF_OK);
    assert_int_equal(df_ceilings_find(k->ctx, c, dryer, k->pairs, both[1], asked, 2), DF_OK);
    assert_true(isnan(c[0].rigid) && isnan(c[0].rigid_sigma)); /* never */
    assert_true(c[1].rigid == 1.0 && isnan(c[1].rigid_sigma)); /* nothing binds */
    for (size_t i = 0; i < DRAWS; i++) {
        double low = 0.02, high = 0.6;
        move_by_chance(moved, m, k, &seed, 1.0);
        while (high - low > 0.003) {
            double middle = 0.5 * (low + high);
            df_composition at;
            df_verdict v;
            df_composition_set(&at, both, (const double[]){middle, 1.0 - middle}, 2, DF_BASIS_VOLUME);
            df_job_reference(job, dryer, &at);
            assert_int_equal(df_frozen_path_follow(k->ctx, path, moved, at.x, &at, job->mode), DF_OK);
            assert_int_equal(df_verdict_quick(k->ctx, &v, NULL, job, dryer, NULL, path, deposit, setup, false, false),
                             DF_OK);
            *(v.standing <= DF_WETTED ? &low : &high) = middle;
        }
        found[i] = low;
    }
    double drawn = half_width(found, DRAWS);
    print_message("wetted ceiling %.3f ± %.3f (draws %.3f)\n", c[0].wetted, c[0].wetted_sigma, drawn);
    near(c[0].wetted_sigma / drawn, 1.0, 0.45, "ceiling"); /* 30 draws tell it to 20 %, steps of 0.003 to 25 % */
    df_mixture_free(m);
    free(deposit);
    free(moved);
    free(dryer);
    free(job);
    free(path);
    free(setup);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(eigenvalues),           cmocka_unit_test(highest_with), cmocka_unit_test(moves_carry),
        cmocka_unit_test(boiling_point_by_hand), cmocka_unit_test(random_draws), cmocka_unit_test(stand_bands),
        cmocka_unit_test(ceiling_bands),
    };
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
