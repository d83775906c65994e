/* Trap, pump, oil and shelf of a run: balances at single moments worked out here from what the run shows. */
#include "bed.h"

static const df_moment *moment_from(const df_run *run, double time) {
    size_t i = 0;
    while (i + 1 < run->moments && run->moment[i].time < time)
        i++;
    return &run->moment[i];
}

/* W of the -55 C coil by its points: 0, 225, 425, 600, 950 W at -55, -50, -45, -40, -30 C; the first stretch goes on below. */
static double coil_power(double coil) {
    double t = coil - 273.15;
    return t < -50.0   ? 45.0 * (t + 55.0)
           : t < -45.0 ? 225.0 + 40.0 * (t + 50.0)
           : t < -40.0 ? 425.0 + 35.0 * (t + 45.0)
                       : 600.0 + 35.0 * (t + 40.0);
}

/* Vials of ice that dry steadily. Heat that the vapour gives up on its way from the room's temperature = what the coil takes =
 * A k/(film) (surface - coil); vapour comes by 5 % of the kinetic limit (Hertz & Knudsen). */
static void ice_on_a_coil(void **state) {
    const kit *k = *state;
    const df_substance *water = kit_substance(k, "water");
    bed *b = make_bed(k, "bench-55", "water", "vial_20R", 8e-6, 2500, DF_PLACE_SHELF);
    b->dryer.chamber.leak = b->dryer.chamber.degassing = 0.0;
    b->dryer.trap[0].capacity = 100.0;
    b->dryer.trap[0].area = 0.6;
    b->setup.recipe.shelf_temperature[0] = 248.15;
    b->setup.start_pressure = 0.1;
    b->setup.tolerance = 1e-6;
    df_run run = run_bed(k, b);
    const df_trap *trap = &b->dryer.trap[0];
    double area = trap->area, room = b->dryer.chamber.room_temperature, hottest = 0.0;
    for (double part = 0.2; part < 0.8; part += 0.15) {
        const df_moment *m = moment_from(&run, part * run.time);
        double flow = m->rate[0]; /* the gas between vials and coil holds next to nothing */
        double coil = m->coil[0], surface = m->trap_surface[0], mean = 0.5 * (surface + room);
        double each =
            (df_sublimation_enthalpy(water, surface) + df_gas_heat_capacity(water, mean) * (room - surface)) /
            water->molar_mass;
        hottest = fmax(hottest, coil);
        near(coil_power(coil) / (flow * each), 1.0, 0.01, "heat to the coil");
        double ice = m->deposit[0] / df_solid_density(water, 220.0), film = 1e-4 * area;
        double conductivity = pow(2.2, ice / (ice + film)) * pow(2.0, film / (ice + film));
        near(coil_power(coil) / (area * area * conductivity / (ice + film) * (surface - coil)), 1.0, 0.01,
             "heat through the ice");
        double kinetic = 0.05 * area * sqrt(water->molar_mass / (2.0 * M_PI * DF_GAS_CONSTANT * room));
        double over = df_solid_pressure(water, surface);
        near(flow / (kinetic * (m->trap_pressure - over)), 1.0, 0.02, "vapour to the ice");
    }
    assert_true(hottest > 226.15); /* beyond the first points of the curve */
    df_run_free(&run);
    /* Without power the room warms the coil by 5 W/(m2 K). */
    double cut = 4.0 * 3600.0;
    b->setup.classes[0].count = 100;
    b->setup.event[b->setup.events++] = (df_event){DF_EVENT_POWER_CUT, cut, 3600.0, 0.0, 0};
    b->setup.keep_going = true;
    b->setup.time_limit = 6.0 * 3600.0;
    run = run_bed(k, b);
    const df_moment *m = moment_from(&run, cut + 600.0), *n = moment_from(&run, cut + 1800.0);
    double warms = trap->heat_capacity * (n->coil[0] - m->coil[0]) / (n->time - m->time);
    double by_vapour = 0.0, by_room = 5.0 * area * (room - 0.5 * (m->coil[0] + n->coil[0]));
    double ice = m->deposit[0] / df_solid_density(water, 220.0);
    for (const df_moment *at = m; at < n; at++)
        by_vapour += (at[1].time - at->time) * 0.5 *
                     (at->trap_surface[0] - at->coil[0] + at[1].trap_surface[0] - at[1].coil[0]) * area * area * 2.2 /
                     (ice + 1e-4 * area);
    by_vapour /= n->time - m->time;
    near(warms / (by_room + by_vapour), 1.0, 0.05, "a coil without power (%.1f W by the room, %.1f W by vapour)",
         by_room, by_vapour);
    assert_true(by_room > 0.2 * warms);
    df_run_free(&run);
    free(b);
}

