/* Model (b) against published transport properties, closed forms and series solutions. */
#include "kit.h"

#include "dryfront/transient.h"

#define GAS DF_GAS_CONSTANT

static df_gas gas_named(const kit *k, const char *name) {
    return df_gas_of(kit_substance(k, name));
}

/* Diffusivities in air at one atmosphere: water 0.242 cm2/s at 293.15 K, 0.399 at 373.15 K (Marrero & Mason, J. Phys. Chem.
 * Ref. Data 1 (1972) 1, as tabulated in the CRC Handbook, "Diffusion in gases"); methanol 1.641 and ethanol 1.337 m2 Pa/s at
 * 298 K, ethyl acetate 0.718 at 273 K (Welty, Wicks & Wilson, Fundamentals of Momentum, Heat, and Mass Transfer, 3rd ed.);
 * ethanol 0.102 and acetic acid 0.1064 cm2/s at 0 °C (Perry's Chemical Engineers' Handbook, table 2-324). Fuller's method is
 * said to be good to 4 % on average; these lie within 10 %. */
static void transport(void **state) {
    const kit *k = *state;
    static const struct {
        const char *name;
        double temperature, published, within; /* K, m2 Pa/s, share */
    } row[] = {{"water", 293.15, 0.242e-4 * 101325.0, 0.10},
               {"water", 373.15, 0.399e-4 * 101325.0, 0.10},
               {"methanol", 298.0, 1.641, 0.10},
               {"ethanol", 298.0, 1.337, 0.10},
               {"ethyl acetate", 273.0, 0.718, 0.10},
               {"ethanol", 273.15, 0.102e-4 * 101325.0, 0.10},
               {"acetic acid", 273.15, 0.1064e-4 * 101325.0, 0.10}};
    df_gas air = df_gas_air();
    for (size_t i = 0; i < sizeof row / sizeof row[0]; i++) {
        df_gas g = gas_named(k, row[i].name);
        near(df_gas_diffusivity(&g, &air, row[i].temperature) / row[i].published, 1.0, row[i].within, "%s in air",
             row[i].name);
        near(df_gas_diffusivity(&air, &g, row[i].temperature), df_gas_diffusivity(&g, &air, row[i].temperature),
             1e-12, "either way");
    }
    /* Viscosity at one atmosphere, from memory (any table): air 18.2 uPa s at 293 K, steam 12.1 at 373 K. A gas in itself
     * diffuses 1.2 times 1.09 as fast as its momentum (Hirschfelder, Curtiss & Bird, Molecular Theory of Gases and Liquids,
     * 8.2), which ties the two theories to one another. */
    df_gas water = gas_named(k, "water");
    near(df_gas_viscosity(&air, 293.15) / 18.2e-6, 1.0, 0.02, "viscosity of air");
    near(df_gas_viscosity(&water, 373.15) / 12.1e-6, 1.0, 0.15, "viscosity of steam");
    double self =
        df_gas_diffusivity(&air, &air, 293.15) * air.molar_mass / (df_gas_viscosity(&air, 293.15) * GAS * 293.15);
    near(self / (1.2 * 1.09), 1.0, 0.06, "diffusion and viscosity of air");
}

/* Partial pressures carried through a layer by the dusty gas in small steps. */
static void carry(double *p, const df_dusty *d, const double *flux, double resistivity, double t, double length) {
    int steps = 4000;
    double slope[DF_MAX_GASES], moved[DF_MAX_GASES], again[DF_MAX_GASES];
    for (int s = 0; s < steps; s++) {
        double h = length / steps;
        df_dusty_slope(slope, d, p, flux, NULL, resistivity, t);
        for (size_t i = 0; i < d->n; i++)
            moved[i] = p[i] + 0.5 * h * slope[i];
        df_dusty_slope(again, d, moved, flux, NULL, resistivity, t);
        for (size_t i = 0; i < d->n; i++)
            p[i] += h * again[i];
    }
}

