/* A job's runs over what is not sure of it: chances, bands, indices, the warmest shelf for a risk. */
#include "advice/sobol.h"
#include "advice/stand.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define R DF_RISK_REPLICATES
#define ROUGH 1e-4          /* tolerance of the runs, as of all trials */
#define PATHS DF_PAIR_DRAWS /* frozen paths of moved mixtures */
#define WIDEST 40.0         /* K, of a shelf's shift */
#define CLOSE 0.1           /* K, to which a shift is found */
#define MOST_RUNS 1000000
#define LIKELY_FAILED 50 /* one run in so many may fail */

typedef struct study {
    const df_job *job;
    const df_dryer *dryer;
    df_uncertain input[DF_UNCERTAINS];
    int place[DF_UNCERTAINS]; /* dimension of an input, -1: it does not apply */
    size_t dimensions, groups, group[DF_UNCERTAINS];
    df_frozen_path *path; /* PATHS of moved mixtures, then that of the mixture as it stands */
    df_deposit deposit;
    df_setup base;
    const df_group *of[DF_MAX_CLASSES];
    bool whole;
    df_sobol sobol[R];
    /* shared by the threads */
    const df_progress *progress;
    size_t planned, done, failed;
    df_status stopped;
    char message[200];
} study;

typedef struct outcome {
    double margin, hottest, primary, time;
    double residual[DF_MAX_COMPONENTS];
    df_standing standing;
    df_cause cause;
    bool dry, failed;
} outcome;

/* What one thread needs. */
typedef struct bench {
    df_context *ctx;
    df_setup setup;
    df_dryer dryer;
} bench;

/* ---- one run -------------------------------------------------------------------------------------------------- */

static void move_dryer(df_dryer *d, const double *value) {
    d->shelf.contact *= value[DF_UNCERTAIN_SHELF_CONTACT];
    d->shelf.gas *= value[DF_UNCERTAIN_SHELF_GAS];
    d->manifold.frost *= value[DF_UNCERTAIN_FROST];
    d->chamber.leak *= value[DF_UNCERTAIN_LEAK];
    d->chamber.room_temperature += value[DF_UNCERTAIN_ROOM];
    for (size_t k = 0; k < d->traps; k++)
        if (d->trap[k].kind == DF_TRAP_COIL) {
            df_trap_shift(&d->trap[k], df_trap_no_load(&d->trap[k]) + value[DF_UNCERTAIN_TRAP]);
            for (size_t i = 0; i < d->trap[k].refrigeration.n; i++)
                d->trap[k].refrigeration.y[i] *= value[DF_UNCERTAIN_TRAP_POWER];
        }
}

static df_status move_class(df_context *ctx, df_class *c, const df_group *g, const study *s,
                            const df_frozen_path *path, const double *value) {
    double fill = value[DF_UNCERTAIN_FILL];
    df_status status = df_trial_shape(ctx, c, s->job, g, path, fill * g->fill);
    c->path = path;
    c->mass *= fill;
    c->solids *= fill;
    c->start_temperature = df_trial_loaded(s->job, path);
    c->critical_temperature += value[DF_UNCERTAIN_CRITICAL];
    c->cake.r0 *= value[DF_UNCERTAIN_CAKE_R0];
    c->cake.a1 *= value[DF_UNCERTAIN_CAKE_A1];
    for (size_t i = 0; i < c->composition.n && s->whole; i++) {
        df_sorption *q = &c->sorption[i];
        q->bound *= exp(value[DF_UNCERTAIN_BOUND] * q->bound_sigma_ln);
        q->rate *= exp(value[DF_UNCERTAIN_RATE] * q->rate_sigma_ln);
        q->activation = fmax(q->activation + value[DF_UNCERTAIN_ACTIVATION] * q->activation_sigma, 0.0);
    }
    return status;
}

