/* dump_case NAME: writes one load as JSON to standard output: everything the peer needs to solve the same problem
 * from properties of pure substances, tables of phase equilibria (frozen path, mixed deposit), shapes, sorption and the
 * dryer's figures, and what our own run gave and took. SI throughout. The peer builds the model by itself. */
#include "cases.h"
#include "json.h"

#include <stdio.h>
#include <stdlib.h>

#define TRAP_LOWEST 100.0 /* K, grid of the properties over the coil */
#define TRAP_POINTS 221
#define REPEATS 41

/* A property over an even grid of temperatures. */
static void property(const char *name, const df_substance *s, double (*f)(const df_substance *, double),
                     double lowest, double step, size_t points) {
    double v[DF_PATH_POINTS];
    for (size_t k = 0; k < points; k++)
        v[k] = f(s, lowest + step * (double)k);
    list(name, v, points);
}

static void properties(const char *name, const df_substance *s, double lowest, double step, size_t points) {
    key(name);
    open_with('{');
    number("lowest", lowest);
    number("step", step);
    property("liquid_pressure", s, df_liquid_pressure, lowest, step, points);
    property("solid_pressure", s, df_solid_pressure, lowest, step, points);
    property("dimer_constant", s, df_dimer_constant, lowest, step, points);
    property("vaporisation_enthalpy", s, df_vaporisation_enthalpy, lowest, step, points);
    property("fusion_enthalpy", s, df_fusion_enthalpy, lowest, step, points);
    property("liquid_enthalpy", s, df_liquid_enthalpy, lowest, step, points);
    property("sublimation_enthalpy", s, df_sublimation_enthalpy, lowest, step, points);
    close_with("}");
}

static void substance(const df_substance *s, const df_frozen_path *path, const df_dryer *d) {
    double gas_temperature = d->chamber.room_temperature, heat[TRAP_POINTS];
    for (size_t k = 0; k < TRAP_POINTS; k++)
        heat[k] = df_gas_heat_capacity(s, 0.5 * (TRAP_LOWEST + (double)k + gas_temperature));
    item();
    word("name", s->key);
    number("molar_mass", s->molar_mass);
    number("melting_temperature", s->melting_temperature);
    number("crystallises_readily", s->crystallises == DF_CRYSTAL_READILY);
    number("is_water", s->is_water);
    number("solid_density_220", df_solid_density(s, 220.0));
    number("oil_pressure", df_liquid_pressure(s, d->pump.oil_temperature));
    properties("body", s, path->lowest, path->step, path->points);
    properties("coil", s, TRAP_LOWEST, 1.0, TRAP_POINTS);
    list("mean_gas_heat_capacity", heat, TRAP_POINTS);
    close_with("}");
}

static void curve(const char *name, const df_curve *c) {
    key(name);
    open_with('{');
    list("x", c->x, c->n);
    list("y", c->y, c->n);
    close_with("}");
}

static void dryer(const df_dryer *d) {
    static const char *const controls[] = {"none", "bleed", "throttle"};
    key("dryer");
    open_with('{');
    number("chamber_volume", d->chamber.volume);
    number("room_temperature", d->chamber.room_temperature);
    number("leak", d->chamber.leak);
    number("degassing", d->chamber.degassing);
    word("control", controls[d->chamber.control]);
    number("duct_diameter", d->duct.diameter);
    number("duct_length", d->duct.length);
    curve("refrigeration", &d->trap[0].refrigeration);
    number("coil_area", d->trap[0].area);
    number("trap_volume", d->trap[0].volume);
    number("coil_heat_capacity", d->trap[0].heat_capacity);
    curve("pump_speed", &d->pump.speed);
    number("ultimate", d->pump.ultimate);
    number("oil", d->pump.kind == DF_PUMP_OIL_SEALED ? d->pump.oil : 0.0);
    number("ballast", d->pump.ballast);
    number("kv_contact", d->shelf.contact);
    number("kv_gas", d->shelf.gas);
    number("kv_bend", d->shelf.gas_bend);
    number("port_diameter", d->manifold.port_diameter);
    number("frost", d->manifold.frost);
    close_with("}");
}

static void class_(const df_class *c) {
    double fraction[DF_MAX_COMPONENTS];
    df_composition_fractions(fraction, &c->composition, DF_BASIS_MASS);
    item();
    word("name", c->name);
    number("count", (double)c->count);
    list("mass_fraction", fraction, c->composition.n);
    number("mass", c->mass);
    number("solids", c->solids);
    number("r0", c->cake.r0);
    number("a1", c->cake.a1);
    number("a2", c->cake.a2);
    number("on_shelf", c->place == DF_PLACE_SHELF);
    number("is_flask", c->container.kind == DF_FLASK);
    number("kv_factor", c->kv_factor);
    number("room_area", c->room_area);
    number("start_temperature", c->start_temperature);
    number("conductivity", c->conductivity);
    number("top_coefficient", c->top_coefficient);
    number("dry_conductivity", c->dry_conductivity);
    number("inner_diameter", c->container.inner_diameter);
    number("outer_diameter", c->container.outer_diameter);
    number("brim_volume", c->container.brim_volume);
    number("glass_mass", c->container.glass_mass);
    number("port_diameter", c->container.port_diameter);
    number("body_volume", c->shape.volume);
    number("heated_area", c->shape.heated_area);
    number("free_area", c->shape.free_area);
    number("thickness", c->shape.thickness);
    list("depth", c->shape.depth, DF_SHAPE_POINTS);
    list("area", c->shape.area, DF_SHAPE_POINTS);
    list("path", c->shape.path, DF_SHAPE_POINTS);
    list("contact", c->shape.contact, DF_SHAPE_POINTS);
    key("sorption");
    open_with('[');
    for (size_t i = 0; i < c->composition.n; i++) {
        const df_sorption *s = &c->sorption[i];
        item();
        number("bound", s->bound);
        number("tight", s->tight);
        number("known", s->known);
        number("rate", s->rate);
        number("activation", s->activation);
        number("monolayer", s->monolayer);
        number("gab_c", s->gab_c);
        number("gab_k", s->gab_k);
        number("heat", s->heat);
        close_with("}");
    }
    close_with("]}");
}

