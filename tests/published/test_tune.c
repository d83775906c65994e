/* Constants learnt from logs whose answers are known in closed form. */
#include "kit.h"

#include "dryfront/watch.h"

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

/* 100 L that rise by 0.1 mbar in 10 min leak 0.0167 mbar L/s: Q = V dP/dt after isolation (any text on vacuum technology,
 * e.g. O'Hanlon, A User's Guide to Vacuum Technology). */
static void a_leak(void **state) {
    kit *k = *state;
    df_dryer d = builtin(k);
    df_text t = {0};
    df_fit fit;
    df_text_puts(&t, "# volume: 100 L\n# evacuated: 20 h\ntime [min],chamber [mbar]\n");
    for (int i = 0; i <= 60; i++)
        df_text_printf(&t, "%g,%.9f\n", i / 6.0, 0.02 + 0.1 * i / 60.0);
    const df_log *log = read_log(k, &t);
    MUST(df_tune_isolation(k->ctx, &fit, &d, &log, 1));
    assert_near(d.chamber.leak / 0.1, 0.1 * 100.0 / 600.0, 1e-3); /* Pa m3/s to mbar L/s */
    near(d.chamber.degassing / 0.1, 0.0, 2e-3, "degassing");
    assert_string_equal(fit.finding[0].field, "chamber.leak");
    assert_true(fit.finding[0].written);
    df_log_free((df_log *)log);
}

/* Degassing alone: V dP/dt = q (1 h)/t, so P rises with the logarithm of time. */
static void degassing(void **state) {
    kit *k = *state;
    df_dryer d = builtin(k);
    df_text t = {0};
    df_fit fit;
    double q = 0.003, leak = 0.001, volume = 72e-3; /* Pa m3/s */
    df_text_puts(&t, "# evacuated: 1 h\ntime [s],chamber [Pa]\n");
    for (int i = 0; i <= 400; i++)
        df_text_printf(&t, "%d,%.9f\n", 60 * i,
                       3.0 + (leak * 60.0 * i + q * 3600.0 * log((3600.0 + 60.0 * i) / 3600.0)) / volume);
    const df_log *log = read_log(k, &t);
    MUST(df_tune_isolation(k->ctx, &fit, &d, &log, 1));
    assert_near(d.chamber.leak, leak, 2e-3);
    assert_near(d.chamber.degassing, q, 2e-3);
    df_log_free((df_log *)log);
}

/* A volume emptied by a pump of constant speed: P = P0 exp(-S t/V) (O'Hanlon, as above); with an ultimate pressure
 * P = Pu + (P0 - Pu) exp(-S t/V). */
static void a_pump(void **state) {
    kit *k = *state;
    for (int ended = 0; ended < 2; ended++) {
        df_dryer d = builtin(k);
        df_text t = {0};
        df_fit fit;
        double speed = 5.0 / 3600.0, volume = 72e-3, ultimate = ended ? 0.7 : 1e-9;
        d.chamber.leak = 0.0;
        df_text_puts(&t, "time [s];P [Pa]\n0;101325\n");
        for (int i = 1; i <= 600; i++)
            df_text_printf(&t, "%g;%.6g\n", (ended ? 2.0 : 0.6) * i,
                           ultimate + (101325.0 - ultimate) * exp(-speed / volume * (ended ? 2.0 : 0.6) * i));
        const df_log *log = read_log(k, &t);
        MUST(df_tune_pump_down(k->ctx, &fit, &d, &log, 1, NULL));
        assert_true(d.pump.speed.n >= 2);
        for (size_t i = 0; i < d.pump.speed.n; i++)
            assert_near(d.pump.speed.y[i], speed, 2e-3);
        if (ended)
            assert_near(d.pump.ultimate, ultimate, 2e-3);
        else
            assert_near(d.pump.ultimate, 0.3, 1e-12); /* nothing in the log tells it: the old one stays */
        df_log_free((df_log *)log);
    }
}

/* Power in proportion to the distance from the no-load temperature: T - T0 falls as exp(-k t/C), and a load W holds
 * T0 + W/k (Newton's law of cooling). */