/* A finger of dry ice: 200 W/(m2 K) from its wall to the coolant; its loss boils coolant away, too. Empty, it warms by that loss,
 * less as it comes nearer to the room: an exponential. */
static void ice_on_a_finger(void **state) {
    const kit *k = *state;
    const df_substance *water = kit_substance(k, "water");
    bed *b = make_bed(k, "deep-105", "water", "vial_10R", 3e-6, 100, DF_PLACE_SHELF);
    df_trap *t = &b->dryer.trap[0];
    double cold = df_coolant_temperature(DF_COOLANT_DRY_ICE), room = b->dryer.chamber.room_temperature;
    /* 194.7 K; 25.2 kJ/mol (CRC Handbook, enthalpy of sublimation at the normal sublimation point; from memory), within 2 % */
    near(df_coolant_heat(DF_COOLANT_DRY_ICE) * 0.04401 / 25.2e3, 1.0, 0.02, "dry ice");
    near(df_coolant_heat(DF_COOLANT_NITROGEN) * 0.028013 / 5.57e3, 1.0, 0.02, "nitrogen at 77 K");
    *t = (df_trap){.kind = DF_TRAP_FINGER,
                   .area = 0.05,
                   .volume = 4e-3,
                   .capacity = 1.0,
                   .heat_capacity = 300.0,
                   .power = NAN,
                   .coolant = DF_COOLANT_DRY_ICE,
                   .temperature = cold,
                   .charge = 50.0,
                   .loss = 2.0};
    b->dryer.chamber.leak = b->dryer.chamber.degassing = 0.0;
    b->setup.recipe.shelf_temperature[0] = 248.15;
    b->setup.tolerance = 1e-6;
    df_run run = run_bed(k, b);
    for (double part = 0.2; part < 0.8; part += 0.2) {
        const df_moment *m = moment_from(&run, part * run.time);
        double surface = m->trap_surface[0], mean = 0.5 * (surface + room);
        double given =
            m->rate[0] / water->molar_mass *
            (df_sublimation_enthalpy(water, surface) + df_gas_heat_capacity(water, mean) * (room - surface));
        near(m->coil[0] - cold, given / (200.0 * t->area), 0.01 * (m->coil[0] - cold), "wall of the finger");
        double given_off = (run.coolant[0] * df_coolant_heat(t->coolant) - t->loss * run.time) / run.deposit[0];
        near(given_off * m->rate[0] / given, 1.0, 0.01, "heat to the coolant");
    }
    df_run_free(&run);
    b->setup.classes[0].start_temperature = b->setup.recipe.shelf_temperature[0] = 170.0; /* no vapour */
    t->loss = 50.0;
    t->heat_capacity = 3e4;
    t->charge = t->loss * 600.0 / df_coolant_heat(t->coolant);
    b->setup.time_limit = 4.0 * 3600.0;
    run = run_bed(k, b);
    for (size_t i = 0; i < run.moments; i++) {
        const df_moment *m = &run.moment[i];
        double since = fmax(m->time - 600.0, 0.0),
               scale = (room - cold) * (t->heat_capacity + 400.0) / t->loss; /* with the skin of the deposit */
        near(m->coil[0], room - (room - cold) * exp(-since / scale), 0.1, "finger after %.0f s", m->time);
    }
    assert_true(run.moment[run.moments - 1].coil[0] > cold + 15.0);
    df_run_free(&run);
    free(b);
}

/* Mole fractions of two masses. */
static void to_moles(double z[2], const double *mass, const df_composition *c) {
    double a = mass[0] / c->component[0]->molar_mass, b = mass[1] / c->component[1]->molar_mass;
    z[0] = a / (a + b);
    z[1] = b / (a + b);
}

/* Two vapours, and their deposit of ethanol and ice with a liquid of both: the pressure at the trap is what its equilibrium at the
 * surface asks for and what the kinetic limit of each needs beyond it; heat passes through what is solid alone. */
