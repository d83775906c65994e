/* How a job stands on a dryer, and why. */
#include "advice/stand.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const char *const standing_names[] = {"rigid", "wetted", "afloat", "unheld"};
static const char *const standing_meanings[] = {
    "every phase present is solid, with the margin asked for",
    "an ice or other crystal framework stands, with liquid held in it",
    "no framework: the sample is liquid and would evaporate, not sublime",
    "the dryer cannot hold the pressure that the sample needs",
};
static const char *const cause_names[] = {
    "none",      "solidus", "margin", "solute", "never_solid",  "not_frozen", "framework", "trap",
    "trap_full", "duct",    "port",   "pump",   "pump_solvent", "heat",       "glass",     "time"};
_Static_assert(sizeof cause_names / sizeof cause_names[0] == DF_CAUSE_TIME + 1, "a name for each cause");

const char *df_standing_name(df_standing standing) {
    return standing_names[standing];
}
const char *df_standing_meaning(df_standing standing) {
    return standing_meanings[standing];
}
const char *df_cause_name(df_cause cause) {
    return cause_names[cause];
}

#define C(kelvin) ((kelvin)-DF_ZERO_CELSIUS)
#define LOADING_RISE 5.0 /* K that a sample warms between its coolant and the dryer: common practice, no source */

/* ---- setting up ----------------------------------------------------------------------------------------------- */

static double solids_concentration(const df_job *job) {
    double sum = 0.0;
    for (size_t i = 0; i < job->solutes; i++)
        sum += job->solute[i].concentration;
    return sum;
}

static double lowest_critical(const df_job *job) {
    double lowest = NAN;
    for (size_t i = 0; i < job->solutes; i++)
        if (job->solute[i].concentration > 0.0 && !isnan(job->solute[i].critical_temperature))
            lowest = isnan(lowest) ? job->solute[i].critical_temperature
                                   : fmin(lowest, job->solute[i].critical_temperature);
    return lowest;
}

/* Volume that a fill takes up once frozen: volatiles at their frozen density, solutes at their own. */
static double frozen_volume(const df_job *job, const df_frozen_path *path, double fill) {
    double volume = fill * df_composition_density(&job->composition) / path->frozen_density;
    for (size_t i = 0; i < job->solutes; i++)
        volume += fill * job->solute[i].concentration / fmax(job->solute[i].density, 500.0);
    return volume;
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
    df_status status =
        df_shape_make(ctx, &c->shape, &g->container, frozen_volume(job, path, g->fill), g->lie, g->where);
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
    c->critical_temperature = lowest_critical(job);
    c->cake = job->cake;
    if (!c->cake.stated)
        df_cake_assume(&c->cake, solids_concentration(job));
    c->place = g->place;
    c->spot = spot;
    c->room_area = df_spot_view(spot) * M_PI * g->container.outer_diameter * c->shape.thickness;
    c->start_temperature = start;
    c->top_coefficient = job->top_coefficient;
    c->dry_conductivity = job->dry_conductivity;
    c->on_time = g->on;
    c->off_time = g->off;
    return setup->secondary ? df_class_bind(ctx, c, job->solute, job->solutes) : DF_OK;
}

/* With `whole` the run as the job has it: loading, what is bound, and on to the targets and the recipe's end; without, as
 * trials ask it: primary drying alone. */
