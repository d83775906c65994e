/* A path in a few holds: whole degrees, hundredths of a mbar, half hours, ramps at a practical rate. Holds are split where that
 * saves time, raised as far as the limits let them, and the whole is moved by single steps until none helps. */
#include "advice/quest.h"

#include <math.h>
#include <string.h>

#define UNIT 1800.0   /* s of a step of time */
#define DEGREE 1.0    /* K */
#define MBAR_STEP 1.0 /* Pa: a hundredth of a mbar */
#define LOOK 3600.0   /* s that a hold has to stand beyond its end */
#define SPLITS 12     /* times at which a hold is split */
#define MOST_MOVES 400
#define SAVES 60.0 /* s: less is no gain */

/* Times in steps since the start; hold i is reached at reach[i] and left at leave[i] (the last: never). */
typedef struct plan {
    int n, theta[DF_MOST_HOLDS], reach[DF_MOST_HOLDS], leave[DF_MOST_HOLDS], pressure;
} plan;

typedef struct workshop {
    df_quest *q;
    double ramp;          /* K/s */
    int coldest, warmest; /* °C */
    bool free_pressure;
    double until; /* s, at which trials end */
    bool slowly;  /* there is secondary drying, for which slow ramps serve */
} workshop;

static int ramp_steps(const workshop *w, int from, int to) {
    int steps = (int)ceil(fabs((double)(to - from)) * DEGREE / w->ramp / UNIT - 1e-9);
    return steps > 1 ? steps : 1;
}

static bool possible(const workshop *w, const plan *p) {
    for (int i = 0; i < p->n; i++) {
        if (p->theta[i] < w->coldest || p->theta[i] > w->warmest)
            return false;
        if (i + 1 < p->n && (p->leave[i] < p->reach[i] + 1 ||
                             p->reach[i + 1] - p->leave[i] < ramp_steps(w, p->theta[i], p->theta[i + 1])))
            return false;
    }
    return p->pressure >= 0;
}

static void write_out(df_recipe *r, const plan *p) {
    r->n = 0;
    for (int i = 0; i < p->n; i++)
        for (int end = 0; end < (i + 1 < p->n ? 2 : 1); end++) {
            r->time[r->n] = UNIT * (end == 0 ? p->reach[i] : p->leave[i]);
            r->shelf_temperature[r->n] = DF_ZERO_CELSIUS + p->theta[i];
            r->pressure[r->n++] = MBAR_STEP * p->pressure;
        }
}

