/* A job made ready for runs: its frozen path, its classes on the dryer, and quick verdicts of them. */
#include "advice/stand.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define C(kelvin) ((kelvin)-DF_ZERO_CELSIUS)
#define LOADING_RISE 5.0 /* K that a sample warms between its coolant and the dryer: common practice, no source */

/* ---- setting up ----------------------------------------------------------------------------------------------- */

static double solids_concentration(const df_job *job) {
    double sum = 0.0;
    for (size_t i = 0; i < job->solutes; i++)
        sum += job->solute[i].concentration;
    return sum;
}

double df_trial_critical(const df_job *job) {
    double lowest = NAN;
    for (size_t i = 0; i < job->solutes; i++)
        if (job->solute[i].concentration > 0.0 && !isnan(job->solute[i].critical_temperature))
            lowest = isnan(lowest) ? job->solute[i].critical_temperature
                                   : fmin(lowest, job->solute[i].critical_temperature);
    return lowest;
}

/* Volume that a fill takes up once frozen: volatiles at their frozen density, solutes at their own. */
double df_trial_volume(const df_job *job, const df_frozen_path *path, double fill) {
    double volume = fill * df_composition_density(&job->composition) / path->frozen_density;
    for (size_t i = 0; i < job->solutes; i++)
        volume += fill * job->solute[i].concentration / fmax(job->solute[i].density, 500.0);
    return volume;
}

df_status df_trial_shape(df_context *ctx, df_class *c, const df_job *job, const df_group *g,
                         const df_frozen_path *path, double fill) {
    df_status status =
        df_shape_make(ctx, &c->shape, &g->container, df_trial_volume(job, path, fill), g->lie, g->where);
    c->room_area = df_spot_view(c->spot) * M_PI * g->container.outer_diameter * c->shape.thickness;
    return status;
}

static df_status add_class(df_context *ctx, df_setup *setup, const df_job *job, const df_group *g, df_spot spot,
                           const df_frozen_path *path, double start) {
    long count = g->at[spot];
    if (count == 0)
        return DF_OK;
    if (setup->class_count == DF_MAX_CLASSES)
        return df_fail(ctx, DF_E_INPUT, "more than %d classes of containers", DF_MAX_CLASSES);
    df_class *c = &setup->classes[setup->class_count++];
    df_class_defaults(c);
    c->spot = spot;
    df_status status = df_trial_shape(ctx, c, job, g, path, g->fill);
    if (status != DF_OK)
        return status;
    snprintf(c->name, sizeof c->name, "%ld x %.32s%s%s", count, g->container.key,
             g->place == DF_PLACE_MANIFOLD ? " on the manifold"
             : spot != DF_SPOT_CENTRE      ? ", "
                                           : "",
             g->place != DF_PLACE_MANIFOLD && spot != DF_SPOT_CENTRE ? df_spot_name(spot) : "");
    c->count = count;
    c->container = g->container;
    c->path = path;
    c->composition = job->composition;
    c->mass = g->fill * df_composition_density(&job->composition);
    c->solids = g->fill * solids_concentration(job);
    c->critical_temperature = df_trial_critical(job);
    c->cake = job->cake;
    if (!c->cake.stated)
        df_cake_assume(&c->cake, solids_concentration(job));
    c->place = g->place;
    c->start_temperature = start;
    c->top_coefficient = job->top_coefficient;
    c->dry_conductivity = job->dry_conductivity;
    c->on_time = g->on;
    c->off_time = g->off;
    return setup->secondary ? df_class_bind(ctx, c, job->solute, job->solutes) : DF_OK;
}

/* With `whole` the run as the job has it: loading, what is bound, and on to the targets and the recipe's end; without, as
 * trials ask it: primary drying alone. */
