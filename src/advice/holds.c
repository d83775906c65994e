/* A path in a few holds: whole degrees, hundredths of a mbar, half hours, ramps at a practical rate; behind them, where the cake is
 * dried on, a slow ramp to a last hold. Holds are split where that saves time, raised as far as the limits let them, and the whole
 * is moved by single steps until none helps. */
#include "advice/quest.h"

#include <math.h>
#include <string.h>

#define UNIT 1800.0         /* s of a step of time */
#define DEGREE 1.0          /* K */
#define MBAR_STEP 1.0       /* Pa: a hundredth of a mbar */
#define RATE (0.005 / 60.0) /* K/s: a step of the slow ramp, 0.005 K/min */
#define MOST_RATE 40        /* such steps: 0.2 K/min */
#define LOOK 3600.0         /* s that a hold has to stand beyond its end */
#define SPLITS 14           /* times at which a hold is split */
#define MOST_MOVES 400
#define MOST_BACK 12
#define SAVES 60.0 /* s: less is no gain */
#define COLDEST_THETA (-150)
#define THETAS 350 /* °C from there */

/* Times in steps since the start; hold i is reached at reach[i] and left at leave[i] (the last: never, or by a slow ramp of
 * `rate` steps to theta[n]). */
typedef struct plan {
    int n, theta[DF_MOST_HOLDS + 1], reach[DF_MOST_HOLDS], leave[DF_MOST_HOLDS];
    int pressure[2]; /* in steps, of the first hold and of those behind it */
    int rate;        /* 0: no slow ramp */
} plan;

typedef struct workshop {
    df_quest *q;
    double ramp;          /* K/s */
    int coldest, warmest; /* °C */
    bool free_pressure;
    bool slowly;           /* there is secondary drying, for which a slow ramp serves */
    int at[SPLITS], times; /* at which holds may be left */
    int rate_met;          /* that did last: a guess */
} workshop;

typedef struct draft {
    plan plan;
    double cost;
} draft;

static int ramp_steps(const workshop *w, int from, int to) {
    int steps = (int)ceil(fabs((double)(to - from)) * DEGREE / w->ramp / UNIT - 1e-9);
    return steps > 1 ? steps : 1;
}

static bool possible(const workshop *w, const plan *p) {
    for (int i = 0; i < p->n + (p->rate > 0 ? 1 : 0); i++)
        if (p->theta[i] < w->coldest || p->theta[i] > w->warmest)
            return false;
    for (int i = 0; i + 1 < p->n; i++)
        if (p->leave[i] < p->reach[i] + 1 ||
            p->reach[i + 1] - p->leave[i] < ramp_steps(w, p->theta[i], p->theta[i + 1]))
            return false;
    if (p->rate != 0 && (p->rate < 0 || p->rate > MOST_RATE || RATE * p->rate > w->ramp ||
                         p->theta[p->n] <= p->theta[p->n - 1] || p->leave[p->n - 1] < p->reach[p->n - 1] + 1))
        return false;
    return p->pressure[0] >= 0 && p->pressure[1] >= 0;
}

static void put_point(df_recipe *r, double time, int theta, int pressure) {
    r->time[r->n] = time;
    r->shelf_temperature[r->n] = DF_ZERO_CELSIUS + theta;
    r->pressure[r->n++] = MBAR_STEP * pressure;
}

static void write_out(df_recipe *r, const plan *p) {
    r->n = 0;
    for (int i = 0; i < p->n; i++) {
        put_point(r, UNIT * p->reach[i], p->theta[i], p->pressure[i > 0]);
        if (i + 1 < p->n || p->rate > 0)
            put_point(r, UNIT * p->leave[i], p->theta[i], p->pressure[i > 0]);
    }
    if (p->rate > 0)
        put_point(r, UNIT * p->leave[p->n - 1] + (p->theta[p->n] - p->theta[p->n - 1]) / (RATE * p->rate),
                  p->theta[p->n], p->pressure[p->n > 1]);
}

/* What a run of a recipe costs: s until it is dry; past `until` where it is not by then, INFINITY where a limit is not kept: since
 * *lost (INFINITY where all are). */
