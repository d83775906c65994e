/* A dryer and a product learnt as a user would: five logs made from a dryer and a cake that are known, with the noise of gauges,
 * probes and containers; the dryer from four of them, the product on the dryer so learnt. The truth lies within the stated bands
 * as often as it should. `test_tune_cover 200` takes that many dryers and prints the table of docs/tune.md; `test_tune_cover log`
 * writes examples/tune/product.csv. */
#include "chance.h"
#include "kit.h"

#include "dryfront/watch.h"

#define SPREAD 0.035 /* of the coefficient of single containers */

static long cases = 6;

static double normal(uint64_t *s) { /* Box and Muller, Ann. Math. Stat. 29 (1958) 610 */
    return sqrt(-2.0 * log(uniform(s))) * cos(2.0 * M_PI * uniform(s));
}

#define MUST(call)                                                                                                   \
    do {                                                                                                             \
        if ((call) < 0)                                                                                              \
            fail_msg("%s", df_context_message(k->ctx));                                                              \
    } while (0)

/* Errors over bands. */
typedef struct tally {
    const char *what;
    long n, one, two;
    double sum, squares, band; /* of the errors over bands; of the relative bands */
} tally;

static void count(tally *t, const char *what, double found, double truth, double band) {
    double z = (found - truth) / band;
    t->what = what;
    t->n++;
    t->one += fabs(z) < 1.0;
    t->two += fabs(z) < 2.0;
    t->sum += z;
    t->squares += z * z;
    t->band += fabs(band / truth);
}

static double deviation(const tally *t) { /* about 0: a bias counts */
    return sqrt(t->squares / (double)t->n);
}

static const df_finding *finding(const df_fit *fit, const char *field) {
    for (size_t i = 0; i < fit->findings; i++)
        if (strcmp(fit->finding[i].field, field) == 0)
            return &fit->finding[i];
    fail_msg("nothing was found of %s", field);
    return NULL;
}

static df_log *read_log(const kit *k, df_text *text) {
    df_log *log = NULL;
    MUST(df_log_parse(k->ctx, &log, text->data, text->length, "l.csv", NULL));
    df_text_free(text);
    return log;
}

static char *slurp(const char *name, size_t *length) {
    char path[512], *text = calloc(1, 65536);
    snprintf(path, sizeof path, "%s/examples/tune/%s", DRYFRONT_SOURCE_DIR, name);
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    *length = fread(text, 1, 65535, file);
    fclose(file);
    return text;
}

/* What is true in one case. */
typedef struct truth {
    df_dryer dryer;
    double warm_slope, lowest; /* W/K and K of the trap's straight curve */
    df_cake cake;
    double begun;    /* s of evacuation before the isolation */
    double probe[2]; /* factors of the containers with probes */
} truth;

static void draw(truth *t, const df_dryer *base, uint64_t *s) {
    df_dryer *d = &t->dryer;
    *d = *base;
    d->shelf.contact = 9.5 * (0.8 + 0.4 * uniform(s));
    d->shelf.gas = 0.9 * (0.8 + 0.4 * uniform(s));
    d->shelf.gas_bend = 0.03 * (0.8 + 0.4 * uniform(s));
    d->chamber.leak = 1.25e-3 * (0.6 + 0.8 * uniform(s));
    d->chamber.degassing = 4e-4 * (0.6 + 0.8 * uniform(s));
    d->pump.ultimate = 0.45 * (0.6 + 0.8 * uniform(s));
    d->pump.speed.n = 1;
    d->pump.speed.x[0] = 100.0;
    d->pump.speed.y[0] = 2.7 / 3600.0 * (0.9 + 0.2 * uniform(s));
    t->warm_slope = 40.0 * (0.8 + 0.4 * uniform(s));
    t->lowest = 216.6 + 2.0 * uniform(s);
    d->trap[0].heat_capacity = 7200.0 * (0.8 + 0.4 * uniform(s));
    d->trap[0].refrigeration =
        (df_curve){.n = 2, .x = {t->lowest, 295.0}, .y = {0.0, t->warm_slope * (295.0 - t->lowest)}};
    t->cake = (df_cake){2.2e4 * (0.7 + 0.6 * uniform(s)), 3.8e7 * (0.7 + 0.6 * uniform(s)),
                        180.0 * (0.6 + 0.8 * uniform(s)), true};
    t->begun = 3.0 * 3600.0;
    for (int i = 0; i < 2; i++)
        t->probe[i] = exp(SPREAD * normal(s));
}

