/* Chamber, traps, pump, events and secondary drying in a run: against closed forms, balances worked out here, and limits. */
#include "bed.h"

static double total(const df_moment *m, size_t species) {
    double sum = 0.0;
    for (size_t i = 0; i <= species; i++)
        sum += m->chamber[i];
    return sum;
}

/* A moment at a time, straight between its neighbours: pressure of a gas. */
static double gas_at(const df_run *run, size_t gas, double time) {
    size_t i = 1;
    while (i + 1 < run->moments && run->moment[i].time < time)
        i++;
    const df_moment *a = &run->moment[i - 1], *b = &run->moment[i];
    return a->chamber[gas] + (time - a->time) / (b->time - a->time) * (b->chamber[gas] - a->chamber[gas]);
}

static const df_notice *find_notice(const df_run *run, df_notice_kind kind) {
    for (size_t i = 0; i < run->notices; i++)
        if (run->notice[i].kind == kind)
            return &run->notice[i];
    return NULL;
}

/* An empty dryer whose sample is too cold for vapour, pumped at a constant speed. */
static bed *make_still(const kit *k, double speed) {
    bed *b = make_bed(k, "deep-105", "water", "vial_10R", 1e-6, 1, DF_PLACE_SHELF);
    df_dryer *d = &b->dryer;
    d->chamber.leak = d->chamber.degassing = 0.0;
    d->chamber.control = DF_CONTROL_NONE;
    d->pump.speed = (df_curve){1, {1.0}, {speed}};
    d->pump.ultimate = 1e-9;
    b->setup.classes[0].start_temperature = 170.0;
    b->setup.recipe.shelf_temperature[0] = 170.0;
    b->setup.start_pressure = 5.0;
    b->setup.tolerance = 1e-6;
    return b;
}

/* A sample too cold to give vapour: what is left is a volume, a pump and a leak. P = P0 exp(-S t/V); a leak q holds q/S; with
 * the pump shut off the pressure rises by q/V (any text on vacuum technology, e.g. O'Hanlon, ch. 7). */
static void pump_and_leak(void **state) {
    double speed = 2.0e-3;
    bed *b = make_still(*state, speed);
    df_dryer *d = &b->dryer;
    double volume = d->chamber.volume + d->trap[0].volume;
    b->setup.start_pressure = DF_ATMOSPHERE;
    b->setup.time_limit = 1000.0;
    df_run run = run_bed(*state, b);
    for (size_t i = 0; i < run.moments; i++) {
        const df_moment *m = &run.moment[i];
        double exact = DF_ATMOSPHERE * exp(-speed * m->time / volume);
        if (exact > 10.0)
            near(m->chamber[1] / exact, 1.0, 0.01, "pressure after %.0f s", m->time);
    }
    df_run_free(&run);
    double leak = 0.002; /* Pa m3/s */
    d->chamber.leak = leak;
    b->setup.start_pressure = 5.0;
    b->setup.time_limit = 1200.0;
    b->setup.event[b->setup.events++] = (df_event){DF_EVENT_POWER_CUT, 600.0, 600.0, 0.0, 0};
    run = run_bed(*state, b);
    near(gas_at(&run, 1, 590.0) / (leak / speed), 1.0, 0.01, "pressure that a leak holds");
    double rise = (gas_at(&run, 1, 1100.0) - gas_at(&run, 1, 700.0)) / 400.0;
    near(rise / (leak / volume), 1.0, 0.01, "rise with the pump shut off");
    assert_non_null(find_notice(&run, DF_NOTICE_POWER_CUT));
    df_run_free(&run);
    free(b);
}

/* Heat from above alone, through the dried layer: A (Ttop - T)/(1/h + L/k) = A (p(T) - P)/(R0 + A1 L) dh. The balance is
 * solved here layer by layer; pressure and heat of ice from the pure substance. */