/* s of the run; past the time limit where it is not dry by then, INFINITY where a limit is not kept. */
static df_status cost_of(workshop *w, double *cost, const plan *p) {
    df_recipe_plan trial;
    *cost = INFINITY;
    if (!possible(w, p))
        return DF_OK;
    write_out(&trial.recipe, p);
    df_status status = df_quest_plan(w->q, &trial, w->until, DF_QUEST_ROUGH, w->q->guard);
    if (status == DF_OK && trial.kept)
        *cost = trial.dry ? trial.time : 10.0 * w->until;
    return status;
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

typedef struct draft {
    plan plan;
    double cost;
} draft;

/* Hold i at theta, reached at least `slow` steps after the one before is left. */
static plan put_last(const workshop *w, const plan *p, int i, int theta, int slow) {
    plan q = *p;
    q.n = i + 1;
    q.theta[i] = theta;
    if (i > 0) {
        int ramp = ramp_steps(w, q.theta[i - 1], theta);
        q.reach[i] = q.leave[i - 1] + (slow > ramp ? slow : ramp);
    } else
        q.reach[i] = 0;
    return q;
}

/* The warmest that hold i, the last, can be until w->until; the best cost met. *cost INFINITY where none can. */
static df_status warm_last(workshop *w, draft *out, const plan *p, int i, int slow) {
    int good = w->coldest - 1, bad = w->warmest + 1, theta = i > 0 ? p->theta[i - 1] : (w->coldest + w->warmest) / 2;
    out->cost = INFINITY;
    for (int step = 4; bad - good > 1; step *= 2) {
        plan q = put_last(w, p, i, theta, slow);
        double cost;
        df_status status = cost_of(w, &cost, &q);
        if (status != DF_OK)
            return status;
        if (isfinite(cost)) {
            good = theta;
            if (cost <= out->cost)
                *out = (draft){q, cost};
        } else
            bad = theta;
        if (bad > w->warmest && good >= w->coldest)
            theta = good + step < w->warmest ? good + step : w->warmest;
        else if (good < w->coldest)
            theta = bad - step > w->coldest ? bad - step : w->coldest;
        else
            theta = good + (bad - good) / 2;
    }
    return DF_OK;
}

/* Holds from the i-th on, of n, behind those that p has (`only`: the i-th is left at at[only], -1: at any): each as warm as its
 * own time lets it be, the last as the rest of the run does. */
static df_status build(workshop *w, draft *best, const plan *p, int i, int n, const int *at, int times, int only) {
    static const int slow[] = {1, 4, 12, 24, 48};
    size_t ramps = i == 0 ? 1 : w->slowly ? sizeof slow / sizeof slow[0] : 2;
    double job = w->q->ground->job->time_limit;
    df_status status = DF_OK;
    for (size_t s = 0; s < ramps && i + 1 == n && status == DF_OK; s++) {
        draft d;
        w->until = fmin(job, best->cost);
        status = warm_last(w, &d, p, i, slow[s]);
        w->until = job;
        if (status == DF_OK && d.cost < best->cost) /* past `until` it is ten times that */
            *best = d;
    }
    for (int k = only < 0 ? 0 : only; k < (only < 0 ? times : only + 1) && i + 1 < n && status == DF_OK; k++) {
        draft d;
        if (at[k] < (i > 0 ? p->leave[i - 1] + 2 : 1))
            continue;
        w->until = fmin(UNIT * at[k] + LOOK, job);
        status = warm_last(w, &d, p, i, 1);
        w->until = job;
        if (status != DF_OK || !isfinite(d.cost))
            continue;
        d.plan.leave[i] = at[k] > d.plan.reach[i] ? at[k] : d.plan.reach[i] + 1;
        status = build(w, best, &d.plan, i + 1, n, at, times, -1);
    }
    return status;
}

/* The same for each first time by itself, side by side. */
static df_status build_all(workshop *w, draft *best, int n, int pressure, const int *at, int times) {
    draft list[SPLITS];
    df_status failed[SPLITS];
    int starts = n == 1 ? 1 : times;
    const df_ground *ground = w->q->ground;
#pragma omp parallel for schedule(dynamic, 1)
    for (int k = 0; k < starts; k++) {
        df_quest q;
        plan empty = {.pressure = pressure};
        list[k].cost = INFINITY;
        failed[k] = df_quest_open(&q, ground);
        if (failed[k] == DF_OK) {
            workshop mine = *w;
            q.coldest = w->q->coldest;
            q.warmest = w->q->warmest;
            q.ramp = w->q->ramp;
            q.choke = w->q->choke;
            q.wetted = w->q->wetted;
            q.early = w->q->early;
            mine.q = &q;
            failed[k] = build(&mine, &list[k], &empty, 0, n, at, times, n == 1 ? -1 : k);
        }
#pragma omp atomic
        w->q->runs += q.runs;
        df_quest_close(&q);
    }
    best->cost = INFINITY;
    for (int k = 0; k < starts; k++) {
        if (failed[k] < 0)
            return df_fail(w->q->ctx, failed[k], "a recipe in holds could not be run");
        if (list[k].cost < best->cost)
            *best = list[k];
    }
    return DF_OK;
}

/* Single steps, and pairs of them, as long as one helps. */
static df_status polish(workshop *w, plan *p, double *cost) {
    static const int hours[] = {1, 5};
    int moves = 0;
    for (bool better = true; better && moves < MOST_MOVES;) {
        better = false;
        for (int i = 0; i < p->n; i++)
            for (int what = 0; what < 14 && moves < MOST_MOVES; what++)
                for (size_t h = 0; h < (what < 2 ? 1u : sizeof hours / sizeof hours[0]); h++) {
                    plan q = *p;
                    double c;
                    int d = what % 2 == 0 ? hours[h] : -hours[h];
                    switch (what / 2) {
                    case 0: /* warmer or colder */
                        q.theta[i] += d;
                        break;
                    case 1: /* this hold longer or shorter, what follows with it */
                        for (int k = i; k < q.n; k++) {
                            q.leave[k] += d;
                            q.reach[k] += k > i ? d : 0;
                        }
                        break;
                    case 2: /* its end alone */
                        q.leave[i] += d;
                        break;
                    case 3: /* its beginning alone */
                        q.reach[i] += i > 0 ? d : 0;
                        break;
                    case 4: /* shorter and warmer, or longer and colder */
                        q.theta[i] += d > 0 ? -1 : 1;
                        for (int k = i; k < q.n; k++) {
                            q.leave[k] += d;
                            q.reach[k] += k > i ? d : 0;
                        }
                        break;
                    case 5: /* colder here, warmer behind; or the other way */
                        q.theta[i] -= what % 2 == 0 ? 1 : -1;
                        q.theta[i + 1 < q.n ? i + 1 : i] += what % 2 == 0 ? 1 : -1;
                        if (h > 0 || i + 1 == q.n)
                            continue;
                        break;
                    default: /* pressure */
                        if (!w->free_pressure || h > 0 || i > 0 || q.pressure == 0)
                            continue;
                        q.pressure += what % 2 == 0 ? 1 : -1;
                        if (q.pressure == 0)
                            continue;
                    }
                    mend(w, &q);
                    if (memcmp(&q, p, sizeof q) == 0)
                        continue;
                    moves++;
                    w->until = fmin(*cost, w->q->ground->job->time_limit);
                    df_status status = cost_of(w, &c, &q);
                    w->until = w->q->ground->job->time_limit;
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

/* Where the path changes its ways, and some times between. */
static int split_times(int *at, const df_recipe_plan *path) {
    int n = 0;
    double end = path->dry ? path->time : path->recipe.time[path->recipe.n - 1];
    double wish[SPLITS], primary = isnan(path->primary_time) ? end : path->primary_time;
    static const double parts[] = {0.06, 0.12, 0.22, 0.35, 0.5, 0.7, 0.9, 1.0};
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        wish[n++] = parts[i] * primary;
    for (int i = 1; i <= 3; i++)
        if (end > 1.05 * primary)
            wish[n++] = primary + (end - primary) * 0.25 * i;
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
                  .until = q->ground->job->time_limit,
                  .slowly = path->time > 1.05 * path->primary_time};
    double asked = path->recipe.pressure[0];
    int pressure = (int)round(asked / MBAR_STEP), at[SPLITS], times = split_times(at, path);
    if (asked > 0.0 && pressure == 0)
        pressure = 1;
    df_recipe_plan cold = {.recipe = {.n = 1, .shelf_temperature = {q->coldest}, .pressure = {asked}}};
    df_status status = df_quest_plan(q, &cold, q->ground->job->time_limit, DF_QUEST_ROUGH, q->guard);
    if (status == DF_OK && !cold.kept)
        q->early = 0.0;
    for (int n = 1; n <= DF_MOST_HOLDS && status == DF_OK; n++) {
        df_recipe_plan *out = &hold[n - 1];
        draft best;
        memset(out, 0, sizeof *out);
        out->time = out->primary_time = NAN;
        status = build_all(&w, &best, n, pressure, at, times);
        if (status == DF_OK && isfinite(best.cost))
            status = polish(&w, &best.plan, &best.cost);
        if (status == DF_OK && isfinite(best.cost)) {
            bool kept = false;
            for (int colder = 0; colder < 3 && !kept && status == DF_OK;
                 colder++) { /* the finer run may be less kind */
                for (int i = 0; i < best.plan.n && colder > 0; i++)
                    best.plan.theta[i] -= best.plan.theta[i] > w.coldest ? 1 : 0;
                write_out(&out->recipe, &best.plan);
                status = df_quest_plan(q, out, q->ground->job->time_limit, 0.0, 0.0);
                kept = out->kept;
            }
        }
    }
    return status;
}
