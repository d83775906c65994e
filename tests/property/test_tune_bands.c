/* Logs made by simulators of the test's own, with noise: the constants come back within the stated bands as often as one and
 * two standard deviations should. */
#include "chance.h"
#include "kit.h"

#include "dryfront/watch.h"

static double normal(uint64_t *s) { /* Box and Muller, Ann. Math. Stat. 29 (1958) 610 */
    return sqrt(-2.0 * log(uniform(s))) * cos(2.0 * M_PI * uniform(s));
}

typedef struct tally {
    const char *what;
    long n, one, two;
} tally;

static void count(tally *t, double found, double truth, double band) {
    double z = fabs(found - truth) / band;
    t->n++;
    t->one += z < 1.0;
    t->two += z < 2.0;
}

/* 68.3 and 95.4 per cent, within three standard deviations of a count of n, and what a fit that is not quite linear costs. */
static void judge(const tally *t, double slack) {
    double n = (double)t->n, one = (double)t->one / n, two = (double)t->two / n;
    double e1 = 3.0 * sqrt(0.683 * 0.317 / n) + slack, e2 = 3.0 * sqrt(0.954 * 0.046 / n) + slack;
    if (!(fabs(one - 0.683) < e1) || !(two > 0.954 - e2))
        fail_msg("%s: of %ld found %.1f %% within one and %.1f %% within two standard deviations", t->what, t->n,
                 100.0 * one, 100.0 * two);
    print_message("%s: %.0f %% within one, %.0f %% within two of %ld\n", t->what, 100.0 * one, 100.0 * two, t->n);
}

static const df_finding *finding(const df_fit *fit, const char *field) {
    for (size_t i = 0; i < fit->findings; i++)
        if (strcmp(fit->finding[i].field, field) == 0)
            return &fit->finding[i];
    fail_msg("nothing was found of %s", field);
    return NULL;
}

static void tell(tally *t, const df_fit *fit, double truth) {
    const df_finding *f = finding(fit, t->what);
    count(t, f->value, truth, f->band);
}

