/* Routes: ways that bring a job to a dry product, weighed against each other. */
#include "advice/action.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define PUMP_SHARE 0.1       /* of what its oil stands, from which on the pump is worth a thought */
#define WORST_MARGIN (-10.0) /* K, beyond which a smaller margin is no worse */

/* A combination of actions as a trial found it. */
typedef struct trial {
    int action[DF_ROUTE_ACTIONS]; /* rising; -1: none */
    size_t n;
    bool brief; /* only rigid is asked for: the run ends where the margin is lost, and stands wetted at best */
    bool possible, unsolved, ran;
    df_standing standing;
    df_cause cause;
    bool cut;      /* the run ended where the margin was lost */
    double margin; /* K, of the class that decides; of the glass where that does */
    double glass;  /* K, of the glass */
    double most_liquid, solid, left, to_pump;
    double time, hands_on, vented, purchase, cost; /* s, s, kg, h, h */
} trial;

typedef struct search {
    const df_routes_task *task;
    const df_pairs *pairs;
    const df_substance *water;
    df_efforts efforts;
    df_action action[DF_MOST_ACTIONS];
    size_t actions;
    df_liquid *liquid; /* [0] as it is; then one for each action on the liquid, in their order */
    int liquid_of[DF_MOST_ACTIONS];
    size_t liquids;
    trial *trial;
    size_t trials, room;
    int *index; /* of a combination, by its actions */
} search;

static bool accepts(const search *s, df_standing standing) {
    return standing == DF_RIGID || (standing == DF_WETTED && df_purpose_accepts_wetted(s->task->job->purpose));
}

/* ---- one trial ------------------------------------------------------------------------------------------------ */

static bool plan_of(df_plan *plan, const search *s, const trial *t) {
    const df_action *chosen[DF_ROUTE_ACTIONS];
    const df_liquid *liquid = &s->liquid[0];
    for (size_t i = 0; i < t->n; i++) {
        chosen[i] = &s->action[t->action[i]];
        if (s->liquid_of[t->action[i]] > 0)
            liquid = &s->liquid[s->liquid_of[t->action[i]]];
    }
    return df_plan_make(plan, s->task, &s->efforts, liquid, chosen, t->n);
}

/* Puts a hold into the recipe, as long as it takes; *possible false where the solvent does not go. With `brief` it ends
 * where the margin is *lost. */
static df_status settle_hold(df_context *ctx, bool *possible, bool *lost, df_plan *plan, df_setup *setup,
                             bool brief) {
    double length = 0.0;
    *possible = true;
    *lost = false;
    if (isnan(plan->hold))
        return DF_OK;
    df_status status = df_hold_length(ctx, &length, lost, &plan->job, &plan->dryer, &plan->liquid->path,
                                      &plan->liquid->deposit, setup, plan->hold, brief);
    if (status != DF_OK || *lost)
        return status;
    *possible = !isnan(length) && df_hold_put(&plan->job.recipe, plan->hold, length);
    for (size_t i = 0; i < plan->actions; i++)
        if (plan->action[i].kind == DF_ACTION_HOLD)
            plan->action[i].hold = length;
    return DF_OK;
}

static double solvents(const df_run *run, const double *kilograms) {
    double sum = 0.0;
    for (size_t i = 0; i < run->species; i++)
        if (!run->substance[i]->is_water)
            sum += kilograms[i];
    return sum;
}

static double boiled_off(const df_liquid *l, const double *kilograms) {
    double sum = 0.0;
    for (size_t i = 0; i < l->boileds; i++)
        if (!l->boiled[i]->is_water)
            sum += kilograms[i];
    return sum;
}

static double whole_time(const df_plan *p, const df_efforts *e, double run) {
    return p->liquid->time + (double)p->loads * run + (double)(p->loads - 1) * e->hours_turn;
}

static double hands_on(const df_plan *p, const df_efforts *e, double run) {
    return p->hands_on + (p->refills ? (double)p->loads * floor(run / e->hours_refill) * e->minutes_refill : 0.0);
}