static void heat_through_the_dried_layer(void **state) {
    const kit *k = *state;
    const df_substance *water = kit_substance(k, "water");
    bed *b = make_bed(k, "bench-55", "water", "vial_10R", 2.85e-6, 1, DF_PLACE_SHELF);
    df_class *q = &b->setup.classes[0];
    double pressure = 10.0, h = 8.0, conductivity = 0.02, top = 253.15, r0 = 2e4, a1 = 5e6;
    b->dryer.chamber.control = DF_CONTROL_THROTTLE;
    b->dryer.chamber.leak = 0.0;
    b->dryer.trap[0].area = 10.0;
    b->dryer.shelf.contact = b->dryer.shelf.gas = 0.0;
    q->container.glass_mass = 0.0;
    q->cake = (df_cake){.r0 = r0, .a1 = a1, .stated = true};
    q->top_coefficient = h;
    q->dry_conductivity = conductivity;
    b->setup.recipe.shelf_temperature[0] = top;
    b->setup.recipe.pressure[0] = pressure;
    b->setup.start_pressure = 0.01;
    double thickness = q->shape.thickness, density = q->mass / q->shape.volume, time = 0.0, t = 240.0, halfway = 0.0;
    const int layers = 2000;
    for (int i = 0; i < layers; i++) {
        double depth = thickness * (i + 0.5) / layers, heat = 0.0, low = 200.0, high = top;
        for (int j = 0; j < 60; j++) {
            t = 0.5 * (low + high);
            double flow = (df_solid_pressure(water, t) - pressure) / (r0 + a1 * depth);
            double dh = df_sublimation_enthalpy(water, t) / water->molar_mass;
            heat = (top - t) / (1.0 / h + depth / conductivity);
            *(flow * dh > heat ? &high : &low) = t;
        }
        if (i == layers / 2)
            halfway = t;
        time += density * thickness / layers / (heat * water->molar_mass / df_sublimation_enthalpy(water, t));
    }
    q->start_temperature = t;
    df_run run = run_bed(k, b);
    near(run.time / time, 1.0, 0.01, "time by heat through the dried layer, %.2f h", time / 3600.0);
    const df_moment *m = &run.moment[0];
    for (size_t i = 0; i < run.moments && run.moment[i].container[0].depth < 0.5 * thickness; i++)
        m = &run.moment[i];
    near(m->container[0].front, halfway, 0.15, "temperature halfway");
    df_run_free(&run);
    free(b);
}

/* Flasks on a manifold live by the room's radiation and convection: what sublimes follows from the heat alone (Basic studies
 * on freeze-drying I: rates computed from radiation agreed with those measured). */
static void flask_by_radiation(void **state) {
    const kit *k = *state;
    const df_substance *water = kit_substance(k, "water");
    bed *b = make_bed(k, "bench-85", "water", "flask_500", 100e-6, 1, DF_PLACE_MANIFOLD);
    df_run run = run_bed(k, b);
    for (size_t i = 0; i < run.moments; i++) {
        const df_moment *m = &run.moment[i];
        if (m->container[0].left[0] > 0.8 || m->container[0].left[0] < 0.5)
            continue;
        double dh = df_sublimation_enthalpy(water, m->container[0].front) / water->molar_mass;
        near(m->rate[0] * dh / m->container[0].heat, 1.0, 0.02, "heat of what sublimes over heat of the room");
    }
    df_run_free(&run);
    free(b);
}