static df_dryer builtin(const kit *k) {
    df_dryer d;
    if (df_dryer_builtin(k->ctx, &d, "bench-55") != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    return d;
}

static df_log *read_log(const kit *k, df_text *text) {
    df_log *log = NULL;
    if (df_log_parse(k->ctx, &log, text->data, text->length, "l.csv", NULL) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    df_text_free(text);
    return log;
}

#define MUST(call)                                                                                                   \
    do {                                                                                                             \
        if ((call) != DF_OK)                                                                                         \
            fail_msg("%s", df_context_message(k->ctx));                                                              \
    } while (0)

static void isolation(void **state) {
    kit *k = *state;
    tally leak = {"chamber.leak", 0, 0, 0}, walls = {"chamber.degassing", 0, 0, 0};
    for (uint64_t number = 0; number < 300; number++) {
        uint64_t s = seed_of(number);
        df_dryer d = builtin(k);
        df_text t = {0};
        df_fit fit;
        double q = 1e-3 * (0.5 + uniform(&s)), w = 2e-3 * (0.5 + uniform(&s)), begun = 3600.0 * (0.5 + uniform(&s));
        df_text_printf(&t, "# evacuated: %.3f h\ntime [s],chamber [Pa]\n", begun * exp(0.02 * normal(&s)) / 3600.0);
        for (int i = 0; i <= 240; i++) {
            double time = 60.0 * i;
            df_text_printf(&t, "%g,%.3f\n", time,
                           2.0 + (q * time + w * 3600.0 * log1p(time / begun)) / 72e-3 + 0.5 * normal(&s));
        }
        const df_log *log = read_log(k, &t);
        MUST(df_tune_isolation(k->ctx, &fit, &d, &log, 1));
        tell(&leak, &fit, q);
        tell(&walls, &fit, w);
        df_log_free((df_log *)log);
    }
    judge(&leak, 0.0);
    judge(&walls, 0.0);
}

/* Small steps of the explicit midpoint rule. */
static void pump_down(void **state) {
    kit *k = *state;
    tally lowest = {"pump.ultimate_pressure", 0, 0, 0}, first = {"pump.speed[0].flow", 0, 0, 0},
          last = {"pump.speed[5].flow", 0, 0, 0};
    for (uint64_t number = 0; number < 100; number++) {
        uint64_t s = seed_of(number);
        df_dryer d = builtin(k);
        df_text t = {0};
        df_fit fit;
        double speed = (2.0 + 4.0 * uniform(&s)) / 3600.0, ultimate = 0.3 + 0.6 * uniform(&s);
        d.chamber.leak = 1e-4;
        double leak = d.chamber.leak * exp(0.2 * normal(&s)), pressure = 101325.0;
        double walls = d.chamber.leak * fabs(normal(&s)); /* of which the file says nothing */
        df_text_puts(&t, "time [s],chamber [Pa]\n");
        for (int i = 0; i <= 300; i++) {
            df_text_printf(&t, "%d,%.5g\n", 12 * i, pressure * exp(0.01 * normal(&s)));
            for (int j = 0; j < 600; j++) {
                double h = 0.02, flow = leak + walls * 3600.0 / fmax(12.0 * i + h * j, 60.0);
                double rate = (flow - speed * (pressure - ultimate)) / 72e-3;
                rate = (flow - speed * (pressure + 0.5 * h * rate - ultimate)) / 72e-3;
                pressure += h * rate;
            }
        }
        const df_log *log = read_log(k, &t);
        MUST(df_tune_pump_down(k->ctx, &fit, &d, &log, 1, NULL));
        tell(&lowest, &fit, ultimate);
        tell(&first, &fit, speed);
        if (d.pump.speed.n == 6)
            tell(&last, &fit, speed);
        df_log_free((df_log *)log);
    }
    judge(&lowest, 0.02);
    judge(&first, 0.02);
    judge(&last, 0.02);
}

/* A free cool-down, then two loads; the closed form of a straight curve. */
static void trap(void **state) {
    kit *k = *state;
    tally no_load = {"trap.refrigeration[0].temperature", 0, 0, 0}, heat = {"trap.heat_capacity", 0, 0, 0},
          warm = {"trap.refrigeration[4].power", 0, 0, 0}, middle = {"trap.refrigeration[2].power", 0, 0, 0};
    for (uint64_t number = 0; number < 100; number++) {
        uint64_t s = seed_of(number);
        df_dryer d = builtin(k);
        df_text t = {0};
        df_fit fit;
        double capacity = 5000.0 + 4000.0 * uniform(&s), slope = 20.0 + 20.0 * uniform(&s),
               lowest = 210.0 + 10.0 * uniform(&s);
        double from = 293.15, began = 0.0, load = 0.0;
        df_text_puts(&t, "time [s],coil [°C],load [W]\n");
        for (int i = 0; i <= 600; i++) {
            double time = 10.0 * i, rest = lowest + load / slope,
                   now = rest + (from - rest) * exp(-slope / capacity * (time - began));
            df_text_printf(&t, "%g,%.2f,%g\n", time, now - 273.15 + 0.3 * normal(&s), load);
            if (i == 250 || i == 430) {
                from = now;
                began = time;
                load = i == 250 ? 400.0 : 1200.0;
                rest = lowest + load / slope;
                df_text_printf(&t, "%.3f,%.2f,%g\n", time + 1e-3, now - 273.15 + 0.3 * normal(&s), load);
            }
        }
        const df_log *log = read_log(k, &t);
        MUST(df_tune_trap(k->ctx, &fit, &d, &log, 1));
        tell(&no_load, &fit, lowest);
        tell(&heat, &fit, capacity);
        tell(&warm, &fit, slope * (finding(&fit, warm.what)->at - lowest));
        tell(&middle, &fit, slope * (finding(&fit, middle.what)->at - lowest));
        df_log_free((df_log *)log);
    }
    judge(&no_load, 0.02);
    judge(&heat, 0.02);
    judge(&warm, 0.02);
    judge(&middle, 0.02);
}

static void ice(void **state) {
    kit *k = *state;
    tally contact = {"shelf.contact", 0, 0, 0}, gas = {"shelf.gas", 0, 0, 0}, bend = {"shelf.gas_bend", 0, 0, 0},
          kv = {"Kv at 10 Pa", 0, 0, 0};
    const df_substance *water = kit_substance(k, "water");
    for (uint64_t number = 0; number < 300; number++) {
        uint64_t s = seed_of(number);
        df_dryer d = builtin(k), truth = d;
        df_text t = {0};
        df_fit fit;
        truth.shelf.contact = 8.0 + 8.0 * uniform(&s);
        truth.shelf.gas = 0.6 + uniform(&s);
        truth.shelf.gas_bend = 0.02 + 0.04 * uniform(&s);
        double heat = df_sublimation_enthalpy(water, 240.0) / water->molar_mass, area = M_PI / 4.0 * 0.03 * 0.03;
        df_text_puts(&t, "# sensor: 0.1 K\nvial,lost [g],duration [h],shelf [K],product [K],pressure [Pa]\n");
        for (int test = 0; test < 5; test++) {
            double pressure = 3.0 * pow(2.0, test), shared = 1.0 + 0.1 / 20.0 * normal(&s);
            for (int i = 0; i < 12; i++)
                df_text_printf(&t, "%d,%.6f,4,260,240,%g\n", i,
                               1e3 * df_shelf_coefficient(&truth, pressure) * shared * (1.0 + 0.02 * normal(&s)) *
                                   area * 4.0 * 3600.0 * 20.0 / heat,
                               pressure);
        }
        const df_log *log = read_log(k, &t);
        MUST(df_tune_ice(k->ctx, &fit, &d, water, &log, 1));
        tell(&contact, &fit, truth.shelf.contact);
        tell(&gas, &fit, truth.shelf.gas);
        tell(&bend, &fit, truth.shelf.gas_bend);
        kv.n++;
        kv.one += fabs(df_shelf_coefficient(&d, 10.0) / df_shelf_coefficient(&truth, 10.0) - 1.0) < 0.01;
        df_log_free((df_log *)log);
    }
    judge(&contact, 0.02);
    judge(&gas, 0.03);
    judge(&bend, 0.03);
    assert_true(kv.one > kv.n * 9 / 10);
}

static const char job_text[] = "job: invented\npurpose: archive\ndryer: bench-55\nsample:\n  composition: water\n"
                               "  solutes:\n    - {name: sucrose, concentration: 50 g/L}\n"
                               "containers:\n  - {type: vial_20R, count: 100, edge: 20, fill: 5 mL, place: shelf}\n"
                               "freezing: {means: shelf, temperature: -45 °C}\n"
                               "recipe:\n  - {time: 0 h, shelf_temperature: -40 °C, chamber_pressure: 0.1 mbar}\n"
                               "  - {time: 1 h, shelf_temperature: -20 °C}\n"
                               "limits: {time: 100 h}\n"
                               "cake: {r0: 2e4 m/s, a1: 4e7 1/s, a2: 150 1/m}\n";

/* The product's log by model (a) itself: what is tested is the way back, not the model. */
static void product(void **state) {
    kit *k = *state;
    tally half = {"resistance at half depth", 0, 0, 0}, full = {"resistance at full depth", 0, 0, 0};
    df_job *job = calloc(1, sizeof *job);
    df_stand *stand = calloc(1, sizeof *stand);
    MUST(df_job_parse(k->ctx, job, k->substances, NULL, job_text, strlen(job_text), "job.yaml"));
    df_dryer d = builtin(k);
    for (uint64_t number = 0; number < 20; number++) {
        uint64_t s = seed_of(number);
        df_text t = {0};
        df_fit fit;
        df_cake found, truth = job->cake;
        df_dryer real = d;
        double factor = exp(0.03 * normal(&s));
        truth.r0 *= 0.5 + uniform(&s);
        truth.a1 *= 0.5 + uniform(&s);
        df_job run = *job;
        run.cake = truth;
        real.shelf.contact *= factor;
        real.shelf.gas *= factor;
        MUST(df_stand_judge(k->ctx, stand, &run, &real, k->pairs, false));
        df_text_puts(&t, "# kv_band: 3 %\ntime [h],shelf [°C],chamber [mbar],product 1 [°C],product 2 [°C]\n");
        size_t m = 0;
        for (double time = 0.0; time < stand->run.time; time += 300.0) {
            while (m + 2 < stand->run.moments && stand->run.moment[m + 1].time < time)
                m++;
            const df_moment *a = &stand->run.moment[m], *b = a + 1;
            double part = fmin((time - a->time) / (b->time - a->time), 1.0), p[2] = {0.0, 0.0};
            double temperature = a->container[0].hottest + part * (b->container[0].hottest - a->container[0].hottest);
            double shelf = df_interpolate(job->recipe.time, job->recipe.shelf_temperature, job->recipe.n, time);
            for (size_t i = 0; i <= stand->run.species; i++) {
                p[0] += a->chamber[i];
                p[1] += b->chamber[i];
            }
            df_text_printf(&t, "%.6f,%.2f,%.4f,%.2f,%.2f\n", time / 3600.0, shelf - 273.15,
                           0.01 * (p[0] + part * (p[1] - p[0])), temperature - 273.15 + 0.3 * normal(&s),
                           temperature - 273.15 + 0.3 * normal(&s));
        }
        double depth = stand->setup.classes[0].shape.thickness;
        df_log *log = read_log(k, &t);
        MUST(df_tune_product(k->ctx, &fit, &found, &d, job, k->pairs, log, NULL, 0));
        tell(&half, &fit, truth.r0 + truth.a1 * 0.5 * depth / (1.0 + truth.a2 * 0.5 * depth));
        tell(&full, &fit, truth.r0 + truth.a1 * depth / (1.0 + truth.a2 * depth));
        near(finding(&fit, half.what)->value / (truth.r0 + truth.a1 * 0.5 * depth / (1.0 + truth.a2 * 0.5 * depth)),
             1.0, 0.15, "resistance at half depth");
        df_log_free(log);
        df_stand_free(stand);
    }
    judge(&half, 0.05);
    judge(&full, 0.05);
    free(job);
    free(stand);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(isolation), cmocka_unit_test(pump_down), cmocka_unit_test(trap),
        cmocka_unit_test(ice),       cmocka_unit_test(product),
    };
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