/* Numbers behind the inputs made values; the path that goes with them. */
static const df_frozen_path *values_of(double *value, const study *s, const double *z) {
    for (size_t i = 0; i < DF_UNCERTAINS; i++) {
        const df_uncertain *u = &s->input[i];
        double own = z[i], rho = u->correlation;
        if (u->with >= 0 && s->input[u->with].applies)
            own = rho * z[u->with] + sqrt(1.0 - rho * rho) * z[i];
        value[i] = u->applies ? df_uncertain_value(u, own) : u->measure == DF_UNCERTAIN_FACTOR ? 1.0 : 0.0;
    }
    if (s->place[DF_UNCERTAIN_THERMODYNAMICS] < 0)
        return &s->path[PATHS];
    double u = 0.5 * erfc(-z[DF_UNCERTAIN_THERMODYNAMICS] * M_SQRT1_2);
    size_t k = (size_t)(u * PATHS);
    return &s->path[k < PATHS ? k : PATHS - 1];
}

/* The sum of what one class still holds of species i, kg per kg of solids; the largest. */
static double residual_of(const df_run *run, const df_setup *setup, size_t i) {
    double most = NAN;
    const df_moment *last = &run->moment[run->moments - 1];
    for (size_t k = 0; k < run->class_count; k++)
        if (setup->classes[k].sorption[i].known)
            most = fmax(most, last->container[k].bound[i]);
    return most;
}

/* The run as the job has it, primary drying alone, or that until it is no more rigid. */
typedef enum extent { WHOLE, PRIMARY, SHORT } extent;

/* z: a normal number for each input; all noughts and `stated`: the job as it is. */
static df_status run_one(outcome *o, bench *b, const study *s, const double *z, bool stated, double shift,
                         extent extent_) {
    double value[DF_UNCERTAINS];
    const df_frozen_path *path = values_of(value, s, z);
    if (stated)
        path = &s->path[PATHS];
    df_verdict v;
    *o = (outcome){.margin = -INFINITY, .hottest = NAN, .primary = NAN, .time = NAN};
    for (size_t i = 0; i < DF_MAX_COMPONENTS; i++)
        o->residual[i] = NAN;
    if (df_verdict_afloat(&v, s->job, path)) {
        o->standing = v.standing;
        o->cause = v.cause;
        return DF_OK;
    }
    df_setup *setup = &b->setup;
    b->dryer = *s->dryer;
    *setup = s->base;
    setup->dryer = &b->dryer;
    move_dryer(&b->dryer, value);
    double on_shelf = s->job->recipe_given ? value[DF_UNCERTAIN_SHELF] + shift : value[DF_UNCERTAIN_ROOM];
    for (size_t k = 0; k < setup->recipe.n; k++) {
        setup->recipe.shelf_temperature[k] += on_shelf;
        setup->recipe.pressure[k] *= value[DF_UNCERTAIN_PRESSURE];
    }
    df_status status = DF_OK;
    for (size_t k = 0; k < setup->class_count && status == DF_OK; k++)
        status = move_class(b->ctx, &setup->classes[k], s->of[k], s, path, value);
    setup->stop_short = extent_ == SHORT;
    if (extent_ != WHOLE)
        setup->secondary = setup->whole_recipe = false;
    df_run run;
    if (status == DF_OK)
        status = df_run_simulate(b->ctx, &run, setup);
    if (status < 0) {
        o->failed = true;
        return status;
    }
    v = df_verdict_of_run(&run, setup);
    const df_class_run *c = &run.classes[v.worst];
    o->standing = v.standing;
    o->cause = v.cause;
    o->margin = c->least_margin;
    o->hottest = c->hottest;
    o->dry = run.end == DF_END_DRY && v.standing < DF_AFLOAT;
    if (run.end == DF_END_DRY) {
        o->primary = isnan(run.primary_time) ? run.time : run.primary_time;
        o->time = run.time;
        for (size_t i = 0; i < run.species && s->whole; i++)
            o->residual[i] = residual_of(&run, setup, i);
    }
    df_run_free(&run);
    return DF_OK;
}

/* ---- many runs ------------------------------------------------------------------------------------------------ */

enum { OF_A = -2, OF_B = -1 }; /* otherwise: A with a group's inputs from B */

static void point_of(double *z, const study *s, size_t replicate, size_t index, int kind) {
    double u[DF_SOBOL_DIMENSIONS];
    df_sobol_point(u, &s->sobol[replicate], (uint32_t)index);
    for (size_t i = 0; i < DF_UNCERTAINS; i++) {
        bool other = kind == OF_B || (kind >= 0 && s->group[i] == (size_t)kind);
        z[i] = s->place[i] < 0 ? 0.0 : df_normal_quantile(u[(size_t)s->place[i] + (other ? s->dimensions : 0)]);
    }
}

