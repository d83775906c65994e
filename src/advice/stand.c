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

/* What has to be eased for a run that lost its framework: each part of the dryer is made ideal in turn, from the trap
 * outwards; the first that lets the run through binds. */
static df_status df_verdict_binding(df_context *ctx, df_cause *cause, const df_setup *setup) {
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
        df_status status = df_verdict_try(ctx, &v, NULL, &trial);
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

static df_status simulate(df_context *ctx, df_stand *s, const df_job *job, const df_dryer *dryer,
                          const df_pairs *pairs, const df_progress *progress, bool bands) {
    memset(s, 0, sizeof *s);
    df_status status = df_trial_fit(ctx, job, dryer);
    (void)df_context_tell(ctx, 0.0, "freezing"); /* whether to go on is asked again where it takes time */
    if (status == DF_OK)
        status = freeze_job(ctx, s, job, pairs);
    if (status < 0)
        return status;
    s->critical_temperature = df_trial_critical(job);
    s->start_temperature = df_trial_loaded(job, &s->path);
    for (size_t i = 0; i < job->groups; i++) {
        s->containers += job->group[i].count;
        s->mass += (double)job->group[i].count * job->group[i].fill * df_composition_density(&job->composition);
    }
    status = df_deposit_make(ctx, &s->deposit, pairs, &job->composition);
    if (status >= 0)
        status = df_trial_fill(ctx, &s->setup, job, dryer, &s->path, &s->deposit, s->start_temperature, true);
    if (status != DF_OK)
        return status;
    for (size_t i = 0; i < job->groups && status == DF_OK; i++) {
        df_shape shape;
        status =
            df_shape_make(ctx, &shape, &job->group[i].container, df_trial_volume(job, &s->path, job->group[i].fill),
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
    (void)df_context_tell(ctx, 0.2, "drying");
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
        status = df_verdict_binding(ctx, &s->cause, &s->setup);
    if (status == DF_OK) {
        explain(s, job, dryer, v.worst);
        s->acceptable =
            s->standing == DF_RIGID || (s->standing == DF_WETTED && df_purpose_accepts_wetted(job->purpose));
    }
    (void)df_context_tell(ctx, 0.4, "how sure it is");
    if (status == DF_OK && s->simulated && bands)
        status = df_stand_find_bands(ctx, s, job, pairs);
    if (status != DF_OK)
        df_stand_free(s);
    return status;
}

df_status df_stand_simulate(df_context *ctx, df_stand *s, const df_job *job, const df_dryer *dryer,
                            const df_pairs *pairs, const df_progress *progress) {
    return simulate(ctx, s, job, dryer, pairs, progress, true);
}

df_status df_stand_sketch(df_context *ctx, df_stand *s, const df_job *job, const df_dryer *dryer,
                          const df_pairs *pairs, const df_progress *progress) {
    return simulate(ctx, s, job, dryer, pairs, progress, false);
}

df_status df_stand_judge(df_context *ctx, df_stand *s, const df_job *job, const df_dryer *dryer,
                         const df_pairs *pairs, bool remedies) {
    df_stretch before = df_context_begin(ctx, 0.0, remedies ? 0.4 : 1.0);
    df_status status = df_stand_simulate(ctx, s, job, dryer, pairs, NULL);
    df_context_end(ctx, before);
    if (status == DF_OK && remedies && s->standing != DF_RIGID) {
        before = df_context_begin(ctx, 0.4, 1.0);
        status = df_stand_find_remedies(ctx, s, job, dryer, pairs);
        df_context_end(ctx, before);
        if (status != DF_OK)
            df_stand_free(s);
    }
    return status;
}

bool df_stand_dries(const df_stand *s) {
    return s->simulated && s->run.end == DF_END_DRY && s->standing < DF_AFLOAT;
}

void df_stand_free(df_stand *s) {
    if (s != NULL)
        df_run_free(&s->run);
}