static df_status run_out(workshop *w, double *cost, double *lost, df_recipe_plan *trial, double until) {
    df_status status = df_quest_plan(w->q, trial, until, DF_QUEST_ROUGH, w->q->guard);
    *cost = status == DF_OK && trial->kept ? trial->dry ? trial->time : 10.0 * until : INFINITY;
    *lost = isfinite(*cost) ? INFINITY : isnan(trial->broken_time) ? 0.0 : trial->broken_time;
    return status;
}

static df_status cost_of(workshop *w, double *cost, const plan *p, double until) {
    df_recipe_plan trial;
    double lost;
    *cost = INFINITY;
    if (!possible(w, p))
        return DF_OK;
    write_out(&trial.recipe, p);
    return run_out(w, cost, &lost, &trial, until);
}

/* Moves what follows a hold so that its ramp is long enough. */
static void mend(const workshop *w, plan *p) {
    for (int i = 0; i + 1 < p->n; i++) {
        int lack = p->leave[i] + ramp_steps(w, p->theta[i], p->theta[i + 1]) - p->reach[i + 1];
        for (int k = i + 1; k < p->n && lack > 0; k++) {
            p->reach[k] += lack;
            p->leave[k] += lack;
        }
    }
}

/* ---- plans of n holds from nothing -------------------------------------------------------------------------------- */

/* What became of hold i at each temperature, behind the same holds, if it was never left. */
typedef struct memory {
    bool known[THETAS];
    double cost[THETAS], lost[THETAS];
} memory;

/* Hold i at theta behind those that p has. */
static plan put_hold(const workshop *w, const plan *p, int i, int theta) {
    plan q = *p;
    q.n = i + 1;
    q.rate = 0;
    q.theta[i] = theta;
    q.reach[i] = i > 0 ? q.leave[i - 1] + ramp_steps(w, q.theta[i - 1], theta) : 0;
    return q;
}

/* Runs it, with a corner at each time at which it may be left so that other runs can go on from there. */
static df_status remember(workshop *w, memory *m, const plan *p, int i, int theta, double until) {
    df_recipe_plan trial;
    int at = theta - COLDEST_THETA;
    if (m->known[at])
        return DF_OK;
    plan q = put_hold(w, p, i, theta);
    write_out(&trial.recipe, &q);
    for (int k = 0; k < w->times; k++)
        if (w->at[k] > q.reach[i])
            put_point(&trial.recipe, UNIT * w->at[k], theta, p->pressure[i > 0]);
    m->known[at] = true;
    return run_out(w, &m->cost[at], &m->lost[at], &trial, until);
}

/* The warmest that hold i can be for `length` (s since the start), from a guess; false where none can. */
static df_status warmest_for(workshop *w, bool *found, int *theta, memory *m, const plan *p, int i, double length,
                             double until) {
    int good = w->coldest - 1, bad = w->warmest + 1, try = *theta;
    for (int step = 2; bad - good > 1; step *= 2) {
        df_status status = remember(w, m, p, i, try, until);
        if (status != DF_OK)
            return status;
        *(m->lost[try - COLDEST_THETA] >= length ? &good : &bad) = try;
        if (bad > w->warmest && good >= w->coldest)
            try = good + step < w->warmest ? good + step : w->warmest;
        else if (good < w->coldest)
            try = bad - step > w->coldest ? bad - step : w->coldest;
        else
            try = good + (bad - good) / 2;
    }
    *found = good >= w->coldest;
    *theta = *found ? good : w->coldest;
    return DF_OK;
}

/* The plan with a slow ramp behind it, as fast as the limits let it be. */
static df_status ramp_last(workshop *w, draft *best, const plan *p) {
    int good = 0, bad = MOST_RATE + 1, try = w->rate_met;
    draft d = {*p, INFINITY};
    d.plan.theta[p->n] = w->warmest;
    if (w->warmest <= p->theta[p->n - 1])
        return DF_OK;
    while (RATE * (bad - 1) > w->ramp)
        bad--;
    for (int step = 1; bad - good > 1; step *= 2) {
        if (try >= bad || try <= good)
            try = good + (bad - good) / 2;
        d.plan.rate = try;
        df_status status = cost_of(w, &d.cost, &d.plan, best->cost);
        if (status != DF_OK)
            return status;
        if (isfinite(d.cost)) {
            good = try;
            if (d.cost < best->cost) /* past it it is ten times that */
                *best = d;
            try += step;
        } else {
            bad = try;
            try -= step;
        }
    }
    if (good > 0)
        w->rate_met = good;
    return DF_OK;
}