static df_status fill_setup(df_context *ctx, df_setup *setup, const df_job *job, const df_dryer *dryer,
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
static df_status check_fit(df_context *ctx, const df_job *job, const df_dryer *dryer) {
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
        v.cause = DF_CAUSE_FRAMEWORK; /* what let it happen is for find_binding to say */
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

static df_status try_setup(df_context *ctx, df_verdict *v, double *hours, const df_setup *setup) {
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

/* What has to be eased for a run that lost its framework: each part of the dryer is made ideal in turn, from the trap
 * outwards; the first that lets the run through binds. */
static df_status find_binding(df_context *ctx, df_cause *cause, const df_setup *setup) {
    static const df_cause order[] = {DF_CAUSE_TRAP, DF_CAUSE_PUMP, DF_CAUSE_DUCT, DF_CAUSE_PORT};
    for (size_t k = 0; k < sizeof order / sizeof order[0]; k++) {
        df_dryer eased = *setup->dryer;
        df_setup trial = *setup;
        trial.dryer = &eased;
        trial.terse = true;
        switch (order[k]) {
        case DF_CAUSE_TRAP:
            df_trap_shift(&eased.trap[0], df_trap_no_load(&eased.trap[0]) - 40.0);
            eased.trap[0].area *= 10.0;
            for (size_t i = 0; i < eased.trap[0].refrigeration.n; i++)
                eased.trap[0].refrigeration.y[i] *= 10.0;
            break;
        case DF_CAUSE_PUMP:
            for (size_t i = 0; i < eased.pump.speed.n; i++)
                eased.pump.speed.y[i] *= 20.0;
            break;
        case DF_CAUSE_DUCT:
            eased.duct.diameter *= 3.0;
            break;
        default:
            eased.manifold.port_diameter *= 3.0;
            break;
        }
        df_verdict v;
        df_status status = try_setup(ctx, &v, NULL, &trial);
        if (status != DF_OK)
            return status;
        if (v.standing < DF_UNHELD) {
            *cause = order[k];
            return DF_OK;
        }
    }
    *cause = DF_CAUSE_HEAT;
    return DF_OK;
}

static void solvent_list(char *out, size_t size, const df_composition *c) {
    size_t used = 0;
    out[0] = '\0';
    for (size_t i = 0; i < c->n && used + 1 < size; i++)
        if (!c->component[i]->is_water)
            used += (size_t)snprintf(out + used, size - used, "%s%s", used > 0 ? ", " : "", c->component[i]->name);
    if (out[0] == '\0')
        snprintf(out, size, "water");
}

static const char *stubborn(const df_composition *c, const df_frozen_path *path) {
    const char *name = "a solvent";
    double most = 0.0;
    for (size_t i = 0; i < c->n; i++) {
        double liquid = path->species_liquid[i][0] * path->volume_fraction[i];
        if (liquid > most && !c->component[i]->is_water) {
            most = liquid;
            name = c->component[i]->name;
        }
    }
    return name;
}

static void explain(df_stand *s, const df_job *job, const df_dryer *dryer, size_t worst) {
    char *out = s->because;
    size_t size = sizeof s->because;
    const df_run *run = &s->run;
    const df_class_run *c = &run->classes[worst];
    char solvents[128];
    solvent_list(solvents, sizeof solvents, &job->composition);
    switch (s->cause) {
    case DF_CAUSE_NONE:
        snprintf(out, size, "hottest frozen point stays %.1f K or more below its limit of %.1f °C (%s)",
                 c->least_margin, C(c->least_margin_limit),
                 c->limit_is_solute ? "critical temperature of the solute" : "solidus of what is left");
        break;
    case DF_CAUSE_MARGIN:
        snprintf(out, size,
                 "the hottest point comes within %.1f K of its limit of %.1f °C; the margin asked for is %.1f K",
                 c->least_margin, C(c->least_margin_limit), s->setup.margin);
        break;
    case DF_CAUSE_SOLIDUS:
        snprintf(
            out, size,
            "the hottest point reaches %.1f °C at %.1f h, %.1f K above the solidus of %.1f °C: up to %.0f %% of the "
            "volatiles' mass is liquid",
            C(c->least_margin_limit - c->least_margin), c->least_margin_time / 3600.0, -c->least_margin,
            C(c->least_margin_limit), 100.0 * c->most_liquid);
        break;
    case DF_CAUSE_SOLUTE:
        snprintf(
            out, size,
            "the hottest point reaches %.1f °C at %.1f h, %.1f K above the solute's critical temperature of %.1f °C",
            C(c->least_margin_limit - c->least_margin), c->least_margin_time / 3600.0, -c->least_margin,
            C(c->least_margin_limit));
        break;
    case DF_CAUSE_NEVER_SOLID:
        snprintf(out, size,
                 "%s does not crystallise in practice: up to %.0f %% of the volatiles' mass stays liquid in the ice",
                 stubborn(&job->composition, &s->path), 100.0 * fmax(c->most_liquid, s->path.liquid_mass[0]));
        break;
    case DF_CAUSE_NOT_FROZEN:
        snprintf(
            out, size,
            "%s at %.0f °C leaves %.0f %% by volume solid, less than the %.0f %% that stands as a framework; colder "
            "freezing would do",
            df_means_name(job->cooling.means), C(job->cooling.temperature),
            100.0 * df_frozen_path_at(&s->path, s->path.solid_volume, s->start_temperature),
            100.0 * s->setup.least_framework);
        break;
    case DF_CAUSE_FRAMEWORK:
        snprintf(out, size, "even cold, only %.0f %% by volume is solid with this much %s; a framework needs %.0f %%",
                 100.0 * s->path.solid_volume[0], solvents, 100.0 * s->setup.least_framework);
        break;
    case DF_CAUSE_TRAP:
        snprintf(out, size,
                 "the trap is too warm for this load: its surface reaches %.1f °C, the chamber %.2f mbar, and the "
                 "framework gives "
                 "way at %.1f °C after %.1f h",
                 C(run->highest_trap_surface), run->highest_pressure / 100.0, C(c->hottest), run->time / 3600.0);
        break;
    case DF_CAUSE_TRAP_FULL:
        snprintf(out, size, "the trap holds %.3g kg and is full after %.1f h; the load carries %.3g kg",
                 dryer->trap[0].capacity, run->trap_full_time / 3600.0, s->mass);
        break;
    case DF_CAUSE_DUCT:
        snprintf(out, size,
                 "the duct of %.0f mm is choked (%.0f %% of sonic flow) and the framework gives way at %.1f °C after "
                 "%.1f h",
                 1e3 * dryer->duct.diameter, 100.0 * run->highest_choke, C(c->hottest), run->time / 3600.0);
        break;
    case DF_CAUSE_PORT:
        snprintf(out, size,
                 "the ports of %.0f mm hold the vapour back and the framework gives way at %.1f °C after %.1f h",
                 1e3 * dryer->manifold.port_diameter, C(c->hottest), run->time / 3600.0);
        break;
    case DF_CAUSE_PUMP:
        snprintf(out, size,
                 "the pump cannot carry what passes the trap: the chamber reaches %.2f mbar and the framework gives "
                 "way at %.1f °C "
                 "after %.1f h",
                 run->highest_pressure / 100.0, C(c->hottest), run->time / 3600.0);
        break;
    case DF_CAUSE_PUMP_SOLVENT:
        snprintf(out, size,
                 "%.0f g of solvent pass the trap into an oil-sealed pump that stands %.0f g (reached after %.1f h)",
                 1e3 * run->organic_to_pump, 1e3 * dryer->pump.solvent_limit, run->pump_overload_time / 3600.0);
        break;
    case DF_CAUSE_HEAT:
        snprintf(out, size,
                 "more heat reaches the sample than its vapour can carry off: the framework gives way at %.1f °C "
                 "after %.1f h",
                 C(c->hottest), run->time / 3600.0);
        break;
    case DF_CAUSE_GLASS:
        snprintf(
            out, size,
            "in secondary drying the dried cake comes within %.1f K of its glass transition (at %.1f h): a slower or "
            "cooler rise keeps it stiff",
            c->least_glass_margin, c->least_glass_time / 3600.0);
        break;
    case DF_CAUSE_TIME:
        snprintf(out, size, "not dry within %.0f h", run->time / 3600.0);
        break;
    }
}

/* ---- remedies ------------------------------------------------------------------------------------------------- */

static double organic_fraction(const df_composition *c) {
    double f[DF_MAX_COMPONENTS], sum = 0.0;
    df_composition_fractions(f, c, DF_BASIS_VOLUME);
    for (size_t i = 0; i < c->n; i++)
        if (!c->component[i]->is_water)
            sum += f[i];
    return sum;
}

/* The composition with its organic part scaled to `fraction` by volume, water taking the rest. False without water. */
static bool scaled(df_composition *out, const df_composition *c, double fraction) {
    double f[DF_MAX_COMPONENTS], now = organic_fraction(c);
    bool water = false;
    df_composition_fractions(f, c, DF_BASIS_VOLUME);
    for (size_t i = 0; i < c->n; i++) {
        if (c->component[i]->is_water) {
            f[i] = 1.0 - fraction;
            water = true;
        } else
            f[i] *= fraction / now;
    }
    if (!water)
        return false;
    df_composition_set(out, c->component, f, c->n, DF_BASIS_VOLUME);
    out->basis = c->basis;
    for (size_t i = 0; i < out->n; i++)
        for (size_t j = 0; j < c->n; j++)
            if (out->component[i] == c->component[j])
                out->seen[i] = c->seen[j];
    return true;
}

/* Temperature as loaded, K. */
static double loaded_at(const df_job *job, const df_frozen_path *path) {
    return fmax(job->cooling.temperature + LOADING_RISE, path->lowest);
}

bool df_verdict_afloat(df_verdict *v, const df_job *job, const df_frozen_path *path) {
    if (df_frozen_path_at(path, path->solid_volume, loaded_at(job, path)) >= job->least_framework)
        return false;
    bool even_cold = df_frozen_path_at(path, path->solid_volume, path->lowest) < job->least_framework;
    *v = (df_verdict){DF_AFLOAT, even_cold ? DF_CAUSE_FRAMEWORK : DF_CAUSE_NOT_FROZEN, 0};
    return true;
}

static df_status make_path(df_context *ctx, df_frozen_path *path, const df_job *job, const df_pairs *pairs) {
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
        df_status status = make_path(ctx, path, job, pairs);
        if (status != DF_OK)
            return status;
    }
    if (df_verdict_afloat(v, job, path))
        return DF_OK;
    df_status status = fill_setup(ctx, setup, job, dryer, path, deposit, loaded_at(job, path), false);
    setup->stop_short = rigid_only;
    setup->terse = true;
    setup->tolerance = 1e-4; /* a trial only has to tell standings apart */
    return status == DF_OK ? try_setup(ctx, v, hours, setup) : status;
}

typedef struct search {
    df_context *ctx;
    const df_job *job;
    const df_dryer *dryer;
    const df_pairs *pairs;
    df_frozen_path *path; /* of the job */
    df_frozen_path *other;
    const df_deposit *deposit; /* of its solvents, in whatever amount of water */
    df_setup *setup;
    df_standing wanted;
} search;

/* A hold at `to` until `until`, then within an hour to where the recipe is by then. False where that takes more set points
 * than a recipe has. */
static bool put_hold(df_recipe *r, double to, double until) {
    df_recipe old = *r;
    double after = until + 3600.0;
    r->n = 3;
    r->time[0] = 0.0;
    r->time[1] = until;
    r->time[2] = after;
    r->shelf_temperature[0] = r->shelf_temperature[1] = to;
    r->shelf_temperature[2] = df_interpolate(old.time, old.shelf_temperature, old.n, after);
    for (size_t i = 0; i < 3; i++)
        r->pressure[i] = df_interpolate(old.time, old.pressure, old.n, r->time[i]);
    for (size_t i = 0; i < old.n; i++)
        if (old.time[i] > after) {
            if (r->n == DF_MAX_RECIPE)
                return false;
            r->time[r->n] = old.time[i];
            r->shelf_temperature[r->n] = old.shelf_temperature[i];
            r->pressure[r->n++] = old.pressure[i];
        }
    return true;
}

/* Standing with the shelf held at `to` until the solvent has gone there: one run to learn when, one to judge. */
static df_status with_hold(df_verdict *v, double *hours, double *hold, const search *q, double to) {
    df_job job = *q->job;
    df_run run;
    *v = (df_verdict){DF_UNHELD, DF_CAUSE_TIME, 0};
    job.recipe.n = 1;
    job.recipe.shelf_temperature[0] = to;
    job.recipe.pressure[0] = q->job->recipe.pressure[0];
    df_status status =
        fill_setup(q->ctx, q->setup, &job, q->dryer, q->path, q->deposit, loaded_at(q->job, q->path), false);
    q->setup->terse = true;
    q->setup->tolerance = 1e-4;
    q->setup->until_solvent = true;
    q->setup->stop_short = q->wanted == DF_RIGID;
    if (status == DF_OK)
        status = df_run_simulate(q->ctx, &run, q->setup);
    if (status != DF_OK)
        return status;
    if (run.end == DF_END_SHORT) {
        *v = (df_verdict){DF_WETTED, DF_CAUSE_MARGIN, 0};
        df_run_free(&run);
        return DF_OK;
    }
    *hold = 0.0;
    for (size_t k = 0; k < run.class_count; k++) {
        double gone = run.classes[k].solvent_time;
        *hold = isnan(*hold) || isnan(gone) ? NAN : fmax(*hold, gone);
    }
    df_run_free(&run);
    if (isnan(*hold))
        return DF_OK;
    *hold = 3600.0 * ceil(*hold / 3600.0 + 0.5); /* whole hours, with at least half an hour to spare */
    job.recipe = q->job->recipe;
    if (!put_hold(&job.recipe, to, *hold))
        return DF_OK;
    return df_verdict_quick(q->ctx, v, hours, &job, q->dryer, q->pairs, q->path, q->deposit, q->setup, false,
                            q->wanted == DF_RIGID);
}

/* Standing with a lever at `to`. */
static df_status with_lever(df_verdict *v, double *hours, double *hold, const search *q, df_lever lever, double to) {
    *hold = NAN;
    if (lever == DF_LEVER_HOLD)
        return with_hold(v, hours, hold, q, to);
    df_job job = *q->job;
    df_dryer dryer = *q->dryer;
    bool new_path = false;
    switch (lever) {
    case DF_LEVER_FRACTION:
        new_path = scaled(&job.composition, &q->job->composition, to);
        break;
    case DF_LEVER_TRAP:
        df_trap_shift(&dryer.trap[0], to);
        break;
    case DF_LEVER_HOLD:
    case DF_LEVER_SHELF:
        for (size_t i = 0; i < job.recipe.n; i++)
            job.recipe.shelf_temperature[i] = fmin(job.recipe.shelf_temperature[i], to);
        break;
    case DF_LEVER_FILL:
        for (size_t i = 0; i < job.groups; i++)
            job.group[i].fill *= to;
        break;
    case DF_LEVER_DRY_PUMP:
        dryer.pump.kind = DF_PUMP_DRY;
        dryer.pump.solvent_limit = INFINITY;
        break;
    case DF_LEVER_FREEZE:
        job.cooling.temperature = to;
        break;
    }
    return df_verdict_quick(q->ctx, v, hours, &job, &dryer, q->pairs, new_path ? q->other : q->path, q->deposit,
                            q->setup, new_path, q->wanted == DF_RIGID);
}

/* A lever to try: from where the job stands towards the far end. */
typedef struct attempt {
    df_lever lever;
    double from, far, tolerance;
    bool found;
    df_remedy remedy;
    df_status status;
    char message[200];
} attempt;

/* Finds the value nearest to `from` at which the wanted standing is reached, where it is reached at the far end; where only
 * time fails there, some values on the way are tried. */
static df_status find_remedy(attempt *a, const search *q) {
    double bad = a->from, good = a->far, hours, hold, h, held;
    df_verdict v;
    df_status status = with_lever(&v, &hours, &hold, q, a->lever, a->far);
    if (status != DF_OK)
        return status;
    if (v.standing > q->wanted) {
        if (v.cause != DF_CAUSE_TIME || isnan(a->far))
            return DF_OK;
        for (int i = 1; i < 6 && v.standing > q->wanted; i++) {
            good = a->from + (a->far - a->from) * i / 6.0;
            status = with_lever(&v, &hours, &hold, q, a->lever, good);
            if (status != DF_OK)
                return status;
            if (v.standing > q->wanted)
                bad = good;
        }
        if (v.standing > q->wanted)
            return DF_OK;
    }
    df_standing reached = v.standing;
    while (fabs(good - bad) > a->tolerance) { /* false at once for a lever without a number */
        double middle = 0.5 * (good + bad);
        status = with_lever(&v, &h, &held, q, a->lever, middle);
        if (status != DF_OK)
            return status;
        if (v.standing <= q->wanted) {
            good = middle;
            reached = v.standing;
            hours = h;
            hold = held;
        } else
            bad = middle;
    }
    a->found = true;
    a->remedy = (df_remedy){a->lever, a->from, good, reached, hours, hold / 3600.0};
    return DF_OK;
}

/* The levers that may help against a cause, in the order in which they are shown. */
static size_t choose_levers(attempt *list, const df_stand *s, const df_job *job, const df_dryer *dryer) {
    double fraction = organic_fraction(&job->composition), trap = df_trap_no_load(&dryer->trap[0]), warmest = 0.0;
    size_t n = 0;
    for (size_t i = 0; i < job->groups; i++)
        if (job->group[i].place == DF_PLACE_SHELF)
            for (size_t k = 0; k < job->recipe.n; k++)
                warmest = fmax(warmest, job->recipe.shelf_temperature[k]);
    bool wet = s->cause == DF_CAUSE_SOLIDUS || s->cause == DF_CAUSE_MARGIN || s->standing == DF_UNHELD;
    if (s->cause == DF_CAUSE_NOT_FROZEN)
        list[n++] =
            (attempt){.lever = DF_LEVER_FREEZE, .from = job->cooling.temperature, .far = 77.0, .tolerance = 2.0};
    if (s->cause == DF_CAUSE_PUMP_SOLVENT)
        list[n++] = (attempt){.lever = DF_LEVER_DRY_PUMP, .from = NAN, .far = NAN, .tolerance = 1.0};
    if (s->simulated && warmest > dryer->shelf.lowest + 1.0) {
        if (wet && fraction > 0.0)
            list[n++] = (attempt){
                .lever = DF_LEVER_HOLD, .from = fmin(warmest, 263.15), .far = dryer->shelf.lowest, .tolerance = 1.0};
        if (s->cause == DF_CAUSE_SOLUTE || s->cause == DF_CAUSE_HEAT)
            list[n++] =
                (attempt){.lever = DF_LEVER_SHELF, .from = warmest, .far = dryer->shelf.lowest, .tolerance = 1.0};
    }
    if (fraction > 0.02 && s->cause != DF_CAUSE_NOT_FROZEN && s->cause != DF_CAUSE_SOLUTE)
        list[n++] = (attempt){.lever = DF_LEVER_FRACTION, .from = fraction, .far = 0.2 * fraction, .tolerance = 0.02};
    if (s->simulated && (wet || s->cause == DF_CAUSE_SOLUTE)) {
        list[n++] =
            (attempt){.lever = DF_LEVER_TRAP, .from = trap, .far = fmin(trap - 20.0, 163.0), .tolerance = 2.0};
        list[n++] = (attempt){.lever = DF_LEVER_FILL, .from = 1.0, .far = 0.2, .tolerance = 0.07};
    }
    return n;
}

static df_status find_remedies(df_context *ctx, df_stand *s, const df_job *job, const df_dryer *dryer,
                               const df_pairs *pairs) {
    static const df_standing next[] = {DF_RIGID, DF_RIGID, DF_WETTED, DF_WETTED};
    attempt list[DF_MAX_REMEDIES];
    size_t n = choose_levers(list, s, job, dryer);
#pragma omp parallel for schedule(dynamic, 1)
    for (size_t i = 0; i < n; i++) {
        df_frozen_path other;
        df_setup setup;
        search q = {.job = job,
                    .dryer = dryer,
                    .pairs = pairs,
                    .path = &s->path,
                    .other = &other,
                    .deposit = &s->deposit,
                    .setup = &setup,
                    .wanted = next[s->standing]};
        if (df_context_create(&q.ctx) != DF_OK) {
            list[i].status = DF_E_MEMORY;
            continue;
        }
        list[i].status = find_remedy(&list[i], &q);
        snprintf(list[i].message, sizeof list[i].message, "%.199s", df_context_message(q.ctx));
        df_context_destroy(q.ctx);
    }
    for (size_t i = 0; i < n; i++) {
        if (list[i].status < 0)
            return df_fail(ctx, list[i].status, "%s", list[i].message);
        if (list[i].found)
            s->remedy[s->remedies++] = list[i].remedy;
    }
    return DF_OK;
}

/* ---- the whole ------------------------------------------------------------------------------------------------ */

/* What freezing makes of it: the path, its bands, which solutes are in it. */
static df_status freeze_job(df_context *ctx, df_stand *s, const df_job *job, const df_pairs *pairs) {
    df_mixture *mixture = NULL;
    double z[DF_MAX_COMPONENTS];
    df_status status = df_frozen_mixture(ctx, &mixture, z, pairs, &job->composition, job->solute, job->solutes);
    if (status == DF_OK)
        status = df_frozen_path_follow(ctx, &s->path, mixture, z, &job->composition, job->mode);
    if (status == DF_OK) {
        s->effective_solidus = df_effective_solidus(&s->path, job->trace_liquid);
        status = df_frozen_path_spread(ctx, &s->liquidus_sigma, &s->solidus_sigma, &s->path, mixture, z,
                                       &job->composition, job->mode, s->effective_solidus);
    }
    for (size_t i = 0; i < job->solutes && status >= 0; i++)
        for (size_t k = job->composition.n; k < df_mixture_count(mixture); k++)
            if (job->solute[i].known)
                s->solute_freezes[i] |=
                    strcmp(df_mixture_component(mixture, k)->key, job->solute[i].substance.key) == 0;
    df_mixture_free(mixture);
    return status;
}

df_status df_stand_simulate(df_context *ctx, df_stand *s, const df_job *job, const df_dryer *dryer,
                            const df_pairs *pairs, const df_progress *progress) {
    memset(s, 0, sizeof *s);
    df_status status = check_fit(ctx, job, dryer);
    if (status == DF_OK)
        status = freeze_job(ctx, s, job, pairs);
    if (status < 0)
        return status;
    s->critical_temperature = lowest_critical(job);
    s->start_temperature = loaded_at(job, &s->path);
    for (size_t i = 0; i < job->groups; i++) {
        s->containers += job->group[i].count;
        s->mass += (double)job->group[i].count * job->group[i].fill * df_composition_density(&job->composition);
    }
    status = df_deposit_make(ctx, &s->deposit, pairs, &job->composition);
    if (status >= 0)
        status = fill_setup(ctx, &s->setup, job, dryer, &s->path, &s->deposit, s->start_temperature, true);
    if (status != DF_OK)
        return status;
    for (size_t i = 0; i < job->groups && status == DF_OK; i++) {
        df_shape shape;
        status =
            df_shape_make(ctx, &shape, &job->group[i].container, frozen_volume(job, &s->path, job->group[i].fill),
                          job->group[i].lie, job->group[i].where);
        if (status == DF_OK)
            status = df_freeze(ctx, &s->freezing[i], &s->path, &job->group[i].container, &shape, &job->cooling,
                               293.15, s->start_temperature);
    }
    if (status != DF_OK)
        return status;
    if (progress != NULL) {
        s->setup.progress = progress->tell;
        s->setup.progress_data = progress->data;
    }
    df_verdict v;
    if (!df_verdict_afloat(&v, job, &s->path)) {
        status = df_run_simulate(ctx, &s->run, &s->setup);
        if (status != DF_OK)
            return status;
        s->simulated = true;
        v = df_verdict_of_run(&s->run, &s->setup);
    }
    s->standing = s->best = s->worst = v.standing;
    s->cause = v.cause;
    s->hottest_sigma = s->margin_sigma = s->time_sigma = NAN;
    s->setup.progress = NULL; /* of this run alone */
    if (s->simulated && s->run.end == DF_END_FRAMEWORK_LOST)
        status = find_binding(ctx, &s->cause, &s->setup);
    if (status == DF_OK) {
        explain(s, job, dryer, v.worst);
        s->acceptable =
            s->standing == DF_RIGID || (s->standing == DF_WETTED && df_purpose_accepts_wetted(job->purpose));
    }
    if (status != DF_OK)
        df_stand_free(s);
    return status;
}

df_status df_stand_judge(df_context *ctx, df_stand *s, const df_job *job, const df_dryer *dryer,
                         const df_pairs *pairs, bool remedies) {
    df_status status = df_stand_simulate(ctx, s, job, dryer, pairs, NULL);
    if (status != DF_OK)
        return status;
    if (s->simulated)
        status = df_stand_find_bands(ctx, s, job, pairs);
    if (status == DF_OK && remedies && s->standing != DF_RIGID)
        status = find_remedies(ctx, s, job, dryer, pairs);
    if (status != DF_OK)
        df_stand_free(s);
    return status;
}

bool df_stand_dries(const df_stand *s) {
    return s->simulated && s->run.end == DF_END_DRY && s->standing < DF_AFLOAT;
}

void df_stand_free(df_stand *s) {
    if (s != NULL)
        df_run_free(&s->run);
}

/* ---- ceilings ------------------------------------------------------------------------------------------------- */

void df_job_reference(df_job *job, const df_dryer *dryer, const df_composition *composition) {
    df_setup defaults;
    df_setup_defaults(&defaults);
    memset(job, 0, sizeof *job);
    snprintf(job->name, sizeof job->name, "reference load");
    job->composition = *composition;
    df_group *g = &job->group[0];
    job->groups = 1;
    g->container = dryer->reference.container;
    g->count = g->at[DF_SPOT_CENTRE] = dryer->reference.count;
    g->on = -INFINITY;
    g->off = INFINITY;
    g->fill = dryer->reference.fill;
    g->lie = dryer->reference.lie;
    g->place = dryer->reference.place;
    snprintf(g->where, sizeof g->where, "reference_load: fill");
    job->cooling.means = DF_MEANS_DRY_ICE_BATH;
    for (size_t i = 0; i < composition->n; i++)
        if (composition->component[i]->melting_temperature < df_means_temperature(DF_MEANS_DRY_ICE_BATH) + 20.0)
            job->cooling.means = DF_MEANS_LIQUID_NITROGEN;
    job->cooling.temperature = df_means_temperature(job->cooling.means);
    job->recipe = dryer->reference.recipe;
    job->recipe_given = job->recipe.n > 0;
    job->margin = defaults.margin;
    job->time_limit = 60.0 * 86400.0; /* not about patience */
    job->pore_exponent = defaults.pore_exponent;
    job->least_framework = defaults.least_framework;
    job->trace_liquid = defaults.trace_liquid;
    job->dry_conductivity = DF_DRY_CONDUCTIVITY;
    job->start_pressure = defaults.start_pressure; /* ceilings are about drying, not about the first minutes */
}

typedef struct ceiling_search {
    df_context *ctx;
    const df_dryer *dryer;
    const df_pairs *pairs;
    const df_substance *water, *solvent;
    df_frozen_path path;
    df_deposit deposit; /* of the solvent, in whatever amount of water */
    df_setup setup;
} ceiling_search;

static void mix(df_composition *out, const ceiling_search *q, double fraction) {
    const df_substance *both[2] = {q->solvent, q->water};
    double f[2] = {fraction, 1.0 - fraction};
    df_composition_set(out, both, f, 2, DF_BASIS_VOLUME);
}

static df_status at_fraction(df_verdict *v, ceiling_search *q, double fraction) {
    df_composition composition;
    df_job job;
    mix(&composition, q, fraction);
    df_job_reference(&job, q->dryer, &composition);
    return df_verdict_quick(q->ctx, v, NULL, &job, q->dryer, q->pairs, &q->path, &q->deposit, &q->setup, true, false);
}

#define GRID 21

static df_status find_ceiling(df_ceiling *c, ceiling_search *q) {
    static const double grid[GRID] = {0.02, 0.05, 0.10, 0.15, 0.20, 0.25, 0.30, 0.35, 0.40, 0.45, 0.50,
                                      0.55, 0.60, 0.65, 0.70, 0.75, 0.80, 0.85, 0.90, 0.95, 1.00};
    df_verdict v[GRID];
    df_composition composition;
    mix(&composition, q, 0.5);
    df_status made = df_deposit_make(q->ctx, &q->deposit, q->pairs, &composition);
    if (made < 0)
        return made;
    for (int i = 0; i < GRID; i++) {
        df_status status = at_fraction(&v[i], q, grid[i]);
        if (status != DF_OK)
            return status;
    }
    df_nrtl_pair pair;
    df_pairs_get(&pair, q->pairs, q->solvent, q->water);
    c->grade = pair.grade;
    double *ceiling[2] = {&c->rigid, &c->wetted}, *from[2] = {&c->rigid_from, &c->wetted_from};
    df_cause *cause[2] = {&c->rigid_cause, &c->wetted_cause};
    for (int level = 0; level < 2; level++) {
        int bottom = 0, top;
        while (bottom < GRID && v[bottom].standing > (df_standing)level)
            bottom++;
        *ceiling[level] = *from[level] = NAN;
        *cause[level] = v[0].cause;
        if (bottom == GRID)
            continue;
        for (top = bottom; top + 1 < GRID && v[top + 1].standing <= (df_standing)level;)
            top++;
        *cause[level] = v[top < GRID - 1 ? top + 1 : top].cause;
        *from[level] = grid[bottom];
        double low = grid[top], high = top < GRID - 1 ? grid[top + 1] : low;
        while (high - low > 0.004) {
            df_verdict middle;
            df_status status = at_fraction(&middle, q, 0.5 * (low + high));
            if (status != DF_OK)
                return status;
            if (middle.standing <= (df_standing)level)
                low = 0.5 * (low + high);
            else {
                high = 0.5 * (low + high);
                *cause[level] = middle.cause;
            }
        }
        *ceiling[level] = low;
        if (top == GRID - 1)
            *cause[level] = DF_CAUSE_NONE;
    }
    return DF_OK;
}

df_status df_ceilings_find(df_context *ctx, df_ceiling *ceiling, const df_dryer *dryer, const df_pairs *pairs,
                           const df_substance *water, const df_substance *const *solvents, size_t n) {
    df_status worst = DF_OK;
    for (size_t i = 0; i < n; i++)
        if (solvents[i]->is_involatile || solvents[i] == water)
            return df_fail(ctx, DF_E_INPUT, "%s is no solvent: ceilings are asked for of what has a vapour, in water",
                           solvents[i]->name);
#pragma omp parallel for schedule(dynamic, 1)
    for (size_t i = 0; i < n; i++) {
        ceiling_search q = {.dryer = dryer, .pairs = pairs, .water = water, .solvent = solvents[i]};
        memset(&ceiling[i], 0, sizeof ceiling[i]);
        ceiling[i].solvent = solvents[i];
        if (df_context_create(&q.ctx) != DF_OK) {
            ceiling[i].status = DF_E_MEMORY;
            continue;
        }
        ceiling[i].status = find_ceiling(&ceiling[i], &q);
        if (ceiling[i].status == DF_OK &&
            df_ceiling_find_bands(q.ctx, &ceiling[i], dryer, pairs, water) == DF_E_MEMORY)
            ceiling[i].status = DF_E_MEMORY; /* any other failure: the band is not had */
        if (ceiling[i].status != DF_OK)
            snprintf(ceiling[i].message, sizeof ceiling[i].message, "%.199s", df_context_message(q.ctx));
        df_context_destroy(q.ctx);
    }
    for (size_t i = 0; i < n && worst == DF_OK; i++)
        if (ceiling[i].status < 0)
            worst = df_fail(ctx, ceiling[i].status, "%s: %s", solvents[i]->name, ceiling[i].message);
    return worst;
}
