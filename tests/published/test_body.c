/* One class of containers in a run: flows and heat at single moments against closed forms, worked out here from the temperatures
 * and pressures that the run shows. */
#include "bed.h"

#include "dryfront/transient.h"

/* The first moment at which no more than `left` of a species is there. */
static const df_moment *moment_at(const df_run *run, size_t species, double left) {
    size_t i = 0;
    while (i + 1 < run->moments && run->moment[i].container[0].left[species] > left)
        i++;
    return &run->moment[i];
}

static double total(const df_moment *m, size_t species) {
    double sum = 0.0;
    for (size_t i = 0; i <= species; i++)
        sum += m->chamber[i];
    return sum;
}

/* Height of a cap of a sphere of radius r that holds a volume: pi z2 (3 r - z)/3, halved towards it. */
static double cap_height(double r, double volume) {
    double low = 0.0, high = 2.0 * r;
    for (int i = 0; i < 100; i++) {
        double z = 0.5 * (low + high);
        *(M_PI * z * z * (3.0 * r - z) / 3.0 > volume ? &high : &low) = z;
    }
    return low;
}

/* Wall of an edge vial: Kv Av (shelf - wall) + what its side gets from the room = k A (wall - front)/(frozen layer). Kv of Pikal,
 * Roy & Shah (1984), written out; 2 W/(m K) of ice. A flask: what the room gives to the glass behind what is left. */
static void heat_at_the_wall(void **state) {
    const kit *k = *state;
    bed *b = make_bed(k, "bench-55", "water", "vial_20R", 4e-6, 300, DF_PLACE_SHELF);
    df_class *q = &b->setup.classes[0];
    q->kv_factor = 0.7;
    q->room_area = 6e-4;
    b->setup.recipe.shelf_temperature[0] = 248.15;
    b->setup.recipe.pressure[0] = 20.0;
    df_run run = run_bed(k, b);
    double bottom = M_PI / 4.0 * pow(q->container.outer_diameter, 2), room = b->dryer.chamber.room_temperature;
    for (double left = 0.9; left > 0.15; left -= 0.2) {
        const df_moment *m = moment_at(&run, 0, left);
        const df_class_moment *c = &m->container[0];
        double p = total(m, 1), kv = 8.0 + 1.04 * p / (1.0 + 0.029 * p);
        double given = 0.7 * kv * bottom * (m->shelf - c->hottest) +
                       6e-4 * 0.9 * DF_STEFAN_BOLTZMANN * (pow(room, 4) - pow(c->hottest, 4));
        double through = 2.0 * q->shape.free_area * (c->hottest - c->front) / (c->left[0] * q->shape.thickness);
        assert_near(c->heat, given, 1e-3);
        assert_near(c->heat, through, 1e-3);
    }
    df_run_free(&run);
    free(b);
    b = make_bed(k, "bench-85", "water", "flask_500", 150e-6, 2, DF_PLACE_MANIFOLD);
    q = &b->setup.classes[0];
    run = run_bed(k, b);
    double r = 0.5 * q->container.inner_diameter;
    for (double left = 0.9; left > 0.15; left -= 0.2) {
        const df_moment *m = moment_at(&run, 0, left);
        const df_class_moment *c = &m->container[0];
        double z = cap_height(r, c->left[0] * q->shape.volume), outer = q->container.outer_diameter;
        double behind = 2.0 * M_PI * r * z * pow(outer / (2.0 * r), 2);
        assert_near(c->heat, behind * df_room_heat_flux(room, c->hottest, outer, b->dryer.manifold.frost), 3e-3);
    }
    df_run_free(&run);
    free(b);
}

