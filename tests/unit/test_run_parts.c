/* Figures that the reports of a run derive from its moments, and how they are written. */
#include "kit.h"

#include "report/run_parts.h"

static void written(void **state) {
    char a[32];
    (void)state;
    assert_string_equal(df_part_grams(a, sizeof a, 0.0), "0");
    assert_string_equal(df_part_grams(a, sizeof a, -1e-12), "0"); /* rounding of the account */
    assert_string_equal(df_part_grams(a, sizeof a, 1e-8), "<0.001");
    assert_string_equal(df_part_grams(a, sizeof a, 1.234e-6), "0.001");
    assert_string_equal(df_part_grams(a, sizeof a, 1.234e-3), "1.23");
    assert_string_equal(df_part_grams(a, sizeof a, 0.9173), "917.3");
    assert_string_equal(df_part_grams(a, sizeof a, 12.345), "12345");
    assert_string_equal(df_part_share(a, sizeof a, 0.0144), "1.44 %");
    assert_string_equal(df_part_share(a, sizeof a, 410e-6), "410 ppm");
    assert_string_equal(df_part_share(a, sizeof a, 0.0), "0");
    assert_string_equal(df_part_share(a, sizeof a, NAN), "?");
    assert_string_equal(df_part_duration(a, sizeof a, 45.0), "45 s");
    assert_string_equal(df_part_duration(a, sizeof a, 900.0), "15 min");
    assert_string_equal(df_part_duration(a, sizeof a, 95000.0), "26.4 h");
    assert_string_equal(df_part_duration(a, sizeof a, NAN), "not reached");
    assert_string_equal(df_part_words(a, sizeof a, "liquid_nitrogen"), "liquid nitrogen");
}

#define HOURS_LONG 40

/* A run of 40 h that gives off `rate` kg/s from hour `from` to hour `to`, a moment each hour. */
static df_run *exhausting(const kit *k, const char *name, double rate, int from, int to) {
    df_run *run = calloc(1, sizeof *run);
    df_moment *m = calloc(HOURS_LONG + 1, sizeof *m);
    assert_non_null(run);
    assert_non_null(m);
    run->species = 1;
    run->substance[0] = kit_substance(k, name);
    run->moments = HOURS_LONG + 1;
    run->moment = m;
    run->time = 3600.0 * HOURS_LONG;
    for (int h = 0; h <= HOURS_LONG; h++) {
        m[h].time = 3600.0 * h;
        m[h].exhaust[0] = 3600.0 * rate * fmin(fmax(h - from, 0), to - from);
    }
    run->exhaust[0] = m[HOURS_LONG].exhaust[0];
    run->exhaust_peak[0] = rate;
    return run;
}

static df_part_exhaust found(const kit *k, const char *name, double rate, int from, int to, double hood) {
    static df_dryer dryer;
    df_run *run = exhausting(k, name, rate, from, to);
    df_part_exhaust x;
    memset(&dryer, 0, sizeof dryer);
    dryer.hood_flow = hood;
    dryer.chamber.room_temperature = 293.15;
    df_part_exhaust_find(&x, run, 0, &dryer);
    df_run_free(run);
    free(run);
    return x;
}

static void exhaust(void **state) {
    const kit *k = *state;
    const df_substance *s = kit_substance(k, "acetonitrile");
    double rate = 1e-3 / 3600.0; /* 1 g/h */
    df_part_exhaust x = found(k, "acetonitrile", rate, 3, 23, 0.1);
    near(x.average / rate, 20.0 / 40.0, 1e-12, "average over all of the run");
    near(x.peak / rate, 1.0, 0.0, "peak");
    /* Eight hours, and up to one step more: on the safe side, by no more than that step. */
    assert_true(x.worst >= rate * (1.0 - 1e-12) && x.worst <= rate * 9.0 / 8.0 * (1.0 + 1e-12));
    /* Ideal gas at 20 °C and one atmosphere: 0.1 m3/s is 4.157 mol/s (22.414 L/mol at 0 °C, CODATA). */
    double air = 0.1 / (22.41397e-3 * 293.15 / 273.15), share = rate / s->molar_mass / air;
    near(x.explosive / (share / s->lower_explosive_limit), 1.0, 1e-6, "share of the lower explosive limit");
    near(x.exposure / (x.worst / rate * share / s->exposure_limit), 1.0, 1e-6, "share of the exposure limit");
    /* A burst of two hours counts a quarter over eight. */
    x = found(k, "acetonitrile", rate, 10, 12, 0.1);
    near(x.worst / rate, 2.0 / 8.0, 1e-12, "a burst");
    /* Without a hood, or for water, which has no limits, there is no share. */
    x = found(k, "acetonitrile", rate, 3, 23, NAN);
    assert_true(isnan(x.explosive) && isnan(x.exposure) && isfinite(x.worst));
    x = found(k, "water", rate, 3, 23, 0.1);
    assert_true(isnan(x.explosive) && isnan(x.exposure));
}

/* The coolant of freezing: water from 20 °C to -70 °C in a bath of dry ice takes the heat of water, of melting and of ice. */
static void freezing(void **state) {
    const kit *k = *state;
    df_stand *s = calloc(1, sizeof *s);
    df_job *job = calloc(1, sizeof *job);
    assert_non_null(s);
    assert_non_null(job);
    if (df_composition_parse(k->ctx, &job->composition, k->substances, "water", NULL) != DF_OK ||
        df_frozen_path_make(k->ctx, &s->path, k->pairs, &job->composition, DF_FREEZING_PRACTICE) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    job->cooling.means = DF_MEANS_DRY_ICE_BATH;
    s->mass = 1.0;
    s->start_temperature = 203.15;
    df_part_used u;
    df_part_used_find(&u, s, job);
    /* 20 K x 4.19, 333.4 of melting, 70 K x about 1.85 kJ/kg/K (ice, mean of 0 and -70 °C; CRC Handbook, from memory). Within
     * 4 %, not less: the path of freezing keeps a crystal's heat capacity at that of its melting point, 2.1 for ice. */
    near(u.freezing_heat / (1e3 * (20.0 * 4.19 + 333.4 + 70.0 * 1.85)), 1.0, 0.04, "heat of freezing");
    near(u.freezing_coolant, u.freezing_heat / df_coolant_heat(DF_COOLANT_DRY_ICE), 1e-12, "dry ice");
    job->cooling.means = DF_MEANS_FREEZER;
    df_part_used_find(&u, s, job);
    assert_true(isnan(u.freezing_coolant) && u.freezing_heat > 0.0);
    free(job);
    free(s);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(written),
        cmocka_unit_test(exhaust),
        cmocka_unit_test(freezing),
    };
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