/* A finger of dry ice: what boils away carries what the vapour gives up and the loss. Then it is empty, and is filled. */
static void finger(void **state) {
    const kit *k = *state;
    const df_substance *water = kit_substance(k, "water");
    bed *b = make_bed(k, "deep-105", "water", "vial_10R", 3e-6, 20, DF_PLACE_SHELF);
    df_trap *t = &b->dryer.trap[0];
    *t = (df_trap){.kind = DF_TRAP_FINGER,
                   .area = 0.05,
                   .volume = 4e-3,
                   .capacity = 1.0,
                   .heat_capacity = 300.0,
                   .power = NAN,
                   .coolant = DF_COOLANT_DRY_ICE,
                   .temperature = df_coolant_temperature(DF_COOLANT_DRY_ICE),
                   .charge = 50.0,
                   .loss = 12.0};
    df_run run = run_bed(k, b);
    double surface = t->temperature + 1.0, cooled = 0.5 * (surface + 294.0);
    double given =
        run.deposit[0] / water->molar_mass *
        (df_sublimation_enthalpy(water, surface) + df_gas_heat_capacity(water, cooled) * (294.15 - surface));
    near(run.coolant[0] * df_coolant_heat(t->coolant) / (given + t->loss * run.time), 1.0, 0.01,
         "heat to the coolant");
    double used = run.coolant[0], time = run.time;
    df_run_free(&run);
    t->charge = 0.8 * used;
    run = run_bed(k, b);
    const df_notice *gone = find_notice(&run, DF_NOTICE_COOLANT_GONE);
    assert_non_null(gone);
    assert_true(gone->time < time && run.coolant[0] <= t->charge * 1.001);
    df_run_free(&run);
    b->setup.event[b->setup.events++] = (df_event){DF_EVENT_REFILL, 0.5 * time, 0.0, 0.0, 0};
    run = run_bed(k, b);
    assert_null(find_notice(&run, DF_NOTICE_COOLANT_GONE));
    near(run.time / time, 1.0, 0.01, "time with a refill");
    df_run_free(&run);
    free(b);
}

/* Two traps: what passes -55 °C stays at the finger of liquid nitrogen, and nothing reaches the pump. */
static void second_trap(void **state) {
    bed *b = make_bed(*state, "bench-55", "acetone 8 %v/v, water", "vial_20R", 3e-6, 100, DF_PLACE_SHELF);
    b->setup.keep_going = true;
    df_run one = run_bed(*state, b);
    df_trap *t = &b->dryer.trap[b->dryer.traps++];
    *t = (df_trap){.kind = DF_TRAP_FINGER,
                   .area = 0.05,
                   .volume = 2e-3,
                   .capacity = 1.0,
                   .heat_capacity = 300.0,
                   .power = NAN,
                   .coolant = DF_COOLANT_NITROGEN,
                   .temperature = df_coolant_temperature(DF_COOLANT_NITROGEN),
                   .charge = 50.0,
                   .loss = 10.0};
    b->dryer.link = (df_tube){0.02, 0.5}; /* a wide one would let the ice of the first move over */
    df_run two = run_bed(*state, b);
    assert_true(one.organic_to_pump > 0.9 * one.initial[0]);
    assert_true(two.organic_to_pump < 0.02 * two.initial[0]);
    assert_true(two.trap_deposit[1][0] > 0.9 * two.initial[0]);
    assert_true(two.trap_deposit[1][1] < 0.05 * two.initial[1]);
    df_run_free(&one);
    df_run_free(&two);
    free(b);
}

/* Oil takes up what is pumped and pulls less deep; the gas ballast drives it out again; a dry pump keeps nothing. */
static void oil_and_ballast(void **state) {
    bed *b = make_bed(*state, "bench-55", "acetone 8 %v/v, water", "vial_20R", 3e-6, 100, DF_PLACE_SHELF);
    b->setup.keep_going = true;
    df_run shut = run_bed(*state, b);
    const df_moment *last = &shut.moment[shut.moments - 1];
    assert_true(shut.oil[0] > 10.0 * shut.exhaust[0]);
    assert_true(last->ultimate > 5.0 * b->dryer.pump.ultimate);
    assert_non_null(find_notice(&shut, DF_NOTICE_OIL_LOADED));
    b->dryer.pump.ballast = 2e-4; /* 0.7 m3/h */
    df_run open = run_bed(*state, b);
    assert_true(open.oil[0] < 0.1 * shut.oil[0] && open.exhaust[0] > 0.5 * open.initial[0]);
    b->dryer.pump.kind = DF_PUMP_DRY;
    b->dryer.pump.solvent_limit = INFINITY;
    df_run dry = run_bed(*state, b);
    near(dry.oil[0], 0.0, 0.0, "oil of a dry pump");
    assert_true(dry.exhaust[0] > 0.9 * dry.initial[0]);
    df_run_free(&shut);
    df_run_free(&open);
    df_run_free(&dry);
    free(b);
}