df_status df_trial_fill(df_context *ctx, df_setup *setup, const df_job *job, const df_dryer *dryer,
                        const df_frozen_path *path, const df_deposit *deposit, double start, bool whole) {
    df_setup_defaults(setup);
    setup->dryer = dryer;
    setup->recipe = job->recipe;
    if (!job->recipe_given) {
        setup->recipe.n = 1;
        setup->recipe.shelf_temperature[0] = dryer->chamber.room_temperature;
    }
    setup->pore_exponent = job->pore_exponent;
    setup->least_framework = job->least_framework;
    setup->trace_liquid = job->trace_liquid;
    setup->margin = job->margin;
    setup->time_limit = job->time_limit;
    setup->deposit = deposit;
    setup->loading = job->loading;
    setup->start_pressure = job->start_pressure;
    memcpy(setup->event, job->event, sizeof setup->event);
    setup->events = job->events;
    setup->secondary = setup->whole_recipe = whole && solids_concentration(job) > 0.0;
    memcpy(setup->target, job->target, sizeof setup->target);
    df_status status = DF_OK;
    for (size_t i = 0; i < job->groups; i++)
        for (int spot = 0; spot < DF_SPOTS && status == DF_OK; spot++)
            status = add_class(ctx, setup, job, &job->group[i], (df_spot)spot, path, start);
    return status;
}

/* Refuses a job that does not fit the dryer. */
df_status df_trial_fit(df_context *ctx, const df_job *job, const df_dryer *dryer) {
    long on_ports = 0;
    double on_shelf = 0.0;
    for (size_t i = 0; i < job->groups; i++) {
        const df_group *g = &job->group[i];
        if (g->place == DF_PLACE_MANIFOLD) {
            if (!dryer->manifold.present)
                return df_fail(ctx, DF_E_INPUT, "%s: the dryer '%s' has no manifold; use place: shelf", g->where,
                               dryer->name);
            on_ports += g->count;
        } else {
            if (!dryer->shelf.present)
                return df_fail(ctx, DF_E_INPUT, "%s: the dryer '%s' has no shelf; use place: manifold", g->where,
                               dryer->name);
            on_shelf += (double)g->count * g->container.outer_diameter * g->container.outer_diameter;
        }
        if (on_ports > dryer->manifold.ports && g->place == DF_PLACE_MANIFOLD)
            return df_fail(ctx, DF_E_INPUT, "%s: %ld containers do not fit the %ld ports of '%s'", g->where, on_ports,
                           dryer->manifold.ports, dryer->name);
        if (dryer->shelf.present && on_shelf > dryer->shelf.area)
            return df_fail(ctx, DF_E_INPUT, "%s: the containers need %.3g m2 of shelf, and '%s' has %.3g m2",
                           g->where, on_shelf, dryer->name, dryer->shelf.area);
    }
    for (size_t i = 0; i < job->recipe.n; i++)
        if (job->recipe.pressure[i] > 0.0 && dryer->chamber.control == DF_CONTROL_NONE)
            return df_fail(ctx, DF_E_INPUT,
                           "%s[%zu].chamber_pressure: '%s' has no pressure control (control: bleed or throttle)",
                           job->recipe_where, i, dryer->name);
    for (size_t i = 0; i < job->recipe.n && on_shelf > 0.0; i++)
        if (job->recipe.shelf_temperature[i] < dryer->shelf.lowest - 1e-9 ||
            job->recipe.shelf_temperature[i] > dryer->shelf.highest + 1e-9)
            return df_fail(ctx, DF_E_INPUT,
                           "%s[%zu].shelf_temperature: %.1f °C is outside what the shelf of '%s' reaches, %.1f °C to "
                           "%.1f °C",
                           job->recipe_where, i, C(job->recipe.shelf_temperature[i]), dryer->name,
                           C(dryer->shelf.lowest), C(dryer->shelf.highest));
    return DF_OK;
}

/* ---- judging -------------------------------------------------------------------------------------------------- */