static double cost(const df_efforts *e, df_standing standing, double time, double hands, double vented, double margin,
                   double purchase) {
    return (time + e->cost_hands_on * hands) / 3600.0 + e->cost_vented * vented +
           e->cost_margin * fmax(e->margin_enough - fmax(margin, WORST_MARGIN), 0.0) +
           (standing == DF_RIGID ? 0.0 : e->cost_wetted) + purchase;
}

/* Margin that a run keeps, of the cake's glass where that decides. */
static double margin_of(const df_run *run, const df_verdict *v) {
    const df_class_run *c = &run->classes[v->worst];
    return v->cause == DF_CAUSE_GLASS ? c->least_glass_margin : c->least_margin;
}

static void read_run(trial *t, const search *s, const df_plan *plan, const df_run *run, const df_setup *setup) {
    df_verdict v = df_verdict_of_run(run, setup);
    double start = 0.0, left = 0.0;
    t->ran = true;
    t->standing = v.standing;
    t->cause = v.cause;
    t->cut = run->end == DF_END_SHORT;
    t->margin = margin_of(run, &v);
    t->glass = INFINITY;
    for (size_t k = 0; k < run->class_count; k++)
        t->glass = fmin(t->glass, run->classes[k].least_glass_margin);
    t->most_liquid = run->classes[v.worst].most_liquid;
    for (size_t i = 0; i < run->species; i++) {
        start += run->initial[i];
        left += run->product[i];
    }
    t->left = left / start;
    t->to_pump = run->organic_to_pump;
    t->time = whole_time(plan, &s->efforts, run->time);
    t->hands_on = hands_on(plan, &s->efforts, run->time);
    t->vented = (double)plan->loads * solvents(run, run->exhaust) + boiled_off(plan->liquid, plan->liquid->vented);
}

/* Errors: DF_E_MEMORY and DF_E_STOPPED alone; what cannot be run here is not possible. */
static df_status try(df_context *ctx, trial *t, const search *s, df_setup *setup) {
    df_plan plan;
    df_run run;
    df_verdict v;
    t->cut = false;
    t->possible = plan_of(&plan, s, t);
    if (!t->possible)
        return DF_OK;
    t->purchase = plan.purchase;
    t->solid = df_frozen_path_at(&plan.liquid->path, plan.liquid->path.solid_volume,
                                 df_trial_loaded(&plan.job, &plan.liquid->path));
    if (df_verdict_afloat(&v, &plan.job, &plan.liquid->path)) {
        t->standing = v.standing;
        t->cause = v.cause;
        t->margin = NAN;
        t->left = 1.0;
        return DF_OK;
    }
    bool lost;
    df_status status = settle_hold(ctx, &t->possible, &lost, &plan, setup, t->brief);
    if (status == DF_OK && lost) {
        t->standing = DF_WETTED;
        t->cause = DF_CAUSE_MARGIN;
        t->cut = true;
    }
    if (status == DF_OK && (lost || !t->possible))
        return DF_OK;
    if (status == DF_OK)
        status = df_trial_fill(ctx, setup, &plan.job, &plan.dryer, &plan.liquid->path, &plan.liquid->deposit,
                               df_trial_loaded(&plan.job, &plan.liquid->path), true);
    setup->terse = true;
    setup->stop_short = t->brief;
    setup->tolerance = 1e-4; /* a trial only has to tell standings apart */
    if (status == DF_OK)
        status = df_run_simulate(ctx, &run, setup);
    if (status == DF_OK) {
        read_run(t, s, &plan, &run, setup);
        t->cost = cost(&s->efforts, t->standing, t->time, t->hands_on, t->vented, t->margin, t->purchase);
        df_run_free(&run);
        return DF_OK;
    }
    t->possible = false;
    t->unsolved = status != DF_E_INPUT;
    return status == DF_E_MEMORY || status == DF_E_STOPPED ? status : DF_OK;
}

