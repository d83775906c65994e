/* Runs of one job under other set points, and how far they stay within the limits. */
#include "advice/quest.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define FAR 50.0       /* K: more than this counts as this */
#define SCALE 10.0     /* K for all of a share */
#define PATIENCE 300.0 /* s that a pressure has been asked for before it is judged */
#define STILL 0.1      /* K that the shelf may rise while it waits */
#define LOST 5.0       /* K, at least, by which a lost framework is out */

/* ---- what all searches share ---------------------------------------------------------------------------------- */

static bool planned(const df_event *e) {
    return e->kind == DF_EVENT_DEFROST || e->kind == DF_EVENT_REFILL;
}

df_status df_ground_prepare(df_context *ctx, df_ground *g, const df_job *job, const df_dryer *dryer,
                            const df_pairs *pairs, bool whole) {
    bool on_shelf = false;
    g->ctx = ctx;
    g->job = job;
    g->dryer = dryer;
    for (size_t i = 0; i < job->groups; i++)
        on_shelf = on_shelf || job->group[i].place == DF_PLACE_SHELF;
    if (!on_shelf)
        return df_fail(ctx, DF_E_INPUT,
                       "%s: no container stands on a shelf: the room gives the heat, and there are no "
                       "set points to look for",
                       job->group[0].where);
    df_status status = df_trial_fit(ctx, job, dryer);
    if (status == DF_OK)
        status = df_trial_path(ctx, &g->path, job, pairs);
    if (status == DF_OK)
        status = df_deposit_make(ctx, &g->deposit, pairs, &job->composition);
    if (status >= 0)
        status =
            df_trial_fill(ctx, &g->setup, job, dryer, &g->path, &g->deposit, df_trial_loaded(job, &g->path), whole);
    if (status != DF_OK)
        return status;
    g->setup.whole_recipe = false;
    g->setup.events = g->left_out = 0;
    for (size_t i = 0; i < job->events; i++)
        if (planned(&job->event[i]))
            g->setup.event[g->setup.events++] = job->event[i];
        else
            g->left_out++;
    g->framework = 0;
    for (size_t i = 1; i < g->path.n; i++)
        if (g->path.volume_fraction[i] > g->path.volume_fraction[g->framework])
            g->framework = i;
    g->framework_limit = NAN;
    for (size_t i = g->path.points; i-- > 0;)
        if (g->path.solid_volume[i] >= job->least_framework) {
            g->framework_limit = g->path.lowest + g->path.step * (double)i;
            break;
        }
    return DF_OK;
}

df_status df_quest_open(df_quest *q, const df_ground *ground) {
    memset(q, 0, sizeof *q);
    q->ground = ground;
    q->choke = DF_HOLD_CHOKE;
    q->guard = DF_QUEST_GUARD;
    q->early = DF_QUEST_EARLY;
    if (df_context_branch(&q->ctx, ground->ctx) != DF_OK)
        return DF_E_MEMORY;
    q->setup = malloc(sizeof *q->setup);
    if (q->setup == NULL)
        return df_fail(q->ctx, DF_E_MEMORY, "out of memory");
    *q->setup = ground->setup;
    q->stop = calloc(DF_QUEST_STOPS, sizeof *q->stop);
    return q->stop != NULL ? DF_OK : df_fail(q->ctx, DF_E_MEMORY, "out of memory");
}

void df_quest_close(df_quest *q) {
    for (size_t i = 0; q->stop != NULL && i < DF_QUEST_STOPS; i++)
        df_mark_free(q->stop[i].mark);
    free(q->stop);
    q->stop = NULL;
    free(q->setup);
    q->setup = NULL;
    df_context_destroy(q->ctx);
    q->ctx = NULL;
}

/* ---- a run and its limits ------------------------------------------------------------------------------------- */

static void tighten(df_slack *s, double kelvin, df_bound bound, double time) {
    if (kelvin < s->kelvin)
        *s = (df_slack){kelvin, bound, time};
}

/* Of a class at one moment: frozen part, or the dried cake once the framework has left. A run need not go to the minute as
 * computed: for a while after a change the shelf is not to rise (trials alone). */
