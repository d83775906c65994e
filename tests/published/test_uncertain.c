/* What is not sure of a job: the sequence, the estimates, indices and runs against what is known exactly. */
#include "kit.h"

#include "advice/sobol.h"
#include "mixture/mixture.h"

#ifdef _OPENMP
#include <omp.h>
#endif

/* ---- sequence ------------------------------------------------------------------------------------------------- */

/* Against SciPy's implementation of the same numbers (scipy.stats.qmc.Sobol, 1.10, no scrambling), which goes through them in the
 * order of the Gray code. */
static void points_are_those_of_another_program(void **state) {
    static const size_t dimension[] = {0, 1, 2, 9, 31, 63};
    static const struct {
        uint32_t index, digits[6];
    } known[] = {
        {5, {3758096384u, 3758096384u, 536870912u, 536870912u, 2684354560u, 2684354560u}},
        {100, {1778384896u, 1107296256u, 3321888768u, 2986344448u, 1778384896u, 2785017856u}},
        {123456, {113803264u, 784891904u, 1319665664u, 1069711360u, 325156864u, 4089413632u}},
    };
    df_sobol s;
    double u[DF_SOBOL_DIMENSIONS];
    (void)state;
    df_sobol_make(&s, DF_SOBOL_DIMENSIONS, 0, false);
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        df_sobol_point(u, &s, known[i].index ^ (known[i].index >> 1));
        for (size_t k = 0; k < 6; k++)
            assert_true(u[dimension[k]] * 0x1p32 - 0.5 == (double)known[i].digits[k]);
    }
}

/* Scrambled or not, 2^m points put one into each of 2^m equal intervals of every dimension, and of the first two dimensions one
 * into each box of 2^-k by 2^-(m-k) (a (0, m, 2) net; Sobol 1967, Owen 1995). */
static void scrambled_points_are_a_net(void **state) {
    enum { M = 8, N = 1 << M };
    (void)state;
    for (uint64_t seed = 0; seed < 6; seed++) {
        df_sobol s;
        static double u[N][DF_SOBOL_DIMENSIONS];
        df_sobol_make(&s, DF_SOBOL_DIMENSIONS, seed, seed > 0);
        for (uint32_t i = 0; i < N; i++)
            df_sobol_point(u[i], &s, i);
        for (size_t d = 0; d < DF_SOBOL_DIMENSIONS; d++) {
            bool there[N] = {false};
            for (size_t i = 0; i < N; i++) {
                size_t box = (size_t)(u[i][d] * N);
                assert_false(there[box]);
                there[box] = true;
            }
        }
        for (int k = 0; k <= M; k++) {
            bool there[N] = {false};
            for (size_t i = 0; i < N; i++) {
                size_t x = (size_t)(u[i][0] * (1 << k)), y = (size_t)(u[i][1] * (1 << (M - k)));
                assert_false(there[(x << (M - k)) + y]);
                there[(x << (M - k)) + y] = true;
            }
        }
    }
}

static void seeds_differ_and_repeat(void **state) {
    df_sobol a, b, c;
    double x[8], y[8], z[8];
    (void)state;
    df_sobol_make(&a, 8, 5, true);
    df_sobol_make(&b, 8, 5, true);
    df_sobol_make(&c, 8, 6, true);
    for (uint32_t i = 0; i < 4096; i++) {
        df_sobol_point(x, &a, i);
        df_sobol_point(y, &b, i);
        df_sobol_point(z, &c, i);
        assert_memory_equal(x, y, sizeof x);
        for (size_t k = 0; k < 8; k++)
            assert_true(x[k] != z[k]);
    }
}

/* Quantiles of the standard normal distribution: Abramowitz & Stegun, table 26.5 (10 digits there, from memory) and the round trip. */
static void normal_quantiles(void **state) {
    (void)state;
    assert_near(df_normal_quantile(0.975), 1.9599639845, 1e-10);
    assert_near(df_normal_quantile(0.01), -2.3263478740, 1e-10);
    for (double z = -6.2; z < 6.3; z += 0.31) {
        double u = 0.5 * erfc(-z * M_SQRT1_2); /* above 0 rounded by 1e-16, over a density of 0.4 exp(-z2/2) */
        assert_true(fabs(df_normal_quantile(u) - z) < (z > 0.0 ? 4e-16 / exp(-0.5 * z * z) : 0.0) + 1e-12);
    }
}

/* ---- estimates ------------------------------------------------------------------------------------------------ */

#define R DF_RISK_REPLICATES