static df_status fail(df_context *ctx, df_status status) {
    return df_fail(ctx, status, status == DF_E_STOPPED ? "stopped" : "out of memory");
}

/* ---- all of them ---------------------------------------------------------------------------------------------- */

#define ROOM ((size_t)DF_MOST_ACTIONS + 1)

/* Place of a combination in the index. */
static size_t key_of(const int *action, size_t n) {
    size_t key = 0;
    for (size_t i = 0; i < n; i++)
        key = key * ROOM + (size_t)action[i] + 1;
    return key;
}

/* The trial of a part of a combination: those of its actions whose bit is set; NULL: it was not looked at. */
static const trial *part_of(const search *s, const trial *t, unsigned bits) {
    int action[DF_ROUTE_ACTIONS];
    size_t n = 0;
    for (size_t i = 0; i < t->n; i++)
        if (bits & (1u << i))
            action[n++] = t->action[i];
    int at = s->index[key_of(action, n)];
    return at < 0 ? NULL : &s->trial[at];
}

/* Whether a part does as well: the route would carry an action that it does not need. */
static bool needless(const search *s, const trial *t) {
    for (unsigned bits = 0; bits + 1 < 1u << t->n; bits++) {
        const trial *p = part_of(s, t, bits);
        if (p == NULL || (p->possible && accepts(s, p->standing) && p->standing <= t->standing))
            return true; /* a part that was not looked at has itself a part that is rigid */
    }
    return false;
}

/* What the parts of a combination leave to ask: nothing where one is rigid, since no more can be needed; whether it is rigid
 * where one is accepted already or nothing else is. */
static bool worth_a_trial(const search *s, trial *t) {
    t->brief = !accepts(s, DF_WETTED);
    for (unsigned bits = 0; bits + 1 < 1u << t->n; bits++) {
        const trial *p = part_of(s, t, bits);
        if (p == NULL || (p->possible && p->standing == DF_RIGID))
            return false;
        t->brief = t->brief || (p->possible && accepts(s, p->standing));
    }
    return true;
}

static df_status add(df_context *ctx, search *s, const int *action, size_t n) {
    trial t = {.n = n, .action = {-1, -1, -1}};
    for (size_t i = 0; i < n; i++) {
        t.action[i] = action[i];
        for (size_t j = 0; j < i; j++)
            if (df_action_slot(s->action[action[i]].kind) == df_action_slot(s->action[action[j]].kind))
                return DF_OK;
    }
    if (!s->task->exhaustive && n > 0 && !worth_a_trial(s, &t))
        return DF_OK;
    if (s->trials == s->room) {
        size_t room = s->room == 0 ? 256 : 2 * s->room;
        trial *grown = realloc(s->trial, room * sizeof *grown);
        if (grown == NULL)
            return df_fail(ctx, DF_E_MEMORY, "out of memory");
        s->trial = grown;
        s->room = room;
    }
    s->index[key_of(action, n)] = (int)s->trials;
    s->trial[s->trials++] = t;
    return DF_OK;
}

/* Adds all combinations of n actions. */
static df_status add_level(df_context *ctx, search *s, size_t n) {
    int a[DF_ROUTE_ACTIONS] = {0}, most = (int)s->actions;
    df_status status = DF_OK;
    if (n == 0)
        return add(ctx, s, a, 0);
    for (a[0] = 0; a[0] < most && status == DF_OK; a[0]++) {
        if (n == 1)
            status = add(ctx, s, a, 1);
        for (a[1] = a[0] + 1; n > 1 && a[1] < most && status == DF_OK; a[1]++) {
            if (n == 2)
                status = add(ctx, s, a, 2);
            for (a[2] = a[1] + 1; n > 2 && a[2] < most && status == DF_OK; a[2]++)
                status = add(ctx, s, a, 3);
        }
    }
    return status;
}