/* Secondary drying at a steady temperature and pressure is the closed form of first-order decay. */
static void secondary(void **state) {
    const kit *k = *state;
    bed *b = make_bed(k, "bench-85", "water", "vial_10R", 3e-6, 50, DF_PLACE_SHELF);
    df_class *q = &b->setup.classes[0];
    df_solute sugar;
    assert_int_equal(df_solute_find(k->ctx, &sugar, k->substances, "sucrose", NULL), DF_OK);
    sugar.concentration = 50.0;
    q->solids = 3e-6 * sugar.concentration;
    assert_int_equal(df_class_bind(k->ctx, q, &sugar, 1), DF_OK);
    df_recipe *r = &b->setup.recipe;
    r->n = 3;
    r->time[1] = 40.0 * 3600.0;
    r->time[2] = 44.0 * 3600.0;
    r->shelf_temperature[1] = 235.15;
    r->shelf_temperature[2] = 318.15; /* warm enough for what is held tightly */
    b->setup.secondary = true;
    b->setup.target[0] = 0.01;
    b->setup.time_limit = 200.0 * 3600.0;
    df_run run = run_bed(k, b);
    assert_int_equal(run.end, DF_END_DRY);
    near(run.bound[0] / (50.0 * q->solids), 0.01, 1e-4, "the run ends at its target");
    const df_sorption *s = &q->sorption[0];
    const df_moment *a = NULL, *z = &run.moment[run.moments - 1];
    for (size_t i = 0; i < run.moments && a == NULL; i++)
        if (run.moment[i].time > 46.0 * 3600.0)
            a = &run.moment[i];
    assert_true(a != NULL && a < z);
    double t = z->container[0].front, activity = df_sorption_activity(kit_substance(k, "water"), z->chamber[0], t);
    near(t, 318.15, 0.5, "the cake follows the shelf");
    near(df_sorption_left(s, a->container[0].bound[0], t, activity, z->time - a->time) / z->container[0].bound[0],
         1.0, 0.01, "first-order decay");
    assert_true(run.classes[0].residual[0].low < 0.01 && run.classes[0].residual[0].high > 0.01);
    assert_non_null(find_notice(&run, DF_NOTICE_TARGET_MET));
    df_run_free(&run);
    free(b);
}

/* While the shelf's ramp warms the last of the ice, the hottest point is where the framework ceases to be judged, at a
 * hundredth of it: found there however long the steps are. Reference: the same with short steps. */
static void last_judged_moment(void **state) {
    bed *b = make_bed(*state, "bench-85", "water", "vial_10R", 3e-6, 50, DF_PLACE_SHELF);
    df_recipe *r = &b->setup.recipe;
    r->n = 3;
    r->shelf_temperature[0] = r->shelf_temperature[1] = 248.15;
    r->time[1] = 2.0 * 3600.0;
    r->time[2] = 60.0 * 3600.0;
    r->shelf_temperature[2] = 318.15;
    b->setup.tolerance = 1e-4;
    df_run coarse = run_bed(*state, b);
    b->setup.tolerance = 1e-6;
    df_run fine = run_bed(*state, b);
    double time = fine.classes[0].hottest_time;
    assert_true(time > r->time[1] && time < fine.primary_time);
    near(coarse.classes[0].hottest, fine.classes[0].hottest, 0.02, "hottest point, K");
    near(coarse.classes[0].hottest_time / time, 1.0, 0.002, "its time");
    bool met = false;
    for (size_t i = 0; i < fine.moments; i++)
        met = met || (fine.moment[i].time == time && fabs(fine.moment[i].container[0].left[0] - 0.01) < 1e-5);
    assert_true(met);
    df_run_free(&coarse);
    df_run_free(&fine);
    free(b);
}

