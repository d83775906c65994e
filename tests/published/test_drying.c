/* Primary drying against closed forms, conservation and limits. */
#include "kit.h"

#include "dryfront/drying.h"

typedef struct bed {
    df_frozen_path path;
    df_dryer dryer;
    df_setup setup;
} bed;

static df_composition compose(const kit *k, const char *text) {
    df_composition c;
    if (df_composition_parse(k->ctx, &c, k->substances, text, NULL) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    return c;
}

/* One class of containers of `text` on a built-in dryer's shelf. */
static bed *make_bed(const kit *k, const char *dryer, const char *text, const char *container, double volume,
                     long count) {
    bed *b = calloc(1, sizeof *b);
    df_composition c = compose(k, text);
    assert_non_null(b);
    if (df_dryer_builtin(k->ctx, &b->dryer, dryer) != DF_OK ||
        df_frozen_path_make(k->ctx, &b->path, k->pairs, &c, DF_FREEZING_PRACTICE) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    df_setup_defaults(&b->setup);
    b->setup.dryer = &b->dryer;
    b->setup.class_count = 1;
    df_class *q = &b->setup.classes[0];
    df_class_defaults(q);
    q->count = count;
    q->path = &b->path;
    q->composition = c;
    q->mass = volume * df_composition_density(&c);
    q->start_temperature = 203.15;
    df_cake_assume(&q->cake, 0.0);
    if (df_container_find(k->ctx, &q->container, NULL, container, NULL) != DF_OK ||
        df_shape_make(k->ctx, &q->shape, &q->container, q->mass / b->path.frozen_density, DF_LIE_REST, NULL) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    b->setup.recipe.n = 1;
    b->setup.recipe.shelf_temperature[0] = 235.15;
    return b;
}

static df_run run_bed(const kit *k, const bed *b) {
    df_run run;
    if (df_run_simulate(k->ctx, &run, &b->setup) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    return run;
}

/* The vial of cases S1 and S2 (closed forms computed beside the reference facts from the Murphy & Koop ice curve and
 * 2.84 MJ/kg): 2.85 g of ice, Ap 3.80 cm2, Av 4.52 cm2, pressure held by throttling, no sensible heat, no heat path in ice. */
static bed *steady_vial(const kit *k, double kv, double shelf, double pressure, double r0, double a1, double start) {
    bed *b = make_bed(k, "bench-55", "water", "vial_10R", 2.85e-6, 1);
    df_class *q = &b->setup.classes[0];
    q->mass = 2.85e-3;
    assert_int_equal(df_shape_make(k->ctx, &q->shape, &q->container, 2.85e-3 / 918.0, DF_LIE_REST, NULL), DF_OK);
    b->dryer.chamber.control = DF_CONTROL_THROTTLE;
    b->dryer.chamber.leak = 0.0;
    b->dryer.trap[0].area = 10.0;
    b->dryer.shelf.contact = kv;
    b->dryer.shelf.gas = 0.0;
    q->container.glass_mass = 0.0;
    q->cake = (df_cake){.r0 = r0, .a1 = a1, .stated = true};
    q->conductivity = 1e6;
    q->start_temperature = start;
    b->setup.recipe.shelf_temperature[0] = shelf;
    b->setup.recipe.pressure[0] = pressure;
    b->setup.start_pressure = 0.01;
    b->setup.tolerance = 1e-6;
    return b;
}

static void steady_cases(void **state) {
    const kit *k = *state;
    /* S1: -32.597 °C, 11.006 h, 0.25894 g/h. The controller settles 0.7 % under its set point: 10.07 Pa gives 10 Pa. */
    bed *b = steady_vial(k, 20.0, 263.15, 10.073, 1.0e5, 0.0, 273.15 - 32.597);
    df_run run = run_bed(k, b);
    const df_moment *m = &run.moment[0];
    for (size_t i = 0; i < run.moments && run.moment[i].time < 0.5 * run.time; i++)
        m = &run.moment[i];
    near(m->chamber[0], 10.0, 0.02, "S1: vapour pressure held");
    near(m->container[0].front - 273.15, -32.597, 0.02, "S1: temperature");
    near(run.time / 3600.0 / 11.006, 1.0, 2e-3, "S1: time");
    df_run_free(&run);
    free(b);
    /* S2: 17.789 h, from -41.592 °C to -36.660 °C. */
    b = steady_vial(k, 15.0, 253.15, 8.06, 2.0e4, 1.0e7, 273.15 - 41.592);
    run = run_bed(k, b);
    near(run.time / 3600.0 / 17.789, 1.0, 3e-3, "S2: time");
    size_t last = 0;
    while (last + 1 < run.moments && run.moment[last + 1].container[0].left[0] > 0.005)
        last++;
    near(run.moment[last].container[0].front - 273.15, -36.660, 0.1, "S2: end temperature");
    df_run_free(&run);
    free(b);
}

/* The vial of S1 with a pure crystal of another substance: A (p - P)/R = Kv Av (Ts - T) M/dh with R = R0 sqrt(Mw/M), since free
 * molecules pass in proportion to 1/sqrt(M) by number, to sqrt(M) by mass (Knudsen's law; O'Hanlon, Vacuum Technology, ch. 3).
 * Solved here; pressures and heats of the pure substance. R0 is large, so that the rate follows the resistance: with M in place
 * of its root it would be 1.8 times that, and more. Nor is there any fall of pressure between cake and chamber, since no other
 * gas stands there. */
static void other_crystals(void **state) {
    static const struct {
        const char *name, *text;
        double shelf, pressure; /* K, Pa */
    } cases[] = {{"water", "water", 263.15, 10.0},
                 {"tert-butanol", "tert-butanol, water 0 %v/v", 263.15, 60.0},
                 {"1,4-dioxane", "1,4-dioxane, water 0 %v/v", 258.15, 60.0},
                 {"cyclohexane", "cyclohexane, water 0 %v/v", 243.15, 90.0}};
    const double r0 = 1e6, kv = 60.0;
    const kit *k = *state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const df_substance *s = kit_substance(k, cases[i].name);
        double root = sqrt(s->molar_mass / kit_substance(k, "water")->molar_mass), held = cases[i].pressure;
        bed *b = make_bed(k, "deep-105", cases[i].text, "vial_10R", 2.5e-6, 1);
        df_class *q = &b->setup.classes[0];
        double front = q->shape.free_area, bottom = M_PI / 4.0 * pow(q->container.outer_diameter, 2);
        b->dryer.chamber.control = DF_CONTROL_THROTTLE;
        b->dryer.chamber.leak = b->dryer.chamber.degassing = 0.0;
        b->dryer.trap[0].area = 10.0;
        b->dryer.shelf.contact = kv;
        b->dryer.shelf.gas = 0.0;
        q->container.glass_mass = 0.0;
        q->cake = (df_cake){.r0 = r0, .stated = true};
        q->conductivity = 1e6;
        b->setup.recipe.shelf_temperature[0] = cases[i].shelf;
        b->setup.recipe.pressure[0] = held;
        b->setup.start_pressure = 0.01;
        for (int round = 0; round < 2; round++) { /* then with the pressure that the throttle came to */
            double low = 200.0, high = cases[i].shelf, flow = 0.0;
            for (int j = 0; j < 60; j++) {
                double t = 0.5 * (low + high), heat = kv * bottom * (cases[i].shelf - t);
                flow = front * (df_solid_pressure(s, t) - held) / r0 * root;
                *(flow * df_sublimation_enthalpy(s, t) / s->molar_mass > heat ? &high : &low) = t;
            }
            q->start_temperature = low;
            df_run run = run_bed(k, b);
            const df_moment *m = &run.moment[0];
            for (size_t j = 0; j < run.moments && run.moment[j].time < 0.5 * run.time; j++)
                m = &run.moment[j];
            held = m->chamber[0];
            near(held / cases[i].pressure, 1.0, 0.02, "%s: pressure held", s->key);
            if (round == 1) {
                near(m->container[0].front, low, 0.02, "%s: temperature", s->key);
                near(m->rate[0] / flow, 1.0, 2e-3, "%s: rate", s->key);
                /* in the first minutes the pressure is lower and the vapour faster */
                near(run.time / (q->mass / flow), 1.0, 0.01, "%s: time", s->key);
            }
            df_run_free(&run);
        }
        free(b);
    }
}

/* Ideal sonic flow of water vapour: 100 mm, 10 Pa, 298.15 K, 0.513 kg/h; 1.813e-3 kg/(s m2 Pa). */
static void choked_flow(void **state) {
    (void)state;
    double area = M_PI / 4.0 * 0.1 * 0.1;
    near(3600.0 * df_choked_flow(area, 10.0, 298.15, 0.018015, 1.33), 0.513, 0.005, "C1");
    near(df_choked_flow(1.0, 1.0, 298.15, 0.018015, 1.33), 1.813e-3, 2e-5, "per area and pressure");
    /* A tube passes no more than that, whatever lies behind it, and nearly that when it is short. */
    double flow, p1 = 50.0, p2 = 0.0, molar = 0.018015;
    double choke = df_tube_flow(&flow, 0.1, 0.02, &p1, &p2, &molar, 1, 298.15);
    double limit = df_choked_flow(area, p1, 298.15, molar, 1.25);
    assert_true(flow <= limit && flow > 0.8 * limit && choke > 0.8);
    /* Free-molecular: proportional to the square root of the molar mass (Knudsen). */
    double f2, p = 1e-4, heavy = 4.0 * molar;
    df_tube_flow(&flow, 0.05, 0.5, &p, &p2, &molar, 1, 298.15);
    df_tube_flow(&f2, 0.05, 0.5, &p, &p2, &heavy, 1, 298.15);
    near(f2 / flow, 2.0, 0.01, "Knudsen scaling");
    /* Poiseuille: laminar flow through a long tube at high pressure. */
    p1 = 2000.0;
    p2 = 1900.0;
    df_tube_flow(&flow, 0.02, 20.0, &p1, &p2, &molar, 1, 298.15);
    double exact = M_PI * pow(0.02, 4) * 0.5 * (p1 + p2) * (p1 - p2) / (128.0 * 1e-5 * 20.0) * molar /
                   (DF_GAS_CONSTANT * 298.15);
    near(flow / exact, 1.0, 0.2, "Poiseuille");
}

/* Unit conversion of cake resistance: 1 cm2 Torr h/g is 4.800e4 m/s. */
static void resistance_unit(void **state) {
    double value;
    assert_int_equal(df_quantity_parse(((kit *)*state)->ctx, &value, "1 cm2 Torr h/g", DF_DIM_RESISTANCE, NULL),
                     DF_OK);
    near(value / 4.800e4, 1.0, 1e-3, "cm2 Torr h/g");
}

static const char *const samples[] = {
    "water",
    "acetonitrile 20 %v/v, water",
    "acetonitrile 30 %v/v, methanol 5 %v/v, trifluoroacetic acid 0.1 %v/v, water",
    "tert-butanol 20 %w/w, water",
    "ethanol 10 %v/v, water",
    "acetic acid 10 %v/v, water",
};

static void check_account(const df_run *run, const char *name) {
    for (size_t i = 0; i < run->species; i++) {
        near(df_run_account_error(run, i), 0.0, 1e-8, "%s: account of %s", name, run->substance[i]->name);
    }
    near((run->heat_out + run->heat_stored) / run->heat_in, 1.0, 1e-6, "%s: heat", name);
}

static void conservation(void **state) {
    static const char *const dryers[] = {"bench-55", "deep-105"};
    for (size_t d = 0; d < 2; d++)
        for (size_t i = 0; i < sizeof samples / sizeof samples[0]; i++) {
            bed *b = make_bed(*state, dryers[d], samples[i], "vial_20R", 4e-6, 300);
            b->setup.keep_going = true;
            b->setup.recipe.n = 3;
            b->setup.recipe.time[1] = 6 * 3600.0;
            b->setup.recipe.time[2] = 7 * 3600.0;
            b->setup.recipe.shelf_temperature[1] = 235.15;
            b->setup.recipe.shelf_temperature[2] = 243.15;
            df_run run = run_bed(*state, b);
            check_account(&run, samples[i]);
            df_run_free(&run);
            free(b);
        }
}

static void tolerance_and_order(void **state) {
    const kit *k = *state;
    bed *b = make_bed(k, "bench-55", "acetonitrile 30 %v/v, methanol 5 %v/v, water", "vial_20R", 4e-6, 300);
    df_run whole = run_bed(k, b);
    b->setup.tolerance *= 0.5;
    df_run half = run_bed(k, b);
    near(half.time / whole.time, 1.0, 1e-3, "time at half the tolerance");
    for (size_t i = 0; i < whole.species; i++)
        near((half.deposit[i] - whole.deposit[i]) / whole.initial[i], 0.0, 1e-3,
             "deposit of %s at half the tolerance", whole.substance[i]->key);
    near(half.classes[0].hottest, whole.classes[0].hottest, 0.05, "hottest point");
    bed *o = make_bed(k, "bench-55", "water 65 %v/v, methanol 5 %v/v, acetonitrile 30 %v/v", "vial_20R", 4e-6, 300);
    df_run other = run_bed(k, o);
    near(other.time / whole.time, 1.0, 1e-3, "time with the species in another order");
    for (size_t i = 0; i < whole.species; i++)
        for (size_t j = 0; j < other.species; j++)
            if (whole.substance[i] == other.substance[j])
                near((other.deposit[j] - whole.deposit[i]) / whole.initial[i], 0.0, 1e-3,
                     "deposit of %s in another order", whole.substance[i]->key);
    df_run_free(&whole);
    df_run_free(&half);
    df_run_free(&other);
    free(b);
    free(o);
}

/* Two classes that are alike behave as one; a class with more heat dries first. */
static void classes(void **state) {
    bed *b = make_bed(*state, "bench-55", "acetonitrile 20 %v/v, water", "vial_20R", 4e-6, 300);
    df_run one = run_bed(*state, b);
    b->setup.classes[1] = b->setup.classes[0];
    b->setup.classes[0].count = 100;
    b->setup.classes[1].count = 200;
    b->setup.class_count = 2;
    df_run two = run_bed(*state, b);
    near(two.time / one.time, 1.0, 1e-3, "two equal classes");
    check_account(&two, "two classes");
    b->setup.classes[1].room_area = 4e-4;
    df_run edge = run_bed(*state, b);
    assert_true(edge.classes[1].time_dry < edge.classes[0].time_dry);
    assert_true(edge.classes[1].hottest > edge.classes[0].hottest);
    df_run_free(&one);
    df_run_free(&two);
    df_run_free(&edge);
    free(b);
}

/* Finish time falls with shelf temperature and rises with fill. */
/* The last of a trace leaves with the framework, though the trap hands it back: once there is no framework it is no longer thinned
 * by one, and its own pressure at -35 C, hundreds of times what the chamber holds, drives it. */
static void trace_goes_with_the_framework(void **state) {
    static const char *const dryers[] = {"bench-55", "bench-85", "deep-105"};
    const kit *k = *state;
    for (size_t d = 0; d < sizeof dryers / sizeof dryers[0]; d++) {
        bed *b = make_bed(k, dryers[d], "acetonitrile 35 %v/v, trifluoroacetic acid 0.1 %v/v, water", "vial_20R",
                          6e-6, 240);
        df_run run = run_bed(k, b);
        const df_class_run *r = &run.classes[0];
        assert_int_equal(run.end, DF_END_DRY);
        if (getenv("DRYFRONT_SHOW") != NULL)
            printf("%s: %.2f, %.2f, %.2f h\n", dryers[d], r->species_time[0] / 3600.0, r->species_time[1] / 3600.0,
                   r->species_time[2] / 3600.0);
        near(r->species_time[1], r->species_time[2], 1800.0, "%s: the trace against water", dryers[d]);
        df_run_free(&run);
        free(b);
    }
}

static void monotonic(void **state) {
    double before = INFINITY;
    for (double shelf = 223.15; shelf < 250.0; shelf += 5.0) {
        bed *b = make_bed(*state, "bench-85", "water", "vial_10R", 3e-6, 200);
        b->setup.recipe.shelf_temperature[0] = shelf;
        df_run run = run_bed(*state, b);
        assert_true(run.time < before);
        before = run.time;
        df_run_free(&run);
        free(b);
    }
    before = 0.0;
    for (double fill = 1e-6; fill < 6e-6; fill += 1e-6) {
        bed *b = make_bed(*state, "bench-85", "water", "vial_10R", fill, 200);
        df_run run = run_bed(*state, b);
        assert_true(run.time > before);
        before = run.time;
        df_run_free(&run);
        free(b);
    }
}

/* Nothing but radiation and convection from the room: the rate of an ice-filled flask on a manifold follows from it alone
 * (Basic studies on freeze-drying I: rates computed from radiation agreed with those measured on a manifold). */
static void room_heat(void **state) {
    (void)state;
    /* Black-body limit of radiation from 294.15 K to 243.15 K: 226.3 W/m2 times 0.9, natural convection on top. */
    double radiation = 0.9 * 5.670374419e-8 * (pow(294.15, 4) - pow(243.15, 4));
    near(df_room_heat_flux(294.15, 243.15, 0.0, 0.0), radiation, 1e-6, "radiation alone");
    double all = df_room_heat_flux(294.15, 243.15, 0.11, 0.0);
    /* Free convection of air on a cold sphere of 11 cm: 5 to 9 W/(m2 K), any text on heat transfer. */
    assert_true(all - radiation > 5.0 * 51.0 && all - radiation < 9.0 * 51.0);
    assert_true(df_room_heat_flux(294.15, 243.15, 0.11, 0.002) < all);
    near(df_room_heat_flux(294.15, 294.15, 0.11, 0.0), 0.0, 1e-9, "no difference, no heat");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(steady_cases), cmocka_unit_test(other_crystals),
        cmocka_unit_test(choked_flow),  cmocka_unit_test(resistance_unit),
        cmocka_unit_test(conservation), cmocka_unit_test(tolerance_and_order),
        cmocka_unit_test(classes),      cmocka_unit_test(trace_goes_with_the_framework),
        cmocka_unit_test(monotonic),    cmocka_unit_test(room_heat),
    };
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
