/* What would have to change for a better standing. */
#include "advice/stand.h"
#include "base/yaml_write.h"

#include <math.h>
#include <stdio.h>

double df_organic_fraction(const df_composition *c) {
    double f[DF_MAX_COMPONENTS], sum = 0.0;
    df_composition_fractions(f, c, DF_BASIS_VOLUME);
    for (size_t i = 0; i < c->n; i++)
        if (!c->component[i]->is_water)
            sum += f[i];
    return sum;
}

/* The composition with its organic part scaled to `fraction` by volume, water taking the rest. False without water. */
bool df_composition_scaled(df_composition *out, const df_composition *c, double fraction) {
    double f[DF_MAX_COMPONENTS], now = df_organic_fraction(c);
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
    df_composition_round(out, DF_TIDY_DIGITS);
    for (size_t i = 0; i < out->n; i++)
        for (size_t j = 0; j < c->n; j++)
            if (out->component[i] == c->component[j])
                out->seen[i] = c->seen[j];
    return true;
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

bool df_hold_put(df_recipe *r, double to, double until) {
    df_recipe old = *r;
    double after = until + 3600.0, low = INFINITY, high = 0.0;
    for (size_t i = 0; i < old.n; i++) {
        low = fmin(low, old.shelf_temperature[i]);
        high = fmax(high, old.shelf_temperature[i]);
    }
    r->n = 3;
    r->time[0] = 0.0;
    r->time[1] = until;
    r->time[2] = after;
    r->shelf_temperature[0] = r->shelf_temperature[1] = to;
    r->shelf_temperature[2] = df_quantity_round(df_interpolate(old.time, old.shelf_temperature, old.n, after),
                                                DF_DIM_TEMPERATURE, "°C", -2);
    r->shelf_temperature[2] = fmin(fmax(r->shelf_temperature[2], low), high);
    for (size_t i = 0; i < 3; i++)
        r->pressure[i] = df_quantity_round(df_interpolate(old.time, old.pressure, old.n, r->time[i]), DF_DIM_PRESSURE,
                                           "mbar", DF_TIDY_DIGITS);
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

df_status df_hold_length(df_context *ctx, double *length, bool *lost, const df_job *given, const df_dryer *dryer,
                         const df_frozen_path *path, const df_deposit *deposit, df_setup *setup, double to,
                         bool rigid_only) {
    df_job job = *given;
    df_run run;
    job.recipe.n = 1;
    job.recipe.shelf_temperature[0] = to;
    job.recipe.pressure[0] = given->recipe.pressure[0];
    df_status status = df_trial_fill(ctx, setup, &job, dryer, path, deposit, df_trial_loaded(given, path), false);
    setup->terse = true;
    setup->tolerance = 1e-4;
    setup->until_solvent = true;
    setup->stop_short = rigid_only;
    if (status == DF_OK)
        status = df_run_simulate(ctx, &run, setup);
    if (status != DF_OK)
        return status;
    *lost = run.end == DF_END_SHORT;
    *length = 0.0;
    for (size_t k = 0; k < run.class_count; k++) {
        double gone = run.classes[k].solvent_time;
        *length = isnan(*length) || isnan(gone) ? NAN : fmax(*length, gone);
    }
    df_run_free(&run);
    *length = 3600.0 * ceil(*length / 3600.0 + 0.5); /* whole hours, with at least half an hour to spare */
    return DF_OK;
}

/* Standing with the shelf held at `to` until the solvent has gone there: one run to learn when, one to judge. */
static df_status with_hold(df_verdict *v, double *hours, double *hold, const search *q, double to) {
    df_job job = *q->job;
    bool lost = false;
    df_status status = df_hold_length(q->ctx, hold, &lost, q->job, q->dryer, q->path, q->deposit, q->setup, to,
                                      q->wanted == DF_RIGID);
    *v = lost ? (df_verdict){DF_WETTED, DF_CAUSE_MARGIN, 0} : (df_verdict){DF_UNHELD, DF_CAUSE_TIME, 0};
    if (status != DF_OK || lost || isnan(*hold) || !df_hold_put(&job.recipe, to, *hold))
        return status;
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
    bool own, new_path = lever == DF_LEVER_FRACTION;
    const df_remedy remedy = {.lever = lever, .to = to};
    if (!df_remedy_apply(&job, &dryer, &own, &remedy)) {
        *v = (df_verdict){DF_UNHELD, DF_CAUSE_FRAMEWORK, 0};
        return DF_OK;
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

/* Values that people would set: 0.1 % v/v, 1 % of the fill, 1 °C. */
static double tidy(df_lever lever, double value) {
    if (lever == DF_LEVER_FRACTION)
        return round(1e3 * value) / 1e3;
    if (lever == DF_LEVER_FILL)
        return round(1e2 * value) / 1e2;
    return isnan(value) ? value : df_quantity_round(value, DF_DIM_TEMPERATURE, "°C", 0);
}

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
            good = tidy(a->lever, a->from + (a->far - a->from) * i / 6.0);
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
        double middle = tidy(a->lever, 0.5 * (good + bad));
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
    double fraction = df_organic_fraction(&job->composition), trap = df_trap_no_load(&dryer->trap[0]), warmest = 0.0;
    size_t n = 0;
    for (size_t i = 0; i < job->groups; i++)
        if (job->group[i].place == DF_PLACE_SHELF)
            for (size_t k = 0; k < job->recipe.n; k++)
                warmest = fmax(warmest, job->recipe.shelf_temperature[k]);
    bool wet = s->cause == DF_CAUSE_SOLIDUS || s->cause == DF_CAUSE_MARGIN || s->standing == DF_UNHELD;
    if (s->cause == DF_CAUSE_NOT_FROZEN)
        list[n++] = (attempt){.lever = DF_LEVER_FREEZE,
                              .from = job->cooling.temperature,
                              .far = tidy(DF_LEVER_FREEZE, 77.0),
                              .tolerance = 2.0};
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
        list[n++] = (attempt){.lever = DF_LEVER_FRACTION,
                              .from = fraction,
                              .far = tidy(DF_LEVER_FRACTION, 0.2 * fraction),
                              .tolerance = 0.02};
    if (s->simulated && (wet || s->cause == DF_CAUSE_SOLUTE)) {
        list[n++] = (attempt){.lever = DF_LEVER_TRAP,
                              .from = trap,
                              .far = tidy(DF_LEVER_TRAP, fmin(trap - 20.0, 163.0)),
                              .tolerance = 2.0};
        list[n++] = (attempt){.lever = DF_LEVER_FILL, .from = 1.0, .far = 0.2, .tolerance = 0.07};
    }
    return n;
}

df_status df_stand_find_remedies(df_context *ctx, df_stand *s, const df_job *job, const df_dryer *dryer,
                                 const df_pairs *pairs) {
    static const df_standing next[] = {DF_RIGID, DF_RIGID, DF_WETTED, DF_WETTED};
    attempt list[DF_MAX_REMEDIES];
    size_t n = choose_levers(list, s, job, dryer);
    df_tally tally = {.ctx = ctx, .what = "what would help", .of = n};
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
        if (df_context_branch(&q.ctx, ctx) != DF_OK) {
            list[i].status = DF_E_MEMORY;
            continue;
        }
        list[i].status = find_remedy(&list[i], &q);
        if (!df_tally_one(&tally) && list[i].status >= 0)
            list[i].status = df_fail(q.ctx, DF_E_STOPPED, "stopped");
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