static void what_happens_on_the_way(void **state) {
    bed *b = make_bed(*state, "bench-85", "water", "flask_500", 100e-6, 2, DF_PLACE_MANIFOLD);
    b->setup.class_count = 2;
    b->setup.classes[1] = b->setup.classes[0];
    b->setup.classes[1].on_time = 3.0 * 3600.0;
    b->setup.classes[1].off_time = 6.0 * 3600.0;
    b->setup.loading = 600.0;
    df_run calm = run_bed(*state, b);
    /* Air in the heads of two flasks spreads over chamber and trap. */
    const df_class *c = &b->setup.classes[1];
    double slug = 2.0 * (c->container.brim_volume - c->shape.volume) * DF_ATMOSPHERE / b->dryer.chamber.volume;
    double before = gas_at(&calm, 1, 3.0 * 3600.0 - 1.0), most = 0.0;
    for (size_t i = 0; i < calm.moments; i++)
        if (calm.moment[i].time > 3.0 * 3600.0 && calm.moment[i].time < 3.0 * 3600.0 + 1.0)
            most = fmax(most, calm.moment[i].chamber[1]);
    assert_true(most > before + 0.6 * slug && most < before + 1.01 * slug);
    assert_non_null(find_notice(&calm, DF_NOTICE_TAKEN_WET));
    near(total(&calm.moment[0], 1), DF_ATMOSPHERE, 1.0, "loaded at one atmosphere");
    double quiet = calm.classes[0].time_dry;
    df_run_free(&calm);
    b->setup.class_count = 1;
    b->setup.event[0] = (df_event){DF_EVENT_DEFROST, 2.0 * 3600.0, 1800.0, 900.0, 0};
    b->setup.event[1] = (df_event){DF_EVENT_VACUUM_BREAK, 4.0 * 3600.0, 300.0, 0.0, 0};
    b->setup.events = 2;
    b->setup.keep_going = true;
    df_run run = run_bed(*state, b);
    const df_notice *drained = find_notice(&run, DF_NOTICE_DEFROSTED);
    assert_non_null(drained);
    near(drained->value[0] / run.drained[0], 1.0, 1e-12, "what was drained");
    assert_true(run.drained[0] > 0.01 * run.initial[0]);
    near((gas_at(&run, 0, 4.0 * 3600.0 + 290.0) + gas_at(&run, 1, 4.0 * 3600.0 + 290.0)) / DF_ATMOSPHERE, 1.0, 0.01,
         "vacuum broken");
    assert_true(run.classes[0].hottest > 255.0 && run.classes[0].time_dry != quiet);
    df_run_free(&run);
    free(b);
}

/* A trap too warm for the vapour, a narrow duct and a leak each show as what they are. */
static void who_holds_the_pressure(void **state) {
    static const df_holder expected[] = {DF_HOLDER_TRAP, DF_HOLDER_DUCT, DF_HOLDER_LEAK};
    for (int i = 0; i < 3; i++) {
        bed *b = make_bed(*state, "bench-85", "water", "vial_20R", 4e-6, 300, DF_PLACE_SHELF);
        b->setup.recipe.pressure[0] = 6.0;
        b->setup.recipe.shelf_temperature[0] = 253.15;
        if (i == 0)
            df_trap_shift(&b->dryer.trap[0], 273.15 - 38.0);
        else if (i == 1)
            b->dryer.duct.diameter = 0.025;
        else
            b->dryer.chamber.leak = 0.05;
        df_run run = run_bed(*state, b);
        df_holder worst = DF_HOLDER_TRAP;
        for (int h = DF_HOLDER_TRAP; h < DF_HOLDERS; h++)
            if (run.held[h] > run.held[worst])
                worst = (df_holder)h;
        if (worst != expected[i])
            fail_msg("case %d: held by %s, not %s", i, df_holder_name(worst), df_holder_name(expected[i]));
        assert_non_null(find_notice(&run, DF_NOTICE_PRESSURE_NOT_HELD));
        df_run_free(&run);
        free(b);
    }
}

/* A mixed deposit: below the eutectic of acetonitrile and water each lies for itself; ethanol dissolves ice and is held
 * lower than alone, while ice keeps its own pressure as long as some is there. */