/* Fronts of a block and of a shell in a flask: (p - P)/(R(L)/A(L) + port), A and L from spheres; R(L) = R0 + A1 L/(1 + A2 L). */
static void curved_fronts(void **state) {
    const kit *k = *state;
    const df_substance *water = kit_substance(k, "water");
    for (int turned = 0; turned < 2; turned++) {
        bed *b = make_lying_bed(k, "deep-105", "water", "flask_500", 150e-6, 1, DF_PLACE_MANIFOLD,
                                turned ? DF_LIE_SHELL : DF_LIE_REST);
        df_class *q = &b->setup.classes[0];
        const df_cake *cake = &q->cake;
        b->dryer.chamber.leak = b->dryer.chamber.degassing = 0.0;
        q->cake = (df_cake){.r0 = 3e5, .a1 = 4e8, .a2 = 300.0, .stated = true};
        df_run run = run_bed(k, b);
        double r = 0.5 * q->container.inner_diameter, v = q->shape.volume, sphere = 4.0 * M_PI * 0.7;
        double inner = cbrt(r * r * r - 3.0 * v / sphere);
        double port = df_port_conductance(fmin(b->dryer.manifold.port_diameter, q->container.port_diameter), 0.05,
                                          water->molar_mass, b->dryer.chamber.room_temperature);
        for (double left = 0.9; left > 0.15; left -= 0.2) {
            const df_moment *m = moment_at(&run, 0, left);
            const df_class_moment *c = &m->container[0];
            double depth, area, rest = c->left[0] * v;
            if (turned) {
                double front = cbrt(r * r * r - 3.0 * rest / sphere);
                depth = front - inner;
                area = sphere * front * front;
            } else {
                double z = cap_height(r, rest);
                depth = cap_height(r, v) - z;
                area = M_PI * z * (2.0 * r - z);
            }
            double resistance = (cake->r0 + cake->a1 * depth / (1.0 + cake->a2 * depth)) / area + 1.0 / port;
            assert_near(c->depth, depth, 2e-3);
            assert_near(m->rate[0], (df_solid_pressure(water, c->front) - m->chamber[0]) / resistance, 3e-3);
        }
        df_run_free(&run);
        free(b);
    }
}

/* Stefan's tube (Bird, Stewart & Lightfoot, Transport Phenomena, ch. 18): a crystal under air, through the dried layer and the head
 * of the vial. N = g (p - s) = P D/(R T way) ln((P - q)/(P - s)), solved here for s. D of water in air by Fuller's method at
 * 240 K, others by sqrt(Mw/M); openness 0.6 of the dried layer. */
static void stefans_tube(void **state) {
    static const struct {
        const char *name, *text;
        double shelf; /* K */
    } cases[] = {{"water", "water", 263.15}, {"tert-butanol", "tert-butanol, water 0 %v/v", 268.15}};
    const kit *k = *state;
    df_gas water = df_gas_of(kit_substance(k, "water")), air = df_gas_air();
    for (size_t i = 0; i < 2; i++) {
        const df_substance *s = kit_substance(k, cases[i].name);
        bed *b = make_bed(k, "deep-105", cases[i].text, "vial_10R", 3e-6, 1, DF_PLACE_SHELF);
        df_class *q = &b->setup.classes[0];
        double root = sqrt(s->molar_mass / water.molar_mass), r0 = 2e4;
        q->cake = (df_cake){.r0 = r0, .stated = true};
        b->setup.recipe.shelf_temperature[0] = cases[i].shelf;
        b->setup.recipe.pressure[0] = 1000.0;
        df_run run = run_bed(k, b);
        double area = q->shape.free_area, head = (q->container.brim_volume - q->shape.volume) / area;
        double diffusivity = df_gas_diffusivity(&water, &air, 240.0) / root; /* m2 Pa/s */
        for (double left = 0.9; left > 0.15; left -= 0.2) {
            const df_moment *m = moment_at(&run, 0, left);
            const df_class_moment *c = &m->container[0];
            double p = df_solid_pressure(s, c->front), all = total(m, run.species), there = m->chamber[0];
            double g = area * root / (r0 * s->molar_mass), way = head + c->depth / 0.6, low = there, high = p,
                   n = 0.0;
            assert_true(p > 30.0 && p < 0.8 * all && there < 0.1 * p);
            for (int j = 0; j < 100; j++) {
                double side = 0.5 * (low + high);
                n = diffusivity * area / (DF_GAS_CONSTANT * 240.0 * way) * log((all - there) / (all - side));
                *(n > g * (p - side) ? &high : &low) = side;
            }
            assert_near(m->rate[0], n * s->molar_mass, 2e-3);
        }
        df_run_free(&run);
        free(b);
    }
}

