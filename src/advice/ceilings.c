/* Ceilings of solvents on a dryer, with its reference load. */
#include "advice/stand.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

void df_job_reference(df_job *job, const df_dryer *dryer, const df_composition *composition) {
    df_setup defaults;
    df_setup_defaults(&defaults);
    memset(job, 0, sizeof *job);
    snprintf(job->name, sizeof job->name, "reference load");
    job->composition = *composition;
    job->containers = dryer->containers;
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

#define RUNS_EXPECTED 35 /* of a solvent, to tell how far it is: 21 of the grid and those between */

typedef struct ceiling_search {
    df_context *ctx;
    df_tally *tally;
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
    df_status status =
        df_verdict_quick(q->ctx, v, NULL, &job, q->dryer, q->pairs, &q->path, &q->deposit, &q->setup, true, false);
    return status >= 0 && !df_tally_one(q->tally) ? df_fail(q->ctx, DF_E_STOPPED, "stopped") : status;
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
    df_tally tally = {.ctx = ctx, .what = "fractions tried", .of = RUNS_EXPECTED * n, .guess = true};
#pragma omp parallel for schedule(dynamic, 1)
    for (size_t i = 0; i < n; i++) {
        ceiling_search q = {.tally = &tally, .dryer = dryer, .pairs = pairs, .water = water, .solvent = solvents[i]};
        memset(&ceiling[i], 0, sizeof ceiling[i]);
        ceiling[i].solvent = solvents[i];
        if (df_context_branch(&q.ctx, ctx) != DF_OK) {
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