/* Runs the trials from one on; with `cut_alone` those that had ended where the margin was lost. */
static df_status run_level(df_context *ctx, search *s, size_t from, bool cut_alone) {
    df_status worst = DF_OK;
    df_tally tally = {.ctx = ctx, .what = "ways tried"};
    for (size_t i = from; i < s->trials; i++)
        tally.of += !cut_alone || s->trial[i].cut;
#pragma omp parallel
    {
        df_context *own = NULL;
        df_setup *setup = malloc(sizeof *setup);
        bool ready = setup != NULL && df_context_branch(&own, ctx) == DF_OK;
#pragma omp for schedule(dynamic, 1)
        for (size_t i = from; i < s->trials; i++) {
            if (cut_alone && !s->trial[i].cut)
                continue;
            df_status status = ready ? try(own, &s->trial[i], s, setup) : DF_E_MEMORY;
            if (status >= 0 && !df_tally_one(&tally))
                status = DF_E_STOPPED;
            if (status < 0) {
#pragma omp critical(df_routes)
                worst = status;
            }
        }
        df_context_destroy(own);
        free(setup);
    }
    return worst < 0 ? fail(ctx, worst) : DF_OK;
}

/* Room for the liquids; the job's own. */
static df_status make_first(df_context *ctx, search *s) {
    s->liquid = calloc(DF_MOST_ACTIONS + 1, sizeof *s->liquid);
    if (s->liquid == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    s->liquids = 1;
    return df_liquid_make(ctx, &s->liquid[0], NULL, s->task->job, &s->efforts, s->water, s->pairs);
}

/* What the job as it is tells about what can help. */
static df_offer offer(const search *s, const df_substance *butanol) {
    const df_job *job = s->task->job;
    const df_frozen_path *path = &s->liquid[0].path;
    const trial *t = &s->trial[0];
    double loaded = df_trial_loaded(job, path), solidus = df_effective_solidus(path, job->trace_liquid);
    return (df_offer){.butanol = butanol,
                      .freezing = !(loaded <= solidus - job->margin),
                      .glass = !t->ran || t->glass < job->margin,
                      .pump = !t->ran || t->standing == DF_UNHELD ||
                              t->to_pump > PUMP_SHARE * s->task->dryer->pump.solvent_limit};
}

static df_status make_liquids(df_context *ctx, search *s) {
    for (size_t i = 0; i < s->actions; i++)
        if (df_action_slot(s->action[i].kind) == 0)
            s->liquid_of[i] = (int)s->liquids++;
    df_status worst = DF_OK;
    df_tally tally = {.ctx = ctx, .what = "liquids", .of = s->liquids};
#pragma omp parallel for schedule(dynamic, 1)
    for (size_t i = 0; i < s->actions; i++) {
        df_context *own = NULL;
        if (s->liquid_of[i] == 0)
            continue;
        df_status made = df_context_branch(&own, ctx);
        if (made == DF_OK)
            made = df_liquid_make(own, &s->liquid[s->liquid_of[i]], &s->action[i], s->task->job, &s->efforts,
                                  s->water, s->pairs);
        df_context_destroy(own);
        if (made >= 0 && !df_tally_one(&tally))
            made = DF_E_STOPPED;
        if (made < 0) {
#pragma omp critical(df_routes)
            worst = made;
        }
    }
    return worst < 0 ? fail(ctx, worst) : DF_OK;
}

/* ---- weighing ------------------------------------------------------------------------------------------------- */

/* Nowhere worse and somewhere better. */
static bool dominates(const search *s, const trial *a, const trial *b) {
    const double enough = s->efforts.margin_enough;
    const double x[] = {a->time, a->hands_on, a->vented, -fmin(a->margin, enough), a->purchase};
    const double y[] = {b->time, b->hands_on, b->vented, -fmin(b->margin, enough), b->purchase};
    bool better = a->standing < b->standing;
    if (a->standing > b->standing)
        return false;
    for (size_t i = 0; i < sizeof x / sizeof x[0]; i++) {
        if (x[i] > y[i])
            return false;
        better = better || x[i] < y[i];
    }
    return better;
}

/* The same kinds of action, in whatever strength. */
static bool alike(const search *s, const trial *a, const trial *b) {
    if (a->n != b->n)
        return false;
    for (size_t i = 0; i < a->n; i++) {
        const df_action *x = &s->action[a->action[i]], *y = &s->action[b->action[i]];
        if (x->kind != y->kind || x->added != y->added || x->dryer != y->dryer || x->coolant != y->coolant ||
            x->means != y->means)
            return false;
    }
    return true;
}

/* Order of two trials by cost; the earlier one where it is equal. */
static int by_cost(const void *a, const void *b) {
    const trial *const *x = a, *const *y = b;
    if ((*x)->cost != (*y)->cost)
        return (*x)->cost < (*y)->cost ? -1 : 1;
    return *x < *y ? -1 : *x > *y;
}

/* Minimal combinations that serve, without the dominated, one of each kind, by cost. Returns how many. `gone`: room for a
 * flag of each trial. */
static size_t weigh(const trial **kept, bool *gone, df_routes *out, const search *s) {
    size_t n = 0, m = 0;
    for (size_t i = 0; i < s->trials; i++) {
        const trial *t = &s->trial[i];
        if (t->possible && accepts(s, t->standing) && !needless(s, t))
            kept[n++] = t;
    }
    out->serving = n;
    qsort(kept, n, sizeof *kept, by_cost);
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < n && !gone[i]; j++)
            gone[i] = dominates(s, kept[j], kept[i]);
    for (size_t i = 0; i < n; i++) {
        bool again = false;
        if (gone[i]) {
            out->dominated++;
            continue;
        }
        for (size_t j = 0; j < m && !again; j++)
            again = alike(s, kept[j], kept[i]);
        if (again)
            out->alike++;
        else
            kept[m++] = kept[i];
    }
    return m;
}

