/* Recipes: the fastest path over the pressures that the dryer can hold, the same in a few holds, and which of them to take. */
#include "advice/quest.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define C(kelvin) ((kelvin)-DF_ZERO_CELSIUS)
#define USUAL_WARMEST 298.15    /* K: assumption, where nobody says what the product stands */
#define USUAL_RAMP (0.5 / 60.0) /* K/s of ramps between holds: common practice, no source */
#define LEAST_PRESSURE 2.0      /* Pa, of those tried */
#define MOST_PRESSURE 60.0
#define WORTH 0.01         /* share of the time that holding a pressure has to save */
#define WORTH_TWO 0.02     /* that a second one has to save */
#define AT_END 0.3         /* K */
#define PRESSURES 7        /* tried, evenly in the logarithm, beside none */
#define RUNS_EXPECTED 1000 /* of a search, to tell how far it is */

static const char *const bound_names[] = {"none",  "product", "glass", "choke", "pressure",
                                          "shelf", "ramp",    "trap",  "oil",   "time"};
_Static_assert(sizeof bound_names / sizeof bound_names[0] == DF_BOUNDS, "a name for each bound");

const char *df_bound_name(df_bound bound) {
    return bound_names[bound];
}

/* ---- what is asked --------------------------------------------------------------------------------------------- */

static df_status read_task(df_context *ctx, df_recipe_advice *a, const df_job *job, const df_dryer *d,
                           const df_recipe_task *task) {
    double warmest = USUAL_WARMEST;
    for (size_t i = 0; i < job->recipe.n; i++)
        warmest = fmax(warmest, job->recipe.shelf_temperature[i]);
    a->coldest = d->shelf.lowest;
    a->warmest = isnan(task->warmest) ? fmin(warmest, d->shelf.highest) : task->warmest;
    a->shelf_ramp = df_shelf_ramp(d);
    a->ramp = isnan(task->ramp) ? fmin(USUAL_RAMP, a->shelf_ramp) : task->ramp;
    if (!(a->warmest > a->coldest && a->warmest <= d->shelf.highest + 1e-9))
        return df_fail(ctx, DF_E_INPUT,
                       "the warmest shelf, %.1f °C, should lie within what '%s' reaches, %.1f °C to %.1f °C",
                       C(a->warmest), d->name, C(d->shelf.lowest), C(d->shelf.highest));
    if (!(a->ramp > 0.0 && a->ramp <= a->shelf_ramp * (1.0 + 1e-9)))
        return df_fail(ctx, DF_E_INPUT, "a ramp of %.3g K/min should be above 0 and at most the shelf's %.3g K/min",
                       60.0 * a->ramp, 60.0 * a->shelf_ramp);
    if (task->pressure > 0.0 && d->chamber.control == DF_CONTROL_NONE)
        return df_fail(ctx, DF_E_INPUT, "'%s' has no pressure control (control: bleed or throttle)", d->name);
    if (!isnan(task->pressure) && !(task->pressure >= 0.0 && task->pressure <= 1e4))
        return df_fail(ctx, DF_E_INPUT, "a pressure to be held should lie between 0 and 100 mbar");
    a->searched = isnan(task->pressure) && d->chamber.control != DF_CONTROL_NONE;
    return DF_OK;
}

static void set_bounds(df_quest *q, const df_recipe_advice *a) {
    q->coldest = a->coldest;
    q->warmest = a->warmest;
    q->ramp = a->shelf_ramp;
    q->wetted = a->wetted;
}

/* ---- the pressure ---------------------------------------------------------------------------------------------- */

typedef struct rider {
    double pressure, later; /* Pa, and once the solvent has gone */
    df_recipe_plan plan;
    df_slack worst;
    df_status status;
    char message[200];
    long runs;
} rider;

/* Rides at n pressures side by side. */
static df_status ride_all(df_context *ctx, rider *list, size_t n, const df_ground *ground, df_recipe_advice *a) {
#pragma omp parallel for schedule(dynamic, 1)
    for (size_t i = 0; i < n; i++) {
        df_quest q;
        list[i].status = df_quest_open(&q, ground);
        if (list[i].status == DF_OK) {
            set_bounds(&q, a);
            list[i].status = df_quest_ride(&q, &list[i].plan, &list[i].worst, list[i].pressure, list[i].later);
            snprintf(list[i].message, sizeof list[i].message, "%.199s", df_context_message(q.ctx));
        }
        list[i].runs = q.runs;
        df_quest_close(&q);
    }
    for (size_t i = 0; i < n; i++) {
        a->runs += list[i].runs;
        if (list[i].status < 0)
            return df_fail(ctx, list[i].status, "%s", list[i].message);
    }
    return DF_OK;
}

static double cost_of(const rider *r) {
    return r->plan.kept ? r->plan.dry ? r->plan.time : 1e12 : INFINITY;
}