static void look_at_class(df_slack *s, df_wait *w, const df_quest *q, const df_run *run, const df_moment *m,
                          size_t k) {
    const df_class_moment *c = &m->container[k];
    double margin = q->setup->margin + q->guard, solvent = run->classes[k].solvent_time, limit = c->limit;
    bool wet = isnan(solvent) || m->time < solvent, frozen = !isnan(limit);
    if (w->shelf > 0.0 && (wet != w->wet || frozen != w->frozen)) {
        w->until = m->time + fmax(DF_QUEST_WAIT, DF_QUEST_LATE * m->time);
        w->held = w->shelf;
    }
    if (q->guard > 0.0 && m->time < w->until)
        tighten(s, w->held + STILL - m->shelf, DF_BOUND_PRODUCT, m->time);
    w->shelf = m->shelf;
    w->wet = wet;
    w->frozen = frozen;
    if (!frozen) {
        if (isfinite(c->glass))
            tighten(s, fmin(c->glass - c->front - margin, FAR), DF_BOUND_GLASS, m->time);
        return;
    }
    if (q->wetted && (wet || m->time <= solvent)) /* at the moment that it is gone the solidus still counts */
        limit = q->ground->framework_limit;
    if (q->guard > 0.0 && m->time < DF_QUEST_EARLY_TIME)
        margin += q->early;
    tighten(s, fmax(limit - c->hottest - margin, -FAR), DF_BOUND_PRODUCT, m->time);
}

/* The framework's vapour over the set point; 0 where none is held, or not for long enough to be judged. */
static double load_at(const df_quest *q, const df_run *run, const df_moment *m) {
    const df_substance *framework = q->ground->job->composition.component[q->ground->framework];
    const df_recipe *r = &q->setup->recipe;
    if (!m->settled || !(m->wanted > 0.0) || !(df_interpolate(r->time, r->pressure, r->n, m->time - PATIENCE) > 0.0))
        return 0.0;
    for (size_t i = 0; i < run->species; i++)
        if (run->substance[i] == framework)
            return m->chamber[i] / m->wanted;
    return 0.0;
}

static void look_at(df_watch *w, const df_quest *q, const df_run *run) {
    const df_moment *m = &run->moment[run->moments - 1];
    df_slack now = {FAR, DF_BOUND_NONE, NAN};
    for (size_t k = 0; k < run->class_count; k++)
        look_at_class(&now, &w->wait[k], q, run, m, k);
    if (m->settled) {
        double load = load_at(q, run, m);
        w->load = fmax(w->load, load);
        tighten(&now, SCALE * (q->choke - m->choked) - 3.0 * q->guard, DF_BOUND_CHOKE, m->time);
        if (load > 0.0)
            tighten(&now, SCALE * (DF_HOLD_PRESSURE - load) - 3.0 * q->guard, DF_BOUND_PRESSURE, m->time);
    }
    tighten(&w->whole, now.kelvin, now.bound, now.time);
    if (m->time > w->from)
        tighten(&w->slack, now.kelvin, now.bound, now.time);
}

/* Told after every step but the last; false where the run is to end. */
static bool follow(void *data, double share, double time) {
    df_quest *q = data;
    df_watch *w = &q->watch;
    const df_setup *ground = &q->ground->setup;
    look_at(w, q, q->run);
    w->broken_off = w->break_off && w->whole.kelvin < 0.0;
    return !w->broken_off && (ground->progress == NULL || ground->progress(ground->progress_data, share, time));
}

/* ---- where earlier runs stood ---------------------------------------------------------------------------------- */

static bool same_at(const df_recipe *a, const df_recipe *b, double time) {
    return fabs(df_interpolate(a->time, a->shelf_temperature, a->n, time) -
                df_interpolate(b->time, b->shelf_temperature, b->n, time)) < 1e-9 &&
           fabs(df_interpolate(a->time, a->pressure, a->n, time) - df_interpolate(b->time, b->pressure, b->n, time)) <
               1e-9;
}

/* Whether two recipes are the same until a time: their corners are straight lines apart. */
static bool same_until(const df_recipe *a, const df_recipe *b, double time) {
    bool same = same_at(a, b, time);
    for (size_t i = 0; i < a->n && a->time[i] < time && same; i++)
        same = same_at(a, b, a->time[i]);
    for (size_t i = 0; i < b->n && b->time[i] < time && same; i++)
        same = same_at(a, b, b->time[i]);
    return same;
}

/* Takes what a run gives at a corner in place of what was of use longest ago. */
static void keep(void *data, df_mark *mark) {
    df_quest *q = data;
    df_quest_stop *oldest = &q->stop[0];
    for (size_t i = 1; i < DF_QUEST_STOPS; i++)
        if (q->stop[i].used < oldest->used)
            oldest = &q->stop[i];
    df_mark_free(oldest->mark);
    *oldest = (df_quest_stop){mark,     q->setup->recipe, q->watch, q->setup->tolerance, q->guard, q->early,
                              q->choke, q->wetted,        q->runs};
}