/* Whether a comes nearer to serving than b. */
static bool nearer(const trial *a, const trial *b) {
    if (a->standing != b->standing)
        return a->standing < b->standing;
    if (a->standing == DF_AFLOAT)
        return a->solid > b->solid;
    if (a->standing == DF_UNHELD)
        return a->left < b->left || (a->left == b->left && a->margin > b->margin);
    if (isfinite(a->margin) || isfinite(b->margin))
        return a->margin > b->margin;
    return a->most_liquid < b->most_liquid;
}

/* ---- worked out in full --------------------------------------------------------------------------------------- */

static void add_share(df_route *r, const df_substance *what, double vented, double trapped, double oil,
                      double distilled) {
    size_t i = 0;
    while (i < r->shares && r->share[i].substance != what)
        i++;
    if (i == r->shares)
        r->share[r->shares++] = (df_route_share){.substance = what};
    r->share[i].vented += vented;
    r->share[i].trapped += trapped;
    r->share[i].oil += oil;
    r->share[i].distilled += distilled;
    if (!what->is_water)
        r->vented += vented;
}

/* Of staying under the limit: normal in margin over sigma, the thermodynamics' and the rest's added as squares. */
static void chance(df_route *r, const df_stand *stand, const df_efforts *e) {
    double known = isfinite(stand->margin_sigma) ? stand->margin_sigma : stand->hottest_sigma;
    r->margin_sigma = r->chance = NAN;
    if (!isfinite(r->margin) || r->cause == DF_CAUSE_GLASS)
        return;
    r->margin_sigma = hypot(e->other_sigma, isfinite(known) ? known : 0.0);
    r->chance = 0.5 * erfc(-r->margin / (r->margin_sigma * sqrt(2.0)));
}