static void two_vapours_on_a_coil(void **state) {
    static const struct {
        const char *dryer, *text;
        double shelf;
    } cases[] = {{"deep-105", "acetonitrile 25 %v/v, water", 226.15}, {"bench-55", "ethanol 15 %v/v, water", 233.15}};
    const kit *k = *state;
    for (int i = 0; i < 2; i++) {
        bed *b = make_bed(k, cases[i].dryer, cases[i].text, "vial_20R", 4e-6, 2000, DF_PLACE_SHELF);
        const df_composition *c = &b->setup.classes[0].composition;
        const df_trap *trap = &b->dryer.trap[0];
        double room = b->dryer.chamber.room_temperature;
        df_mixture *mixture = NULL;
        bool allowed[DF_MAX_SOLIDS];
        b->dryer.chamber.leak = b->dryer.chamber.degassing = 0.0;
        b->setup.recipe.shelf_temperature[0] = cases[i].shelf;
        b->setup.keep_going = true;
        b->setup.tolerance = 1e-6;
        assert_int_equal(df_mixture_create(k->ctx, &mixture, k->pairs, c->component, c->n), DF_OK);
        df_mixture_allow(allowed, mixture, DF_FREEZING_PRACTICE);
        df_run run = run_bed(k, b);
        for (double left = 0.7; left > 0.25; left -= 0.2) {
            size_t at = 0;
            while (at + 1 < run.moments && run.moment[at].container[0].left[0] > left)
                at++;
            const df_moment *m = &run.moment[at];
            double moles[2], over[2], sum = 0.0, solid = 0.0, surface = m->trap_surface[0];
            df_assemblage a;
            to_moles(moles, m->deposit, c);
            assert_true(run.substance[0] == c->component[0]);
            assert_int_equal(df_mixture_equilibrium(k->ctx, &a, mixture, surface, moles, allowed, false), DF_OK);
            df_mixture_vapour(over, NULL, NULL, mixture, surface, a.activity_ln);
            for (size_t j = 0; j < 2; j++) {
                double kinetic =
                    0.05 * trap->area * sqrt(c->component[j]->molar_mass / (2.0 * M_PI * DF_GAS_CONSTANT * room));
                sum += over[j] + (m->rate[j] - m->exhaust_rate[j]) / kinetic;
            }
            near(m->trap_pressure / sum, 1.0, 0.02, "%s: pressure at the trap with %.0f %% left", cases[i].text,
                 100.0 * left);
            for (size_t j = 0; j < df_mixture_solids(mixture); j++)
                for (size_t l = 0; l < 2; l++)
                    solid += a.solid[j] * df_mixture_solid(mixture, j)->formula[l] * c->component[l]->molar_mass /
                             df_solid_density(c->component[l], 220.0) * m->deposit[0] /
                             (moles[0] * c->component[0]->molar_mass);
            if (a.liquids == 0 || solid < 1e-5)
                continue;
            double film = 1e-4 * trap->area,
                   k_ice = pow(2.2, solid / (solid + film)) * pow(2.0, film / (solid + film));
            double link = trap->area * trap->area * k_ice / (solid + film);
            near(coil_power(m->coil[0]) / (link * (surface - m->coil[0])), 1.0, 0.15,
                 "heat through the ice beside liquid"); /* its share of liquid lies between tabled ones */
            if (left < 0.4) {                           /* as is reported at the end, there from the last surface */
                const df_moment *last = &run.moment[run.moments - 1];
                to_moles(moles, run.deposit, c);
                assert_int_equal(
                    df_mixture_equilibrium(k->ctx, &a, mixture, last->trap_surface[0], moles, allowed, false), DF_OK);
                for (size_t j = 0; j < 2; j++)
                    near(run.deposit_liquid[j] / run.deposit[j], a.liquid[0][j] / moles[j], 0.03, "liquid of %s",
                         c->component[j]->key);
            }
        }
        df_mixture_free(mixture);
        df_run_free(&run);
        free(b);
    }
}

/* What an associating vapour weighs counts by formula: p1 + 2 p2. Below its eutectic with ice acetic acid lies for itself. */
static void acid_over_a_coil(void **state) {
    const kit *k = *state;
    bed *b = make_bed(k, "bench-55", "acetic acid 20 %v/v, water", "vial_20R", 4e-6, 1, DF_PLACE_SHELF);
    const df_deposit *d = &b->deposit;
    size_t acid = d->substance[0]->is_water ? 1 : 0;
    const df_substance *s = d->substance[acid];
    for (double t = 220.0; t < 240.0; t += 10.0) {
        double total = df_solid_pressure(s, t), p1 = df_monomer_pressure(s, t, total);
        double p2 = df_dimer_constant(s, t) * p1 * p1;
        assert_near(p1 + p2, total, 1e-9);
        assert_true(p2 > 0.5 * p1);
        assert_near(exp(d->pressure_ln[acid][(int)(t - DF_DEPOSIT_FIRST)]), p1 + 2.0 * p2, 1e-9);
        for (size_t row = 0; row < DF_DEPOSIT_SHARES; row++)
            near(d->activity_ln[row][acid][(int)((t - DF_DEPOSIT_COLDEST) / DF_DEPOSIT_STEP)], 0.0, 1e-3,
                 "acetic acid beside ice, row %zu", row);
    }
    free(b);
}