/* Share of seeds in which the truth lies within the error's 95 % band, Student's t with 15 degrees of freedom (2.131). */
static void standard_errors_cover(void **state) {
    enum { EACH = 64, SEEDS = 300 };
    static double value[R * EACH], part[R * EACH], room[R * EACH];
    int mean_in = 0, chance_in = 0, high_in = 0;
    const double true_mean = exp(0.5 * 0.25), true_chance = 0.1, true_high = exp(0.5 * 1.6448536270);
    (void)state;
    for (uint64_t seed = 0; seed < SEEDS; seed++) {
        for (size_t r = 0; r < R; r++) {
            df_sobol s;
            df_sobol_make(&s, 4, df_mix_bits(seed) + r, true);
            for (uint32_t i = 0; i < EACH; i++) {
                double u[DF_SOBOL_DIMENSIONS], z = 0.0;
                df_sobol_point(u, &s, i);
                for (size_t k = 0; k < 4; k++)
                    z += 0.5 * df_normal_quantile(u[k]);
                value[r * EACH + i] = exp(0.5 * z); /* lognormal, sigma 0.5 */
                part[r * EACH + i] = z > 1.2815515655 ? 1.0 : 0.0;
            }
        }
        df_estimate mean = df_estimate_mean(value, R, EACH), chance = df_estimate_mean(part, R, EACH),
                    high = df_estimate_quantile(value, R, EACH, 0.95, room);
        mean_in += fabs(mean.value - true_mean) < 2.131 * mean.error;
        chance_in += fabs(chance.value - true_chance) < 2.131 * chance.error;
        high_in += fabs(high.value - true_high) < 2.131 * high.error;
    }
    print_message("within the 95 %% band: mean %.1f %%, chance %.1f %%, 95th per cent %.1f %%\n",
                  100.0 * mean_in / SEEDS, 100.0 * chance_in / SEEDS, 100.0 * high_in / SEEDS);
    /* 95 % of 300 is 285 with a standard deviation of 3.8 */
    assert_in_range(mean_in, 272, 298);
    assert_in_range(chance_in, 272, 298);
    assert_in_range(high_in, 266, 300); /* blocks of 64 bend the quantile a little */
}

/* Ishigami's function, indices in closed form (Ishigami & Homma, ISUMA'90; Saltelli et al., Global Sensitivity Analysis: The Primer,
 * Wiley 2008): f = sin x1 + 7 sin2 x2 + 0.1 x3^4 sin x1, each even within +-pi. */
static double ishigami(const double *u) {
    double x1 = M_PI * (2.0 * u[0] - 1.0), x2 = M_PI * (2.0 * u[1] - 1.0), x3 = M_PI * (2.0 * u[2] - 1.0);
    return sin(x1) + 7.0 * sin(x2) * sin(x2) + 0.1 * x3 * x3 * x3 * x3 * sin(x1);
}

static void indices_of_ishigami(void **state) {
    enum { EACH = 1024 };
    static double a[R * EACH], b[R * EACH], ab[3][R * EACH];
    (void)state;
    for (size_t r = 0; r < R; r++) {
        df_sobol s;
        df_sobol_make(&s, 6, 100 + r, true);
        for (uint32_t i = 0; i < EACH; i++) {
            double u[DF_SOBOL_DIMENSIONS], mixed[3];
            size_t k = r * EACH + i;
            df_sobol_point(u, &s, i);
            a[k] = ishigami(u);
            b[k] = ishigami(u + 3);
            for (size_t g = 0; g < 3; g++) {
                memcpy(mixed, u, sizeof mixed);
                mixed[g] = u[3 + g];
                ab[g][k] = ishigami(mixed);
            }
        }
    }
    double pi4 = pow(M_PI, 4), v1 = 0.5 * pow(1.0 + 0.1 * pi4 / 5.0, 2), v2 = 49.0 / 8.0,
           v13 = 8.0 * 0.01 * pi4 * pi4 / 225.0, v = v1 + v2 + v13;
    const double first[] = {v1 / v, v2 / v, 0.0}, total[] = {(v1 + v13) / v, v2 / v, v13 / v};
    for (size_t g = 0; g < 3; g++) {
        df_sobol_index i = df_sobol_index_of(a, b, ab[g], R, EACH);
        print_message("x%zu: first %.4f ± %.4f (%.4f), total %.4f ± %.4f (%.4f)\n", g + 1, i.first.value,
                      i.first.error, first[g], i.total.value, i.total.error, total[g]);
        near(i.first.value, first[g], 4.0 * i.first.error, "first index of x%zu", g + 1);
        near(i.total.value, total[g], 4.0 * i.total.error, "total index of x%zu", g + 1);
        assert_true(i.first.error < 0.01 && i.total.error < 0.01);
    }
}

/* ---- runs ----------------------------------------------------------------------------------------------------- */