/* A solvent in pockets of ice passes vapour in proportion to phi^1.5 of its share of the volume; once the ice has gone, what is left
 * does as the pure substance over the whole area. Both by the root of the molar mass. The resistance of the cake is so large that
 * the gas in it and over it takes nothing. */
static void pockets_and_what_lags(void **state) {
    const kit *k = *state;
    double r0 = 1e7;
    bed *b = make_bed(k, "deep-105", "acetonitrile 15 %v/v, water", "vial_10R", 3e-6, 1, DF_PLACE_SHELF);
    df_class *q = &b->setup.classes[0];
    q->cake = (df_cake){.r0 = r0, .stated = true};
    b->setup.recipe.shelf_temperature[0] = 226.15;
    b->setup.time_limit = 40.0 * 86400.0;
    df_run run = run_bed(k, b);
    for (double left = 0.9; left > 0.15; left -= 0.2) {
        const df_moment *m = moment_at(&run, 0, left);
        double t = m->container[0].front;
        for (size_t i = 0; i < 2; i++) {
            double root = sqrt(run.substance[i]->molar_mass / 0.018015), phi = b->path.volume_fraction[i];
            double p = exp(df_frozen_path_at(&b->path, b->path.pressure_ln[i], t));
            near(m->rate[i] * r0 / (q->shape.free_area * pow(phi, 1.5) * root * (p - m->chamber[i])), 1.0, 5e-3,
                 "%s from its pockets", run.substance[i]->key);
        }
    }
    df_run_free(&run);
    free(b);
    const df_substance *s = kit_substance(k, "dmso");
    r0 = 1e6;
    b = make_bed(k, "deep-105", "dmso 10 %v/v, water", "vial_10R", 3e-6, 1, DF_PLACE_SHELF);
    q = &b->setup.classes[0];
    q->cake = (df_cake){.r0 = r0, .stated = true};
    b->setup.recipe.shelf_temperature[0] = 278.15;
    b->setup.keep_going = true;
    run = run_bed(k, b);
    bool lagged = false;
    for (size_t j = 0; j < run.moments; j++) {
        const df_moment *m = &run.moment[j];
        const df_class_moment *c = &m->container[0];
        if (c->left[1] > 0.0 || c->left[0] < 0.05)
            continue;
        double drive = df_solid_pressure(s, c->front) - m->chamber[0];
        lagged = true;
        assert_near(m->rate[0] * r0 / (q->shape.free_area * sqrt(s->molar_mass / 0.018015) * drive), 1.0, 5e-3);
    }
    assert_true(lagged);
    df_run_free(&run);
    free(b);
}

/* Bound water: dB/dt = -k (B - B0 f - C* m (1 - f)), f what is left of the ice, between two moments on the way; and the heat that it
 * takes once the ice is gone, that of vaporisation and of sorption. */
