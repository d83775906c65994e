/* The fastest path of the shelf at one pressure: set point after set point as warm as the limits let it be for a while. On the
 * quasi-steady model what dries faster is never behind later, so that the optimum rides a limit throughout. docs/recipe.md. */
#include "advice/quest.h"

#include <math.h>
#include <string.h>

#define FIRST_LOOK                                                                                                   \
    10800.0 /* s after the start until which the first set points have to stand: while a container warms, its
                            * wall is hotter than the quasi-steady model says */
#define LEAST_LOOK 1800.0 /* s that any other has: a few times the lag of a container */
#define AHEAD 0.3         /* and this share of the step to it */
#define CLOSE 0.03        /* K to which a set point is found */
#define SLOPE 0.7         /* K of slack lost for a K of the shelf, as a first guess */
#define GOES_ON 1.0       /* K, at most, by which a rise goes on in a trial */
#define JUMP 2.0          /* K: a larger step is taken as fast as the ramp lets it */
#define LEAST_JUMP 300.0  /* s */
#define LEAST_STEP 1200.0 /* s between set points, */
#define GROWTH 0.15       /* and share of the time since what rules changed */
#define FINEST 0.03       /* of the time gone: no set points closer than this */
#define NEAR_END 60.0     /* s */
#define MOST_TRIES 16     /* runs for one set point */
#define MOST_RETREATS 40

typedef struct march {
    df_quest *q;
    df_recipe *r;                 /* set points so far */
    double look;                  /* s */
    df_run run;                   /* of the best trial of the set point at hand */
    bool held;                    /* run holds something */
    bool glass;                   /* the dried cake's rules */
    df_slack worst;               /* of the trials that broke a limit */
    double cap, cap_from, cap_to; /* K, s: a retreat */
} march;

static void let_go(march *m) {
    if (m->held)
        df_run_free(&m->run);
    m->held = false;
}

/* Slack with the last set point at u. Along a glass that rises the shelf goes on from there for a little as it rose before: what it
 * can keep to, and no peak that only the lag of the product allows. The run is kept where it stays within the limits. */
static df_status try_at(march *m, df_slack *slack, double u) {
    df_recipe *r = m->r;
    size_t j = r->n - 1;
    df_run run;
    double from = j == 0 ? -INFINITY : r->time[j - 1], until = r->time[j] + m->look;
    r->shelf_temperature[j] = u;
    if (m->glass) {
        double slope = (u - r->shelf_temperature[j - 1]) / (r->time[j] - from);
        r->time[r->n] = until;
        r->shelf_temperature[r->n] = fmin(u + fmin(fmax(slope * m->look, 0.0), GOES_ON), fmax(m->q->warmest, u));
        r->pressure[r->n++] = r->pressure[j];
    }
    df_status status = df_quest_run(m->q, &run, r, from, until, DF_QUEST_ROUGH, false);
    r->n = j + 1;
    if (status != DF_OK)
        return status;
    bool sound = m->q->watch.sound;
    *slack = sound ? m->q->watch.slack : (df_slack){-1.0, DF_BOUND_PRODUCT, r->time[j]};
    if (slack->kelvin < 0.0) {
        m->worst = *slack;
        if (sound)
            df_run_free(&run);
        return DF_OK;
    }
    let_go(m);
    m->run = run;
    m->held = true;
    return DF_OK;
}

/* The warmest within [low, high] for the last set point; *found false where even `low` breaks a limit. `bound` is what rules
 * where it is colder than `high`. */
static df_status settle(march *m, bool *found, df_bound *bound, double low, double high, double guess) {
    double good = NAN, bad = NAN, step = 3.0 * CLOSE, u = fmin(fmax(guess, low), high);
    size_t j = m->r->n - 1;
    double since = j == 0 ? -INFINITY : m->r->time[j - 1] + 0.5 * (m->r->time[j] - m->r->time[j - 1]);
    df_slack kept = {0.0, DF_BOUND_NONE, NAN}, broken = kept, s;
    let_go(m);
    for (int i = 0; i < MOST_TRIES; i++) {
        df_status status = try_at(m, &s, u);
        if (status != DF_OK)
            return status;
        if (s.kelvin >= 0.0) {
            good = u;
            kept = s;
        } else {
            bad = u;
            broken = s;
        }
        bool early = s.time < since; /* what was there before cannot tell how warm it may be now */
        if (good >= high || bad <= low || (good == u && s.kelvin < CLOSE && !early) || bad - good < CLOSE)
            break;
        double slope = isnan(good) || isnan(bad) || kept.bound != broken.bound
                           ? SLOPE
                           : fmin(fmax((kept.kelvin - broken.kelvin) / (bad - good), 0.1), 2.0);
        if (isnan(bad)) { /* upwards */
            u = fmin(good + fmax(1.1 * kept.kelvin / slope, step), high);
            step *= 3.0;
        } else if (isnan(good)) { /* downwards */
            u = fmax(bad - fmax(1.1 * -broken.kelvin / slope, step), low);
            step *= 3.0;
        } else if (i % 3 == 2)
            u = 0.5 * (good + bad);
        else
            u = fmin(fmax(good + (kept.kelvin - 0.5 * CLOSE) / slope, good + 0.1 * (bad - good)),
                     bad - 0.1 * (bad - good));
    }
    *found = !isnan(good);
    if (!*found)
        return DF_OK;
    m->r->shelf_temperature[m->r->n - 1] = good;
    *bound = good >= high ? DF_BOUND_NONE : isnan(bad) ? kept.bound : broken.bound;
    return DF_OK;
}