static void rows(const char *name, const double table[DF_DEPOSIT_SHARES][DF_MAX_COMPONENTS][DF_DEPOSIT_MIXED],
                 size_t i) {
    key(name);
    open_with('[');
    for (size_t row = 0; row < DF_DEPOSIT_SHARES; row++)
        entry(table[row][i], DF_DEPOSIT_MIXED);
    close_with("]");
}

static void deposit(const df_deposit *d) {
    key("deposit");
    open_with('{');
    number("mixed", d->mixed);
    number("lowest", DF_DEPOSIT_COLDEST);
    number("step", DF_DEPOSIT_STEP);
    list("share", d->share, DF_DEPOSIT_SHARES);
    key("species");
    open_with('[');
    for (size_t i = 0; i < d->n; i++) {
        item();
        rows("activity_ln", d->activity_ln, i);
        rows("liquid", d->liquid, i);
        close_with("}");
    }
    close_with("]}");
}

static void frozen_path(const df_frozen_path *p) {
    key("path");
    open_with('{');
    number("lowest", p->lowest);
    number("step", p->step);
    list("volume_fraction", p->volume_fraction, p->n);
    key("species");
    open_with('[');
    for (size_t i = 0; i < p->n; i++) {
        item();
        list("pressure_ln", p->pressure_ln[i], p->points);
        list("enthalpy", p->species_enthalpy[i], p->points);
        list("liquid", p->species_liquid[i], p->points);
        close_with("}");
    }
    close_with("]}");
}

static void ours(const df_run *run, double seconds) {
    key("ours");
    open_with('{');
    number("seconds", seconds);
    number("dry", run->end == DF_END_DRY);
    number("time", run->time);
    list("initial", run->initial, run->species);
    list("product", run->product, run->species);
    list("bound", run->bound, run->species);
    list("gas", run->gas, run->species);
    list("deposit", run->deposit, run->species);
    list("oil", run->oil, run->species);
    list("exhaust", run->exhaust, run->species);
    number("heat_in", run->heat_in);
    number("heat_out", run->heat_out);
    number("heat_stored", run->heat_stored);
    key("classes");
    open_with('[');
    for (size_t k = 0; k < run->class_count; k++) {
        item();
        number("time_dry", run->classes[k].time_dry);
        number("target_time", run->classes[k].target_time);
        number("hottest", run->classes[k].hottest);
        list("species_time", run->classes[k].species_time, run->species);
        close_with("}");
    }
    close_with("]");
    number("steps", (double)run->steps);
    number("evaluations", (double)run->evaluations);
    close_with("}");
}

int main(int count, char **words) {
    if (count != 2) {
        fputs("usage: dump_case NAME\n", stderr);
        return 2;
    }
    bench_data data;
    bench_case *c = malloc(sizeof *c);
    double times[REPEATS];
    df_run run;
    if (c == NULL)
        return 3;
    bench_open(&data);
    bench_case_make(c, &data, words[1]);
    for (size_t i = 0; i < REPEATS; i++) {
        double start = bench_cpu();
        bench_check(&data, df_run_simulate(data.ctx, &run, &c->setup));
        times[i] = bench_cpu() - start;
        if (i + 1 < REPEATS)
            df_run_free(&run);
    }
    const df_setup *s = &c->setup;
    open_with('{');
    word("case", words[1]);
    key("substances"); /* in the order of the composition, which all classes of a case share */
    open_with('[');
    for (size_t i = 0; i < c->path.n; i++)
        substance(s->classes[0].composition.component[i], &c->path, &c->dryer);
    close_with("]");
    frozen_path(&c->path);
    deposit(&c->deposit);
    dryer(&c->dryer);
    key("classes");
    open_with('[');
    for (size_t k = 0; k < s->class_count; k++)
        class_(&s->classes[k]);
    close_with("]");
    key("recipe");
    open_with('{');
    list("time", s->recipe.time, s->recipe.n);
    list("shelf_temperature", s->recipe.shelf_temperature, s->recipe.n);
    list("pressure", s->recipe.pressure, s->recipe.n);
    close_with("}");
    number("secondary", s->secondary);
    list("target", s->target, c->path.n);
    number("pore_exponent", s->pore_exponent);
    number("start_pressure", s->start_pressure);
    number("time_limit", s->time_limit);
    number("tolerance", s->tolerance);
    ours(&run, bench_median(times, REPEATS));
    puts("}");
    df_run_free(&run);
    bench_close(&data);
    free(c);
    return ferror(stdout) != 0 ? 3 : 0;
}