static void dusty_gas(void **state) {
    const kit *k = *state;
    df_gas gas[3] = {gas_named(k, "water"), gas_named(k, "acetonitrile"), df_gas_air()};
    df_dusty d;
    double t = 240.0, length = 5e-3, r = 1e7, p[3], flux[3], rt = GAS * t;
    /* Knudsen: what passes grows with the root of the molar mass, whatever the other gases do. */
    df_dusty_make(&d, gas, 3, &(df_pores){0.0, INFINITY, 0.0});
    p[0] = p[1] = p[2] = 1.0;
    flux[0] = 1e-4;
    flux[1] = 1e-4 * sqrt(gas[1].molar_mass / gas[0].molar_mass);
    flux[2] = 0.0;
    carry(p, &d, flux, r, t, length);
    near(p[0], 1.0 + 1e-4 * r * length, 1e-6, "Knudsen, water: R = resistivity times length");
    near(p[1], p[0], 1e-9, "Knudsen, square root of the molar mass");
    near(p[2], 1.0, 1e-12, "gas at rest feels nothing");
    /* the resistance grows with the root of temperature */
    df_dusty_make(&d, gas, 3, &(df_pores){0.0, INFINITY, 240.0});
    double slope[3];
    df_dusty_slope(slope, &d, p, flux, NULL, r, 4.0 * 240.0);
    near(slope[0] / (2.0 * 1e-4 * r), 1.0, 1e-6, "Knudsen, root of temperature");
    /* Viscous limit of one gas in pores of a given radius: Poiseuille in round tubes of the area that the Knudsen flow
     * needs, N = B0 P/(mu R T) dP/dz with B0 = openness radius2/8. */
    double radius = 2e-3, openness = 0.5, speed = sqrt(8.0 * rt / (M_PI * gas[0].molar_mass));
    double knudsen = 2.0 / 3.0 * radius * openness * speed; /* m2/s */
    r = rt / (gas[0].molar_mass * knudsen);
    df_dusty_make(&d, gas, 1, &(df_pores){1.0, openness, 0.0});
    near(df_dusty_radius(&d, r, t), radius, 1e-9, "radius from resistivity");
    for (size_t i = 0; i < 2; i++) { /* a heavier gas goes by its own mean speed */
        const df_gas *g = &gas[i];
        df_dusty_make(&d, g, 1, &(df_pores){1.0, openness, 0.0});
        p[0] = 2000.0;
        flux[0] = 0.02;
        carry(p, &d, flux, r, t, length);
        double viscous = openness * radius * radius / 8.0 / (df_gas_viscosity(g, t) * rt) * g->molar_mass;
        double slipping = g->molar_mass * knudsen * sqrt(gas[0].molar_mass / g->molar_mass) / rt;
        near((slipping * (p[0] - 2000.0) + 0.5 * viscous * (p[0] * p[0] - 4e6)) / length / flux[0], 1.0, 2e-3,
             "Darcy with slip, %.0f g/mol", 1e3 * g->molar_mass);
    }
    /* Stefan's tube: one gas through another at rest, no walls: N = P D/(R T L) ln((P - p0)/(P - p1)). */
    double total = 100.0, diffusivity = 0.6 * df_gas_diffusivity(&gas[0], &gas[2], t) / total;
    df_gas pair[2] = {gas[0], gas[2]};
    df_dusty_make(&d, pair, 2, &(df_pores){0.0, 0.6, 0.0});
    p[0] = 5.0;
    p[1] = 95.0;
    flux[0] = 3e-4;
    flux[1] = 0.0;
    carry(p, &d, flux, 0.0, t, length);
    near(p[0] + p[1], total, 1e-9, "no walls, no fall of pressure");
    double tube = total * diffusivity / (rt * length) * log(95.0 / p[1]) * gas[0].molar_mass;
    near(tube / flux[0], 1.0, 2e-3, "Stefan's tube");
    /* Counter-diffusion of as many moles: straight lines, N = D (p1 - p0)/(R T L). */
    p[0] = 40.0;
    p[1] = 60.0;
    flux[0] = 2e-4;
    flux[1] = -2e-4 * gas[2].molar_mass / gas[0].molar_mass;
    carry(p, &d, flux, 0.0, t, length);
    near(diffusivity * (p[0] - 40.0) / (rt * length) * gas[0].molar_mass / flux[0], 1.0, 2e-3, "equimolar");
    /* Graham: at an even pressure in a porous body the molar fluxes are as the inverse roots of the molar masses. */
    df_dusty_make(&d, pair, 2, &(df_pores){1e-5, 0.6, 0.0});
    flux[1] = -flux[0] * sqrt(gas[2].molar_mass / gas[0].molar_mass);
    p[0] = 40.0;
    p[1] = 60.0;
    carry(p, &d, flux, 1e6, t, length);
    near(p[0] + p[1], total, 1e-6, "Graham's ratio keeps the pressure even");
    assert_true(p[0] > 41.0);
}