/* The first thing that changes what rules, between the last set point but one and the last: a class whose solvent or framework
 * has gone. NAN where there is none. */
static double change_within(const march *m, double from, double to) {
    double first = NAN;
    for (size_t k = 0; k < m->run.class_count; k++) {
        const df_class_run *c = &m->run.classes[k];
        const double times[] = {c->solvent_time, c->species_time[m->q->ground->framework], c->time_dry};
        for (size_t i = 0; i < sizeof times / sizeof times[0]; i++)
            if (times[i] > from + NEAR_END && times[i] < to - NEAR_END && !(times[i] >= first))
                first = times[i];
    }
    return first;
}

/* Whether no class has solvent left that counts. */
static bool solvent_gone(const march *m, double time) {
    bool gone = m->held;
    for (size_t k = 0; gone && k < m->run.class_count; k++)
        gone = m->run.classes[k].solvent_time <= time;
    return gone;
}

static double cap_at(const march *m, double time) {
    return time >= m->cap_from && time <= m->cap_to ? m->cap : INFINITY;
}

/* Set points are given at whole minutes: the next one after `time`. */
static double whole_minute(double time) {
    return ceil(time / 60.0 - 1e-6) * 60.0;
}

/* The set point at `time`, behind those there are. */
static df_status next_point(march *m, bool *found, df_bound *bound, double time, double pressure) {
    df_recipe *r = m->r;
    size_t j = r->n++;
    const df_quest *q = m->q;
    double before = r->shelf_temperature[j - 1], reach = q->ramp * (time - r->time[j - 1]);
    double low = fmax(q->coldest, before - reach), cap = fmin(q->warmest, cap_at(m, time));
    double high = fmax(fmin(cap, before + reach), low);
    double slope = j >= 2 ? (before - r->shelf_temperature[j - 2]) / (r->time[j - 1] - r->time[j - 2]) : 0.0;
    r->time[j] = time;
    r->pressure[j] = pressure;
    double guess = before + (fabs(slope) * (time - r->time[j - 1]) < JUMP ? slope * (time - r->time[j - 1]) : 0.0);
    df_status status = settle(m, found, bound, low, high, guess);
    if (status == DF_OK && *found && *bound == DF_BOUND_NONE)
        *bound = before + reach < cap ? DF_BOUND_RAMP : DF_BOUND_SHELF;
    return status;
}

/* Goes back and holds the shelf lower for a while before where no set point was found. False where that was done often enough. */
static bool retreat(march *m, int *retreats, int *deeper, double time) {
    df_recipe *r = m->r;
    double warmest = 0.0, from = fmax(time - m->look * pow(2.0, (double)*deeper), 0.0);
    if (++*retreats > MOST_RETREATS)
        return false;
    r->n--; /* the one that was not found */
    for (size_t i = 0; i < r->n; i++)
        if (r->time[i] >= from || i + 1 == r->n)
            warmest = fmax(warmest, r->shelf_temperature[i]);
    if (warmest <= m->q->coldest)
        return false;
    m->cap = fmax(warmest - 0.5 * (1.0 + *deeper), m->q->coldest);
    m->cap_from = from;
    m->cap_to = time;
    ++*deeper;
    while (r->n > 0 && r->time[r->n - 1] >= from)
        r->n--;
    return true;
}

static df_status first_point(march *m, bool *found, df_bound *bound, double pressure) {
    m->r->n = 1;
    m->r->time[0] = 0.0;
    m->r->pressure[0] = pressure;
    m->look = FIRST_LOOK;
    return settle(m, found, bound, m->q->coldest, fmin(m->q->warmest, fmax(cap_at(m, 0.0), m->q->coldest)),
                  m->q->coldest + 10.0);
}

/* The coldest that can be: what it breaks no other keeps. Sets how far choke counts. */
static df_status probe(df_quest *q, bool *possible, df_slack *worst, double pressure) {
    df_recipe cold = {.n = 1};
    df_run run;
    cold.shelf_temperature[0] = q->coldest;
    cold.pressure[0] = pressure;
    *possible = false;
    q->choke = INFINITY; /* how far it counts is yet to be seen */
    df_status status = df_quest_run(q, &run, &cold, -INFINITY, q->ground->job->time_limit, DF_QUEST_ROUGH, false);
    if (status != DF_OK || !q->watch.sound)
        return status;
    q->choke = fmax(DF_HOLD_CHOKE, run.highest_choke + 0.02);
    *worst = q->watch.slack;
    df_run_free(&run);
    if (worst->kelvin < 0.0) { /* is there room without what trials keep in the first hour? */
        q->early = 0.0;
        status = df_quest_run(q, &run, &cold, -INFINITY, q->ground->job->time_limit, DF_QUEST_ROUGH, false);
        if (status != DF_OK || !q->watch.sound)
            return status;
        *worst = q->watch.slack;
        df_run_free(&run);
    }
    *possible = worst->kelvin >= 0.0;
    return DF_OK;
}