df_verdict df_verdict_of_run(const df_run *run, const df_setup *setup) {
    df_verdict v = {DF_RIGID, DF_CAUSE_NONE, 0};
    for (size_t k = 1; k < run->class_count; k++)
        if (run->classes[k].least_margin < run->classes[v.worst].least_margin)
            v.worst = k;
    if (run->end == DF_END_FRAMEWORK_LOST) {
        for (size_t k = 0; k < run->class_count; k++)
            if (run->classes[k].least_framework < run->classes[v.worst].least_framework)
                v.worst = k;
        v.standing = DF_UNHELD;
        v.cause = DF_CAUSE_FRAMEWORK; /* what let it happen is for df_verdict_binding to say */
        return v;
    }
    if (run->end == DF_END_SHORT) {
        v.standing = DF_WETTED;
        v.cause = DF_CAUSE_MARGIN;
        return v;
    }
    if (run->end == DF_END_TIME_LIMIT)
        v = (df_verdict){DF_UNHELD, DF_CAUSE_TIME, v.worst};
    else if (run->trap_full)
        v = (df_verdict){DF_UNHELD, DF_CAUSE_TRAP_FULL, v.worst};
    else if (run->pump_overloaded)
        v = (df_verdict){DF_UNHELD, DF_CAUSE_PUMP_SOLVENT, v.worst};
    if (v.standing == DF_UNHELD)
        return v;
    const df_class_run *c = &run->classes[v.worst];
    if (c->least_margin >= setup->margin) {
        for (size_t k = 0; k < run->class_count; k++)
            if (run->classes[k].least_glass_margin < setup->margin)
                v = (df_verdict){DF_WETTED, DF_CAUSE_GLASS, k};
        return v;
    }
    v.standing = DF_WETTED;
    if (!isfinite(c->least_margin))
        v.cause = DF_CAUSE_NEVER_SOLID;
    else if (c->least_margin >= 0.0)
        v.cause = DF_CAUSE_MARGIN;
    else
        v.cause = c->limit_is_solute ? DF_CAUSE_SOLUTE : DF_CAUSE_SOLIDUS;
    return v;
}

df_status df_verdict_try(df_context *ctx, df_verdict *v, double *hours, const df_setup *setup) {
    df_run run;
    df_status status = df_run_simulate(ctx, &run, setup);
    if (status != DF_OK)
        return status;
    *v = df_verdict_of_run(&run, setup);
    if (hours != NULL)
        *hours = (isnan(run.primary_time) ? run.time : run.primary_time) / 3600.0;
    df_run_free(&run);
    return DF_OK;
}

/* Temperature as loaded, K. */
double df_trial_loaded(const df_job *job, const df_frozen_path *path) {
    return fmax(job->cooling.temperature + LOADING_RISE, path->lowest);
}

bool df_verdict_afloat(df_verdict *v, const df_job *job, const df_frozen_path *path) {
    if (df_frozen_path_at(path, path->solid_volume, df_trial_loaded(job, path)) >= job->least_framework)
        return false;
    bool even_cold = df_frozen_path_at(path, path->solid_volume, path->lowest) < job->least_framework;
    *v = (df_verdict){DF_AFLOAT, even_cold ? DF_CAUSE_FRAMEWORK : DF_CAUSE_NOT_FROZEN, 0};
    return true;
}

df_status df_trial_path(df_context *ctx, df_frozen_path *path, const df_job *job, const df_pairs *pairs) {
    df_mixture *mixture = NULL;
    double z[DF_MAX_COMPONENTS];
    df_status status = df_frozen_mixture(ctx, &mixture, z, pairs, &job->composition, job->solute, job->solutes);
    if (status == DF_OK)
        status = df_frozen_path_follow(ctx, path, mixture, z, &job->composition, job->mode);
    df_mixture_free(mixture);
    return status;
}

df_status df_verdict_quick(df_context *ctx, df_verdict *v, double *hours, const df_job *job, const df_dryer *dryer,
                           const df_pairs *pairs, df_frozen_path *path, const df_deposit *deposit, df_setup *setup,
                           bool new_path, bool rigid_only) {
    if (new_path) {
        df_status status = df_trial_path(ctx, path, job, pairs);
        if (status != DF_OK)
            return status;
    }
    if (df_verdict_afloat(v, job, path))
        return DF_OK;
    df_status status = df_trial_fill(ctx, setup, job, dryer, path, deposit, df_trial_loaded(job, path), false);
    setup->stop_short = rigid_only;
    setup->terse = true;
    setup->tolerance = 1e-4; /* a trial only has to tell standings apart */
    return status == DF_OK ? df_verdict_try(ctx, v, hours, setup) : status;
}