static size_t fastest(const rider *list, size_t n) {
    size_t best = 0;
    for (size_t i = 1; i < n; i++)
        if (cost_of(&list[i]) < cost_of(&list[best]))
            best = i;
    return best;
}

static double grid_pressure(double i) {
    return LEAST_PRESSURE * pow(MOST_PRESSURE / LEAST_PRESSURE, i / (PRESSURES - 1));
}

/* Rides at all pressures of the grid before (or, with `later`, after) the solvent has gone; *best is changed for a faster one. */
static df_status ride_grid(df_context *ctx, rider *list, rider *best, const df_ground *ground, df_recipe_advice *a,
                           bool later) {
    for (size_t i = 0; i < PRESSURES; i++) {
        list[i] = (rider){.pressure = best->pressure, .later = best->later};
        *(later ? &list[i].later : &list[i].pressure) = grid_pressure((double)i);
    }
    df_status status = ride_all(ctx, list, PRESSURES, ground, a);
    size_t better = fastest(list, PRESSURES);
    if (status == DF_OK && cost_of(&list[better]) < cost_of(best))
        *best = list[better];
    return status;
}

/* Whether the shelf of a path stands at its coldest or warmest in primary drying: elsewhere it makes good what pressure does to the
 * flow of heat. */
static bool is_at_its_end(const rider *r, const df_recipe_advice *a) {
    const df_recipe *c = &r->plan.recipe;
    bool there = false;
    for (size_t i = 0; i < c->n && c->time[i] < r->plan.primary_time; i++)
        there =
            there || c->shelf_temperature[i] > a->warmest - AT_END || c->shelf_temperature[i] < a->coldest + AT_END;
    return there;
}

/* The fastest path: over none and a grid of pressures, then between the best and its neighbours; where there is solvent with
 * another pressure after it has gone, if that is worth it. */