/* Whether to go on. */
static bool told(study *s, df_status own, const bench *b, size_t runs) {
    bool on;
#pragma omp critical(df_risk)
    {
        s->done += runs;
        if (own < 0) {
            s->failed++;
            snprintf(s->message, sizeof s->message, "%.199s", df_context_message(b->ctx));
            if (own == DF_E_MEMORY)
                s->stopped = own;
        }
        if (s->progress != NULL && s->stopped == DF_OK &&
            !s->progress->tell(s->progress->data, fmin((double)s->done / (double)s->planned, 1.0), 0.0))
            s->stopped = DF_E_STOPPED;
        on = s->stopped == DF_OK;
    }
    return on;
}

static bool bench_open(bench **b) {
    *b = malloc(sizeof **b);
    if (*b != NULL && df_context_create(&(*b)->ctx) != DF_OK) {
        free(*b);
        *b = NULL;
    }
    return *b != NULL;
}
static void bench_close(bench *b) {
    if (b != NULL)
        df_context_destroy(b->ctx);
    free(b);
}

static df_status ended(df_context *ctx, const study *s) {
    if (s->stopped == DF_E_STOPPED)
        return df_fail(ctx, DF_E_STOPPED, "stopped after %zu runs", s->done);
    if (s->stopped < 0)
        return df_fail(ctx, s->stopped, "out of memory");
    if (s->failed > s->done / LIKELY_FAILED)
        return df_fail(ctx, DF_E_CONVERGENCE, "%zu of %zu runs failed, the last with: %s", s->failed, s->done,
                       s->message);
    return DF_OK;
}

/* The first `each` points of every replicate. */
static df_status batch(df_context *ctx, outcome *out, study *s, size_t each, int kind, double shift, extent extent_) {
#pragma omp parallel
    {
        bench *b;
        bool on = bench_open(&b);
        if (!on) {
#pragma omp critical(df_risk)
            s->stopped = DF_E_MEMORY;
        }
#pragma omp for schedule(dynamic, 4)
        for (size_t k = 0; k < R * each; k++) {
            double z[DF_UNCERTAINS];
            if (!on)
                continue;
            point_of(z, s, k / each, k % each, kind);
            on = told(s, run_one(&out[k], b, s, z, false, shift, extent_), b, 1);
        }
        bench_close(b);
    }
    return ended(ctx, s);
}

/* ---- the warmest shelf ---------------------------------------------------------------------------------------- */

/* Warmest shift at which one draw still stands rigid: from 0 by doubled steps to where it changes, then halving. */
static df_status warmest(double *shift, size_t *runs, bench *b, const study *s, const double *z, double lowest,
                         double highest) {
    outcome o;
    double rigid = -INFINITY, lost = INFINITY, at = 0.0, step = 2.0;
    for (*runs = 1;; (*runs)++) {
        df_status status = run_one(&o, b, s, z, false, at, SHORT);
        if (status < 0)
            return status;
        if (o.standing == DF_RIGID)
            rigid = at;
        else
            lost = at;
        if ((rigid >= highest) || (lost <= lowest) || lost - rigid <= CLOSE)
            break;
        if (isinf(lost)) {
            at = fmin(at + step, highest);
            step *= 2.0;
        } else if (isinf(rigid)) {
            at = fmax(at - step, lowest);
            step *= 2.0;
        } else
            at = 0.5 * (rigid + lost);
    }
    *shift = rigid >= highest ? highest : rigid;
    return DF_OK;
}

static df_status all_warmest(df_context *ctx, double *shift, study *s, size_t each, double lowest, double highest) {
#pragma omp parallel
    {
        bench *b;
        bool on = bench_open(&b);
        if (!on) {
#pragma omp critical(df_risk)
            s->stopped = DF_E_MEMORY;
        }
#pragma omp for schedule(dynamic, 1)
        for (size_t k = 0; k < R * each; k++) {
            double z[DF_UNCERTAINS];
            size_t runs = 0;
            shift[k] = NAN;
            if (!on)
                continue;
            point_of(z, s, k / each, k % each, OF_A);
            on = told(s, warmest(&shift[k], &runs, b, s, z, lowest, highest), b, runs);
        }
        bench_close(b);
    }
    return ended(ctx, s);
}