/* Set points as one would enter them: hundredths of a degree Celsius, down, and no faster than the ramp. */
static void round_down(const df_quest *q, df_recipe *r) {
    for (size_t k = 0; k < r->n; k++) {
        double t = r->shelf_temperature[k], low = q->coldest;
        if (k > 0) {
            double before = r->shelf_temperature[k - 1], reach = q->ramp * (r->time[k] - r->time[k - 1]);
            t = fmin(t, before + reach);
            low = fmax(low, before - reach);
        }
        r->shelf_temperature[k] = fmax(floor((t - DF_ZERO_CELSIUS) * 100.0 + 1e-6) / 100.0 + DF_ZERO_CELSIUS, low);
    }
}

/* Where trial and finer run part by more than the guard, the whole path gives way. */
static df_status finish(df_quest *q, df_recipe_plan *plan) {
    round_down(q, &plan->recipe);
    for (int i = 0; i < 6; i++) {
        df_status status = df_quest_plan(q, plan, q->ground->job->time_limit, 0.0, 0.0);
        if (status != DF_OK || plan->kept || plan->broken == DF_BOUND_TRAP || plan->broken == DF_BOUND_OIL)
            return status;
        for (size_t k = 0; k < plan->recipe.n; k++)
            plan->recipe.shelf_temperature[k] =
                fmax(plan->recipe.shelf_temperature[k] - 0.03 * (double)(1 << i), q->coldest);
    }
    return DF_OK;
}

df_status df_quest_ride(df_quest *q, df_recipe_plan *plan, df_slack *worst, double pressure, double later) {
    double changed = 0.0;
    march m = {.q = q, .r = &plan->recipe, .cap = INFINITY, .cap_from = NAN, .cap_to = NAN};
    bool found = true, possible;
    df_bound bound = DF_BOUND_NONE;
    int retreats = 0, deeper = 0;
    memset(plan, 0, sizeof *plan);
    df_status status = probe(q, &possible, worst, pressure);
    if (status != DF_OK || !possible) {
        plan->broken = worst->bound;
        return status;
    }
    df_recipe *r = m.r;
    while (status == DF_OK) {
        if (r->n == 0) {
            status = first_point(&m, &found, &bound, pressure);
            if (status != DF_OK || !found)
                break;
            plan->bound[0] = bound;
            changed = 0.0;
        }
        double last = r->time[r->n - 1], before = r->shelf_temperature[r->n - 1];
        if (r->n + 4 >= DF_MAX_RECIPE || last >= q->ground->job->time_limit)
            break;
        double step = fmax(fmax(LEAST_STEP, GROWTH * (last - changed)), FINEST * last),
               time = whole_minute(last + step);
        if (r->n > 3 * DF_MAX_RECIPE / 4)
            time = whole_minute(last + 2.0 * step);
        double now = solvent_gone(&m, last) ? later : pressure;
        m.look = fmax(fmax(LEAST_LOOK, AHEAD * step), FIRST_LOOK - time);
        status = next_point(&m, &found, &bound, time, now);
        double change = status == DF_OK && found ? change_within(&m, last, time) : NAN;
        if (!isnan(change)) { /* what rules changes on the way: up to there first */
            r->n--;
            time = fmax(whole_minute(change + 0.5 * NEAR_END), last + 60.0);
            status = next_point(&m, &found, &bound, time, now);
            changed = time;
        } else if (status == DF_OK && found && bound != DF_BOUND_RAMP && last - changed < 3.0 * LEAST_STEP) {
            double jump = fabs(r->shelf_temperature[r->n - 1] - before) / q->ramp;
            if (jump * q->ramp > JUMP && jump < 0.7 * (time - last)) {
                r->n--;
                time = whole_minute(last + fmax(jump, LEAST_JUMP));
                status = next_point(&m, &found, &bound, time, now);
            }
        }
        if (status != DF_OK)
            break;
        if (!found) {
            *worst = m.worst;
            if (!retreat(&m, &retreats, &deeper, time))
                break;
            found = true;
            changed = fmin(changed, r->n > 0 ? r->time[r->n - 1] : 0.0);
            m.glass = false;
            continue;
        }
        if (!(time <= m.cap_to))
            deeper = 0;
        m.glass = bound == DF_BOUND_GLASS;
        plan->bound[r->n - 1] = cap_at(&m, time) < r->shelf_temperature[r->n - 1] + CLOSE ? DF_BOUND_PRODUCT : bound;
        if (m.held && m.run.end == DF_END_DRY && m.run.time <= time)
            break;
    }
    let_go(&m);
    if (status != DF_OK || !found) {
        plan->broken = worst->bound;
        return status;
    }
    return finish(q, plan);
}
