/* Freezing time against analytical solutions and published equations. */
#include "context.h"
#include "dryfront/sample.h"

#define MELTING 273.15
#define COLD 233.15
#define MAX_CELLS 800

static double constant_resistance(double wall, void *data) {
    (void)wall;
    return *(double *)data;
}

/* A material that freezes at MELTING: an isothermal plateau. */
typedef struct material {
    double t[4], h[4], k[4];
    double solid_heat, liquid_heat, latent, solid_k, liquid_k;
} material;

static material ideal(double solid_heat, double liquid_heat, double latent, double solid_k, double liquid_k) {
    material m = {{MELTING - 200.0, MELTING, MELTING, MELTING + 100.0},
                  {-200.0 * solid_heat, 0.0, latent, latent + 100.0 * liquid_heat},
                  {solid_k, solid_k, liquid_k, liquid_k},
                  solid_heat,
                  liquid_heat,
                  latent,
                  solid_k,
                  liquid_k};
    return m;
}

/* J/m3, J/(m3 K), W/(m K): water and ice, rounded; the solutions do not depend on their truth. */
static material water(void) {
    return ideal(1.93e6, 4.0e6, 306e6, 2.2, 0.56);
}

static double freeze(df_context *ctx, double *temperatures, const material *m, size_t cells, int curvature,
                     double inner, double outer, double start, double target, double limit, double resistance) {
    double time;
    assert_int_equal(df_freeze_body(ctx, &time, temperatures, cells, curvature, inner, outer, m->t, m->h, m->k, 4,
                                    start, target, COLD, limit, constant_resistance, &resistance),
                     DF_OK);
    return time;
}

/* Neumann's solution: front at 2 lambda sqrt(a_s t) with
 *     exp(-l^2)/erf(l) - (k_l/k_s) sqrt(a_s/a_l) (T0 - Tm)/(Tm - Tc) exp(-l^2 a_s/a_l)/erfc(l sqrt(a_s/a_l))
 *         = l L sqrt(pi)/(c_s (Tm - Tc))
 * Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed. (1959), section 11.2; Crank, Free and Moving Boundary
 * Problems (1984), section 3.2. */
typedef struct neumann {
    material m;
    double start;
} neumann;

static double neumann_condition(double x, void *data) {
    const neumann *n = data;
    const material *m = &n->m;
    double as = m->solid_k / m->solid_heat, al = m->liquid_k / m->liquid_heat, ratio = sqrt(as / al);
    double solid = exp(-x * x) / erf(x), liquid = exp(-x * x * as / al) / erfc(x * ratio);
    return solid - m->liquid_k / m->solid_k * ratio * (n->start - MELTING) / (MELTING - COLD) * liquid -
           x * m->latent * sqrt(M_PI) / (m->solid_heat * (MELTING - COLD));
}

static double neumann_lambda(const material *m, double start) {
    neumann n = {*m, start};
    double root;
    assert_true(df_find_root(&root, 1e-3, 3.0, 1e-13, neumann_condition, &n));
    return root;
}

/* One phase: liquid at its melting point, wall held at COLD. Error falls with the grid. */
static void test_neumann_one_phase(void **state) {
    material m = water();
    double thickness = 0.02, lambda = neumann_lambda(&m, MELTING);
    double exact = pow(thickness / (2.0 * lambda), 2.0) * m.solid_heat / m.solid_k;
    double error = INFINITY;
    for (size_t cells = 20; cells <= 160; cells *= 2) {
        double time = freeze(*state, NULL, &m, cells, 0, 0.0, thickness, MELTING + 1e-7, MELTING - 1e-7, 1e6, 1e-9);
        assert_near(time, exact, 0.01);
        assert_true(fabs(time - exact) < 0.8 * error);
        error = fabs(time - exact);
    }
    assert_true(error < 1e-3 * exact);
}