/* Holds from the i-th on, of n, behind those that p has: each as warm as its own time lets it be, the last as the rest of the run
 * does, or left by a slow ramp. */
static df_status build(workshop *w, draft *best, const plan *p, int i, int n) {
    memory m = {0};
    bool found = true;
    int theta = i > 0 ? p->theta[i - 1] : (w->coldest + w->warmest) / 2;
    df_status status = DF_OK;
    if (i + 1 == n) {
        status = warmest_for(w, &found, &theta, &m, p, i, INFINITY, best->cost);
        double cost = found ? m.cost[theta - COLDEST_THETA] : INFINITY;
        if (status == DF_OK && cost < best->cost) /* past it it is ten times that */
            *best = (draft){put_hold(w, p, i, theta), cost};
    }
    for (int k = 0; k < w->times && (i + 1 < n || w->slowly) && status == DF_OK; k++) {
        double length = UNIT * w->at[k] + LOOK;
        if (w->at[k] < (i > 0 ? p->leave[i - 1] + 2 : 1) || length > best->cost)
            continue;
        status = warmest_for(w, &found, &theta, &m, p, i, length, best->cost);
        if (status != DF_OK || !found)
            continue;
        plan q = put_hold(w, p, i, theta);
        q.leave[i] = w->at[k] > q.reach[i] ? w->at[k] : q.reach[i] + 1;
        status = i + 1 < n ? build(w, best, &q, i + 1, n) : ramp_last(w, best, &q);
    }
    return status;
}

/* A workshop like another, with a quest of its own. */
static df_status open_like(workshop *w, df_quest *q, const workshop *other) {
    const df_quest *theirs = other->q;
    df_status status = df_quest_open(q, theirs->ground);
    *w = *other;
    w->q = q;
    q->coldest = theirs->coldest;
    q->warmest = theirs->warmest;
    q->ramp = theirs->ramp;
    q->choke = theirs->choke;
    q->wetted = theirs->wetted;
    q->early = theirs->early;
    return status;
}

/* The first hold: for as long as it takes, and for each time at which it may be left. first[k].n 0: none can be. */
static df_status begin(workshop *w, draft *single, plan first[SPLITS], const int pressure[2]) {
    memory m = {0};
    plan empty = {.pressure = {pressure[0], pressure[1]}};
    bool found;
    int theta = (w->coldest + w->warmest) / 2;
    double limit = w->q->ground->job->time_limit;
    df_status status = warmest_for(w, &found, &theta, &m, &empty, 0, INFINITY, limit);
    *single = (draft){put_hold(w, &empty, 0, theta), found ? m.cost[theta - COLDEST_THETA] : INFINITY};
    theta = w->warmest;
    for (int k = 0; k < w->times && status == DF_OK; k++) {
        status = warmest_for(w, &found, &theta, &m, &empty, 0, UNIT * w->at[k] + LOOK, limit);
        first[k] = put_hold(w, &empty, 0, theta);
        first[k].leave[0] = w->at[k];
        first[k].n = found ? 1 : 0;
    }
    return status;
}

/* Plans of n holds, each time at which the first is left by itself, side by side. */
static df_status build_all(workshop *w, draft *best, int n, const plan first[SPLITS]) {
    draft list[SPLITS];
    df_status failed[SPLITS];
#pragma omp parallel for schedule(dynamic, 1)
    for (int k = 0; k < w->times; k++) {
        df_quest q;
        workshop mine;
        list[k].cost = best->cost;
        failed[k] = open_like(&mine, &q, w);
        if (failed[k] == DF_OK && first[k].n > 0)
            failed[k] = n > 1       ? build(&mine, &list[k], &first[k], 1, n)
                        : w->slowly ? ramp_last(&mine, &list[k], &first[k])
                                    : DF_OK;
#pragma omp atomic
        w->q->runs += q.runs;
        df_quest_close(&q);
    }
    for (int k = 0; k < w->times; k++) {
        if (failed[k] < 0)
            return df_fail(w->q->ctx, failed[k], "a recipe in holds could not be run");
        if (list[k].cost < best->cost)
            *best = list[k];
    }
    return DF_OK;
}