static void bound_water(void **state) {
    const kit *k = *state;
    const df_substance *water = kit_substance(k, "water");
    bed *b = make_bed(k, "bench-85", "water", "vial_10R", 3e-6, 50, DF_PLACE_SHELF);
    df_class *q = &b->setup.classes[0];
    df_solute sugar;
    assert_int_equal(df_solute_find(k->ctx, &sugar, k->substances, "sucrose", NULL), DF_OK);
    sugar.concentration = 150.0;
    q->solids = 3e-6 * sugar.concentration;
    q->container.glass_mass = 0.0;
    assert_int_equal(df_class_bind(k->ctx, q, &sugar, 1), DF_OK);
    q->sorption[0].tight = 0.0;
    q->sorption[0].rate *= 300.0; /* so that it is felt in the cold, and its heat too */
    const df_sorption *s = &q->sorption[0];
    b->setup.recipe.shelf_temperature[0] = 253.15;
    b->setup.recipe.pressure[0] = 20.0;
    b->setup.secondary = true;
    df_run run = run_bed(k, b);
    assert_near(run.classes[0].residual[0].likely, run.bound[0] / (50.0 * q->solids), 1e-9);
    assert_near(run.moment[0].container[0].left[0], 1.0, 1e-9);
    for (double left = 0.9; left > 0.15; left -= 0.2) {
        const df_moment *m = moment_at(&run, 0, left), *n = m + 1;
        double rate = 0.0, f0 = 0.0;
        for (const df_moment *at = m; at <= n; at++) {
            const df_class_moment *c = &at->container[0];
            double all = c->left[0] * q->mass - c->bound[0] * q->solids; /* of it as ice */
            double f = all / (q->mass - s->bound * q->solids), t = c->front;
            double rest = df_sorption_equilibrium(s, df_sorption_activity(water, at->chamber[0], t));
            rate += 0.5 * df_sorption_rate(s, t) * (c->bound[0] - s->bound * f - rest * (1.0 - f));
            f0 += 0.5 * f;
        }
        const df_class_moment *c = &m->container[0];
        double f = (c->left[0] * q->mass - c->bound[0] * q->solids) / (q->mass - s->bound * q->solids);
        double dried = (c->bound[0] - f * s->bound) / (1.0 - f); /* kg/kg of the dried part */
        near(c->glass, df_moist_glass(&sugar, 1, dried, NULL), 0.5,
             "Tg of the dried part"); /* a table of 33 points */
        assert_true(f0 > 0.1 && rate > 0.0);
        assert_near((m->container[0].bound[0] - n->container[0].bound[0]) / (n->time - m->time), rate, 0.02);
    }
    df_run_free(&run);
    /* More slowly: most of it leaves once the ice has gone, at the shelf's temperature by and by. */
    q->sorption[0].rate /= 30.0;
    b->setup.target[0] = 0.02;
    run = run_bed(k, b);
    size_t seen = 0;
    for (size_t i = 0; i < run.moments; i++) {
        const df_moment *m = &run.moment[i];
        const df_class_moment *c = &m->container[0];
        if (c->bound[0] > 0.085)
            continue;
        double each = df_vaporisation_enthalpy(water, c->front) / water->molar_mass + s->heat;
        assert_near(c->heat, m->rate[0] / 50.0 * each, 5e-3);
        assert_true(s->heat > 0.05 * each);
        seen++;
    }
    assert_true(seen > 3);
    double exposure = 0.0; /* of the dried cake, by the trapezium */
    for (size_t i = 1; i < run.moments; i++) {
        const df_moment *m = &run.moment[i];
        double ice = m->container[0].left[0] * q->mass - m->container[0].bound[0] * q->solids;
        if (ice < 0.01 * (q->mass - s->bound * q->solids))
            exposure += 0.5 * (m->time - m[-1].time) *
                        (df_sorption_rate(s, m->container[0].front) + df_sorption_rate(s, m[-1].container[0].front));
    }
    near(run.classes[0].exposure[0] / exposure, 1.0, 0.01, "exposure");
    df_run_free(&run);
    free(b);
}

/* A dry cake on a shelf that warms steadily takes (glass that the fill wets, a tenth more, at 830 J/(kg K) + solutes at
 * 1250 J/(kg K)) times the ramp. */