static void fill_route(df_route *r, const df_stand *stand, const df_plan *plan, const search *s) {
    const df_run *run = &stand->run;
    const df_liquid *l = plan->liquid;
    const double loads = (double)plan->loads;
    memset(r, 0, sizeof *r);
    memcpy(r->action, plan->action, sizeof r->action);
    r->actions = plan->actions;
    memcpy(r->boiling, l->boiling, sizeof r->boiling);
    r->boilings = l->boilings;
    r->job = plan->job;
    r->dryer = plan->dryer;
    r->loads = plan->loads;
    r->standing = stand->standing;
    r->cause = stand->cause;
    snprintf(r->because, sizeof r->because, "%s", stand->because);
    r->acceptable = stand->acceptable;
    r->best = stand->best;
    r->worst = stand->worst;
    r->buys = plan->buys;
    r->warns = plan->warns | (r->standing == DF_WETTED ? DF_WARN_WETTED : 0);
    r->more_containers = plan->more_containers;
    r->purchase = plan->purchase;
    r->strip_time = l->time;
    r->margin = r->run_time = r->time = NAN;
    r->hands_on = plan->hands_on;
    for (size_t i = 0; i < l->boileds; i++)
        add_share(r, l->boiled[i], l->vented[i], 0.0, 0.0, l->distilled[i]);
    if (stand->simulated) {
        df_verdict v = df_verdict_of_run(run, &stand->setup);
        r->margin = margin_of(run, &v);
        r->run_time = run->time;
        r->time = whole_time(plan, &s->efforts, run->time);
        r->hands_on = hands_on(plan, &s->efforts, run->time);
        for (size_t i = 0; i < run->species; i++)
            add_share(r, run->substance[i], loads * run->exhaust[i], loads * (run->deposit[i] + run->drained[i]),
                      loads * run->oil[i], 0.0);
        if (solvents(run, run->exhaust) > 1e-3)
            r->warns |= DF_WARN_EXHAUST;
    }
    chance(r, stand, &s->efforts);
    r->cost = cost(&s->efforts, r->standing, r->time, r->hands_on, r->vented, r->margin, r->purchase);
}

/* Works trials out in full, in parallel; routes that could not be are left with actions = DF_ACTIONS. */
static df_status work_out(df_context *ctx, df_route *route, df_stand *last, const search *s, const trial *const *kept,
                          size_t n) {
    df_status worst = DF_OK;
    df_tally tally = {.ctx = ctx, .what = "the best in full", .of = n};
#pragma omp parallel for schedule(dynamic, 1)
    for (size_t i = 0; i < n; i++) {
        df_context *own = NULL;
        df_stand *stand = last != NULL ? last : calloc(1, sizeof *stand);
        df_setup *setup = malloc(sizeof *setup);
        df_plan plan;
        bool possible = false, lost;
        df_status status = stand != NULL && setup != NULL ? df_context_branch(&own, ctx) : DF_E_MEMORY;
        route[i].actions = DF_ACTIONS;
        if (status == DF_OK && plan_of(&plan, s, kept[i]))
            status = settle_hold(own, &possible, &lost, &plan, setup, false);
        if (status == DF_OK && possible) {
            status = df_stand_simulate(own, stand, &plan.job, &plan.dryer, s->pairs, NULL);
            if (status >= 0)
                fill_route(&route[i], stand, &plan, s);
            if (status >= 0 && last == NULL)
                df_stand_free(stand);
        }
        if (status >= 0 && !df_tally_one(&tally))
            status = DF_E_STOPPED;
        if (status == DF_E_MEMORY || status == DF_E_STOPPED) {
#pragma omp critical(df_routes)
            worst = status;
        }
        df_context_destroy(own);
        free(setup);
        if (last == NULL)
            free(stand);
    }
    return worst < 0 ? fail(ctx, worst) : DF_OK;
}

static int route_order(const void *a, const void *b) {
    const df_route *x = a, *y = b;
    return x->cost < y->cost ? -1 : x->cost > y->cost;
}