static double volume_of(const df_dryer *d) {
    return d->chamber.volume + d->trap[0].volume;
}

static void isolation_log(df_text *o, const truth *t, uint64_t *s) {
    df_text_printf(o, "# evacuated: %.4f h\ntime [min],chamber [mbar]\n", t->begun * exp(0.02 * normal(s)) / 3600.0);
    for (int i = 0; i <= 120; i++) {
        double time = 120.0 * i,
               rise = t->dryer.chamber.leak * time + t->dryer.chamber.degassing * 3600.0 * log1p(time / t->begun);
        df_text_printf(o, "%g,%.4f\n", time / 60.0, 0.01 * (1.9 + rise / volume_of(&t->dryer) + 0.05 * normal(s)));
    }
}

static void pump_log(df_text *o, const truth *t, uint64_t *s) {
    const df_dryer *d = &t->dryer;
    double pressure = log(101325.0), time = 0.0;
    df_text_puts(o, "time [min],chamber [mbar]\n");
    for (int i = 0; i <= 160; i++) {
        double until = i <= 100 ? 15.0 * i : 1500.0 + 60.0 * (i - 100);
        while (time < until - 1e-6) { /* the midpoint rule, a thousandth of the time constant */
            double h = fmin(0.1, until - time), half = 0, y = pressure;
            for (int stage = 0; stage < 2; stage++) {
                double p = exp(stage == 0 ? pressure : half), at = time + 0.5 * h * stage;
                double flow = d->chamber.leak + d->chamber.degassing * 3600.0 / fmax(at, 60.0);
                double rate = (flow / p - d->pump.speed.y[0] * fmax(0.0, 1.0 - d->pump.ultimate / p)) / volume_of(d);
                half = pressure + 0.5 * h * rate;
                y = pressure + h * rate;
            }
            pressure = y;
            time += h;
        }
        df_text_printf(o, "%.4f,%.4g\n", until / 60.0, 0.01 * exp(pressure + 0.01 * normal(s)));
    }
}

static void trap_log(df_text *o, const truth *t, uint64_t *s) {
    double from = 294.0, began = 0.0, load = 0.0;
    df_text_puts(o, "time [s],coil [°C],load [W]\n");
    for (int i = 0; i <= 240; i++) {
        double time = 30.0 * i, rest = t->lowest + load / t->warm_slope,
               now = rest + (from - rest) * exp(-t->warm_slope / t->dryer.trap[0].heat_capacity * (time - began));
        df_text_printf(o, "%g,%.1f,%g\n", time, now - 273.15 + 0.2 * normal(s), load);
        if (i == 120) {
            from = now;
            began = time;
            load = 400.0;
            df_text_printf(o, "%.3f,%.1f,%g\n", time + 1e-3, now - 273.15 + 0.2 * normal(s), load);
        }
    }
}

static void ice_log(df_text *o, const truth *t, const df_substance *water, uint64_t *s) {
    const double pressure[3] = {5.0, 10.0, 30.0}, product[3] = {-31.2, -28.9, -22.4};
    double area =
        M_PI / 4.0 * t->dryer.reference.container.outer_diameter * t->dryer.reference.container.outer_diameter;
    df_text_puts(
        o,
        "# sensor: 0.3 K\n# container: vial_20R\nvial,lost [g],duration [h],shelf [°C],product [°C],pressure [Pa]\n");
    for (int test = 0; test < 3; test++) {
        double cold = 273.15 + product[test], heat = df_sublimation_enthalpy(water, cold) / water->molar_mass;
        double difference = -5.0 - product[test] + 0.3 * normal(s); /* what it truly is */
        for (int i = 0; i < 7; i++)
            df_text_printf(o, "%d,%.3f,5,-5,%.1f,%g\n", i,
                           1e3 * df_shelf_coefficient(&t->dryer, pressure[test]) * exp(SPREAD * normal(s)) * area *
                               5.0 * 3600.0 * difference / heat,
                           product[test], pressure[test]);
    }
}

/* Model (a) with containers that differ: the two with probes, and thirds of the rest of each kind at the coefficients that make
 * up SPREAD; its moments between the simulator's by straight lines. With the times of a logger's clock: as the example; `ends`: as
 * soon as all are dry. Returns the depth of the fill. */