/* Two phases: liquid 20 K warmer, body so thick that its far end feels nothing. */
static void test_neumann_two_phase(void **state) {
    material m = water();
    double start = MELTING + 20.0, thickness = 0.1, limit = 1200.0, t[MAX_CELLS];
    double lambda = neumann_lambda(&m, start), as = m.solid_k / m.solid_heat, al = m.liquid_k / m.liquid_heat;
    double front = 2.0 * lambda * sqrt(as * limit);
    for (size_t cells = 100; cells <= MAX_CELLS; cells *= 2) {
        double time = freeze(*state, t, &m, cells, 0, 0.0, thickness, start, 0.0, limit, 1e-9);
        assert_true(time == limit);
        /* Front: where the profile of the solid, through its last two whole cells, meets the melting point. Cell i
         * lies at depth (cells - i - 1/2) of the wall. */
        double width = thickness / (double)cells;
        size_t i = cells - 1;
        while (i > 0 && t[i] < MELTING - 1e-6)
            i--;
        double slope = (t[i + 2] - t[i + 4]) / (2.0 * width);
        double found = ((double)(cells - i) - 2.5) * width + (MELTING - t[i + 2]) / slope;
        /* A front inside a cell looks as if it stood at the middle. */
        if (fabs(found - front) > 0.55 * width + 1e-3 * front)
            fail_msg("%zu cells: front at %.4f mm, expected %.4f mm", cells, 1e3 * found, 1e3 * front);
        /* Both profiles. */
        double ratio = sqrt(as / al);
        for (size_t j = 0; j < cells; j += cells / 50) {
            double x = ((double)(cells - j) - 0.5) * width, expected;
            if (fabs(x - front) < 2.0 * width)
                continue;
            if (x < front)
                expected = COLD + (MELTING - COLD) * erf(x / (2.0 * sqrt(as * limit))) / erf(lambda);
            else
                expected = start - (start - MELTING) * erfc(x / (2.0 * sqrt(al * limit))) / erfc(lambda * ratio);
            if (fabs(t[j] - expected) > 0.01 * (start - COLD))
                fail_msg("%zu cells: %.3f K at %.2f mm, expected %.3f K", cells, t[j], 1e3 * x, expected);
        }
        if (cells == MAX_CELLS)
            assert_near(found, front, 0.005);
    }
}

/* Plank's equation t = L/(Tm - Tc) (P D/h + R D^2/k), P and R 1/2, 1/8 (slab cooled from both sides), 1/4, 1/16
 * (cylinder), 1/6, 1/24 (sphere), D thickness or diameter: R. Plank (1913; 1941) as in Caballero (ed.),
 * Encyclopaedia of Food Sciences and Nutrition (ten volumes), the article on freezing times, eq. (2). It leaves
 * out sensible heat: exact where that vanishes, below the true time otherwise. */
static const double plank_p[] = {1.0 / 2.0, 1.0 / 4.0, 1.0 / 6.0}, plank_r[] = {1.0 / 8.0, 1.0 / 16.0, 1.0 / 24.0};

static double plank(const material *m, int curvature, double radius, double resistance) {
    double d = 2.0 * radius;
    return m->latent / (MELTING - COLD) *
           (plank_p[curvature] * d * resistance + plank_r[curvature] * d * d / m->solid_k);
}

static void test_plank(void **state) {
    material slow = ideal(1e3, 1e3, 306e6, 2.2, 0.56), true_water = water();
    for (int curvature = 0; curvature < 3; curvature++)
        for (double resistance = 1e-4; resistance < 0.2; resistance *= 10.0) {
            double expected = plank(&slow, curvature, 0.02, resistance);
            double time = freeze(*state, NULL, &slow, 200, curvature, 0.0, 0.02, MELTING + 1e-6, MELTING - 1e-6, 1e8,
                                 resistance);
            assert_near(time, expected, 0.002);
            /* 32 cells, as for a container, do as well as the assumptions deserve. */
            time = freeze(*state, NULL, &slow, 32, curvature, 0.0, 0.02, MELTING + 1e-6, MELTING - 1e-6, 1e8,
                          resistance);
            assert_near(time, expected, 0.01);
            time = freeze(*state, NULL, &true_water, 200, curvature, 0.0, 0.02, MELTING + 1e-6, MELTING - 1e-6, 1e8,
                          resistance);
            assert_true(time > plank(&true_water, curvature, 0.02, resistance));
            assert_true(time < 1.25 * plank(&true_water, curvature, 0.02, resistance));
        }
}