static void mixed_deposits(void **state) {
    const kit *k = *state;
    bed *b = make_bed(k, "bench-55", "acetonitrile 30 %v/v, water", "vial_20R", 4e-6, 1, DF_PLACE_SHELF);
    size_t cold = (size_t)((214.0 - DF_DEPOSIT_COLDEST) / DF_DEPOSIT_STEP);
    for (size_t row = 0; row < DF_DEPOSIT_SHARES; row++)
        for (size_t i = 0; i < 2; i++)
            near(b->deposit.activity_ln[row][i][cold], 0.0, 1e-3, "acetonitrile and ice at -59 °C, row %zu", row);
    free(b);
    b = make_bed(k, "bench-55", "ethanol 30 %v/v, water", "vial_20R", 4e-6, 1, DF_PLACE_SHELF);
    size_t ethanol = b->deposit.substance[0]->is_water ? 1 : 0, water = 1 - ethanol;
    near(b->deposit.activity_ln[1][water][cold], 0.0, 1e-3, "ice over ethanol and ice");
    assert_true(b->deposit.activity_ln[1][ethanol][cold] < log(0.85));
    assert_true(b->deposit.liquid[1][ethanol][cold] > 0.999 && b->deposit.liquid[1][water][cold] < 0.5);
    assert_true(b->deposit.activity_ln[DF_DEPOSIT_SHARES - 1][ethanol][cold] > log(0.9)); /* nearly pure */
    free(b);
}

/* Rates of vials in a lyophilised sugar rise with tert-butanol (DeLuca, Kamat & Koida 1989, as tabulated in a handbook: 2.9 to
 * 4.2 times, with a warmer shelf). Under one recipe the model gives the direction. */
static void tert_butanol_speeds_up(void **state) {
    bed *plain = make_bed(*state, "bench-85", "water", "vial_10R", 3e-6, 50, DF_PLACE_SHELF);
    bed *with = make_bed(*state, "bench-85", "tert-butanol 10 %w/w, water", "vial_10R", 3e-6, 50, DF_PLACE_SHELF);
    df_cake_assume(&plain->setup.classes[0].cake, 100.0);
    df_cake_assume(&with->setup.classes[0].cake, 100.0);
    df_run a = run_bed(*state, plain), b = run_bed(*state, with);
    assert_true(b.time < a.time);
    df_run_free(&a);
    df_run_free(&b);
    free(plain);
    free(with);
}

/* Air by a leak, which fades to none at one atmosphere, P = P0 (1 - exp(-q t/(P0 V))); by walls that give off q an hour after the
 * start and as 1/t, P S = q 3600 s/t; by an open valve with its time constant, on the chamber's share of the volume; by a bleed that
 * lets in as much in a second as the pressure lacks. */
static void air_comes_in(void **state) {
    const kit *k = *state;
    double speed = 2e-3, leak = 5.0;
    bed *b = make_still(k, speed);
    df_dryer *d = &b->dryer;
    double volume = d->chamber.volume + d->trap[0].volume;
    d->chamber.leak = leak;
    b->setup.event[b->setup.events++] = (df_event){DF_EVENT_POWER_CUT, 0.0, 1800.0, 0.0, 0};
    b->setup.time_limit = 1500.0;
    df_run run = run_bed(k, b);
    for (double t = 300.0; t < 1500.0; t += 300.0)
        near(gas_at(&run, 1, t) / DF_ATMOSPHERE,
             1.0 - (1.0 - 5.0 / DF_ATMOSPHERE) * exp(-leak * t / (DF_ATMOSPHERE * volume)), 5e-3,
             "leak, after %.0f s", t);
    df_run_free(&run);
    d->chamber.leak = 0.0;
    d->chamber.degassing = 1e-3;
    b->setup.events = 0;
    b->setup.time_limit = 4.0 * 3600.0;
    run = run_bed(k, b);
    for (double t = 1800.0; t < 4.0 * 3600.0;
         t *= 1.6) { /* a space of volume/speed = 40 s follows it that much later */
        double pump = gas_at(&run, 1, t) * speed;
        near(pump * (t - volume / speed) / (1e-3 * 3600.0), 1.0, 0.02, "walls, after %.0f s", t);
    }
    df_run_free(&run);
    d->chamber.degassing = 0.0;
    b->setup.event[b->setup.events++] = (df_event){DF_EVENT_VACUUM_BREAK, 600.0, 600.0, 0.0, 0};
    b->setup.time_limit = 1100.0;
    run = run_bed(k, b);
    for (double t = 610.0; t < 700.0; t += 20.0)
        near(gas_at(&run, 1, t) / DF_ATMOSPHERE, 1.0 - exp(-(t - 600.0) / 20.0 * d->chamber.volume / volume), 0.01,
             "air valve, after %.0f s", t - 600.0);
    df_run_free(&run);
    d->chamber.control = DF_CONTROL_BLEED;
    b->setup.recipe.pressure[0] = 20.0;
    b->setup.events = 0;
    run = run_bed(k, b);
    const df_moment *m = &run.moment[run.moments - 1];
    near((20.0 - m->chamber[1]) / (speed * m->pump_pressure / d->chamber.volume), 1.0, 0.02, "what the bleed lacks");
    df_run_free(&run);
    free(b);
}