/* ---- one vial ------------------------------------------------------------------------------------------------- */

typedef struct vial {
    df_class c;
    df_frozen_path path;
    df_transient_boundary b;
    df_transient_options o;
    df_around around;
} vial;

static void constant(df_around *out, double time, void *data) {
    (void)time;
    *out = *(const df_around *)data;
}

/* 2.85 g of ice of 918 kg/m3 in a vial 10R, nothing but what the caller adds. */
static vial *make_vial(const kit *k) {
    vial *v = calloc(1, sizeof *v);
    assert_non_null(v);
    df_class_defaults(&v->c);
    if (df_composition_parse(k->ctx, &v->c.composition, k->substances, "water", NULL) != DF_OK ||
        df_frozen_path_make(k->ctx, &v->path, k->pairs, &v->c.composition, DF_FREEZING_PRACTICE) != DF_OK ||
        df_container_find(k->ctx, &v->c.container, NULL, "vial_10R", NULL) != DF_OK ||
        df_shape_make(k->ctx, &v->c.shape, &v->c.container, 2.85e-3 / 918.0, DF_LIE_REST, NULL) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    v->c.count = 1;
    v->c.path = &v->path;
    v->c.mass = 2.85e-3;
    v->c.container.glass_mass = 0.0;
    v->b = (df_transient_boundary){.at = constant, .data = &v->around, .shelf_area = 4.52e-4};
    df_transient_defaults(&v->o);
    v->o.pores = (df_pores){0.0, INFINITY, 0.0};
    return v;
}

static df_transient dry(const kit *k, const vial *v) {
    df_transient t;
    if (df_transient_run(k->ctx, &t, &v->c, &v->b, &v->o) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    near((t.product[0] + t.vapour[0]) / t.initial[0], 1.0, 1e-10, "mass");
    near(t.heat_wall + t.heat_top - t.heat_vapour - t.heat_stored, 0.0,
         1e-8 * (fabs(t.heat_vapour) + fabs(t.heat_stored)), "heat");
    return t;
}

/* The same, with what faces the surface brought up from the shelf's temperature in the first seconds. */
static void ramped(df_around *out, double time, void *data) {
    constant(out, time, data);
    out->top = out->shelf + (out->top - out->shelf) * fmin(time / 4.0, 1.0);
}

static double at_left(const df_transient *t, double left, double (*of)(const df_transient_moment *)) {
    for (size_t k = 1; k < t->moments; k++) {
        const df_transient_moment *a = &t->moment[k - 1], *b = a + 1;
        if (b->left[0] <= left)
            return of(a) + (a->left[0] - left) / (a->left[0] - b->left[0]) * (of(b) - of(a));
    }
    return NAN;
}

static double front_of(const df_transient_moment *m) {
    return m->front;
}

static double time_of(const df_transient_moment *m) {
    return m->time;
}

/* Cases S1 and S2 of the closed forms computed beside the reference facts (Murphy & Koop's ice curve, 2.84 MJ/kg, no sensible
 * heat, no heat path in the ice). */
static void steady_cases(void **state) {
    const kit *k = *state;
    vial *v = make_vial(k);
    v->c.conductivity = 1e4;
    v->c.cake = (df_cake){.r0 = 1e5, .stated = true};
    v->c.start_temperature = 273.15 - 32.597;
    v->around = (df_around){.shelf = 263.15, .coefficient = 20.0, .chamber = {10.0, 0.0}};
    df_transient t = dry(k, v);
    near(at_left(&t, 0.5, front_of) - 273.15, -32.597, 0.01, "S1: temperature");
    near(t.time_dry / 3600.0 / 11.006, 1.0, 1e-3, "S1: time");
    near(t.moment[t.moments / 2].flow[0] * 3.6e6 / 0.25894, 1.0, 1e-3, "S1: rate");
    df_transient_free(&t);
    v->c.cake = (df_cake){.r0 = 2e4, .a1 = 1e7, .stated = true};
    v->c.start_temperature = 273.15 - 41.592;
    v->around = (df_around){.shelf = 253.15, .coefficient = 15.0, .chamber = {8.0, 0.0}};
    double halfway = 9.0 * 3600.0;
    v->o.profile = &halfway;
    v->o.profiles = 1;
    t = dry(k, v);
    /* Knudsen: the pressure rises with the resistance above, R0 + A1 z, from the chamber's to that over the ice. */
    assert_int_equal(t.profiles, 1);
    const df_transient_profile *f = &t.profile[0];
    double ice = df_solid_pressure(v->c.composition.component[0], f->temperature[f->dry]), depth = NAN;
    for (size_t i = 0; i < t.moments; i++)
        if (t.moment[i].time <= halfway)
            depth = t.moment[i].depth;
    for (size_t j = 0; j < f->points; j++)
        near(f->pressure[0][j],
             j < f->dry ? 8.0 + (ice - 8.0) * (2e4 + 1e7 * f->depth[j]) / (2e4 + 1e7 * depth) : 0.0, 0.01,
             "pressure in cell %zu", j);
    near(at_left(&t, 0.99, front_of) - 273.15, -41.592, 0.15, "S2: temperature near the start");
    near(at_left(&t, 0.001, front_of) - 273.15, -36.660, 0.02, "S2: temperature at the end");
    near(t.time_dry / 3600.0 / 17.789, 1.0, 2e-3, "S2: time");
    df_transient_free(&t);
    free(v);
}

/* A slab warmed through a film from below, insulated above: the series of Carslaw & Jaeger, Conduction of Heat in Solids, 2nd
 * ed., section 3.11: theta = sum 4 sin z/(2 z + sin 2 z) cos(z x/L) exp(-z2 Fo), z tan z = Bi. */
static double series(double biot, double fourier, double x) {
    double sum = 0.0;
    for (int n = 0; n < 60; n++) {
        double low = n * M_PI, high = low + 0.5 * M_PI;
        for (int i = 0; i < 80; i++) {
            double z = 0.5 * (low + high);
            *(z * tan(z) > biot ? &high : &low) = z; /* rises from 0 to infinity on the way */
        }
        double z = 0.5 * (low + high);
        sum += 4.0 * sin(z) / (2.0 * z + sin(2.0 * z)) * cos(z * x) * exp(-z * z * fourier);
    }
    return sum;
}

static void conduction(void **state) {
    const kit *k = *state;
    vial *v = make_vial(k);
    double times[3], h = 300.0, conductivity = 2.0, start = 220.05, shelf = 220.45;
    v->c.cake = (df_cake){.r0 = 1e5, .stated = true};
    v->c.conductivity = conductivity;
    v->c.start_temperature = start;
    v->b.shelf_area = v->c.shape.heated_area;
    v->around = (df_around){.shelf = shelf, .coefficient = h, .chamber = {1000.0, 0.0}}; /* nothing sublimes */
    double length = v->c.shape.thickness;
    /* all within one stretch of the table of enthalpy, which is straight; the body's own least heat on top */
    size_t at = (size_t)((220.0 - v->path.lowest) / v->path.step + 0.5);
    double cp = (v->path.species_enthalpy[0][at + 1] - v->path.species_enthalpy[0][at]) / v->path.step;
    double capacity = cp * 2.85e-3 / v->c.shape.volume + 1250.0, fourier[3] = {0.05, 0.3, 1.0};
    for (size_t i = 0; i < 3; i++)
        times[i] = fourier[i] * capacity * length * length / conductivity;
    v->o.profile = times;
    v->o.profiles = 3;
    v->o.time_limit = times[2];
    v->o.tolerance = 1e-7;
    df_transient t = dry(k, v);
    assert_int_equal(t.profiles, 3);
    for (size_t i = 0; i < 3; i++) {
        const df_transient_profile *f = &t.profile[i];
        for (size_t j = f->dry; j < f->points; j += 7) {
            double theta = series(h * length / conductivity, fourier[i], f->depth[j] / length);
            near(f->temperature[j], shelf + (start - shelf) * theta, 2e-4 * (shelf - start), "Fo %g, x/L %.2f",
                 fourier[i], f->depth[j] / length);
        }
    }
    near(t.vapour[0], 0.0, 1e-9 * t.initial[0], "nothing sublimes into a higher pressure");
    df_transient_free(&t);
    free(v);
}

/* Heat from above alone, ice at the temperature of the chamber's pressure, no resistance: the front goes with the root of
 * time, S = 2 lambda sqrt(alpha t). With a gas that carries heat c_g back up, T'' = -2 (eta + B lambda) T' and
 *     Ste = sqrt(pi) lambda exp(lambda2 (1 + B)2) [erf(lambda (1 + B)) - erf(B lambda)]
 * Ste = capacity dT/(rho dH), B = rho c_g/capacity (Neumann's solution, as in Carslaw & Jaeger ch. 11, with the gas added here). */
static void root_of_time(void **state) {
    const kit *k = *state;
    vial *v = make_vial(k);
    const df_substance *water = v->c.composition.component[0];
    double cold = 233.15, warm = 293.15;
    v->c.cake = (df_cake){.r0 = 1e-3, .stated = true};
    v->c.solids = 2000.0 * v->c.shape.volume; /* no cake, but a marked heat capacity */
    v->c.start_temperature = cold;
    v->o.top_coefficient = 1e7;
    v->b.at = ramped;
    v->o.dry_conductivity = 0.05;
    v->o.tolerance = 1e-6;
    v->around = (df_around){.shelf = cold, .top = warm, .chamber = {df_solid_pressure(water, cold), 0.0}};
    df_transient t = dry(k, v);
    double capacity = 2000.0 * 1250.0, rho = 2.85e-3 / v->c.shape.volume;
    double heat = df_sublimation_enthalpy(water, cold) / water->molar_mass;
    double rise = (df_liquid_enthalpy(water, warm) + df_vaporisation_enthalpy(water, warm) -
                   df_liquid_enthalpy(water, cold) - df_vaporisation_enthalpy(water, cold)) /
                  water->molar_mass; /* of the vapour */
    double stefan = capacity * (warm - cold) / (rho * heat), b = rho * rise / (warm - cold) / capacity;
    double low = 0.0, high = 1.0;
    for (int i = 0; i < 80; i++) {
        double l = 0.5 * (low + high), g = l * (1.0 + b);
        *(sqrt(M_PI) * l * exp(g * g) * (erf(g) - erf(b * l)) > stefan ? &high : &low) = l;
    }
    double alpha = 0.05 / capacity, depth = 0.5 * v->c.shape.thickness;
    assert_true(b > 0.5); /* the gas matters here */
    near(at_left(&t, 0.5, time_of) / (depth * depth / (4.0 * low * low * alpha)), 1.0, 1.5e-3, "time to half");
    near(at_left(&t, 0.25, time_of) / at_left(&t, 0.5, time_of), 2.25, 3e-3, "root of time");
    near(at_left(&t, 0.5, front_of), cold, 2e-3, "front at the chamber's saturation");
    df_transient_free(&t);
    free(v);
}

/* A whole drying with gradients on both sides: the error falls with the square of the cells. */
static void grid_order(void **state) {
    const kit *k = *state;
    vial *v = make_vial(k);
    double time[4], front[4];
    v->c.cake = (df_cake){.r0 = 2e4, .a1 = 2e7, .a2 = 100.0, .stated = true};
    v->c.conductivity = 0.05; /* and much heat in what is dry: steep and bent profiles */
    v->c.solids = 2000.0 * v->c.shape.volume;
    v->c.start_temperature = 230.0;
    v->o.top_coefficient = 50.0;
    v->o.tolerance = 1e-9;
    v->o.pores = (df_pores){3e-5, 0.6, 245.0};
    v->around = (df_around){.shelf = 255.0, .top = 275.0, .coefficient = 20.0, .chamber = {6.0, 2.0}};
    for (int i = 0; i < 4; i++) {
        v->o.dry_cells = v->o.frozen_cells = (size_t)8 << i;
        df_transient t = dry(k, v);
        time[i] = at_left(&t, 0.3, time_of);
        front[i] = at_left(&t, 0.3, front_of);
        df_transient_free(&t);
    }
    for (int i = 0; i < 2; i++) {
        double order = log2((time[i] - time[i + 1]) / (time[i + 1] - time[i + 2]));
        near(order, 2.0, 0.3, "order in time of drying, from %d cells", 8 << i);
        order = log2((front[i] - front[i + 1]) / (front[i + 1] - front[i + 2]));
        near(order, 2.0, 0.4, "order in the front's temperature, from %d cells", 8 << i);
    }
    near(time[2] / time[3], 1.0, 2e-4, "32 cells do");
    free(v);
}

/* A body of water without the ice: what is bound leaves at its own rate, C(t) of dC/dt = -k (C - C*) at one temperature. */
static void bound_water(void **state) {
    const kit *k = *state;
    vial *v = make_vial(k);
    v->c.cake = (df_cake){.r0 = 1e4, .a1 = 1e6, .stated = true};
    v->c.solids = 1.5e-3;
    v->c.start_temperature = 245.0;
    v->c.sorption[0] = (df_sorption){.bound = 0.1, .rate = 3e-5, .activation = 3e4, .heat = 2e5, .known = true};
    v->o.secondary = true;
    v->o.tolerance = 1e-6;
    v->o.top_coefficient = 30.0;
    v->o.time_limit = 40.0 * 3600.0;
    v->around = (df_around){.shelf = 298.15, .top = 298.15, .coefficient = 25.0, .chamber = {5.0, 0.0}};
    df_transient t = dry(k, v);
    near((t.bound_product + t.bound_vapour) / t.bound_initial, 1.0, 1e-10, "bound water");
    near(t.bound_initial, 1.5e-4, 1e-12, "what the solids hold");
    near(t.initial[0] + t.bound_initial, 2.85e-3, 1e-12, "and the ice is the rest");
    /* Once all is warm, ln of what is left falls by k each second. */
    const df_transient_moment *last = &t.moment[t.moments - 1], *early = last;
    while (early->time > last->time - 4.0 * 3600.0)
        early--;
    near(last->surface, 298.15, 0.05, "all is warm in the end");
    near(log(early->bound / last->bound) / (last->time - early->time) / 3e-5, 1.0, 5e-3, "rate of desorption");
    df_transient_free(&t);
    free(v);
}

/* A shell that dries from inside, and a slab with a solvent in pockets, both by Knudsen alone: (p - P)/flow = R0/A0 +
 * integral of dR/dz/A(z) dz, times sqrt(T/T0) and sqrt(Mw/M) over the open share. */
static void knudsen_ways(void **state) {
    const kit *k = *state;
    const df_substance *water = kit_substance(k, "water");
    vial *v = make_vial(k);
    if (df_container_find(k->ctx, &v->c.container, NULL, "flask_500", NULL) != DF_OK ||
        df_shape_make(k->ctx, &v->c.shape, &v->c.container, 150e-6, DF_LIE_SHELL, NULL) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    const df_shape *shape = &v->c.shape;
    double r0 = 2e5, a1 = 5e7, a2 = 150.0, warm = 330.0,
           inner = 0.5 * v->c.container.inner_diameter - shape->thickness;
    v->c.mass = 150e-6 * 918.0;
    v->c.container.glass_mass = 0.0;
    v->c.conductivity = 1e3;
    v->c.cake = (df_cake){.r0 = r0, .a1 = a1, .a2 = a2, .stated = true};
    v->c.start_temperature = 245.0;
    v->o.pores = (df_pores){0.0, INFINITY, warm};
    v->o.dry_conductivity = 10.0; /* the dried layer is as warm as the front */
    v->b.shelf_area = shape->heated_area;
    v->around = (df_around){.shelf = 250.0, .coefficient = 20.0, .chamber = {5.0, 0.0}};
    df_transient t = dry(k, v);
    for (double left = 0.8; left > 0.1; left -= 0.2) {
        size_t at = 0;
        while (t.moment[at].left[0] > left)
            at++;
        const df_transient_moment *m = &t.moment[at];
        double way = r0 / shape->free_area;
        const int steps = 2000;
        for (int i = 0; i < steps; i++) {
            double z = m->depth * (i + 0.5) / steps, bend = 1.0 + a2 * z;
            way += a1 / (bend * bend) * m->depth / steps / (4.0 * M_PI * 0.7 * pow(inner + z, 2));
        }
        near(m->flow[0] * way * sqrt(m->front / warm) / (df_solid_pressure(water, m->front) - 5.0), 1.0, 5e-3,
             "shell with %.1f left", left);
    }
    df_transient_free(&t);
    free(v);
    v = make_vial(k);
    if (df_composition_parse(k->ctx, &v->c.composition, k->substances, "acetonitrile 25 %v/v, water", NULL) !=
            DF_OK ||
        df_frozen_path_make(k->ctx, &v->path, k->pairs, &v->c.composition, DF_FREEZING_PRACTICE) != DF_OK)
        fail_msg("%s", df_context_message(k->ctx));
    const df_substance *solvent = v->c.composition.component[0];
    v->c.conductivity = 1e3;
    v->c.cake = (df_cake){.r0 = 3e5, .a1 = 2e8, .stated = true};
    v->c.start_temperature = 225.0;
    v->o.dry_conductivity = 10.0;
    v->around = (df_around){.shelf = 227.0, .coefficient = 50.0, .chamber = {1.0, 0.5, 0.0}};
    t = dry(k, v);
    double phi = v->path.volume_fraction[0], root = sqrt(water->molar_mass / solvent->molar_mass);
    for (double left = 0.8; left > 0.1; left -= 0.2) {
        size_t at = 0;
        while (t.moment[at].left[0] > left)
            at++;
        const df_transient_moment *m = &t.moment[at];
        assert_true(m->left[0] < m->left[1] - 0.05); /* its vapour passes through ice first */
        double depth = (1.0 - m->left[0]) * v->c.shape.thickness;
        double way = (3e5 + 2e8 * depth) / v->c.shape.free_area * root / pow(phi, 1.5);
        double p = exp(df_frozen_path_at(&v->path, v->path.pressure_ln[0], m->front));
        near(m->flow[0] * way / (p - 1.0), 1.0, 0.015, "acetonitrile with %.1f left", left);
    }
    df_transient_free(&t);
    free(v);
}

/* The same mixture with its species in another order, in pores where vapours meet and flow. */
static void order_of_species(void **state) {
    const kit *k = *state;
    static const char *const texts[] = {"acetonitrile 25 %v/v, water", "water 75 %v/v, acetonitrile"};
    double time[2][2];
    for (size_t i = 0; i < 2; i++) {
        vial *v = make_vial(k);
        if (df_composition_parse(k->ctx, &v->c.composition, k->substances, texts[i], NULL) != DF_OK ||
            df_frozen_path_make(k->ctx, &v->path, k->pairs, &v->c.composition, DF_FREEZING_PRACTICE) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        v->c.cake = (df_cake){.r0 = 3e4, .a1 = 2e7, .stated = true};
        v->c.start_temperature = 225.0;
        v->o.pores = (df_pores){3e-4, 0.6, 245.0};
        v->around = (df_around){.shelf = 229.0, .coefficient = 20.0, .chamber = {1.0, 1.0, 3.0}};
        df_transient t = dry(k, v);
        assert_true(v->c.composition.component[i] == kit_substance(k, "acetonitrile"));
        time[i][0] = t.species_time[i];
        time[i][1] = t.species_time[1 - i];
        df_transient_free(&t);
        free(v);
    }
    near(time[1][0] / time[0][0], 1.0, 2e-3, "acetonitrile");
    near(time[1][1] / time[0][1], 1.0, 2e-3, "water");
}

/* Heat by radiation alone, onto the open surface: emissivity sigma (Ttop4 - Ts4), and all of it through the dried layer. */
static void radiation_from_above(void **state) {
    const kit *k = *state;
    vial *v = make_vial(k);
    v->c.cake = (df_cake){.r0 = 5e4, .a1 = 1e7, .stated = true};
    v->c.start_temperature = 235.0;
    v->o.top_emissivity = 0.8;
    v->around = (df_around){.shelf = 235.0, .top = 300.0, .chamber = {5.0, 0.0}};
    df_transient t = dry(k, v);
    for (size_t i = t.moments / 4; i < t.moments; i += t.moments / 8) {
        const df_transient_moment *m = &t.moment[i];
        double given = 0.8 * DF_STEFAN_BOLTZMANN * (pow(300.0, 4) - pow(m->surface, 4)) * v->c.shape.free_area;
        assert_true(given > 0.01);
        near(m->top_heat / given, 1.0, 1e-3, "at %.1f h", m->time / 3600.0);
    }
    df_transient_free(&t);
    free(v);
}

/* A cake that gives off its water fast holds, at every depth, what its isotherm has for the pressure and temperature there: while
 * the ice is there, and once all is dry. */
static void isotherm_in_the_layer(void **state) {
    const kit *k = *state;
    const df_substance *water = kit_substance(k, "water");
    vial *v = make_vial(k);
    double times[2] = {4.0 * 3600.0, 60.0 * 3600.0};
    v->c.cake = (df_cake){.r0 = 2e4, .a1 = 5e7, .stated = true};
    v->c.solids = 1.0e-3;
    v->c.start_temperature = 240.0;
    v->c.sorption[0] = (df_sorption){
        .bound = 0.1, .rate = 0.05, .activation = 0.0, .monolayer = 0.05, .gab_c = 5.0, .gab_k = 0.9, .known = true};
    v->o.secondary = true;
    v->o.dry_conductivity = 1.0;
    v->o.profile = times;
    v->o.profiles = 2;
    v->o.time_limit = 60.0 * 3600.0;
    v->o.tolerance = 1e-6;
    v->around = (df_around){.shelf = 258.0, .coefficient = 20.0, .chamber = {10.0, 0.0}};
    df_transient t = dry(k, v);
    assert_int_equal(t.profiles, 2);
    for (size_t i = 0; i < 2; i++) {
        const df_transient_profile *f = &t.profile[i];
        assert_true(f->dry > 10 && (i == 1 || f->pressure[0][f->dry - 3] > 1.5 * f->pressure[0][2]));
        for (size_t j = 2; j < f->dry - 2; j += 5) {
            double activity = df_sorption_activity(water, f->pressure[0][j], f->temperature[j]);
            near(f->bound[j] / df_sorption_equilibrium(&v->c.sorption[0], activity), 1.0, 0.03,
                 "cell %zu of profile %zu", j, i);
        }
    }
    df_transient_free(&t);
    free(v);
}

static void refusals(void **state) {
    const kit *k = *state;
    vial *v = make_vial(k);
    df_transient t;
    v->c.cake = (df_cake){.r0 = 1e5, .stated = true};
    v->o.dry_cells = 1;
    assert_int_equal(df_transient_run(k->ctx, &t, &v->c, &v->b, &v->o), DF_E_INPUT);
    assert_says(k->ctx, "3 cells or more");
    df_transient_defaults(&v->o);
    v->c.shape.kind = DF_FLASK;
    assert_int_equal(df_transient_run(k->ctx, &t, &v->c, &v->b, &v->o), DF_E_INPUT);
    assert_says(k->ctx, "one dimension");
    v->c.shape.kind = DF_VIAL;
    v->c.cake = (df_cake){.r0 = 0.0};
    assert_int_equal(df_transient_run(k->ctx, &t, &v->c, &v->b, &v->o), DF_E_INPUT);
    df_transient_free(&t);
    df_transient_free(NULL);
    free(v);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(transport),
        cmocka_unit_test(dusty_gas),
        cmocka_unit_test(steady_cases),
        cmocka_unit_test(conduction),
        cmocka_unit_test(root_of_time),
        cmocka_unit_test(grid_order),
        cmocka_unit_test(bound_water),
        cmocka_unit_test(knudsen_ways),
        cmocka_unit_test(order_of_species),
        cmocka_unit_test(radiation_from_above),
        cmocka_unit_test(isotherm_in_the_layer),
        cmocka_unit_test(refusals),
    };
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
