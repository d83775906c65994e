/* Parts of a dryer by themselves (src/dryer/flow.c) against textbook limits and tables. */
#include "chance.h"
#include "kit.h"

#include "dryfront/dryer.h"

#define AIR 0.0289652 /* kg/mol */

/* Molecular conductance for air at 20 C: 11.6 L/s for each cm2 of an orifice, 12.1 d3/l L/s of a long tube in cm (O'Hanlon, Vacuum
 * Technology, ch. 3). kg/(s Pa) over M/(R T) is m3/s. */
static void molecular_conductance(void **state) {
    (void)state;
    double t = 293.15, to_volume = DF_GAS_CONSTANT * t / AIR, flow, p1 = 1e-4, none = 0.0, molar = AIR;
    near(1e3 * to_volume * df_port_conductance(0.01, 1e-9, AIR, t) / (M_PI / 4.0), 11.6, 0.06, "orifice of 1 cm");
    near(1e3 * to_volume * df_port_conductance(0.01, 10.0, AIR, t), 12.1 / 1000.0, 0.0002, "10 m of 1 cm");
    df_tube_flow(&flow, 0.01, 10.0, &p1, &none, &molar, 1, t);
    near(1e3 * to_volume * flow / p1, 12.1 / 1000.0, 0.0002, "the same as a tube");
    df_tube_flow(&flow, 0.01, 0.02, &p1, &none, &molar, 1, t); /* both in series */
    near(1e3 * to_volume * flow / p1 * (1.0 / (11.6 * M_PI / 4.0) + 2.0 / 12.1), 1.0, 0.01, "a short tube");
}

/* A stream that carries all gases along takes each in proportion to its partial pressure, whatever it weighs; one that is choked
 * passes of a pure gas, first or second of two, what that gas alone would. */
static void mixed_streams(void **state) {
    (void)state;
    double molar[2] = {0.018015, 0.119}, p1[2] = {600.0, 200.0}, p2[2] = {500.0, 250.0}, flow[2], alone;
    df_tube_flow(flow, 0.05, 5.0, p1, p2, molar, 2, 293.15);
    near(flow[1] / molar[1] / (flow[0] / molar[0]), 200.0 / 600.0, 1e-3, "carried along");
    for (int pure = 0; pure < 2; pure++) {
        double from[2] = {0.0, 0.0}, into[2] = {0.0, 0.0};
        from[pure] = 60.0;
        double share = df_tube_flow(flow, 0.05, 0.005, from, into, molar, 2, 293.15);
        double limit = df_choked_flow(M_PI / 4.0 * 0.05 * 0.05, 60.0, 293.15, molar[pure], 1.25);
        df_tube_flow(&alone, 0.05, 0.005, &from[pure], &into[pure], &molar[pure], 1, 293.15);
        near(flow[pure] / alone, 1.0, 1e-9, "alone or beside nothing");
        near(flow[pure] / limit, share, 1e-9, "share of sonic flow");
        assert_true(share > 0.8 && share < 1.0);
    }
}

/* Slopes of the flow against central differences, from molecular to choked, both ways. */
static void tube_slopes(void **state) {
    (void)state;
    const double molar[3] = {0.018015, 0.04105, AIR}, t = 298.15;
    uint64_t seed = 7;
    for (int round = 0; round < 200; round++) {
        double p[2][3], flow[3], up[3], down[3], by[2][9] = {{0.0}}, d = 0.01 + 0.1 * uniform(&seed), most = 0.0;
        double length = 0.05 + 2.0 * uniform(&seed);
        for (int side = 0; side < 2; side++)
            for (int i = 0; i < 3; i++)
                p[side][i] = pow(10.0, -2.0 + 4.5 * uniform(&seed));
        df_tube_slopes(flow, by[0], by[1], d, length, p[0], p[1], molar, 3, t);
        for (int i = 0; i < 18; i++)
            most = fmax(most, fabs(by[i / 9][i % 9]));
        for (int side = 0; side < 2; side++)
            for (int j = 0; j < 3; j++) {
                double keep = p[side][j], step = 1e-4 * keep;
                p[side][j] = keep + step;
                df_tube_flow(up, d, length, p[0], p[1], molar, 3, t);
                p[side][j] = keep - step;
                df_tube_flow(down, d, length, p[0], p[1], molar, 3, t);
                p[side][j] = keep;
                for (int i = 0; i < 3; i++)
                    near(by[side][3 * j + i] / most, (up[i] - down[i]) / (2.0 * step) / most, 2e-6,
                         "slope of flow %d by pressure %d of side %d, round %d", i, j, side, round);
            }
    }
}