static void read_job(const kit *k, df_job *job, df_dryer *dryer, const char *text) {
    if (df_job_parse(k->ctx, job, k->substances, NULL, text, strlen(text), "job.yaml") != DF_OK ||
        df_dryer_builtin(k->ctx, dryer, job->dryer) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
}

static void assess(const kit *k, df_risk *r, const df_job *job, const df_dryer *dryer, const df_risk_task *task) {
    if (df_risk_assess(k->ctx, r, job, dryer, k->pairs, task) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
}

static void nothing_but(df_job *job, int id, double spread) {
    for (int i = 0; i < DF_UNCERTAINS; i++)
        job->uncertain[i] = (df_uncertain_stated){.spread_stated = true, .spread = i == id ? spread : 0.0};
}

#define WATER                                                                                                        \
    "job: water\npurpose: screening\ndryer: deep-105\nsample: {composition: water}\n"                                \
    "containers:\n  - {type: vial_20R, count: 60, fill: 4 mL, place: shelf}\n"                                       \
    "freezing: {means: dry_ice_bath}\nrecipe:\n  - {time: 0 h, shelf_temperature: -35 °C}\n"                        \
    "limits: {margin: 1 K, time: 3000 h}\n"

/* Water behind a cake of constant, large resistance: the front is as warm as the shelf to 0.2 K, drying takes m R0/(A (p* - p)), so
 * that a lognormal R0 makes a lognormal time of the same width, and a normal fill a normal time (but for what the glass between
 * shelf and front does: 2 %). */
static void time_follows_resistance_and_fill(void **state) {
    const kit *k = *state;
    df_job job;
    df_dryer dryer;
    df_risk r;
    df_risk_task task;
    df_risk_task_defaults(&task);
    task.runs = 512;
    task.indices = 0;
    read_job(k, &job, &dryer, WATER "cake: {r0: 1e6 m/s, a1: 0 1/s}\n");
    dryer.shelf.contact = 2000.0;
    dryer.shelf.gas = 0.0;
    nothing_but(&job, DF_UNCERTAIN_CAKE_R0, 0.3);
    assess(k, &r, &job, &dryer, &task);
    near(log(r.primary_high.value / r.primary_median.value), 0.3 * 1.6448536270, 0.02 * 0.3 * 1.645, "by resistance");
    assert_true(r.standing[DF_RIGID].value == 1.0 && r.left_rigid_most == 3.0 / 512);
    nothing_but(&job, DF_UNCERTAIN_FILL, 0.05);
    assess(k, &r, &job, &dryer, &task);
    near(r.primary_high.value / r.primary_median.value - 1.0, 0.05 * 1.6448536270, 0.03 * 0.05 * 1.645, "by fill");
}

/* The margin moves one to one with the shelf where the front follows it: the chance of leaving rigid is Phi of what is left of the
 * margin. Critical temperature 3 K + 1 K of margin above the shelf, shelf even to 2 K: Phi(-(margin found - 1)/2). */
static void chance_of_a_normal_shelf(void **state) {
    const kit *k = *state;
    df_job job;
    df_dryer dryer;
    df_risk r;
    df_risk_task task;
    df_risk_task_defaults(&task);
    task.runs = 1024;
    task.accept = 0.2;
    task.shifts = 512;
    read_job(
        k, &job, &dryer,
        "job: water\npurpose: screening\ndryer: deep-105\n"
        "sample: {composition: water, solutes: [{name: mine, concentration: 1 g/L, critical_temperature: -31 °C}]}\n"
        "containers:\n  - {type: vial_20R, count: 60, fill: 4 mL, place: shelf}\n"
        "freezing: {means: dry_ice_bath}\nrecipe:\n  - {time: 0 h, shelf_temperature: -35 °C}\n"
        "limits: {margin: 1 K, time: 3000 h}\ncake: {r0: 1e6 m/s, a1: 0 1/s}\n");
    dryer.shelf.contact = 2000.0;
    dryer.shelf.gas = 0.0;
    nothing_but(&job, DF_UNCERTAIN_SHELF, 2.0);
    assess(k, &r, &job, &dryer, &task);
    double expected = 0.5 * erfc((r.margin_median.value - 1.0) / 2.0 * M_SQRT1_2);
    print_message("leaves rigid %.4f ± %.4f, expected %.4f; shift %.2f ± %.2f K\n", r.left_rigid.value,
                  r.left_rigid.error, expected, r.shift.value, r.shift.error);
    assert_in_range((int)(100.0 * expected), 3, 20);
    near(r.left_rigid.value, expected, 0.01 + 3.0 * r.left_rigid.error, "chance");
    /* The shelf may be warmer by what takes the chance to 20 %: 0.8416 standard deviations from the limit. */
    near(r.shift.value, r.margin_median.value - 1.0 - 2.0 * 0.8416212336, 0.12 + 3.0 * r.shift.error, "shift");
    near(r.shift_chance.value, 0.2, 0.02 + 3.0 * r.shift_chance.error, "chance with it");
    /* As for 512 independent draws: sqrt(p (1 - p)/n) over the density there. */
    double density = exp(-0.5 * 0.8416212336 * 0.8416212336) / sqrt(2.0 * M_PI) / 2.0;
    near(r.shift.error / (sqrt(0.2 * 0.8 / 512.0) / density), 1.0, 0.35, "error of the shift");
    for (size_t i = 1; i < DF_RISK_CURVE; i++)
        assert_true(r.curve_chance[i].value >= r.curve_chance[i - 1].value);
    /* Nothing else varies: all of the variance is the shelf's. */
    assert_int_equal(r.influences, 1);
    assert_string_equal(r.influence[0].group, "shelf temperature");
    near(r.influence[0].margin_total.value, 1.0, 0.1, "its index");
}

#define SHELF                                                                                                        \
    "job: shelf\npurpose: screening\ndryer: bench-55\n"                                                              \
    "sample: {composition: water, solutes: [{name: mine, concentration: 20 g/L, critical_temperature: -31 °C}]}\n"  \
    "containers:\n  - {type: vial_20R, count: 400, fill: 4 mL, place: shelf}\nfreezing: {means: dry_ice_bath}\n"     \
    "limits: {margin: 1 K, time: 3000 h}\ncake: {r0: 3e4 m/s, a1: 5e7 1/s}\n"
#define LOADED SHELF "recipe:\n  - {time: 0 h, shelf_temperature: -20 °C}\n"
#define HELD SHELF "recipe:\n  - {time: 0 h, shelf_temperature: -25 °C, chamber_pressure: 0.3 mbar}\n"
#define FLASKS                                                                                                       \
    "job: flasks\npurpose: screening\ndryer: bench-85\nsample: {composition: water}\n"                               \
    "containers:\n  - {type: flask_500, count: 4, fill: 150 mL, place: manifold}\nfreezing: {means: dry_ice_bath}\n" \
    "limits: {margin: 1 K, time: 3000 h}\ncake: {r0: 3e4 m/s, a1: 5e6 1/s}\n"

/* By hand what an input does. */
static void move(df_job *job, df_dryer *dryer, int id, double x) {
    df_trap *t = &dryer->trap[0];
    switch (id) {
    case DF_UNCERTAIN_CAKE_A1:
        job->cake.a1 *= x;
        break;
    case DF_UNCERTAIN_SHELF_CONTACT:
        dryer->shelf.contact *= x;
        break;
    case DF_UNCERTAIN_SHELF_GAS:
        dryer->shelf.gas *= x;
        break;
    case DF_UNCERTAIN_FROST:
        dryer->manifold.frost *= x;
        break;
    case DF_UNCERTAIN_FILL:
        job->group[0].fill *= x;
        break;
    case DF_UNCERTAIN_CRITICAL:
        job->solute[0].critical_temperature += x;
        break;
    case DF_UNCERTAIN_SHELF:
        job->recipe.shelf_temperature[0] += x;
        break;
    case DF_UNCERTAIN_PRESSURE:
        job->recipe.pressure[0] *= x;
        break;
    case DF_UNCERTAIN_TRAP:
        df_trap_shift(t, df_trap_no_load(t) + x);
        break;
    case DF_UNCERTAIN_TRAP_POWER:
        for (size_t i = 0; i < t->refrigeration.n; i++)
            t->refrigeration.y[i] *= x;
        break;
    case DF_UNCERTAIN_LEAK:
        dryer->chamber.leak *= x;
        break;
    default:
        dryer->chamber.room_temperature += x;
    }
}

/* One input alone: its 5th and 95th percentile, put into the job by hand, give the 5th and 95th of margin, hottest point and
 * primary time (all rise or fall with it throughout). */
static void inputs_one_by_one(void **state) {
    static const struct {
        const char *text;
        int id;
        double spread;
        enum { FACTOR, LOG_FACTOR, KELVIN } kind;
    } rows[] = {{LOADED, DF_UNCERTAIN_CAKE_A1, 0.3, LOG_FACTOR}, {LOADED, DF_UNCERTAIN_SHELF_CONTACT, 0.25, FACTOR},
                {HELD, DF_UNCERTAIN_SHELF_GAS, 0.25, FACTOR},    {FLASKS, DF_UNCERTAIN_FROST, 0.5, LOG_FACTOR},
                {LOADED, DF_UNCERTAIN_FILL, 0.1, FACTOR},        {LOADED, DF_UNCERTAIN_CRITICAL, 2.0, KELVIN},
                {LOADED, DF_UNCERTAIN_SHELF, 3.0, KELVIN},       {HELD, DF_UNCERTAIN_PRESSURE, 0.2, FACTOR},
                {LOADED, DF_UNCERTAIN_TRAP, 3.0, KELVIN},        {LOADED, DF_UNCERTAIN_TRAP_POWER, 0.2, FACTOR},
                {LOADED, DF_UNCERTAIN_LEAK, 0.7, LOG_FACTOR},    {FLASKS, DF_UNCERTAIN_ROOM, 4.0, KELVIN}};
    const kit *k = *state;
    static df_risk r;
    df_risk_task task;
    df_risk_task_defaults(&task);
    task.indices = 0;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        df_job job, moved;
        df_dryer dryer, other;
        double time[3], margin[3], hottest[3];
        read_job(k, &job, &dryer, rows[i].text);
        if (rows[i].id == DF_UNCERTAIN_LEAK)
            dryer.chamber.leak = 0.05;
        task.runs = 16;
        for (int end = 0; end < 3; end++) { /* the middle, and either end */
            double step = rows[i].spread * 1.6448536270 * (end == 0 ? 0.0 : end == 1 ? -1.0 : 1.0);
            moved = job;
            other = dryer;
            nothing_but(&moved, -1, 0.0);
            move(&moved, &other, rows[i].id,
                 rows[i].kind == KELVIN       ? step
                 : rows[i].kind == LOG_FACTOR ? exp(step)
                                              : 1.0 + step);
            assess(k, &r, &moved, &other, &task);
            time[end] = r.primary_median.value;
            margin[end] = r.margin_median.value;
            hottest[end] = r.hottest_median.value;
        }
        task.runs = 256;
        nothing_but(&job, rows[i].id, rows[i].spread);
        assess(k, &r, &job, &dryer, &task);
        double late = fmax(time[1], time[2]), close = fmin(margin[1], margin[2]), warm = fmax(hottest[1], hottest[2]);
        bool moves = late > 1.005 * time[0] || close < margin[0] - 0.05;
        if (!moves)
            fail_msg("row %zu: nothing moves: %g h and %g K", i, late / 3600.0, close);
        near(r.primary_high.value, late, 0.06 * fabs(late - time[0]) + 2e-3 * late, "row %zu: 95th of the time", i);
        near(r.margin_low.value, close, 0.06 * fabs(close - margin[0]) + 0.02, "row %zu: 5th of the margin", i);
        near(r.hottest_high.value, warm, 0.06 * fabs(warm - hottest[0]) + 0.02, "row %zu: 95th of the hottest point",
             i);
        near(r.primary_median.value, time[0], 0.06 * fabs(late - time[0]) + 2e-3 * late, "row %zu: median", i);
    }
}

/* What a dry cake still holds, B0 exp(-E): B0 lognormal, the exponent by the rate's own lognormal factor, or by
 * exp(-dE/R (1/T - 1/T0)) at 40 C, where nearly all of it leaves. Sucrose, data/sorption.csv: 0.1, sigmas 0.5, 0.7, 12 kJ/mol. */
static void what_a_cake_holds(void **state) {
    const kit *k = *state;
    static df_risk r;
    df_job job;
    df_dryer dryer;
    df_risk_task task;
    df_risk_task_defaults(&task);
    task.indices = 0;
    read_job(
        k, &job, &dryer,
        "job: sugar\npurpose: screening\ndryer: deep-105\n"
        "sample: {composition: water, solutes: [{name: sucrose, concentration: 50 g/L}]}\n"
        "containers:\n  - {type: vial_20R, count: 60, fill: 1 mL, place: shelf}\nfreezing: {means: dry_ice_bath}\n"
        "recipe:\n  - {time: 0 h, shelf_temperature: -36 °C}\n  - {time: 20 h, shelf_temperature: -36 °C}\n"
        "  - {time: 22 h, shelf_temperature: 40 °C}\n  - {time: 28 h, shelf_temperature: 40 °C}\n"
        "limits: {margin: 1 K, time: 3000 h}\ncake: {r0: 3e4 m/s, a1: 1e7 1/s}\n");
    task.runs = 256;
    nothing_but(&job, DF_UNCERTAIN_BOUND, 0.5);
    assess(k, &r, &job, &dryer, &task);
    assert_true(r.whole && r.residual_median[0].value > 2e-3 && r.residual_median[0].value < 0.05);
    double passed = log(0.1 / r.residual_median[0].value), z = 1.6448536270;
    near(log(r.residual_high[0].value / r.residual_median[0].value), z * 0.5 * 0.5, 0.03, "by what was bound");
    nothing_but(&job, DF_UNCERTAIN_RATE, 0.5);
    assess(k, &r, &job, &dryer, &task);
    near(log(0.1 / r.residual_high[0].value) / passed, exp(-z * 0.5 * 0.7), 0.03, "by its rate");
    nothing_but(&job, DF_UNCERTAIN_ACTIVATION, 1.0);
    assess(k, &r, &job, &dryer, &task);
    double by = z * 12000.0 / DF_GAS_CONSTANT * (1.0 / 298.15 - 1.0 / 313.15);
    near(log(0.1 / r.residual_high[0].value) / passed, exp(-by), 0.08, "by its activation");
}

/* A fuller container holds more solids, too: with 800 g/L of sucrose the cake catches 8 % of the water and more, and primary drying,
 * which takes the rest, still goes as the fill behind a large constant resistance. */
static void solids_follow_the_fill(void **state) {
    const kit *k = *state;
    df_job job;
    df_dryer dryer;
    static df_risk r;
    df_risk_task task;
    df_risk_task_defaults(&task);
    task.runs = 512;
    task.indices = 0;
    read_job(
        k, &job, &dryer,
        "job: syrup\npurpose: screening\ndryer: deep-105\n"
        "sample: {composition: water, solutes: [{name: sucrose, concentration: 800 g/L}]}\n"
        "containers:\n  - {type: vial_20R, count: 60, fill: 4 mL, place: shelf}\nfreezing: {means: dry_ice_bath}\n"
        "recipe:\n  - {time: 0 h, shelf_temperature: -35 °C}\nlimits: {margin: 1 K, time: 3000 h}\n"
        "cake: {r0: 1e6 m/s, a1: 0 1/s}\n");
    dryer.shelf.contact = 2000.0;
    dryer.shelf.gas = 0.0;
    double time[2];
    for (int fuller = 0; fuller < 2; fuller++) { /* by hand */
        df_job by_hand = job;
        by_hand.group[0].fill *= fuller ? 1.0 + 0.05 * 1.6448536270 : 1.0;
        nothing_but(&by_hand, -1, 0.0);
        assess(k, &r, &by_hand, &dryer, &task);
        time[fuller] = r.primary_median.value;
    }
    nothing_but(&job, DF_UNCERTAIN_FILL, 0.05);
    assess(k, &r, &job, &dryer, &task);
    assert_true(r.whole);
    near((r.primary_high.value - r.primary_median.value) / (time[1] - time[0]), 1.0, 0.03, "by fill");
}

/* What is left is that of the wettest containers, whichever come first: two fills on one shelf, nothing left to chance. */
static void the_wettest_counts(void **state) {
    const kit *k = *state;
    static const char *const fills[2][2] = {{"0.5 mL", "2 mL"}, {"2 mL", "0.5 mL"}};
    for (int order = 0; order < 2; order++) {
        char text[900];
        df_job job;
        df_dryer dryer;
        static df_risk r;
        static df_stand stand;
        df_risk_task task;
        df_risk_task_defaults(&task);
        task.runs = 16;
        task.indices = 0;
        snprintf(text, sizeof text,
                 "job: two fills\npurpose: screening\ndryer: deep-105\n"
                 "sample: {composition: water, solutes: [{name: sucrose, concentration: 50 g/L}]}\n"
                 "containers:\n  - {type: vial_20R, count: 30, fill: %s, place: shelf}\n"
                 "  - {type: vial_20R, count: 30, fill: %s, place: shelf}\nfreezing: {means: dry_ice_bath}\n"
                 "recipe:\n  - {time: 0 h, shelf_temperature: -36 °C}\n  - {time: 12 h, shelf_temperature: -36 °C}\n"
                 "  - {time: 14 h, shelf_temperature: 20 °C}\n  - {time: 24 h, shelf_temperature: 20 °C}\n"
                 "limits: {margin: 1 K, time: 3000 h}\ncake: {r0: 3e4 m/s, a1: 1e8 1/s}\n",
                 fills[order][0], fills[order][1]);
        read_job(k, &job, &dryer, text);
        nothing_but(&job, -1, 0.0);
        assess(k, &r, &job, &dryer, &task);
        if (df_stand_simulate(k->ctx, &stand, &job, &dryer, k->pairs, NULL) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        const df_moment *last = &stand.run.moment[stand.run.moments - 1];
        double a = last->container[0].bound[0], b = last->container[1].bound[0];
        assert_int_equal(stand.run.class_count, 2);
        if (!(fabs(a - b) > 0.05 * fmax(a, b) && (a > b) == (order == 1)))
            fail_msg("the two are alike: %g and %g", a, b);
        near(r.residual_median[0].value / fmax(a, b), 1.0, 0.01, "order %d: the wettest", order);
        df_stand_free(&stand);
    }
}

/* Two inputs that go together: the variance of ln time is a^2 + b^2 + 2 rho a b for its slopes by ln R0 and ln A1 (the drying is held
 * back by the cake alone, and R0 and A1 L/2 add up). */
static void correlated_resistance(void **state) {
    const kit *k = *state;
    static df_risk r;
    df_job job;
    df_dryer dryer;
    df_risk_task task;
    df_risk_task_defaults(&task);
    task.indices = 0;
    task.runs = 512;
    double width[3];
    for (int i = 0; i < 3; i++) {
        read_job(k, &job, &dryer, WATER "cake: {r0: 5e5 m/s, a1: 1e8 1/s}\n");
        dryer.shelf.contact = 2000.0;
        dryer.shelf.gas = 0.0;
        nothing_but(&job, -1, 0.0);
        job.uncertain[DF_UNCERTAIN_CAKE_R0] = (df_uncertain_stated){.spread_stated = true, .spread = 0.1};
        job.uncertain[DF_UNCERTAIN_CAKE_A1] = (df_uncertain_stated){
            .spread_stated = true, .spread = 0.1, .correlation_stated = true, .correlation = 0.9 * (i - 1)};
        assess(k, &r, &job, &dryer, &task);
        width[i] = log(r.primary_high.value / r.primary_median.value);
    }
    /* a = b would give sqrt(2 (1 - 0.9)), sqrt 2, sqrt(2 (1 + 0.9)); squares lie evenly for any a and b */
    near(width[2] * width[2] - width[1] * width[1], width[1] * width[1] - width[0] * width[0],
         0.15 * width[1] * width[1], "squares of the widths");
    near((width[2] * width[2] + width[0] * width[0]) / (2.0 * width[1] * width[1]), 1.0, 0.08, "their mean");
    assert_true(width[2] > 1.25 * width[1] && width[0] < 0.6 * width[1]);
}

#define FRACTION                                                                                                     \
    "job: fraction\npurpose: screening\ndryer: bench-85\nsample:\n  composition: acetonitrile 10 %v/v, water\n"      \
    "  solutes: [{name: sucrose, concentration: 20 g/L}]\n"                                                          \
    "containers:\n  - {type: vial_20R, count: 100, edge: 30, fill: 5 mL, place: shelf}\n"                            \
    "freezing: {means: dry_ice_bath}\nrecipe:\n  - {time: 0 h, shelf_temperature: -40 °C}\n"

/* The same bit for bit with one thread and with several, and for the same seed; another seed differs. */
static void threads_do_not_matter(void **state) {
    const kit *k = *state;
    df_job job;
    df_dryer dryer;
    static df_risk one, more, other;
    df_risk_task task;
    df_risk_task_defaults(&task);
    task.runs = 64;
    task.indices = 16;
    task.shifts = 32;
    task.accept = 0.3;
    read_job(k, &job, &dryer, FRACTION);
#ifdef _OPENMP
    omp_set_num_threads(1);
#endif
    assess(k, &one, &job, &dryer, &task);
#ifdef _OPENMP
    omp_set_num_threads(3);
#endif
    assess(k, &more, &job, &dryer, &task);
    task.seed = 2;
    assess(k, &other, &job, &dryer, &task);
    assert_memory_equal(&one.standing, &more.standing, sizeof one.standing);
    assert_memory_equal(&one.primary_high, &more.primary_high, sizeof one.primary_high);
    assert_memory_equal(&one.margin_low, &more.margin_low, sizeof one.margin_low);
    assert_memory_equal(&one.residual_high, &more.residual_high, sizeof one.residual_high);
    assert_memory_equal(&one.influence, &more.influence, sizeof one.influence);
    assert_memory_equal(&one.curve_chance, &more.curve_chance, sizeof one.curve_chance);
    assert_true(one.shift.value == more.shift.value && one.simulated == more.simulated);
    assert_true(one.primary_high.value != other.primary_high.value);
    assert_true(fabs(one.primary_high.value - other.primary_high.value) <
                4.0 * hypot(one.primary_high.error, other.primary_high.error));
}

/* The pool of frozen paths: half of what lies between the 16th and 84th per cent of its solidus against the band that `stand`
 * shows, from the same covariances by first order. Of 128 draws of a normal number that half is sure to 9 %. Straight draws from
 * the covariance give 8 K for acetic acid and 9 K for dioxane: every draw off the middle lowers their eutectics, which the points
 * do not allow. Acetonitrile's band is twice as wide as its sample (docs/trust.md), 0.1 against 0.05 K: hence the 0.1 K. */
static void paths_spread_as_the_bands(void **state) {
    const kit *k = *state;
    static const char *const sample[] = {"tert-butanol 20 %v/v, water",
                                         "acetic acid 20 %v/v, water",
                                         "dioxane 20 %v/v, water",
                                         "acetonitrile 20 %v/v, water",
                                         "acetonitrile 20 %v/v, acetic acid 5 %v/v, water",
                                         "thf 10 %v/v, water"};
    for (size_t i = 0; i < sizeof sample / sizeof sample[0]; i++) {
        char text[600];
        df_job job;
        df_dryer dryer;
        static df_risk r;
        static df_stand stand;
        df_risk_task task;
        df_risk_task_defaults(&task);
        task.runs = 16;
        task.indices = 0;
        snprintf(text, sizeof text,
                 "job: paths\npurpose: screening\ndryer: bench-85\nsample: {composition: \"%s\"}\n"
                 "containers:\n  - {type: vial_20R, count: 10, fill: 5 mL, place: shelf}\n"
                 "freezing: {means: dry_ice_bath}\nrecipe:\n  - {time: 0 h, shelf_temperature: -40 °C}\n",
                 sample[i]);
        read_job(k, &job, &dryer, text);
        assess(k, &r, &job, &dryer, &task);
        if (df_stand_simulate(k->ctx, &stand, &job, &dryer, k->pairs, NULL) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        print_message("%s: solidus: paths %.2f K, bands %.2f K\n", sample[i], r.path_solidus_sigma,
                      stand.solidus_sigma);
        near(r.path_solidus_sigma, stand.solidus_sigma, 0.3 * stand.solidus_sigma + 0.1, "%s", sample[i]);
        df_stand_free(&stand);
    }
}

/* A job's own spreads, and what is refused. */
static void a_job_states_its_own(void **state) {
    const kit *k = *state;
    df_job job;
    df_dryer dryer;
    df_uncertain input[DF_UNCERTAINS];
    static const struct {
        const char *section, *says;
    } wrong[] = {
        {"uncertainty: {cake_r1: 10 %}\n", "did you mean"},
        {"uncertainty: {shelf_temperature: 10 %}\n", "uncertainty.shelf_temperature"},
        {"uncertainty: {fill: {spread: 3 %, shape: normal}}\n", "shape"},
        {"uncertainty: {shelf_temperature: {distribution: lognormal}}\n", "lognormal is for factors"},
        {"uncertainty: {fill: {correlation: 0.5}}\n", "are correlated"},
        {"uncertainty: {cake_r0: -10 %}\n", "uncertainty.cake_r0"},
    };
    read_job(k, &job, &dryer,
             FRACTION "uncertainty:\n  fill: 5 %\n  shelf_temperature: {spread: 0.5 K, distribution: uniform}\n"
                      "  cake_a1: {correlation: 0.8}\n  leak: 0 %\n");
    if (df_uncertain_list(k->ctx, input, &job, &dryer) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    assert_near(input[DF_UNCERTAIN_FILL].spread, 0.05, 1e-12);
    assert_true(input[DF_UNCERTAIN_FILL].stated && !input[DF_UNCERTAIN_ROOM].stated);
    assert_int_equal(input[DF_UNCERTAIN_SHELF].distribution, DF_UNIFORM);
    assert_near(input[DF_UNCERTAIN_CAKE_A1].correlation, 0.8, 1e-12);
    assert_false(input[DF_UNCERTAIN_LEAK].applies);
    assert_false(input[DF_UNCERTAIN_FROST].applies);       /* no manifold in it */
    assert_true(input[DF_UNCERTAIN_CAKE_R0].spread > 0.5); /* assumed, hence wide */
    assert_near(df_uncertain_value(&input[DF_UNCERTAIN_SHELF], 40.0), 0.5, 1e-12);
    assert_near(df_uncertain_value(&input[DF_UNCERTAIN_FILL], 2.0), 1.1, 1e-12);
    assert_near(df_uncertain_value(&input[DF_UNCERTAIN_CAKE_R0], -1.0), exp(-input[DF_UNCERTAIN_CAKE_R0].spread),
                1e-12);
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        char text[1200];
        snprintf(text, sizeof text, "%s%s", FRACTION, wrong[i].section);
        assert_int_equal(df_job_parse(k->ctx, &job, k->substances, NULL, text, strlen(text), "job.yaml"), DF_E_INPUT);
        assert_says(k->ctx, wrong[i].says);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(points_are_those_of_another_program),
        cmocka_unit_test(scrambled_points_are_a_net),
        cmocka_unit_test(seeds_differ_and_repeat),
        cmocka_unit_test(normal_quantiles),
        cmocka_unit_test(standard_errors_cover),
        cmocka_unit_test(indices_of_ishigami),
        cmocka_unit_test(time_follows_resistance_and_fill),
        cmocka_unit_test(chance_of_a_normal_shelf),
        cmocka_unit_test(inputs_one_by_one),
        cmocka_unit_test(what_a_cake_holds),
        cmocka_unit_test(solids_follow_the_fill),
        cmocka_unit_test(the_wettest_counts),
        cmocka_unit_test(correlated_resistance),
        cmocka_unit_test(threads_do_not_matter),
        cmocka_unit_test(paths_spread_as_the_bands),
        cmocka_unit_test(a_job_states_its_own),
    };
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