static double product_log(const kit *k, df_text *o, const truth *t, const df_job *job, bool clock, bool ends,
                          uint64_t *s) {
    static df_stand stand;
    df_job run = *job;
    run.cake = t->cake;
    MUST(df_stand_simulate(k->ctx, &stand, &run, &t->dryer, k->pairs, NULL));
    df_setup u = stand.setup;
    size_t kinds = u.class_count, n = 0;
    double depth = u.classes[0].shape.thickness;
    for (size_t i = 0; i < 2; i++) {
        u.classes[n] = stand.setup.classes[0];
        u.classes[n].count = 1;
        u.classes[n++].kv_factor *= t->probe[i];
    }
    for (size_t c = 0; c < kinds; c++)
        for (int third = -1; third <= 1; third++) {
            u.classes[n] = stand.setup.classes[c];
            u.classes[n].count = (stand.setup.classes[c].count - (c == 0 ? 2 : 0) + third + 1) / 3;
            u.classes[n++].kv_factor *= exp(sqrt(1.5) * SPREAD * third);
        }
    u.class_count = n;
    u.keep_going = true;
    u.whole_recipe = !ends;
    u.recipe.time[u.recipe.n] = 1.1 * stand.run.time; /* all are dry before */
    u.recipe.shelf_temperature[u.recipe.n] = u.recipe.shelf_temperature[u.recipe.n - 1];
    u.recipe.pressure[u.recipe.n] = u.recipe.pressure[u.recipe.n - 1];
    u.recipe.n++;
    u.tolerance = 1e-7;
    df_run r;
    MUST(df_run_simulate(k->ctx, &r, &u));
    df_text_printf(o, "%s,shelf [°C],chamber pressure [mbar],product 1 [°C],product 2 [°C]\n",
                   clock ? "timestamp" : "time [s]");
    size_t m = 0;
    for (int row = 0; 600.0 * row < r.time; row++) {
        double time = 600.0 * row;
        while (m + 2 < r.moments && r.moment[m + 1].time < time)
            m++;
        const df_moment *a = &r.moment[m], *b = a + 1;
        double part = fmin((time - a->time) / (b->time - a->time), 1.0), p[2] = {0.0, 0.0}, product[2];
        for (size_t i = 0; i <= r.species; i++) {
            p[0] += a->chamber[i];
            p[1] += b->chamber[i];
        }
        for (size_t i = 0; i < 2; i++)
            product[i] = a->container[i].hottest + part * (b->container[i].hottest - a->container[i].hottest);
        if (clock)
            df_text_printf(o, "2026-02-%dT%02d:%02d:00", 24 + (row + 48) / 144, (row / 6 + 8) % 24, row % 6 * 10);
        else
            df_text_printf(o, "%d", 600 * row);
        df_text_printf(o, ",%.1f,%.4f,%.1f,%.1f\n",
                       a->shelf + part * (b->shelf - a->shelf) - 273.15 + 0.05 * normal(s),
                       0.01 * (p[0] + part * (p[1] - p[0])) * (1.0 + 0.004 * normal(s)),
                       product[0] - 273.15 + 0.3 * normal(s), product[1] - 273.15 + 0.3 * normal(s));
    }
    df_run_free(&r);
    df_stand_free(&stand);
    return depth;
}

/* The example's dryer and job. */
typedef struct bench {
    df_dryer base;
    df_job job;
    const df_substance *water;
} bench;

static void open_bench(const kit *k, bench *b) {
    size_t length;
    char *text = slurp("dryer.yaml", &length);
    MUST(df_dryer_parse(k->ctx, &b->base, NULL, text, length, "dryer.yaml"));
    free(text);
    text = slurp("product.yaml", &length);
    MUST(df_job_parse(k->ctx, &b->job, k->substances, NULL, text, length, "product.yaml"));
    free(text);
    b->water = kit_substance(k, "water");
}

static double resistance(const df_cake *c, double depth) {
    return c->r0 + c->a1 * depth / (1.0 + c->a2 * depth);
}

/* sqrt(mean square) of n standard normal numbers lies within 1 +- 3.3/sqrt(2n), their mean within 3.3/sqrt(n), in 999 of 1000
 * cases about; a share of 95.4 % within three standard deviations of its count. */
static bool judge(const tally *t) {
    double n = (double)t->n;
    return fabs(deviation(t) - 1.0) < 3.3 / sqrt(2.0 * n) && fabs(t->sum) < 3.3 * sqrt(n) &&
           (double)t->two > 0.954 * n - 3.0 * sqrt(0.954 * 0.046 * n);
}