static void dry_cake_warms(void **state) {
    const kit *k = *state;
    bed *b = make_bed(k, "bench-85", "water", "vial_10R", 3e-6, 50, DF_PLACE_SHELF);
    df_class *q = &b->setup.classes[0];
    q->solids = 0.9e-3;
    df_recipe *r = &b->setup.recipe;
    r->n = 3;
    r->time[1] = 60.0 * 3600.0;
    r->time[2] = 80.0 * 3600.0;
    r->shelf_temperature[0] = r->shelf_temperature[1] = 243.15;
    r->shelf_temperature[2] = 303.15;
    b->setup.whole_recipe = true;
    df_run run = run_bed(k, b);
    double wet = q->container.glass_mass * (q->shape.volume / q->container.brim_volume + 0.1);
    double all = (wet * 830.0 + q->solids * 1250.0) * 60.0 / (20.0 * 3600.0);
    size_t seen = 0;
    for (size_t i = 0; i < run.moments; i++)
        if (run.moment[i].time > 65.0 * 3600.0 && run.moment[i].time < 79.0 * 3600.0) {
            assert_near(run.moment[i].container[0].heat, all, 5e-3);
            seen++;
        }
    assert_true(seen > 2);
    df_run_free(&run);
    free(b);
}

/* Of a frozen side at the edge half sees the wall; in a corner that half and half of the rest; at the door between the two. */
static void what_sees_the_wall(void **state) {
    (void)state;
    double edge = df_spot_view(DF_SPOT_EDGE), corner = df_spot_view(DF_SPOT_CORNER),
           door = df_spot_view(DF_SPOT_DOOR);
    assert_near(edge, 0.5, 0.0);
    assert_near(corner, edge + 0.5 * (1.0 - edge), 0.0);
    assert_true(df_spot_view(DF_SPOT_CENTRE) == 0.0 && door > edge && door < corner);
}

/* What a run is judged by: the hottest point of the frozen part, at the wall. */
static void what_is_judged(void **state) {
    const kit *k = *state;
    bed *b = make_bed(k, "bench-55", "acetonitrile 30 %v/v, water", "vial_20R", 5e-6, 200, DF_PLACE_SHELF);
    b->setup.recipe.shelf_temperature[0] = 250.15;
    b->setup.keep_going = true;
    df_run run = run_bed(k, b);
    const df_class_run *r = &run.classes[0];
    double solidus = df_effective_solidus(&b->path, b->setup.trace_liquid), margin = INFINITY, liquid = 0.0,
           stands = 1.0;
    double colder = INFINITY;
    for (size_t i = 0; i < run.moments; i++) {
        const df_class_moment *c = &run.moment[i].container[0];
        if (isnan(c->limit))
            continue;
        margin = fmin(margin, c->limit - c->hottest);
        colder = fmin(colder, c->limit - c->front);
        if (c->limit > solidus + 1e-9) { /* of ice alone */
            near(c->limit, 273.15, 0.02, "melting point");
            continue;
        }
        liquid = fmax(liquid, df_frozen_path_at(&b->path, b->path.liquid_mass, c->hottest));
        stands = fmin(stands, df_frozen_path_at(&b->path, b->path.solid_volume, c->hottest));
    }
    assert_true(liquid > 0.05 && stands < 0.95 && colder > margin + 0.05);
    near(r->least_margin, margin, 1e-9, "least margin");
    near(r->most_liquid, liquid, 1e-9, "most liquid");
    near(r->least_framework, stands, 1e-9, "least framework");
    df_run_free(&run);
    free(b);
    /* The effective solidus holds just the trace that is not counted. */
    static const char *const smooth[] = {"ethanol 1.5 %v/v, water", "dmso 2 %v/v, water"};
    for (size_t i = 0; i < 2; i++) {
        b = make_bed(k, "bench-55", smooth[i], "vial_20R", 5e-6, 1, DF_PLACE_SHELF);
        double most = df_frozen_path_at(&b->path, b->path.liquid_mass, 250.0), trace = 0.7 * most;
        near(df_frozen_path_at(&b->path, b->path.liquid_mass, df_effective_solidus(&b->path, trace)) / trace, 1.0,
             1e-6, "%s: liquid at the effective solidus", smooth[i]);
        free(b);
    }
}