static void pumps(void **state) {
    df_dryer d;
    assert_int_equal(df_dryer_builtin(((kit *)*state)->ctx, &d, "bench-55"), DF_OK);
    d.pump.speed = (df_curve){3, {1.0, 100.0, 1e5}, {1e-3, 3e-3, 2e-3}};
    assert_near(df_pump_speed(&d, 10.0, 0.0), 2e-3, 1e-12); /* halfway in the logarithm */
    assert_near(df_pump_speed(&d, 10.0, 2.0), 2e-3 * (1.0 - 2.0 / 10.0), 1e-12);
    assert_near(df_pump_speed(&d, 0.1, 0.05), 1e-3 * 0.5, 1e-12);
    assert_true(df_pump_speed(&d, 0.05, 0.05) == 0.0);
    for (int kind = DF_PUMP_OIL_SEALED; kind <= DF_PUMP_DIAPHRAGM;
         kind++) { /* a generic pump is slower where it is thin */
        d.pump.kind = (df_pump_kind)kind;
        df_pump_generic(&d, 4e-3);
        assert_near(df_pump_speed(&d, 1e5, 0.0), 4e-3, 1e-12);
        for (double p = 1.0; p < 1e5; p *= 2.0)
            assert_true(df_pump_speed(&d, p, 0.0) <= df_pump_speed(&d, 2.0 * p, 0.0) * (1.0 + 1e-12));
    }
}

/* The points of the file, straight lines between and beyond; the no-load temperature is the foot of the first. */
static void refrigeration(void **state) {
    df_dryer d;
    assert_int_equal(df_dryer_builtin(((kit *)*state)->ctx, &d, "bench-55"), DF_OK);
    df_trap *t = &d.trap[0];
    assert_near(df_trap_no_load(t), 218.15, 1e-12);
    static const double points[][2] = {{-57.0, -90.0}, {-55.0, 0.0},   {-52.5, 112.5}, {-47.5, 325.0},
                                       {-40.0, 600.0}, {-35.0, 775.0}, {-20.0, 1300.0}};
    for (size_t i = 0; i < sizeof points / sizeof points[0]; i++)
        near(df_trap_refrigeration(t, points[i][0] + 273.15), points[i][1], 1e-6, "coil at %.1f", points[i][0]);
    df_trap_shift(t, 200.0);
    assert_near(df_trap_no_load(t), 200.0, 1e-12);
    near(df_trap_refrigeration(t, 200.0 + 7.5), 325.0, 1e-6, "moved along");
    t->refrigeration.y[0] = 25.0; /* where the file begins above its no-load temperature */
    near(df_trap_no_load(t), 200.0 - 25.0 * 5.0 / 200.0, 1e-9, "foot below the first point");
}

/* Churchill's equation for a sphere with the properties of air from a table (Incropera & DeWitt, Fundamentals of Heat and Mass
 * Transfer, table A.4, from memory: 250 K: 11.44e-6 and 15.9e-6 m2/s, 22.3e-3 W/(m K); 300 K: 15.89e-6, 22.5e-6, 26.3e-3); frost
 * lets through k/thickness of the difference over it. */
static void heat_of_the_room(void **state) {
    (void)state;
    static const struct {
        double film, nu, alpha, k;
    } air[] = {{250.0, 11.44e-6, 15.9e-6, 22.3e-3}, {300.0, 15.89e-6, 22.5e-6, 26.3e-3}};
    for (size_t i = 0; i < 2; i++) {
        double room = air[i].film + 20.0, wall = air[i].film - 20.0, d = 0.1, prandtl = air[i].nu / air[i].alpha;
        double rayleigh = 9.81 / air[i].film * 40.0 * pow(d, 3) / (air[i].nu * air[i].alpha);
        double nusselt = 2.0 + 0.589 * pow(rayleigh, 0.25) / pow(1.0 + pow(0.469 / prandtl, 9.0 / 16.0), 4.0 / 9.0);
        double convects = df_room_heat_flux(room, wall, d, 0.0) - df_room_heat_flux(room, wall, 0.0, 0.0);
        near(convects / (nusselt * air[i].k / d * 40.0), 1.0, 0.03, "air at %.0f K", air[i].film);
    }
    double flux = df_room_heat_flux(294.15, 243.15, 0.11, 0.003), outside = 243.15 + flux * 0.003 / 0.25;
    near(df_room_heat_flux(294.15, outside, 0.11, 0.0) / flux, 1.0, 1e-6, "through 3 mm of frost");
}

/* Pikal, Roy & Shah's form. */
static void shelf_coefficient(void **state) {
    df_dryer d;
    assert_int_equal(df_dryer_builtin(((kit *)*state)->ctx, &d, "bench-55"), DF_OK);
    near(df_shelf_coefficient(&d, 0.0), 8.0, 1e-12, "contact alone");
    near(df_shelf_coefficient(&d, 20.0), 8.0 + 20.8 / 1.58, 1e-9, "at 0.2 mbar");
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(molecular_conductance), cmocka_unit_test(mixed_streams),
                                       cmocka_unit_test(tube_slopes),           cmocka_unit_test(pumps),
                                       cmocka_unit_test(refrigeration),         cmocka_unit_test(heat_of_the_room),
                                       cmocka_unit_test(shelf_coefficient)};
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