/* ---- the best of them moved ------------------------------------------------------------------------------------- */

/* One step of a plan; false where it is none. `far`: the longer one. */
static bool move(plan *q, const workshop *w, int what, int i, bool far) {
    int d = (what % 2 == 0 ? 1 : -1) * (far ? 5 : 1), last = q->n - 1;
    bool slow = q->rate > 0;
    switch (what / 2) {
    case 0: /* warmer or colder */
        q->theta[i] += d;
        return true;
    case 1: /* this hold longer or shorter, what follows with it */
    case 4: /* the same and colder or warmer */
        for (int k = i; k < q->n; k++) {
            q->leave[k] += d;
            q->reach[k] += k > i ? d : 0;
        }
        if (what / 2 == 4)
            q->theta[i] += d > 0 ? -1 : 1;
        return i < last || slow;
    case 2: /* its end alone */
        q->leave[i] += d;
        return i < last || slow;
    case 3: /* its beginning alone */
        q->reach[i] += d;
        return i > 0;
    case 5: /* colder here, warmer behind; or the other way */
        q->theta[i] -= what % 2 == 0 ? 1 : -1;
        q->theta[i < last ? i + 1 : i] += what % 2 == 0 ? 1 : -1;
        return !far && i < last;
    case 6: { /* pressure, of all; of the first hold and of the others by itself where they differ */
        bool two = q->pressure[0] != q->pressure[1];
        if (!w->free_pressure || far || i > (two ? 1 : 0) || q->pressure[i] == 0)
            return false;
        q->pressure[i] += d;
        if (!two)
            q->pressure[1] = q->pressure[0];
        return q->pressure[i] > 0;
    }
    case 7: /* the slow ramp faster or slower */
        q->rate += far ? d / 2 : d;
        return slow && i == 0 && q->rate > 0;
    case 8: /* its end warmer or colder */
        q->theta[q->n] += d;
        return slow && i == 0;
    default: /* it begins later and goes faster, or the other way */
        q->rate += what % 2 == 0 ? 1 : -1;
        q->leave[last] += far ? 2 * d / 5 : d;
        return slow && i == 0 && q->rate > 0;
    }
}

/* Single steps as long as one helps. */
static df_status polish(workshop *w, plan *p, double *cost) {
    int moves = 0;
    for (bool better = true; better && moves < MOST_MOVES;) {
        better = false;
        for (int i = 0; i < p->n; i++)
            for (int what = 0; what < 2 * 10 && moves < MOST_MOVES; what++)
                for (int far = 0; far < 2; far++) {
                    plan q = *p;
                    double c;
                    if (!move(&q, w, what, i, far == 1))
                        continue;
                    mend(w, &q);
                    moves++;
                    df_status status = cost_of(w, &c, &q, *cost);
                    if (status != DF_OK)
                        return status;
                    if (c < *cost - SAVES) {
                        *cost = c;
                        *p = q;
                        better = true;
                    }
                }
    }
    return DF_OK;
}

/* The finer run may be less kind: what breaks a limit then is taken back by a step, a few times. */
static df_status finish(workshop *w, df_recipe_plan *out, plan *p) {
    for (int i = 0; i < MOST_BACK; i++) {
        write_out(&out->recipe, p);
        out->slow = p->rate > 0 ? RATE * p->rate : 0.0;
        df_status status = df_quest_plan(w->q, out, w->q->ground->job->time_limit, 0.0, 0.0);
        if (status != DF_OK || out->kept || isnan(out->broken_time))
            return status;
        if (p->rate > 1 && out->broken_time > UNIT * p->leave[p->n - 1]) {
            p->rate--;
            continue;
        }
        int at = 0;
        while (at + 1 < p->n && out->broken_time > UNIT * p->leave[at])
            at++;
        if (p->theta[at] <= w->coldest)
            return DF_OK;
        p->theta[at]--;
        mend(w, p);
    }
    return DF_OK;
}