/* Without a figure of its own: 1.0e4 m/s of an open layer, and 1.9e5 m/s over 5 mm at a quarter of solids (docs/drying.md). */
static void assumed_cake(void **state) {
    (void)state;
    df_cake cake;
    df_cake_assume(&cake, 1000.0 / 3.0);
    assert_near(cake.r0, 1.0e4, 1e-12);
    assert_near(cake.a1 * 5e-3, 1.9e5, 1e-9);
    df_cake_assume(&cake, 1000.0);
    assert_near(cake.a1 * 5e-3, 2.0 * 1.9e5, 1e-9);
    assert_true(!cake.stated && cake.a2 == 0.0);
}

/* A replay meets what its class met: an edge vial with a coefficient of its own, a shelf that rises, another exponent of its pockets,
 * a front colder than the pores are stated for. Where the models agree (docs/transient.md) its times are those of the run. */
static void replay_of_an_edge_vial(void **state) {
    const kit *k = *state;
    static const struct {
        const char *text;
        double cold, warm, kv, room, exponent;
    } cases[] = {{"water", 233.15, 253.15, 0.6, 0.0, 1.5},
                 {"water", 233.15, 233.15, 1.0, 8e-4, 1.5},
                 {"acetonitrile 25 %v/v, water", 228.15, 228.15, 1.0, 0.0, 1.0}};
    for (size_t i = 0; i < 3; i++) {
        bed *b = make_bed(k, "deep-105", cases[i].text, "vial_20R", 4e-6, 100, DF_PLACE_SHELF);
        df_class *q = &b->setup.classes[0];
        df_recipe *r = &b->setup.recipe;
        q->kv_factor = cases[i].kv;
        q->room_area = cases[i].room;
        q->cake = (df_cake){.r0 = 2e5, .a1 = 2e7, .stated = true};
        r->n = 2;
        r->time[1] = 40.0 * 3600.0;
        r->shelf_temperature[0] = cases[i].cold;
        r->shelf_temperature[1] = cases[i].warm;
        b->setup.pore_exponent = cases[i].exponent;
        df_run run = run_bed(k, b);
        df_transient t;
        df_transient_options o;
        df_transient_defaults(&o);
        if (df_transient_replay(k->ctx, &t, &b->setup, &run, 0, &o) != DF_OK)
            fail_msg("%s", df_context_message(k->ctx));
        near(t.species_time[t.framework] / run.classes[0].species_time[t.framework], 1.0, 5e-3, "case %zu: time", i);
        near(t.heat_wall * 100.0 / run.heat_in, 1.0, 5e-3, "case %zu: heat", i);
        /* a solvent's front lies deeper and warmer in the one (docs/transient.md) */
        near(t.species_time[0] / run.classes[0].species_time[0], 1.0, 0.08, "case %zu: what leaves first", i);
        df_transient_free(&t);
        df_run_free(&run);
        free(b);
    }
}

/* Newton's method with right slopes takes two to three sets of rates for a step (2.4 here); with a trap's slope a third of what it is it
 * takes 3. */
static void few_rates_for_a_step(void **state) {
    const kit *k = *state;
    bed *b = make_bed(k, "bench-55", "acetonitrile 30 %v/v, water", "vial_20R", 6e-6, 240, DF_PLACE_SHELF);
    b->setup.recipe.shelf_temperature[0] = 233.15;
    df_run run = run_bed(k, b);
    assert_int_equal(run.end, DF_END_DRY);
    if (run.evaluations > 2.7 * (double)run.steps)
        fail_msg("%ld sets of rates in %ld steps", run.evaluations, run.steps);
    df_run_free(&run);
    free(b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(heat_at_the_wall),      cmocka_unit_test(what_sees_the_wall),
        cmocka_unit_test(curved_fronts),         cmocka_unit_test(stefans_tube),
        cmocka_unit_test(pockets_and_what_lags), cmocka_unit_test(bound_water),
        cmocka_unit_test(dry_cake_warms),        cmocka_unit_test(what_is_judged),
        cmocka_unit_test(assumed_cake),          cmocka_unit_test(replay_of_an_edge_vial),
        cmocka_unit_test(few_rates_for_a_step)};
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