static df_status find_path(df_context *ctx, rider *out, const df_ground *ground, df_recipe_advice *a,
                           const df_recipe_task *task) {
    out->pressure = out->later = isnan(task->pressure) ? 0.0 : task->pressure;
    if (!a->searched)
        return ride_all(ctx, out, 1, ground, a);
    rider *list = calloc(PRESSURES + 1, sizeof *list);
    if (list == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    for (size_t i = 0; i < PRESSURES; i++)
        list[i + 1].pressure = list[i + 1].later = grid_pressure((double)i);
    df_status status = ride_all(ctx, list, PRESSURES + 1, ground, a);
    rider none = list[0], best = list[1 + fastest(list + 1, PRESSURES)], two;
    double step = pow(MOST_PRESSURE / LEAST_PRESSURE, 1.0 / (PRESSURES - 1));
    for (int round = 0; round < 2 && status == DF_OK && cost_of(&best) < cost_of(&none) / (1.0 + WORTH); round++) {
        step = sqrt(step);
        list[0] = (rider){.pressure = best.pressure / step, .later = best.pressure / step};
        list[1] = (rider){.pressure = best.pressure * step, .later = best.pressure * step};
        status = ride_all(ctx, list, 2, ground, a);
        size_t better = fastest(list, 2);
        if (status == DF_OK && cost_of(&list[better]) < cost_of(&best))
            best = list[better];
    }
    two = best;
    if (status == DF_OK && df_organic_fraction(&ground->job->composition) > 0.0 && isfinite(cost_of(&best)) &&
        is_at_its_end(&best, a)) {
        status = ride_grid(ctx, list, &two, ground, a, true);
        if (status == DF_OK)
            status = ride_grid(ctx, list, &two, ground, a, false);
    }
    *out = cost_of(&none) <= (1.0 + WORTH) * cost_of(&best) ? none : best; /* none is simpler */
    if (cost_of(&two) < cost_of(out) / (1.0 + WORTH_TWO))
        *out = two;
    free(list);
    return status;
}

/* ---- all of it ------------------------------------------------------------------------------------------------- */

static void explain(df_recipe_advice *a, const df_ground *g, const rider *r) {
    char *out = a->because;
    size_t size = sizeof a->because;
    a->obstacle = r->plan.kept ? DF_BOUND_TIME : r->plan.broken;
    switch (a->obstacle) {
    case DF_BOUND_TRAP:
        snprintf(out, size,
                 "the trap is full before the product is dry: no set point changes what there is to catch");
        break;
    case DF_BOUND_OIL:
        snprintf(out, size, "more solvent reaches the pump's oil than it stands, by every path that was tried");
        break;
    case DF_BOUND_TIME:
        snprintf(out, size, "not dry%s within the %.0f h of the job, on the fastest path",
                 g->setup.secondary ? ", or not as dry as asked for," : "", g->job->time_limit / 3600.0);
        break;
    case DF_BOUND_CHOKE:
    case DF_BOUND_PRESSURE:
        snprintf(out, size, "the dryer does not carry off the vapour even with the shelf at its lowest, %.0f °C",
                 C(a->coldest));
        break;
    default:
        if (!isfinite(r->worst.kelvin) || r->worst.kelvin <= -50.0)
            snprintf(out, size, "a part of it stays liquid however cold it is: it cannot be kept solid");
        else
            snprintf(out, size,
                     "even with the shelf at its lowest, %.0f °C, the %s comes %.1f K too near to its limit at "
                     "%.1f h",
                     C(a->coldest), a->obstacle == DF_BOUND_GLASS ? "dried cake" : "hottest point", -r->worst.kelvin,
                     r->worst.time / 3600.0);
    }
}

static void choose(df_recipe_advice *a) {
    double best = INFINITY;
    for (size_t n = 0; n < DF_MOST_HOLDS; n++)
        if (a->hold[n].kept && a->hold[n].dry)
            best = fmin(best, a->hold[n].time);
    a->best = 0;
    for (size_t n = 0; n < DF_MOST_HOLDS && a->best == 0; n++)
        if (a->hold[n].kept && a->hold[n].dry && a->hold[n].time <= best * (1.0 + DF_HOLD_WORTH))
            a->best = n + 1;
}

df_status df_recipe_find(df_context *ctx, df_recipe_advice *a, const df_job *job, const df_dryer *dryer,
                         const df_pairs *pairs, const df_recipe_task *task) {
    df_ground *ground = calloc(1, sizeof *ground);
    rider *path = calloc(1, sizeof *path);
    df_quest q = {0};
    df_tally tally = {.ctx = ctx, .what = "recipes run", .of = RUNS_EXPECTED, .guess = true};
    memset(a, 0, sizeof *a);
    df_status status = ground != NULL && path != NULL ? DF_OK : df_fail(ctx, DF_E_MEMORY, "out of memory");
    if (status == DF_OK)
        status = df_ground_prepare(ctx, ground, job, dryer, pairs, true);
    if (status == DF_OK) {
        ground->tally = &tally;
        status = read_task(ctx, a, job, dryer, task);
    }
    if (status != DF_OK)
        goto done;
    a->left_out = ground->left_out;
    status = find_path(ctx, path, ground, a, task);
    if (status == DF_OK && !path->plan.kept && path->plan.broken == DF_BOUND_PRODUCT &&
        df_purpose_accepts_wetted(job->purpose) && !isnan(ground->framework_limit)) {
        rider rigid = *path;
        *path = (rider){0};
        a->wetted = true;
        status = find_path(ctx, path, ground, a, task);
        if (status == DF_OK && !path->plan.kept && path->plan.broken == DF_BOUND_PRODUCT) {
            *path = rigid; /* say why it cannot be rigid */
            a->wetted = false;
        }
    }
    if (status != DF_OK)
        goto done;
    a->path = path->plan;
    a->found = path->plan.kept && path->plan.dry;
    if (!path->plan.kept || !path->plan.dry)
        explain(a, ground, path);
    status = df_quest_open(&q, ground);
    if (status == DF_OK) {
        set_bounds(&q, a);
        q.choke = fmax(DF_HOLD_CHOKE, path->plan.choke);
        a->own.recipe = job->recipe;
        status = df_quest_plan(&q, &a->own, job->time_limit, 0.0, 0.0);
    }
    if (status == DF_OK && a->found)
        status = df_quest_holds(&q, a->hold, &a->path, a->ramp, a->searched);
    if (status < 0)
        status = df_fail(ctx, status, "%s", df_context_message(q.ctx));
    a->runs += q.runs;
    choose(a);
done:
    df_quest_close(&q);
    free(path);
    free(ground);
    return status;
}

df_status df_recipe_check(df_context *ctx, df_recipe_plan *plan, const df_job *job, const df_dryer *dryer,
                          const df_pairs *pairs, const df_recipe *recipe, bool wetted) {
    df_ground *ground = calloc(1, sizeof *ground);
    df_quest q = {0};
    memset(plan, 0, sizeof *plan);
    plan->recipe = *recipe;
    df_status status = ground != NULL ? df_ground_prepare(ctx, ground, job, dryer, pairs, true)
                                      : df_fail(ctx, DF_E_MEMORY, "out of memory");
    if (status == DF_OK) {
        status = df_quest_open(&q, ground);
        if (status == DF_OK) {
            q.wetted = wetted;
            status = df_quest_plan(&q, plan, job->time_limit, 0.0, 0.0);
        }
        if (status != DF_OK)
            df_fail(ctx, status, "%s", df_context_message(q.ctx));
    }
    df_quest_close(&q);
    free(ground);
    return status;
}

bool df_recipe_before(df_recipe *first, const df_recipe_advice *a, const df_job *job) {
    if (a->best < 2 || df_organic_fraction(&job->composition) <= 0.0)
        return false;
    *first = a->hold[a->best - 1].recipe;
    first->n = 2;
    return true;
}