static void truth_within_bands(void **state) {
    kit *k = *state;
    static bench b;
    static df_fit fit[5];
    tally all[24];
    size_t n = 0;
    memset(all, 0, sizeof all);
    open_bench(k, &b);
    for (long number = 0; number < cases; number++) {
        uint64_t s = seed_of((uint64_t)number);
        truth t;
        df_text o[5] = {{0}};
        df_log *log[5];
        df_cake cake;
        df_dryer d = b.base;
        draw(&t, &b.base, &s);
        isolation_log(&o[0], &t, &s);
        pump_log(&o[1], &t, &s);
        trap_log(&o[2], &t, &s);
        ice_log(&o[3], &t, b.water, &s);
        double depth = product_log(k, &o[4], &t, &b.job, false, number % 2 == 1, &s);
        for (int i = 0; i < 5; i++)
            log[i] = read_log(k, &o[i]);
        const df_log *const *const logs = (const df_log *const *)log;
        MUST(df_tune_isolation(k->ctx, &fit[0], &d, &logs[0], 1));
        MUST(df_tune_pump_down(k->ctx, &fit[1], &d, &logs[1], 1, &fit[0]));
        MUST(df_tune_trap(k->ctx, &fit[2], &d, &logs[2], 1));
        MUST(df_tune_ice(k->ctx, &fit[3], &d, b.water, &logs[3], 1));
        MUST(df_tune_product(k->ctx, &fit[4], &cake, &d, &b.job, k->pairs, logs[4], fit, 4));
        double kv = df_shelf_coefficient(&t.dryer, 10.0) / df_shelf_coefficient(&d, 10.0);
        const struct {
            size_t fit;
            const char *field;
            double truth;
        } row[] = {{0, "chamber.leak", t.dryer.chamber.leak},
                   {0, "chamber.degassing", t.dryer.chamber.degassing},
                   {1, "pump.ultimate_pressure", t.dryer.pump.ultimate},
                   {1, "pump.speed[0].flow", t.dryer.pump.speed.y[0]},
                   {2, "trap.refrigeration[0].temperature", t.lowest},
                   {2, "trap.heat_capacity", t.dryer.trap[0].heat_capacity},
                   {3, "shelf.contact", t.dryer.shelf.contact},
                   {3, "shelf.gas", t.dryer.shelf.gas},
                   {4, "factor on the shelf's coefficient", kv * sqrt(t.probe[0] * t.probe[1])},
                   {4, "cake.r0", t.cake.r0},
                   {4, "cake.a1", t.cake.a1},
                   {4, "cake.a2", t.cake.a2},
                   {4, "resistance at half depth", resistance(&t.cake, 0.5 * depth)},
                   {4, "resistance at full depth", resistance(&t.cake, depth)}};
        n = sizeof row / sizeof *row;
        for (size_t i = 0; i < n; i++) {
            const df_finding *f = finding(&fit[row[i].fit], row[i].field);
            count(&all[i], row[i].field, f->value, row[i].truth, f->band);
        }
        for (int i = 0; i < 5; i++)
            df_log_free(log[i]);
    }
    bool sound = true;
    print_message("| of %ld | band %% | within one %% | two %% | mean | deviation |\n", cases);
    for (size_t i = 0; i < n; i++) {
        const tally *t = &all[i];
        double whole = (double)t->n;
        print_message("| %s | %.2g | %.0f | %.0f | %.2f | %.2f |%s\n", t->what, 100.0 * t->band / whole,
                      100.0 * (double)t->one / whole, 100.0 * (double)t->two / whole, t->sum / whole, deviation(t),
                      judge(t) ? "" : " not by chance");
        sound = sound && judge(t);
    }
    assert_true(sound);
}

/* Estimate and band of a product's resistance at half depth. */
static df_finding half_of(const kit *k, const bench *b, const char *notes, const char *table, const df_fit *learnt,
                          size_t n) {
    df_fit fit;
    df_cake cake;
    df_text o = {0};
    df_text_printf(&o, "%s%s", notes, table);
    df_log *log = read_log(k, &o);
    MUST(df_tune_product(k->ctx, &fit, &cake, &b->base, &b->job, k->pairs, log, learnt, n));
    df_finding half = *finding(&fit, "resistance at half depth");
    df_log_free(log);
    return half;
}