/* Times at which holds may be left: shares of the path's primary drying, which holds make longer, and of what follows. */
static int split_times(int *at, const df_recipe_plan *path) {
    int n = 0;
    double end = path->dry ? path->time : path->recipe.time[path->recipe.n - 1];
    double wish[SPLITS], primary = isnan(path->primary_time) ? end : path->primary_time;
    static const double parts[] = {0.06, 0.12, 0.22, 0.35, 0.5, 0.7, 0.9, 1.0, 1.2, 1.4};
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        wish[n++] = parts[i] * primary;
    for (int i = 1; i <= 3; i++)
        if (end > 1.05 * primary)
            wish[n++] = 1.4 * primary + (end - primary) * 0.25 * i;
    int m = 0;
    for (int i = 0; i < n; i++) {
        int t = (int)round(wish[i] / UNIT);
        if (t >= 1 && (m == 0 || t > at[m - 1]))
            at[m++] = t;
    }
    return m;
}

df_status df_quest_holds(df_quest *q, df_recipe_plan hold[DF_MOST_HOLDS], const df_recipe_plan *path, double ramp,
                         bool free_pressure) {
    workshop w = {.q = q,
                  .ramp = ramp,
                  .coldest = (int)ceil(q->coldest - DF_ZERO_CELSIUS - 1e-6),
                  .warmest = (int)floor(q->warmest - DF_ZERO_CELSIUS + 1e-6),
                  .free_pressure = free_pressure,
                  .slowly = path->time > 1.05 * path->primary_time,
                  .rate_met = MOST_RATE / 4};
    const double asked[2] = {path->recipe.pressure[0], path->recipe.pressure[path->recipe.n - 1]};
    int pressure[2];
    draft best[DF_MOST_HOLDS] = {0}; /* of none that is found plan.n stays 0 */
    plan first[SPLITS];
    df_status failed[DF_MOST_HOLDS];
    w.times = split_times(w.at, path);
    for (int i = 0; i < 2; i++)
        pressure[i] = asked[i] > 0.0 ? (int)fmax(round(asked[i] / MBAR_STEP), 1.0) : 0;
    df_recipe_plan cold = {.recipe = {.n = 1, .shelf_temperature = {q->coldest}, .pressure = {asked[0]}}};
    df_status status = df_quest_plan(q, &cold, q->ground->job->time_limit, DF_QUEST_ROUGH, q->guard);
    if (status == DF_OK && !cold.kept)
        q->early = 0.0;
    if (status == DF_OK)
        status = begin(&w, &best[0], first, pressure);
    for (int n = 1; n <= DF_MOST_HOLDS && status == DF_OK; n++) {
        if (n > 1)
            best[n - 1].cost = q->ground->job->time_limit;
        status = build_all(&w, &best[n - 1], n, first);
    }
    if (status != DF_OK)
        return status;
#pragma omp parallel for schedule(dynamic, 1)
    for (int n = DF_MOST_HOLDS; n >= 1; n--) {
        df_recipe_plan *out = &hold[n - 1];
        draft *b = &best[n - 1];
        df_quest own;
        workshop mine;
        memset(out, 0, sizeof *out);
        out->time = out->primary_time = out->broken_time = NAN;
        failed[n - 1] = open_like(&mine, &own, &w);
        bool any = failed[n - 1] == DF_OK && isfinite(b->cost) && b->plan.n == n;
        if (any)
            failed[n - 1] = polish(&mine, &b->plan, &b->cost);
        if (any && failed[n - 1] == DF_OK)
            failed[n - 1] = finish(&mine, out, &b->plan);
#pragma omp atomic
        q->runs += own.runs;
        df_quest_close(&own);
    }
    for (int n = 0; n < DF_MOST_HOLDS; n++)
        if (failed[n] < 0)
            return df_fail(q->ctx, failed[n], "a recipe in holds could not be run");
    return DF_OK;
}