static void what_misses(df_routes *out, const df_stand *stand, const df_route *r) {
    const df_run *run = &stand->run;
    const df_verdict v = stand->simulated ? df_verdict_of_run(run, &stand->setup) : (df_verdict){0};
    double start = 0.0, left = 0.0, solid = 0.0;
    for (size_t i = 0; i < run->species; i++) {
        start += run->initial[i];
        left += run->product[i];
        solid += run->trap_deposit[0][i];
    }
    if (r->standing == DF_AFLOAT) {
        out->miss = DF_MISS_FRAMEWORK;
        out->missing = r->job.least_framework -
                       df_frozen_path_at(&stand->path, stand->path.solid_volume, stand->start_temperature);
    } else if (r->standing == DF_WETTED && r->cause == DF_CAUSE_NEVER_SOLID) {
        out->miss = DF_MISS_LIQUID;
        out->missing = fmax(run->classes[v.worst].most_liquid, stand->path.liquid_mass[0]) - r->job.trace_liquid;
    } else if (r->standing == DF_WETTED) {
        out->miss = DF_MISS_MARGIN;
        out->missing = r->job.margin - r->margin;
    } else if (r->cause == DF_CAUSE_TRAP_FULL) {
        out->miss = DF_MISS_TRAP;
        out->missing = solid - r->dryer.trap[0].capacity;
    } else if (r->cause == DF_CAUSE_PUMP_SOLVENT) {
        out->miss = DF_MISS_OIL;
        out->missing = run->organic_to_pump - r->dryer.pump.solvent_limit;
    } else {
        out->miss = DF_MISS_DRY;
        out->missing = left / start;
    }
}

static df_status find_nearest(df_context *ctx, df_routes *out, search *s) {
    const trial *best = NULL;
    for (size_t i = 0; i < s->trials; i++) /* cut short only where all of it was not asked */
        s->trial[i].brief = false;
    df_status again = run_level(ctx, s, 1, true);
    if (again != DF_OK)
        return again;
    for (size_t i = 0; i < s->trials; i++)
        if (s->trial[i].possible && (best == NULL || nearer(&s->trial[i], best)))
            best = &s->trial[i];
    if (best == NULL)
        return DF_OK;
    df_stand *stand = calloc(1, sizeof *stand);
    out->nearest = calloc(1, sizeof *out->nearest);
    df_status status = stand != NULL && out->nearest != NULL ? work_out(ctx, out->nearest, stand, s, &best, 1)
                                                             : df_fail(ctx, DF_E_MEMORY, "out of memory");
    if (status == DF_OK && out->nearest->actions != DF_ACTIONS)
        what_misses(out, stand, out->nearest);
    else {
        free(out->nearest);
        out->nearest = NULL;
    }
    df_stand_free(stand);
    free(stand);
    return status;
}

static df_status conclude(df_context *ctx, df_routes *out, search *s) {
    size_t most = s->task->most > 0 ? s->task->most : DF_ROUTE_LARGEST;
    const trial **kept = calloc(s->trials + 1, sizeof *kept);
    bool *gone = calloc(s->trials + 1, sizeof *gone);
    if (kept == NULL || gone == NULL) {
        free(kept);
        free(gone);
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    }
    size_t n = weigh(kept, gone, out, s);
    free(gone);
    n = n < most ? n : most;
    out->route = calloc(n + 1, sizeof *out->route);
    df_status status =
        out->route != NULL ? work_out(ctx, out->route, NULL, s, kept, n) : df_fail(ctx, DF_E_MEMORY, "out of memory");
    for (size_t i = 0; i < n && status == DF_OK; i++) {
        if (out->route[i].actions == DF_ACTIONS)
            out->unsolved++;
        else if (out->route[i].acceptable) {
            if (out->count != i)
                out->route[out->count] = out->route[i];
            out->count++;
        }
    }
    free(kept);
    if (status != DF_OK)
        return status;
    qsort(out->route, out->count, sizeof *out->route, route_order);
    return out->count > 0 ? DF_OK : find_nearest(ctx, out, s);
}