/* A little more of the coefficient's band moves estimate and band a little. */
static void bands_are_smooth(void **state) {
    kit *k = *state;
    static bench b;
    enum { N = 5 };
    uint64_t s = seed_of(0);
    truth t;
    df_text o = {0};
    df_finding f[N];
    open_bench(k, &b);
    draw(&t, &b.base, &s);
    t.dryer.shelf = b.base.shelf;
    (void)product_log(k, &o, &t, &b.job, false, false, &s);
    for (int i = 0; i < N; i++) {
        char note[40];
        snprintf(note, sizeof note, "# kv_band: %.1f %%\n", 4.6 + 0.2 * i);
        f[i] = half_of(k, &b, note, o.data, NULL, 0);
    }
    for (int i = 1; i + 1 < N; i++) {
        near(f[i].band / (0.5 * (f[i - 1].band + f[i + 1].band)), 1.0, 0.02, "band between its neighbours");
        near(f[i].value, 0.5 * (f[i - 1].value + f[i + 1].value), 0.05 * f[i].band,
             "estimate between its neighbours");
        assert_true(f[i + 1].band > f[i].band);
    }
    near(f[N - 1].band / f[0].band, 1.0, 0.2, "band over a fifth more of the coefficient's");
    df_text_free(&o);
}

/* What an ice test leaves open of the shelf's coefficient goes into the product's band: twice in it, about (docs/tune.md). */
static void band_of_the_dryer(void **state) {
    kit *k = *state;
    static bench b;
    uint64_t s = seed_of(1);
    truth t;
    df_text o = {0};
    static df_fit shaken;
    open_bench(k, &b);
    draw(&t, &b.base, &s);
    t.dryer.shelf = b.base.shelf;
    (void)product_log(k, &o, &t, &b.job, false, false, &s);
    shaken.test = DF_TEST_ICE;
    shaken.described = true;
    shaken.findings = 2;
    for (int i = 0; i < 2; i++) { /* contact and gas go together: 5 % of Kv at every pressure */
        df_finding *to = &shaken.finding[i];
        snprintf(to->field, sizeof to->field, "%s", i == 0 ? "shelf.contact" : "shelf.gas");
        for (int j = 0; j < 2; j++)
            shaken.joint[i][j] = 0.05 * 0.05 * (i == 0 ? b.base.shelf.contact : b.base.shelf.gas) *
                                 (j == 0 ? b.base.shelf.contact : b.base.shelf.gas);
    }
    df_finding both = half_of(k, &b, "# kv_band: 0.1 %\n", o.data, &shaken, 1);
    df_finding as_note = half_of(k, &b, "# kv_band: 5 %\n", o.data, NULL, 0);
    df_finding narrow = half_of(k, &b, "# kv_band: 0.1 %\n", o.data, NULL, 0);
    near(both.band / as_note.band, 1.0, 0.05, "band by the ice test's covariance and by the note");
    near(both.value, as_note.value, 0.1 * as_note.band, "estimate by either");
    assert_true(narrow.band < 0.5 * both.band);
    df_text_free(&o);
}

/* The log that examples/tune ships: the dryer of its other logs, a cake, containers with probes 1 % to either side. */
static int write_example(void) {
    kit *k = NULL;
    static bench b;
    df_text o = {0};
    uint64_t s = seed_of(2026);
    truth t;
    if (kit_open((void **)&k) != 0)
        return 1;
    open_bench(k, &b);
    draw(&t, &b.base, &s);
    t.dryer.shelf.contact = 9.5;
    t.dryer.shelf.gas = 0.95;
    t.dryer.shelf.gas_bend = 0.03;
    t.dryer.chamber.leak = 1.25e-3;
    t.dryer.chamber.degassing = 4e-4;
    t.dryer.pump.ultimate = 0.45;
    t.dryer.pump.speed.y[0] = 2.7 / 3600.0;
    t.dryer.trap[0].heat_capacity = 7200.0;
    t.dryer.trap[0].refrigeration = (df_curve){.n = 2, .x = {216.6, 295.0}, .y = {0.0, 43.0 * (295.0 - 216.6)}};
    t.cake = (df_cake){2.2e4, 3.8e7, 180.0, true};
    t.probe[0] = 0.99;
    t.probe[1] = 1.01;
    df_text_puts(&o, "# Invented: the run of product.yaml by model (a) on the dryer of the other logs, with a cake "
                     "of r0 22000 m/s, a1 3.8e7 1/s,\n"
                     "# a2 180 1/m, and noise. The times are those of the logger's clock.\n# test: product\n");
    (void)product_log(k, &o, &t, &b.job, true, false, &s);
    fputs(o.data, stdout);
    df_text_free(&o);
    return kit_close((void **)&k);
}

int main(int argc, char **argv) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(truth_within_bands), cmocka_unit_test(bands_are_smooth),
                                       cmocka_unit_test(band_of_the_dryer)};
    if (argc > 1 && strcmp(argv[1], "log") == 0)
        return write_example();
    cases = argc > 1 ? strtol(argv[1], NULL, 10) : cases;
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