static void a_coil(void **state) {
    kit *k = *state;
    double slope = 30.0, capacity = 6000.0, no_load = 203.15;
    for (int loaded = 0; loaded < 2; loaded++) {
        df_dryer d = builtin(k);
        df_text t = {0};
        df_fit fit;
        d.trap[0].heat_capacity = loaded ? 9000.0 : capacity;
        df_text_puts(&t, "time [s],coil [°C],load [W]\n");
        double start = 293.15, at = 0.0, load = 0.0;
        for (int i = 0; i <= 400; i++) {
            if (loaded && i == 200) { /* 300 W from here on */
                start = no_load + (start - no_load) * exp(-slope / capacity * (5.0 * i - at));
                at = 5.0 * i;
                load = 300.0;
            }
            double rest = no_load + load / slope;
            df_text_printf(&t, "%g,%.7f,%g\n", 5.0 * i,
                           rest + (start - rest) * exp(-slope / capacity * (5.0 * i - at)) - 273.15, load);
            if (loaded && i == 199) /* the load comes at once, not over a row */
                df_text_printf(&t, "999.999,%.7f,0\n",
                               no_load + (start - no_load) * exp(-slope / capacity * 999.999) - 273.15);
        }
        const df_log *log = read_log(k, &t);
        MUST(df_tune_trap(k->ctx, &fit, &d, &log, 1));
        near(df_trap_no_load(&d.trap[0]), no_load, 0.02, "no load");
        for (double at_k = 210.0; at_k < 290.0; at_k += 10.0)
            near(df_trap_refrigeration(&d.trap[0], at_k), slope * (at_k - no_load),
                 0.004 * slope * (at_k - no_load) + 0.5, "power at %.0f K, load %d", at_k, loaded);
        assert_near(d.trap[0].heat_capacity, capacity, loaded ? 3e-3 : 1e-12);
        df_log_free((df_log *)log);
    }
}

/* Kv = m dh/(A t dT) by hand: 1 g of ice in 2 h through 7.0686 cm2 and 12 K; dh of ice at 240 K 2838 kJ/kg (from memory: Feistel & Wagner,
 * J. Phys. Chem. Ref. Data 35 (2006) 1021; Murphy & Koop, Q. J. R. Meteorol. Soc. 131 (2005) 1539 give the same to 0.1 %):
 * 46.5 W/(m2 K). */
static void a_vial(void **state) {
    kit *k = *state;
    df_dryer d = builtin(k);
    df_text t = {0};
    df_fit fit;
    df_text_puts(&t, "# duration: 2 h\n# shelf: -21.15 °C\n# product: -33.15 °C\n# pressure: 0.1 mbar\n"
                     "vial,position,before [g],after [g]\n");
    for (int i = 0; i < 6; i++)
        df_text_printf(&t, "%d,centre,%g,%g\n", i, 20.0 + i, 19.0 + i);
    const df_log *log = read_log(k, &t);
    double before = df_shelf_coefficient(&d, 10.0),
           by_hand = 1e-3 * 2838e3 / (M_PI / 4.0 * 0.03 * 0.03 * 7200.0 * 12.0);
    MUST(df_tune_ice(k->ctx, &fit, &d, kit_substance(k, "water"), &log, 1));
    near(by_hand, 46.5, 0.05, "by hand");
    assert_near(df_shelf_coefficient(&d, 10.0), by_hand, 3e-3);
    assert_true(fabs(df_shelf_coefficient(&d, 10.0) / before - 1.0) > 0.05);
    /* 0.5 K of 12 K, assumed where nothing is told */
    assert_near(fit.finding[0].band / fit.finding[0].value, 0.5 / 12.0, 0.03);
    df_log_free((df_log *)log);
}

/* Three pressures give all three constants back (Pikal, Roy & Shah, J. Pharm. Sci. 73 (1984) 1224, for the form). */
static void three_pressures(void **state) {
    kit *k = *state;
    df_dryer d = builtin(k), truth = d;
    df_text t = {0};
    df_fit fit;
    truth.shelf.contact = 11.0;
    truth.shelf.gas = 0.8;
    truth.shelf.gas_bend = 0.02;
    double heat = df_sublimation_enthalpy(kit_substance(k, "water"), 240.0) / kit_substance(k, "water")->molar_mass;
    df_text_puts(&t, "# sensor: 0.01 K\n# container: vial_10R\nvial,place,lost [g],duration [h],shelf [K],product "
                     "[K],pressure [Pa]\n");
    for (int i = 0; i < 16; i++) {
        double p = 5.0 * pow(2.0, i % 4), area = M_PI / 4.0 * 0.024 * 0.024;
        bool edge = i >= 12;
        df_text_printf(&t, "%d,%s,%.9f,4,255,240,%g\n", i, edge ? "edge" : "centre",
                       1e3 * (edge ? 1.3 : 1.0) * df_shelf_coefficient(&truth, p) * area * 4 * 3600.0 * 15.0 / heat,
                       p);
    }
    const df_log *log = read_log(k, &t);
    MUST(df_tune_ice(k->ctx, &fit, &d, kit_substance(k, "water"), &log, 1));
    assert_near(d.shelf.contact, 11.0, 0.01);
    assert_near(d.shelf.gas, 0.8, 0.01);
    assert_near(d.shelf.gas_bend, 0.02, 0.02);
    for (size_t i = 0; i < fit.findings; i++)
        if (strcmp(fit.finding[i].field, "edge over centre") == 0)
            assert_near(fit.finding[i].value, 1.3, 1e-3);
    df_log_free((df_log *)log);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_leak), cmocka_unit_test(degassing), cmocka_unit_test(a_pump),
        cmocka_unit_test(a_coil), cmocka_unit_test(a_vial),    cmocka_unit_test(three_pressures),
    };
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