df_status df_routes_find(df_context *ctx, df_routes *out, const df_routes_task *task, const df_substances *substances,
                         const df_pairs *pairs) {
    /* Of the work: the job as it is, then with one, two, three actions. */
    static const double stage[] = {0.0, 0.1, 0.2, 0.4}, stage_width[] = {0.02, 0.1, 0.2, 0.4};
    _Static_assert(sizeof stage / sizeof stage[0] == DF_ROUTE_ACTIONS + 1, "a share for each number of actions");
    search s;
    const df_substance *butanol = NULL;
    memset(out, 0, sizeof *out);
    memset(&s, 0, sizeof s);
    s.task = task;
    s.pairs = pairs;
    df_status status = df_trial_fit(ctx, task->job, task->dryer);
    if (status == DF_OK)
        status = df_efforts_read(ctx, &s.efforts);
    if (status == DF_OK)
        status = df_substances_find(ctx, &s.water, substances, "water", NULL);
    if (status == DF_OK)
        status = df_substances_find(ctx, &butanol, substances, "tert-butanol", NULL);
    if (status != DF_OK)
        return status;
    s.index = malloc(ROOM * ROOM * ROOM * sizeof *s.index);
    status = s.index != NULL ? make_first(ctx, &s) : df_fail(ctx, DF_E_MEMORY, "out of memory");
    for (size_t i = 0; i < ROOM * ROOM * ROOM && s.index != NULL; i++)
        s.index[i] = -1;
    for (size_t n = 0; n <= DF_ROUTE_ACTIONS && status == DF_OK; n++) {
        size_t from = s.trials;
        status = add_level(ctx, &s, n);
        df_stretch before = df_context_begin(ctx, stage[n], stage[n] + stage_width[n]);
        if (status == DF_OK)
            status = run_level(ctx, &s, from, false);
        df_context_end(ctx, before);
        if (status == DF_OK && n == 0 && (s.task->exhaustive || s.trial[0].standing != DF_RIGID)) {
            const df_offer offered = offer(&s, butanol);
            s.actions = df_actions_list(s.action, task, &s.efforts, &offered);
            before = df_context_begin(ctx, 0.02, 0.1);
            status = make_liquids(ctx, &s);
            df_context_end(ctx, before);
        }
    }
    if (status == DF_OK && !s.trial[0].possible)
        status = df_fail(ctx, DF_E_CONVERGENCE, "the job as it is could not be simulated");
    if (status == DF_OK) {
        const df_efforts *e = &s.efforts;
        out->weights = (df_route_weights){.hands_on = e->cost_hands_on,
                                          .vented = e->cost_vented,
                                          .margin = e->cost_margin,
                                          .wetted = e->cost_wetted,
                                          .enough = e->margin_enough,
                                          .other_sigma = e->other_sigma};
        out->actions = s.actions;
        out->combinations = s.trials;
        for (size_t i = 0; i < s.trials; i++) {
            out->runs += s.trial[i].ran;
            out->impossible += !s.trial[i].possible && !s.trial[i].unsolved;
            out->unsolved += s.trial[i].unsolved;
        }
        out->as_it_is = s.trial[0].standing;
        out->as_it_is_cause = s.trial[0].cause;
        out->as_it_is_acceptable = accepts(&s, s.trial[0].standing);
        for (size_t i = 1; i < s.liquids; i++)
            if (!s.liquid[i].possible && out->refusals < DF_ROUTE_REFUSALS) {
                out->refusal[out->refusals].action = s.liquid[i].action;
                snprintf(out->refusal[out->refusals++].why, sizeof out->refusal[0].why, "%s", s.liquid[i].why);
            }
        df_stretch before = df_context_begin(ctx, 0.8, 1.0);
        status = conclude(ctx, out, &s);
        df_context_end(ctx, before);
    }
    free(s.liquid);
    free(s.trial);
    free(s.index);
    if (status != DF_OK)
        df_routes_free(out);
    return status;
}

void df_routes_free(df_routes *routes) {
    free(routes->route);
    free(routes->nearest);
    routes->route = routes->nearest = NULL;
    routes->count = 0;
}