/* Oil as a stirred bath, by Raoult's law: what leaves it with the gas that passes, by ballast or by a leak; what it holds the pump
 * to; what the pump takes by its speed. */
static void oil_by_raoult(void **state) {
    const kit *k = *state;
    for (int leaks = 0; leaks < 2; leaks++) {
        bed *b = make_bed(k, "bench-55", "acetone 8 %v/v, water", "vial_20R", 3e-6, 30, DF_PLACE_SHELF);
        df_dryer *d = &b->dryer;
        double room = d->chamber.room_temperature, speed = d->pump.speed.y[0];
        d->chamber.degassing = 0.0;
        d->chamber.leak = leaks ? 0.05 : 0.0;
        df_trap_shift(&d->trap[0], 233.15); /* so that water comes, too */
        d->pump.ballast = leaks ? 0.0 : 2e-4;
        b->setup.keep_going = true;
        b->setup.tolerance = 1e-6;
        df_run run = run_bed(k, b);
        double carrier = (leaks ? 0.05 : 2e-4 * DF_ATMOSPHERE) / (DF_GAS_CONSTANT * room); /* mol/s */
        size_t seen[2] = {0, 0};
        for (size_t i = 2; i < run.moments; i++) {
            const df_moment *m = &run.moment[i], *ends[2] = {m - 1, m};
            double out[2] = {0.0, 0.0}, step = m->time - ends[0]->time, vapour = 0.0;
            for (int e = 0; e < 2; e++) {
                double x[2], all = d->pump.oil / 0.45, share = 0.0;
                for (size_t j = 0; j < 2; j++)
                    all += x[j] = ends[e]->oil[j] / run.substance[j]->molar_mass;
                for (size_t j = 0; j < 2; j++) {
                    x[j] *= df_liquid_pressure(run.substance[j], d->pump.oil_temperature) / (all * DF_ATMOSPHERE);
                    share += x[j];
                }
                for (size_t j = 0; j < 2; j++)
                    out[j] += 0.5 * carrier * x[j] / (1.0 - share) * run.substance[j]->molar_mass;
                double held =
                    d->pump.ultimate + 1e-3 * share * DF_ATMOSPHERE + 1e-5 * d->pump.ballast * DF_ATMOSPHERE / speed;
                assert_near(ends[e]->ultimate, held, 1e-6);
            }
            for (size_t j = 0; j < 2; j++)
                vapour += m->exhaust_rate[j] / run.substance[j]->molar_mass * DF_GAS_CONSTANT * room;
            if (!leaks && m->time > 1500.0)
                near(vapour / (speed * (m->pump_pressure - m->ultimate)), 1.0, 1e-2, "what the pump takes");
            for (size_t j = 0; j < 2; j++) {
                if (m->time < 1500.0 || m->oil[j] < 1e-5 || step > 1800.0)
                    continue;
                near((m->exhaust[j] - ends[0]->exhaust[j]) / (step * out[j]), 1.0, 0.03,
                     "%s out of the oil at %.1f h", run.substance[j]->key, m->time / 3600.0);
                seen[j]++;
            }
        }
        assert_true(seen[0] > 3 && seen[1] > 3);
        if (!leaks) { /* of 3 g of acetone less counts than came: the ballast drives it out */
            assert_true(run.exhaust[0] > 1.5e-3 && !run.pump_overloaded);
            d->pump.solvent_limit = 1e-3;
            df_run_free(&run);
            run = run_bed(k, b);
            double most = 0.0;
            for (size_t i = 0; i < run.moments; i++)
                most = fmax(most, run.moment[i].oil[0]);
            assert_true(run.pump_overloaded == (most > 1e-3));
            assert_true(most < 1e-3 && run.organic_to_pump > 1e-3);
        }
        df_run_free(&run);
        free(b);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(ice_on_a_coil), cmocka_unit_test(ice_on_a_finger),
                                       cmocka_unit_test(two_vapours_on_a_coil), cmocka_unit_test(acid_over_a_coil),
                                       cmocka_unit_test(oil_by_raoult)};
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