/* The latest before `until` from which the run at hand can go on; NULL: none. What it met before `from` must not count. */
static df_quest_stop *find_stop(df_quest *q, double from, double until) {
    df_quest_stop *best = NULL;
    for (size_t i = 0; i < DF_QUEST_STOPS; i++) {
        df_quest_stop *s = &q->stop[i];
        if (s->mark == NULL || s->tolerance != q->setup->tolerance || s->guard != q->guard || s->early != q->early ||
            s->choke != q->choke || s->wetted != q->wetted)
            continue;
        double time = df_mark_time(s->mark);
        if (time >= until - 1.0 || (isfinite(from) && time > from) ||
            (best != NULL && time <= df_mark_time(best->mark)))
            continue;
        if (same_until(&s->recipe, &q->setup->recipe, time))
            best = s;
    }
    return best;
}

df_status df_quest_run(df_quest *q, df_run *run, const df_recipe *recipe, double from, double until, double tolerance,
                       bool break_off) {
    df_setup *setup = q->setup;
    df_watch *w = &q->watch;
    setup->recipe = *recipe;
    setup->time_limit = until;
    setup->tolerance = tolerance > 0.0 ? tolerance : q->ground->setup.tolerance;
    setup->stop_short = tolerance > 0.0 && !q->wetted; /* a trial need not tell what follows */
    setup->terse = true;
    q->runs++;
    df_quest_stop *stop = find_stop(q, from, until);
    if (stop != NULL) {
        *w = stop->watch;
        stop->used = q->runs;
    } else {
        *w = (df_watch){.whole = {FAR, DF_BOUND_NONE, NAN}};
        for (size_t k = 0; k < DF_MAX_CLASSES; k++)
            w->wait[k].until = -INFINITY;
    }
    setup->from = stop != NULL ? stop->mark : NULL;
    q->run = run;
    w->from = from;
    w->slack = isfinite(from) ? (df_slack){FAR, DF_BOUND_NONE, NAN} : w->whole;
    w->break_off = break_off;
    w->broken_off = false;
    setup->progress = follow;
    setup->progress_data = q;
    setup->mark = keep;
    setup->mark_data = q;
    df_status status = df_run_simulate(q->ctx, run, setup);
    w->sound = status == DF_OK;
    bool stopped = status == DF_E_STOPPED && !w->broken_off;
    if (!stopped && !df_tally_one(q->ground->tally)) {
        if (w->sound)
            df_run_free(run);
        w->sound = false;
        return df_fail(q->ctx, DF_E_STOPPED, "stopped");
    }
    if (w->broken_off)
        return DF_OK;
    if (status == DF_OK)
        look_at(w, q, run);
    if (status == DF_OK && run->end == DF_END_FRAMEWORK_LOST) {
        tighten(&w->slack, -LOST, DF_BOUND_PRODUCT, run->time);
        tighten(&w->whole, -LOST, DF_BOUND_PRODUCT, run->time);
    }
    return status == DF_E_CONVERGENCE ? DF_OK : status;
}

df_status df_quest_plan(df_quest *q, df_recipe_plan *plan, double until, double tolerance, double guard) {
    df_run run;
    double usual = q->guard;
    plan->kept = plan->dry = false;
    plan->broken = DF_BOUND_PRODUCT;
    plan->time = plan->primary_time = plan->broken_time = NAN;
    q->guard = guard;
    df_status status = df_quest_run(q, &run, &plan->recipe, -INFINITY, until, tolerance, tolerance > 0.0);
    q->guard = usual;
    df_slack s = q->watch.slack;
    if (status == DF_OK && q->watch.broken_off) {
        plan->broken = s.bound;
        plan->broken_time = s.time;
    }
    if (status != DF_OK || !q->watch.sound)
        return status;
    if (run.end == DF_END_SHORT)
        tighten(&s, -guard - 1e-9, DF_BOUND_PRODUCT, run.time);
    plan->dry = run.end == DF_END_DRY;
    plan->time = run.time;
    plan->primary_time = run.primary_time;
    plan->margin = plan->glass_margin = INFINITY;
    plan->choke = run.highest_choke;
    for (size_t k = 0; k < run.class_count; k++) {
        plan->margin = fmin(plan->margin, run.classes[k].least_margin);
        plan->glass_margin = fmin(plan->glass_margin, run.classes[k].least_glass_margin);
    }
    plan->load = q->watch.load;
    plan->broken = s.kelvin < 0.0        ? s.bound
                   : run.trap_full       ? DF_BOUND_TRAP
                   : run.pump_overloaded ? DF_BOUND_OIL
                                         : DF_BOUND_NONE;
    plan->broken_time = s.kelvin < 0.0        ? s.time
                        : run.trap_full       ? run.trap_full_time
                        : run.pump_overloaded ? run.pump_overload_time
                                              : NAN;
    plan->kept = plan->broken == DF_BOUND_NONE;
    if (plan->kept && !plan->dry)
        plan->broken = DF_BOUND_TIME;
    df_run_free(&run);
    return DF_OK;
}