/* Hollow sphere frozen from outside, sensible heat left out: integral of L r^2 (1/(h R^2) + (1/r - 1/R)/k)/(Tm -
 * Tc). */
static void test_shell(void **state) {
    material m = ideal(1e3, 1e3, 306e6, 2.2, 0.56);
    double ri = 0.03, ro = 0.05, r = 5e-3;
    double expected = m.latent / (MELTING - COLD) *
                      ((pow(ro, 3.0) - pow(ri, 3.0)) / 3.0 * (r / (ro * ro) - 1.0 / (m.solid_k * ro)) +
                       (ro * ro - ri * ri) / (2.0 * m.solid_k));
    double time = freeze(*state, NULL, &m, 100, 2, ri, ro, MELTING + 1e-6, MELTING - 1e-6, 1e8, r);
    assert_near(time, expected, 0.002);
    /* A thin shell is a slab. */
    time = freeze(*state, NULL, &m, 50, 2, 0.999, 1.0, MELTING + 1e-6, MELTING - 1e-6, 1e8, r);
    assert_near(time, plank(&m, 0, 1e-3, r), 0.003);
}

/* Small Biot number: one temperature, T - Tc falls as exp(-t A/(R C V)) (any textbook of heat transfer), with the
 * plateau in between taking L V R/(A (Tm - Tc)). */
static void test_lumped(void **state) {
    material m = water();
    double radius = 1e-3, resistance = 10.0; /* Biot 2e-4 and less */
    for (int curvature = 0; curvature < 3; curvature++) {
        double v = radius / (curvature + 1.0) * resistance; /* V R/A */
        double expected = v * (m.liquid_heat * log((293.15 - COLD) / (MELTING - COLD)) + m.latent / (MELTING - COLD) +
                               m.solid_heat * log((MELTING - COLD) / (235.15 - COLD)));
        assert_near(freeze(*state, NULL, &m, 16, curvature, 0.0, radius, 293.15, 235.15, 1e9, resistance), expected,
                    2e-3);
    }
}

/* A resistance that makes the flux constant: the heat that has left is known exactly. */
typedef struct steady {
    double flux;
} steady;

static double steady_resistance(double wall, void *data) {
    return (wall - COLD) / ((steady *)data)->flux;
}

static void test_energy_is_kept(void **state) {
    /* No plateau here, so that a temperature tells its enthalpy: freezing over 3 K. */
    double t[] = {100.0, 270.0, 273.0, 350.0}, h[] = {-330e6, 0.0, 300e6, 600e6}, k[] = {2.5, 2.2, 0.56, 0.6};
    enum { CELLS = 40 };
    double found[CELLS];
    steady s = {2000.0};
    for (int curvature = 0; curvature < 3; curvature++)
        for (double limit = 20.0; limit < 700.0; limit *= 2.0) {
            double outer = 0.015, inner = 0.005, time;
            assert_int_equal(df_freeze_body(*state, &time, found, CELLS, curvature, inner, outer, t, h, k, 4, 290.0,
                                            0.0, COLD, limit, steady_resistance, &s),
                             DF_OK);
            double p = curvature + 1.0, held = 0.0, all = (pow(outer, p) - pow(inner, p)) / p;
            for (int i = 0; i < CELLS; i++) {
                double r0 = inner + (outer - inner) * i / CELLS, r1 = inner + (outer - inner) * (i + 1) / CELLS;
                held += (pow(r1, p) - pow(r0, p)) / p * df_interpolate(t, h, 4, found[i]);
            }
            double lost = all * df_interpolate(t, h, 4, 290.0) - held;
            assert_near(lost, s.flux * pow(outer, p - 1.0) * time, 1e-5);
        }
}