static double picked(const double *sorted, size_t n, double q) {
    double at = fmin(fmax(q, 0.0), 1.0) * (double)(n - 1);
    size_t k = (size_t)at;
    return sorted[k < n ? k : n - 1];
}

static int ascending(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static df_status find_shift(df_context *ctx, df_risk *r, study *s, const df_risk_task *task, outcome *out,
                            double *value, double *room) {
    size_t each = r->shift_runs / R, n = 0;
    double low = INFINITY, high = -INFINITY;
    for (size_t k = 0; k < s->job->recipe.n; k++) {
        low = fmin(low, s->job->recipe.shelf_temperature[k]);
        high = fmax(high, s->job->recipe.shelf_temperature[k]);
    }
    r->shift_lowest = fmin(fmax(s->dryer->shelf.lowest - low, -WIDEST), 0.0);
    r->shift_highest = fmax(fmin(s->dryer->shelf.highest - high, WIDEST), 0.0);
    df_status status = all_warmest(ctx, value, s, each, r->shift_lowest, r->shift_highest);
    if (status < 0)
        return status;
    for (size_t k = 0; k < R * each; k++)
        if (!isnan(value[k]))
            room[n++] = value[k];
    qsort(room, n, sizeof *room, ascending);
    /* The error of a quantile from that of the chance there, as for independent draws: on the safe side. */
    double p = task->accept, error = sqrt(p * (1.0 - p) / (double)(n > 0 ? n : 1));
    r->shift.value = n > 0 ? picked(room, n, p) : NAN;
    r->shift.error = n > 0 ? 0.5 * (picked(room, n, p + error) - picked(room, n, p - error)) : NAN;
    low = n > 0 ? fmax(room[0], r->shift_lowest) : 0.0; /* the curve spans where the chance changes */
    high = n > 0 ? fmin(room[n - 1], r->shift_highest) : 0.0;
    for (size_t c = 0; c < DF_RISK_CURVE; c++) {
        r->curve_shift[c] = low + (high - low) * (double)c / (double)(DF_RISK_CURVE - 1);
        for (size_t k = 0; k < R * each; k++)
            room[k] = isnan(value[k]) ? NAN : value[k] < r->curve_shift[c] ? 1.0 : 0.0;
        r->curve_chance[c] = df_estimate_mean(room, R, each);
    }
    r->shift_found = isfinite(r->shift.value);
    if (!r->shift_found)
        return DF_OK;
    status = batch(ctx, out, s, each, OF_A, r->shift.value, PRIMARY);
    for (size_t k = 0; k < R * each; k++)
        value[k] = out[k].failed ? NAN : out[k].standing != DF_RIGID ? 1.0 : 0.0;
    r->shift_chance = df_estimate_mean(value, R, each);
    for (size_t k = 0; k < R * each; k++)
        value[k] = out[k].primary;
    r->shift_primary_median = df_estimate_quantile(value, R, each, 0.5, room);
    r->shift_primary_high = df_estimate_quantile(value, R, each, 0.95, room);
    return status;
}

/* ---- what the sample says ------------------------------------------------------------------------------------- */

typedef double (*reading)(const outcome *o, size_t i);

static double read_standing(const outcome *o, size_t i) {
    return o->failed ? NAN : o->standing == (df_standing)i ? 1.0 : 0.0;
}
static double read_left(const outcome *o, size_t i) {
    (void)i;
    return o->failed ? NAN : o->standing != DF_RIGID ? 1.0 : 0.0;
}
static double read_dry(const outcome *o, size_t i) {
    (void)i;
    return o->failed ? NAN : o->dry ? 1.0 : 0.0;
}
static double read_margin(const outcome *o, size_t i) {
    (void)i;
    return o->failed ? NAN : o->margin;
}
static double read_hottest(const outcome *o, size_t i) {
    (void)i;
    return o->hottest;
}
static double read_primary(const outcome *o, size_t i) {
    (void)i;
    return o->primary;
}
static double read_time(const outcome *o, size_t i) {
    (void)i;
    return o->time;
}
static double read_residual(const outcome *o, size_t i) {
    return o->residual[i];
}

typedef struct sample {
    const outcome *out;
    size_t each;
    double *value, *room;
} sample;

static void gather(sample *q, reading read, size_t i) {
    for (size_t k = 0; k < R * q->each; k++)
        q->value[k] = read(&q->out[k], i);
}
static df_estimate mean(sample *q, reading read, size_t i) {
    gather(q, read, i);
    return df_estimate_mean(q->value, R, q->each);
}
static df_estimate quantile(sample *q, reading read, size_t i, double share) {
    gather(q, read, i);
    return df_estimate_quantile(q->value, R, q->each, share, q->room);
}

static df_cause commonest(const sample *q, df_standing standing) {
    size_t count[DF_CAUSE_TIME + 1] = {0}, best = 0;
    for (size_t k = 0; k < R * q->each; k++)
        if (!q->out[k].failed && q->out[k].standing == standing)
            count[q->out[k].cause]++;
    for (size_t c = 1; c <= DF_CAUSE_TIME; c++)
        if (count[c] > count[best])
            best = c;
    return (df_cause)best;
}

static void read_sample(df_risk *r, sample *q, const df_job *job) {
    for (size_t i = 0; i < 4; i++) {
        r->standing[i] = mean(q, read_standing, i);
        r->cause[i] = commonest(q, (df_standing)i);
    }
    r->left_rigid = mean(q, read_left, 0);
    r->left_rigid_most = r->left_rigid.value > 0.0 ? NAN : 3.0 / (double)r->runs;
    r->dry = mean(q, read_dry, 0);
    r->margin_low = quantile(q, read_margin, 0, 0.05);
    r->margin_median = quantile(q, read_margin, 0, 0.5);
    r->hottest_median = quantile(q, read_hottest, 0, 0.5);
    r->hottest_high = quantile(q, read_hottest, 0, 0.95);
    r->primary_median = quantile(q, read_primary, 0, 0.5);
    r->primary_high = quantile(q, read_primary, 0, 0.95);
    r->time_median = quantile(q, read_time, 0, 0.5);
    r->time_high = quantile(q, read_time, 0, 0.95);
    for (size_t i = 0; i < DF_MAX_COMPONENTS; i++) {
        r->residual_median[i] = quantile(q, read_residual, i, 0.5);
        r->residual_high[i] = quantile(q, read_residual, i, 0.95);
        for (size_t k = 0; k < R * q->each; k++)
            q->value[k] = isnan(q->value[k]) || !(job->target[i] > 0.0) ? NAN
                          : q->value[k] > job->target[i] * (1.0 + 1e-3) ? 1.0
                                                                        : 0.0;
        r->target_missed[i] = df_estimate_mean(q->value, R, q->each);
    }
}

/* ---- indices -------------------------------------------------------------------------------------------------- */

static df_status find_influences(df_context *ctx, df_risk *r, study *s, const outcome *a, outcome *b, outcome *ab) {
    size_t each = r->index_runs / R, n = R * each, own = r->runs / R;
    static const reading readings[] = {read_margin, read_primary, read_left};
    double *value = malloc(3 * n * sizeof *value);
    if (value == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    df_status status = batch(ctx, b, s, each, OF_B, 0.0, WHOLE);
    for (size_t g = 0; g < s->groups && status >= 0; g++) {
        df_influence *f = &r->influence[r->influences++];
        status = batch(ctx, ab, s, each, (int)g, 0.0, WHOLE);
        for (size_t i = DF_UNCERTAINS; i-- > 0;)
            if (s->group[i] == g && s->place[i] >= 0)
                snprintf(f->group, sizeof f->group, "%s", s->input[i].group);
        df_estimate *into[3][2] = {{&f->margin_first, &f->margin_total},
                                   {&f->time_first, &f->time_total},
                                   {&f->rigid_first, &f->rigid_total}};
        for (size_t k = 0; k < 3; k++) {
            for (size_t j = 0; j < n; j++) { /* a run of A stands further apart in its larger blocks */
                value[j] = readings[k](&a[j / each * own + j % each], 0);
                value[n + j] = readings[k](&b[j], 0);
                value[2 * n + j] = readings[k](&ab[j], 0);
            }
            df_sobol_index index = df_sobol_index_of(value, value + n, value + 2 * n, R, each);
            *into[k][0] = index.first;
            *into[k][1] = index.total;
        }
    }
    free(value);
    return status;
}

/* ---- the frozen paths ----------------------------------------------------------------------------------------- */

typedef struct keyed {
    double key;
    size_t at;
} keyed;
static int by_key(const void *a, const void *b) {
    const keyed *x = a, *y = b;
    return x->key != y->key ? (x->key > y->key) - (x->key < y->key) : (x->at > y->at) - (x->at < y->at);
}

/* What the paths take of each unknown: in an order of its own the draws of a sample, and the normal numbers at the middles of as
 * many equal chances. So all of them together spread as each unknown does (a Latin hypercube: McKay, Beckman & Conover,
 * Technometrics 21 (1979) 239). */
typedef struct hypercube {
    size_t unknowns, *draw; /* [path][unknown] */
    double *size;
} hypercube;

static void hypercube_free(hypercube *h) {
    free(h->draw);
    free(h->size);
}

static df_status hypercube_make(df_context *ctx, hypercube *h, const df_mixture *mixture, uint64_t seed) {
    h->unknowns = df_mixture_unknowns(mixture);
    h->draw = malloc((PATHS * h->unknowns + 1) * sizeof *h->draw);
    h->size = malloc((PATHS * h->unknowns + 1) * sizeof *h->size);
    if (h->draw == NULL || h->size == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    uint64_t bits = df_mix_bits(seed ^ 0x70617468u);
    for (size_t i = 0; i < h->unknowns; i++) {
        size_t place[PATHS];
        for (size_t k = 0; k < PATHS; k++) { /* shuffled as it is laid out (Durstenfeld, Commun. ACM 7 (1964) 420) */
            size_t other = (size_t)(df_mix_bits(bits += 0x9E3779B97F4A7C15u) % (k + 1));
            if (other != k)
                place[k] = place[other];
            place[other] = k;
        }
        for (size_t k = 0; k < PATHS; k++) {
            h->draw[k * h->unknowns + i] = place[k];
            h->size[k * h->unknowns + i] = df_normal_quantile(((double)place[k] + 0.5) / PATHS);
        }
    }
    return DF_OK;
}

/* Path k of the pool; where it cannot be followed, of a mixture moved half as far, and so on. */
static df_status follow_path(df_frozen_path *path, df_context *ctx, const df_job *job, const df_mixture *mixture,
                             const double *z, const hypercube *h, size_t k, double spread) {
    df_status status = DF_E_CONVERGENCE;
    for (double share = 1.0; share > 0.1 && status < 0 && status != DF_E_MEMORY; share *= 0.5) {
        df_mixture *m = NULL;
        status =
            df_mixture_draw(ctx, &m, mixture, h->draw + k * h->unknowns, h->size + k * h->unknowns, share * spread);
        if (status >= 0)
            status = df_frozen_path_follow(ctx, path, m, z, &job->composition, job->mode);
        df_mixture_free(m);
    }
    return status;
}

static df_status spread_paths(df_context *ctx, df_risk *r, study *s, const df_mixture *mixture, const double *z,
                              const df_risk_task *task) {
    const df_job *job = s->job;
    df_frozen_path *nominal = &s->path[PATHS], *pool = NULL;
    double solidus[PATHS], spread = s->input[DF_UNCERTAIN_THERMODYNAMICS].spread;
    keyed order[PATHS];
    hypercube h = {0};
    df_status status = hypercube_make(ctx, &h, mixture, task->seed);
    if (status >= 0 && h.unknowns > 0) {
        pool = malloc(PATHS * sizeof *pool);
        if (pool == NULL)
            status = df_fail(ctx, DF_E_MEMORY, "out of memory");
    }
    if (pool == NULL) { /* nothing to move it by, or a failure */
        s->input[DF_UNCERTAIN_THERMODYNAMICS].applies = false;
        hypercube_free(&h);
        return status;
    }
    df_status worst = DF_OK;
#pragma omp parallel for schedule(dynamic, 1)
    for (size_t k = 0; k < PATHS; k++) {
        df_status own =
            df_context_go_on(ctx) ? follow_path(&pool[k], NULL, job, mixture, z, &h, k, spread) : DF_E_STOPPED;
        if (own < 0 && own != DF_E_MEMORY && own != DF_E_STOPPED) {
            pool[k] = *nominal;
            own = DF_OK;
        }
        if (own < 0)
#pragma omp critical(df_risk)
            worst = own;
    }
    status = worst < 0 ? df_fail(ctx, worst, worst == DF_E_STOPPED ? "stopped" : "out of memory") : DF_OK;
    hypercube_free(&h);
    for (size_t k = 0; k < PATHS && status >= 0; k++) {
        solidus[k] = df_effective_solidus(&pool[k], job->trace_liquid);
        double liquid = df_frozen_path_at(&pool[k], pool[k].liquid_mass, 228.0);
        order[k] = (keyed){isnan(solidus[k]) ? -liquid : solidus[k], k};
    }
    if (status >= 0) {
        qsort(order, PATHS, sizeof *order, by_key); /* so that the input rises with the solidus */
        for (size_t k = 0; k < PATHS; k++)
            s->path[k] = pool[order[k].at];
        r->path_solidus_sigma =
            0.5 * (solidus[order[(size_t)(0.84 * PATHS)].at] - solidus[order[(size_t)(0.16 * PATHS)].at]);
    }
    free(pool);
    return status;
}

static df_status make_paths(df_context *ctx, df_risk *r, study *s, const df_pairs *pairs, const df_risk_task *task) {
    df_mixture *mixture = NULL;
    double z[DF_MAX_COMPONENTS];
    const df_job *job = s->job;
    r->path_solidus_sigma = NAN;
    s->path = malloc((PATHS + 1) * sizeof *s->path);
    if (s->path == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    df_status status = df_frozen_mixture(ctx, &mixture, z, pairs, &job->composition, job->solute, job->solutes);
    if (status >= 0)
        status = df_frozen_path_follow(ctx, &s->path[PATHS], mixture, z, &job->composition, job->mode);
    if (status >= 0 && s->input[DF_UNCERTAIN_THERMODYNAMICS].applies)
        status = spread_paths(ctx, r, s, mixture, z, task);
    df_mixture_free(mixture);
    return status;
}

/* ---- the whole ------------------------------------------------------------------------------------------------ */

void df_risk_task_defaults(df_risk_task *t) {
    *t = (df_risk_task){.runs = 2048, .indices = 256, .shifts = 512, .accept = NAN, .seed = 1};
}

static size_t rounded(size_t runs) {
    return (runs + R - 1) / R * R;
}

static void place_inputs(study *s) {
    s->dimensions = s->groups = 0;
    for (size_t i = 0; i < DF_UNCERTAINS; i++) {
        s->place[i] = s->input[i].applies ? (int)s->dimensions++ : -1;
        s->group[i] = DF_UNCERTAINS;
        for (size_t k = 0; k < i && s->place[i] >= 0; k++)
            if (s->place[k] >= 0 && strcmp(s->input[k].group, s->input[i].group) == 0)
                s->group[i] = s->group[k];
        if (s->place[i] >= 0 && s->group[i] == DF_UNCERTAINS)
            s->group[i] = s->groups++;
    }
}

static df_status prepare(df_context *ctx, df_risk *r, study *s, const df_pairs *pairs, const df_risk_task *task) {
    df_status status = df_trial_fit(ctx, s->job, s->dryer);
    if (status == DF_OK)
        status = df_uncertain_list(ctx, s->input, s->job, s->dryer);
    if (status == DF_OK)
        status = make_paths(ctx, r, s, pairs, task);
    if (status >= 0)
        status = df_deposit_make(ctx, &s->deposit, pairs, &s->job->composition);
    if (status < 0)
        return status;
    const df_frozen_path *nominal = &s->path[PATHS];
    status =
        df_trial_fill(ctx, &s->base, s->job, s->dryer, nominal, &s->deposit, df_trial_loaded(s->job, nominal), true);
    s->base.terse = true;
    s->base.tolerance = ROUGH;
    s->whole = s->base.secondary;
    size_t k = 0;
    for (size_t i = 0; i < s->job->groups; i++)
        for (int spot = 0; spot < DF_SPOTS; spot++)
            if (s->job->group[i].at[spot] > 0 && k < DF_MAX_CLASSES)
                s->of[k++] = &s->job->group[i];
    place_inputs(s);
    for (size_t i = 0; i < R; i++)
        df_sobol_make(&s->sobol[i], 2 * s->dimensions, df_mix_bits(task->seed) + i, true);
    return status;
}

static df_status run_stated(df_context *ctx, df_risk *r, study *s) {
    static const double noughts[DF_UNCERTAINS];
    bench *b;
    outcome o;
    if (!bench_open(&b))
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    df_status status = run_one(&o, b, s, noughts, true, 0.0, WHOLE);
    r->as_stated = o.standing;
    if (status < 0)
        status = df_fail(ctx, status, "%s", df_context_message(b->ctx));
    bench_close(b);
    return status;
}

static df_status assess(df_context *ctx, df_risk *r, study *s, const df_risk_task *task) {
    size_t n = r->runs;
    if (r->index_runs > n)
        n = r->index_runs;
    outcome *a = malloc(n * sizeof *a), *b = malloc(n * sizeof *b), *ab = malloc(n * sizeof *ab);
    double *value = malloc(n * sizeof *value), *room = malloc(n * sizeof *room);
    df_status status = DF_OK;
    if (a == NULL || b == NULL || ab == NULL || value == NULL || room == NULL)
        status = df_fail(ctx, DF_E_MEMORY, "out of memory");
    s->planned = r->runs + (r->index_runs > 0 ? r->index_runs * (s->groups + 1) : 0) +
                 (r->shift_asked ? r->shift_runs * 9 : 0);
    if (status == DF_OK)
        status = batch(ctx, a, s, r->runs / R, OF_A, 0.0, WHOLE);
    if (status == DF_OK) {
        sample q = {a, r->runs / R, value, room};
        read_sample(r, &q, s->job);
    }
    if (status == DF_OK && r->index_runs > 0)
        status = find_influences(ctx, r, s, a, b, ab);
    if (status == DF_OK && r->shift_asked)
        status = find_shift(ctx, r, s, task, b, value, room);
    free(a);
    free(b);
    free(ab);
    free(value);
    free(room);
    return status;
}

df_status df_risk_assess(df_context *ctx, df_risk *r, const df_job *job, const df_dryer *dryer, const df_pairs *pairs,
                         const df_risk_task *task) {
    memset(r, 0, sizeof *r);
    if (task->runs < 1 || task->runs > MOST_RUNS || task->indices > MOST_RUNS || task->shifts > MOST_RUNS)
        return df_fail(ctx, DF_E_INPUT, "the number of runs should be 1 to %d", MOST_RUNS);
    if (!isnan(task->accept) && !(task->accept > 0.0 && task->accept < 1.0))
        return df_fail(ctx, DF_E_INPUT, "the risk accepted should lie between 0 and 100 %%, e.g. 5 %%");
    bool on_shelf = false;
    for (size_t i = 0; i < job->groups; i++)
        on_shelf = on_shelf || job->group[i].place == DF_PLACE_SHELF;
    if (!isnan(task->accept) && !(on_shelf && job->recipe_given))
        return df_fail(ctx, DF_E_INPUT, "the room gives the heat on a manifold: there is no shelf to set for a risk");
    study *s = calloc(1, sizeof *s);
    if (s == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    s->job = job;
    s->dryer = dryer;
    s->progress = task->progress;
    r->seed = task->seed;
    r->accept = task->accept;
    r->shift_asked = !isnan(task->accept);
    r->runs = rounded(task->runs);
    r->index_runs = task->indices > 0 ? rounded(task->indices < r->runs ? task->indices : r->runs) : 0;
    r->shift_runs = r->shift_asked ? rounded(task->shifts < r->runs ? task->shifts : r->runs) : 0;
    df_status status = prepare(ctx, r, s, pairs, task);
    if (status >= 0)
        status = run_stated(ctx, r, s);
    if (status >= 0)
        status = assess(ctx, r, s, task);
    memcpy(r->input, s->input, sizeof r->input);
    r->whole = s->whole;
    r->paths = s->input[DF_UNCERTAIN_THERMODYNAMICS].applies ? PATHS : 1;
    r->simulated = s->done;
    r->failed = s->failed;
    free(s->path);
    free(s);
    return status;
}