/* A shelf without power drifts to the room's temperature, an exponential, and comes back by its ramp; compressors and pump draw
 * power but for that while; a trap is closed at 10 C once it has thawed. */
static void shelf_and_power(void **state) {
    const kit *k = *state;
    bed *b = make_still(k, 2e-3);
    df_dryer *d = &b->dryer;
    double room = d->chamber.room_temperature, set = 230.0, cut = 3600.0, off = 1800.0;
    d->shelf.drift = 3600.0;
    d->shelf.ramp = 0.01;
    d->pump.power = 500.0;
    d->trap[0].power = 1500.0;
    b->setup.recipe.shelf_temperature[0] = set;
    b->setup.event[b->setup.events++] = (df_event){DF_EVENT_POWER_CUT, cut, off, 0.0, 0};
    b->setup.event[b->setup.events++] = (df_event){DF_EVENT_DEFROST, 10800.0, 1800.0, 900.0, 0};
    b->setup.time_limit = 4.0 * 3600.0;
    b->setup.keep_going = b->setup.whole_recipe = true;
    b->setup.recipe.n = 2;
    b->setup.recipe.time[1] = b->setup.time_limit;
    b->setup.recipe.shelf_temperature[1] = set;
    df_run run = run_bed(k, b);
    double warmest = room + (set - room) * exp(-off / 3600.0), thawed = 0.0;
    for (size_t i = 0; i < run.moments; i++) {
        const df_moment *m = &run.moment[i];
        double t = m->time, expected = set;
        if (t > cut && t < cut + off)
            expected = room + (set - room) * exp(-(t - cut) / 3600.0);
        else if (t > cut + off)
            expected = fmax(set, warmest - 0.01 * (t - cut - off));
        if (fabs(t - cut) > 1.0 && fabs(t - cut - off) > 1.0)
            near(m->shelf, expected, 0.02, "shelf after %.0f s", t);
        if (t > 10800.0 + 899.0)
            thawed = fmax(thawed, m->coil[0]);
    }
    near(thawed, 283.15, 0.5, "coil when it is closed again");
    near(run.electricity / (2000.0 * (run.time - off)), 1.0, 0.01, "electricity");
    df_run_free(&run);
    free(b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(pump_and_leak),
        cmocka_unit_test(air_comes_in),
        cmocka_unit_test(shelf_and_power),
        cmocka_unit_test(heat_through_the_dried_layer),
        cmocka_unit_test(flask_by_radiation),
        cmocka_unit_test(finger),
        cmocka_unit_test(second_trap),
        cmocka_unit_test(oil_and_ballast),
        cmocka_unit_test(secondary),
        cmocka_unit_test(last_judged_moment),
        cmocka_unit_test(what_happens_on_the_way),
        cmocka_unit_test(who_holds_the_pressure),
        cmocka_unit_test(mixed_deposits),
        cmocka_unit_test(tert_butanol_speeds_up),
    };
    return cmocka_run_group_tests(tests, kit_open, kit_close);
}