static void test_refusals(void **state) {
    material m = water();
    double r = 0.01, time, plateau_end[] = {100.0, 200.0, 273.0, 273.0}, falling[] = {0.0, 2.0, 1.0, 3.0};
    struct {
        const double *t, *h;
        size_t cells;
        int curvature;
        double inner, outer, start, coolant;
    } bad[] = {
        {plateau_end, m.h, 10, 0, 0.0, 0.01, 280.0, 250.0}, {m.t, falling, 10, 0, 0.0, 0.01, 280.0, 250.0},
        {m.t, m.h, 1, 0, 0.0, 0.01, 280.0, 250.0},          {m.t, m.h, 10, 3, 0.0, 0.01, 280.0, 250.0},
        {m.t, m.h, 10, 2, 0.02, 0.01, 280.0, 250.0},        {m.t, m.h, 10, 0, 0.0, 0.01, 240.0, 250.0},
        {m.t, m.h, 10, 0, 0.0, 0.01, NAN, 250.0},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        assert_int_equal(df_freeze_body(*state, &time, NULL, bad[i].cells, bad[i].curvature, bad[i].inner,
                                        bad[i].outer, bad[i].t, bad[i].h, m.k, 4, bad[i].start, 260.0, bad[i].coolant,
                                        1e3, constant_resistance, &r),
                         DF_E_INPUT);
    r = NAN; /* a resistance that is none */
    assert_int_equal(df_freeze_body(*state, &time, NULL, 10, 0, 0.0, 0.01, m.t, m.h, m.k, 4, 280.0, 260.0, 250.0, 1e3,
                                    constant_resistance, &r),
                     DF_E_CONVERGENCE);
}

/* ---- containers ----------------------------------------------------------------------------------------------- */

/* Pure water as a frozen path: freezing within one step of the table below 273 K. */
static void water_path(df_frozen_path *p) {
    memset(p, 0, sizeof *p);
    p->n = 1;
    p->lowest = 160.0;
    p->step = 0.5;
    p->points = DF_PATH_POINTS;
    p->liquidus = p->solidus = 273.0;
    p->volume_fraction[0] = 1.0;
    p->frozen_density = 917.0;
    for (size_t i = 0; i < DF_PATH_POINTS; i++) {
        double t = p->lowest + p->step * (double)i;
        bool solid = t < 273.0;
        p->enthalpy[i] = p->species_enthalpy[0][i] = solid ? -333.5e3 - 2100.0 * (273.0 - t) : 4180.0 * (t - 273.0);
        p->liquid_mass[i] = p->species_liquid[0][i] = solid ? 0.0 : 1.0;
        p->solid_volume[i] = solid ? 1.0 : 0.0;
    }
}

static df_freezing_result freeze_container(df_context *ctx, const char *key, double volume, df_lie lie,
                                           df_cooling cooling, double target) {
    static const double start = 283.15;
    df_frozen_path path;
    df_container c;
    df_shape s;
    df_freezing_result r = {0};
    water_path(&path);
    assert_int_equal(df_container_find(ctx, &c, NULL, key, NULL), DF_OK);
    assert_int_equal(df_shape_make(ctx, &s, &c, volume, lie, NULL), DF_OK);
    assert_int_equal(df_freeze(ctx, &r, &path, &c, &s, &cooling, start, target), DF_OK);
    return r;
}

/* A vial on a shelf is Plank's slab cooled from one side: his time is a bound from below, sensible heat adds up to
 * a third. */
static void test_vial_on_shelf(void **state) {
    df_cooling shelf = {DF_MEANS_SHELF, 233.15};
    df_freezing_result r = freeze_container(*state, "vial_20R", 6e-6, DF_LIE_REST, shelf, 250.0);
    double depth = 6e-6 / (M_PI / 4.0 * 0.0276 * 0.0276), film = 1.0 / r.outer_coefficient + 1.2e-3 / 1.1;
    double latent = 917.0 * 333.5e3,
           least = latent / (273.0 - 233.15) * (depth * film + depth * depth / (2.0 * 488.0 / 253.0));
    assert_true(r.complete);
    assert_true(r.time_to_solid > least && r.time_to_solid < 1.35 * least);
    assert_true(r.time_to_target > r.time_to_solid);
    assert_near(r.reached, 233.15, 1e-12);
}

static void test_means_in_order(void **state) {
    double time[4];
    static const df_lie lies[] = {DF_LIE_REST, DF_LIE_SHELL};
    for (int m = 0; m < 4; m++) {
        df_cooling cooling = {(df_means)m, df_means_temperature((df_means)m)};
        double lie_time[2];
        for (int l = 0; l < 2; l++) {
            df_freezing_result r = freeze_container(*state, "flask_500", 150e-6, lies[l], cooling, 258.15);
            assert_true(r.complete && r.time_to_solid < r.time_to_target);
            lie_time[l] = r.time_to_target;
        }
        assert_true(lie_time[1] < 0.6 * lie_time[0]); /* that is what turning the flask is for */
        time[m] = lie_time[1];
    }
    assert_true(time[DF_MEANS_LIQUID_NITROGEN] < time[DF_MEANS_DRY_ICE_BATH]);
    assert_true(time[DF_MEANS_DRY_ICE_BATH] < time[DF_MEANS_SHELF]);
    assert_true(time[DF_MEANS_SHELF] < time[DF_MEANS_FREEZER]);
    assert_true(time[DF_MEANS_DRY_ICE_BATH] > 60.0 &&
                time[DF_MEANS_DRY_ICE_BATH] < 1800.0); /* minutes, as at the bench */
}

/* An upright tube in a bath freezes from its side: Plank's cylinder bounds the latent part from below. */
static void test_tube_in_bath(void **state) {
    df_cooling bath = {DF_MEANS_DRY_ICE_BATH, 198.15};
    df_freezing_result r = freeze_container(*state, "tube_50", 40e-6, DF_LIE_REST, bath, 250.0);
    double radius = 0.0136, film = radius * log(15.0 / 13.6) / 0.2 + 13.6 / 15.0 / r.outer_coefficient;
    double least = 917.0 * 333.5e3 / 75.0 * (radius * film / 2.0 + radius * radius / (4.0 * 488.0 / 198.0));
    assert_true(r.time_to_solid > least && r.time_to_solid < 1.5 * least);
}

/* What df_freeze makes of a container, put together by hand: body, wall and outer film in series, each by its own
 * area. */
static void test_assembly(void **state) {
    static const double coolant = 198.15;
    df_frozen_path path;
    water_path(&path);
    double t[DF_PATH_POINTS], h[DF_PATH_POINTS], k[DF_PATH_POINTS];
    for (size_t i = 0; i < DF_PATH_POINTS; i++) {
        t[i] = 160.0 + 0.5 * (double)i;
        h[i] = path.enthalpy[i] * 917.0;
        k[i] = t[i] < 273.0 ? 488.0 / t[i] : 0.56;
    }
    /* Sphere of 107.5 mm, wall 1.8 mm of glass (1.1 W/(m K)): 150 mL as a shell over 70 %, 1 as the slab of equal
     * wall area. */
    double ri = 0.05375, ro = ri + 1.8e-3, sphere_wall = (1.0 / ri - 1.0 / ro) * ri * ri / 1.1,
           sphere_ratio = ro * ro / (ri * ri);
    double hollow = cbrt(ri * ri * ri - 3.0 * 150e-6 / (4.0 * M_PI * 0.7)), z = 0.03;
    for (int i = 0; i < 30; i++) /* height of the cap, by Newton */
        z -= (M_PI * z * z * (3.0 * ri - z) / 3.0 - 150e-6) / (M_PI * z * (2.0 * ri - z));
    struct {
        const char *key;
        double volume;
        df_lie lie;
        df_means means;
        int curvature;
        double inner, outer, wall, ratio;
    } cases[] = {
        {"vial_20R", 6e-6, DF_LIE_REST, DF_MEANS_SHELF, 0, 0.0, 6e-6 / (M_PI * 0.0138 * 0.0138), 1.2e-3 / 1.1, 1.0},
        {"tube_50", 40e-6, DF_LIE_REST, DF_MEANS_DRY_ICE_BATH, 1, 0.0, 0.0136, 0.0136 * log(15.0 / 13.6) / 0.2,
         15.0 / 13.6},
        {"flask_500", 150e-6, DF_LIE_SHELL, DF_MEANS_DRY_ICE_BATH, 2, hollow, ri, sphere_wall, sphere_ratio},
        {"flask_500", 150e-6, DF_LIE_REST, DF_MEANS_DRY_ICE_BATH, 0, 0.0, 150e-6 / (2.0 * M_PI * ri * z), sphere_wall,
         sphere_ratio},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        df_cooling cooling = {cases[i].means, coolant};
        df_freezing_result r = freeze_container(*state, cases[i].key, cases[i].volume, cases[i].lie, cooling, 220.0);
        double resistance = cases[i].wall + 1.0 / (r.outer_coefficient * cases[i].ratio), time;
        assert_int_equal(df_freeze_body(*state, &time, NULL, 32, cases[i].curvature, cases[i].inner, cases[i].outer,
                                        t, h, k, DF_PATH_POINTS, 283.15, 220.0, coolant, 1e7, constant_resistance,
                                        &resistance),
                         DF_OK);
        assert_near(r.time_to_target, time, 2e-3);
    }
}

static void test_out_of_reach(void **state) {
    df_cooling shelf = {DF_MEANS_SHELF, 272.5};
    df_freezing_result r = freeze_container(*state, "vial_10R", 4e-6, DF_LIE_REST, shelf, 260.0);
    assert_false(r.complete);
    assert_true(isnan(r.time_to_solid) && isnan(r.time_to_target));
    assert_near(r.reached, 272.5, 1e-12);
    /* Solid, but never at the target. */
    shelf.temperature = 262.0;
    r = freeze_container(*state, "vial_10R", 4e-6, DF_LIE_REST, shelf, 260.0);
    assert_true(!r.complete && r.time_to_solid > 0.0 && isnan(r.time_to_target));
    /* Target warmer than the point of being solid. */
    r = freeze_container(*state, "vial_10R", 4e-6, DF_LIE_REST, shelf, 280.0);
    assert_true(r.complete && r.time_to_target < r.time_to_solid);
    df_frozen_path path;
    df_container c;
    df_shape s;
    water_path(&path);
    assert_int_equal(df_container_find(*state, &c, NULL, "vial_10R", NULL), DF_OK);
    assert_int_equal(df_shape_make(*state, &s, &c, 4e-6, DF_LIE_REST, NULL), DF_OK);
    shelf.temperature = 300.0;
    assert_int_equal(df_freeze(*state, &r, &path, &c, &s, &shelf, 283.15, 260.0), DF_E_INPUT);
}

/* Free convection around a sphere, Churchill (1983): Nu = 25.6709 at Pr 0.7, Gr 1e7, a worked value of the
 * documentation of a general heat-transfer library. Air at 273 K and 1 atm from tables: nu 1.328e-5 m2/s, k 0.0241
 * W/(m K), Pr 0.71 (from memory). Radiation of emissivity 0.9 is taken off. */
static void test_air_around_flask(void **state) {
    (void)state;
    df_container c = {"round", "a round flask", DF_FLASK, 0.1, 0.1, 5e-4, 2e-3, 0.2, 0.02, false, ""};
    double hot = 293.15, cold = 253.15, nu = 1.328e-5;
    c.outer_diameter = cbrt(1e7 * nu * nu * 273.15 / (9.80665 * (hot - cold)));
    df_cooling freezer = {DF_MEANS_FREEZER, cold};
    double radiation = 0.9 * DF_STEFAN_BOLTZMANN * (hot * hot + cold * cold) * (hot + cold);
    double h = df_cooling_coefficient(&freezer, &c, hot) - radiation;
    assert_near(h, 25.6709 * 0.0241 / c.outer_diameter, 0.02);
}

/* Plunged straws of 2 mm: 148 W/(m2 K) under the film, 1355 below: Santos, Sansinena, Chirife & Zaritzky,
 * Cryobiology 69 (2014) 488 (the numbers from memory). */
static void test_nitrogen_around_straw(void **state) {
    (void)state;
    df_container c = {"straw", "a straw", DF_TUBE, 1.6e-3, 2e-3, 2.5e-7, 2e-4, 1e-4, 1.6e-3, false, ""};
    df_cooling nitrogen = {DF_MEANS_LIQUID_NITROGEN, 77.35};
    assert_near(df_cooling_coefficient(&nitrogen, &c, 220.0), 148.0, 0.25);
    assert_near(df_cooling_coefficient(&nitrogen, &c, 90.0), 1355.0, 0.25);
}

/* The same sums for an organic liquid: 0.17 W/(m K), as crystals 0.25 (docs/sample.md). */
static void test_organic(void **state) {
    static const double coolant = 233.15;
    df_frozen_path path;
    df_container c;
    df_shape shape;
    df_freezing_result r;
    df_cooling shelf = {DF_MEANS_SHELF, coolant};
    double t[DF_PATH_POINTS], h[DF_PATH_POINTS], k[DF_PATH_POINTS], time;
    water_path(&path);
    path.water = -1;
    for (size_t i = 0; i < DF_PATH_POINTS; i++) {
        t[i] = 160.0 + 0.5 * (double)i;
        h[i] = path.enthalpy[i] * 917.0;
        k[i] = t[i] < 273.0 ? 0.25 : 0.17;
    }
    assert_int_equal(df_container_find(*state, &c, NULL, "vial_20R", NULL), DF_OK);
    assert_int_equal(df_shape_make(*state, &shape, &c, 6e-6, DF_LIE_REST, NULL), DF_OK);
    assert_int_equal(df_freeze(*state, &r, &path, &c, &shape, &shelf, 283.15, 250.0), DF_OK);
    double resistance = 1.2e-3 / 1.1 + 1.0 / r.outer_coefficient;
    assert_int_equal(df_freeze_body(*state, &time, NULL, 32, 0, 0.0, shape.thickness, t, h, k, DF_PATH_POINTS, 283.15,
                                    250.0, coolant, 1e7, constant_resistance, &resistance),
                     DF_OK);
    assert_near(r.time_to_target, time, 2e-3);
}

/* A container upright in a bath freezes from its bottom or from its side, whichever Plank's equation has as the faster: slab
 * L (film + L/2k), cylinder r (film/2 + r/4k), film with the wall in it, k of ice at 160 K. Either side of where they are alike. */
static void test_bottom_or_side(void **state) {
    static const double coolant = 198.15;
    df_frozen_path path;
    water_path(&path);
    double t[DF_PATH_POINTS], h[DF_PATH_POINTS], k[DF_PATH_POINTS];
    for (size_t i = 0; i < DF_PATH_POINTS; i++) {
        t[i] = 160.0 + 0.5 * (double)i;
        h[i] = path.enthalpy[i] * 917.0;
        k[i] = t[i] < 273.0 ? 488.0 / t[i] : 0.56;
    }
    static const struct {
        const char *key;
        double radius, wall, conductivity;
    } cases[] = {{"vial_20R", 0.0138, 1.2e-3, 1.1}, {"tube_50", 0.0136, 1.4e-3, 0.2}};
    df_cooling bath = {DF_MEANS_DRY_ICE_BATH, coolant};
    for (size_t i = 0; i < 2; i++) {
        double r = cases[i].radius, ice = 488.0 / 160.0, outer = r + cases[i].wall;
        double film = 1.0 / 200.0 + cases[i].wall / cases[i].conductivity;
        double side = r * (film / 2.0 + r / (4.0 * ice)),
               depth = 2.0 * ice * (sqrt(film * film + 2.0 * side / ice) - film) / 2.0;
        assert_near(depth * (film + depth / (2.0 * ice)), side, 1e-9);
        for (int deeper = 0; deeper < 2; deeper++) {
            double size = deeper ? r : depth * 0.98, volume = depth * (deeper ? 1.02 : 0.98) * M_PI * r * r, time;
            df_freezing_result q = freeze_container(*state, cases[i].key, volume, DF_LIE_REST, bath, 220.0);
            double resistance = deeper ? r * log(outer / r) / cases[i].conductivity + r / outer / q.outer_coefficient
                                       : cases[i].wall / cases[i].conductivity + 1.0 / q.outer_coefficient;
            assert_int_equal(df_freeze_body(*state, &time, NULL, 32, deeper, 0.0, size, t, h, k, DF_PATH_POINTS,
                                            283.15, 220.0, coolant, 1e7, constant_resistance, &resistance),
                             DF_OK);
            assert_near(q.time_to_target, time, 3e-3);
        }
    }
}

/* Still air under a tray, Nu = 0.27 Ra^(1/4) on area over perimeter (McAdams), and film boiling by Breen & Westwater's equation with
 * the heat that superheats the vapour, worked out here for one body each. Properties from memory. */
static void test_coefficients_by_hand(void **state) {
    (void)state;
    double hot = 293.15, cold = 253.15, nu = 1.328e-5, d = 0.3;
    df_container tray = {"tray", "a tray", DF_TRAY, d, d, 2e-3, 2e-3, 0.03, 0.3, false, ""};
    tray.outer_diameter = d;
    df_cooling freezer = {DF_MEANS_FREEZER, cold};
    double radiation = 0.9 * DF_STEFAN_BOLTZMANN * (hot * hot + cold * cold) * (hot + cold);
    double rayleigh = 9.80665 * 40.0 / 273.15 * pow(d / 4.0, 3) / (nu * nu) * 0.715;
    double h = df_cooling_coefficient(&freezer, &tray, hot) - radiation;
    assert_near(h, 0.27 * pow(rayleigh, 0.25) * 0.0241 / (d / 4.0), 0.02);
    df_container flask = {"round", "a round flask", DF_FLASK, 0.1, 0.1, 5e-4, 2e-3, 0.2, 0.02, false, ""};
    flask.outer_diameter = 0.1;
    df_cooling nitrogen = {DF_MEANS_LIQUID_NITROGEN, 77.35};
    double wall = 237.35, mean = 157.35, rho = 101325.0 * 0.0280134 / (8.314462618 * mean),
           lift = 9.80665 * (807.0 - rho);
    double wave = 2.0 * M_PI * sqrt(8.85e-3 / lift), super = 1.0 + 0.34 * 1040.0 * 160.0 / 199e3;
    double conductivity = 0.0258 * pow(mean / 300.0, 0.93), viscosity = 17.9e-6 * pow(mean / 300.0, 0.87);
    double f4 = pow(conductivity, 3) * rho * lift * 199e3 * super * super / (viscosity * 160.0);
    assert_near(df_cooling_coefficient(&nitrogen, &flask, wall), (0.59 + 0.069 * wave / 0.1) * pow(f4 / wave, 0.25),
                1e-4);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_neumann_one_phase),
        cmocka_unit_test(test_neumann_two_phase),
        cmocka_unit_test(test_plank),
        cmocka_unit_test(test_shell),
        cmocka_unit_test(test_lumped),
        cmocka_unit_test(test_energy_is_kept),
        cmocka_unit_test(test_refusals),
        cmocka_unit_test(test_vial_on_shelf),
        cmocka_unit_test(test_means_in_order),
        cmocka_unit_test(test_tube_in_bath),
        cmocka_unit_test(test_assembly),
        cmocka_unit_test(test_out_of_reach),
        cmocka_unit_test(test_organic),
        cmocka_unit_test(test_bottom_or_side),
        cmocka_unit_test(test_coefficients_by_hand),
        cmocka_unit_test(test_air_around_flask),
        cmocka_unit_test(test_nitrogen_around_straw),
    };
    return cmocka_run_group_tests(tests, make_context, drop_context);
}
