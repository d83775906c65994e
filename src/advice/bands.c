/* How sure a standing and a ceiling are: runs in mixtures that are moved along with what is not known of them. */
#include "advice/stand.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define ROUGH 1e-4    /* tolerance of the runs: they only have to be compared */
#define STAND_MOVES 3 /* joint moves followed, for a job */
#define CEILING_MOVES 2
#define FIRST_STEP 0.02 /* of volume fraction, from a ceiling to where it is looked for */
#define CLOSE 0.004     /* of volume fraction, as the ceilings themselves are found */
#define HIGHEST 0.995   /* beyond it water is no part any more */

/* ---- a job ---------------------------------------------------------------------------------------------------- */

typedef struct again {
    const df_stand *stand;
    const df_job *job;
    const double *z;
    size_t worst;
} again;

enum { HOTTEST, MARGIN, TIME, STANDING, NUMBERS };

/* The margin of another limit than the one that bound cannot be compared. */
static void read_run(double *values, const df_run *run, size_t worst, df_standing standing, bool limit_is_solute) {
    const df_class_run *c = &run->classes[worst];
    bool limited = isfinite(c->least_margin);
    values[HOTTEST] = limited ? c->least_margin_limit - c->least_margin : c->hottest;
    values[MARGIN] = limited && c->limit_is_solute == limit_is_solute ? c->least_margin : NAN;
    values[TIME] = run->end == DF_END_DRY ? isnan(run->primary_time) ? run->time : run->primary_time : NAN;
    values[STANDING] = (double)standing;
}

static df_status run_again(df_context *ctx, double *values, size_t n, const df_mixture *m, void *data) {
    const again *a = data;
    df_frozen_path *path = malloc(sizeof *path);
    df_setup *setup = malloc(sizeof *setup);
    df_status status = path == NULL || setup == NULL ? DF_E_MEMORY : DF_OK;
    for (size_t i = 0; i < n; i++)
        values[i] = NAN;
    if (status >= 0)
        status = df_frozen_path_follow(ctx, path, m, a->z, &a->job->composition, a->job->mode);
    df_verdict v;
    if (status >= 0 && df_verdict_afloat(&v, a->job, path))
        values[STANDING] = (double)v.standing;
    else if (status >= 0) {
        df_run run;
        *setup = a->stand->setup;
        for (size_t k = 0; k < setup->class_count; k++)
            setup->classes[k].path = path;
        setup->terse = true;
        setup->secondary = setup->whole_recipe = false; /* primary drying alone */
        setup->tolerance = ROUGH;
        status = df_run_simulate(ctx, &run, setup);
        if (status >= 0) {
            read_run(values, &run, a->worst, df_verdict_of_run(&run, setup).standing,
                     a->stand->run.classes[a->worst].limit_is_solute);
            df_run_free(&run);
        }
    }
    free(path);
    free(setup);
    return status;
}

static df_status find_bands(df_context *ctx, df_stand *s, const df_job *job, const df_mixture *mixture,
                            const double *z) {
    size_t worst = df_verdict_of_run(&s->run, &s->setup).worst;
    again a = {s, job, z, worst};
    double value[NUMBERS], sigma[NUMBERS], side[2 * DF_MOST_MOVES * NUMBERS];
    df_moves moves;
    size_t most = df_mixture_count(mixture) > 3 ? STAND_MOVES - 1 : STAND_MOVES;
    df_status status =
        df_frozen_moves(ctx, &moves, mixture, z, &job->composition, job->mode, s->effective_solidus, most);
    if (status < 0)
        return status;
    read_run(value, &s->run, worst, s->standing, s->run.classes[worst].limit_is_solute);
    status = df_moves_spread(ctx, sigma, side, value, NUMBERS, &moves, run_again, &a);
    if (status >= 0) {
        double whole = 1.0 / sqrt(moves.carried); /* what the moves leave out counts as if it did the same */
        s->hottest_sigma = whole * sigma[HOTTEST];
        s->margin_sigma = whole * sigma[MARGIN];
        s->time_sigma = whole * sigma[TIME];
        bool compared = s->cause != DF_CAUSE_GLASS; /* that shows in secondary drying alone, which is not run again */
        for (size_t k = 0; k < 2 * moves.count && compared; k++) {
            double standing = side[k * NUMBERS + STANDING];
            if (isnan(standing))
                continue;
            s->best = standing < (double)s->best ? (df_standing)standing : s->best;
            s->worst = standing > (double)s->worst ? (df_standing)standing : s->worst;
        }
    }
    df_moves_free(&moves);
    return status;
}

df_status df_stand_find_bands(df_context *ctx, df_stand *s, const df_job *job, const df_pairs *pairs) {
    df_mixture *mixture = NULL;
    double z[DF_MAX_COMPONENTS];
    df_status status = df_frozen_mixture(ctx, &mixture, z, pairs, &job->composition, job->solute, job->solutes);
    if (status >= 0)
        status = find_bands(ctx, s, job, mixture, z);
    df_mixture_free(mixture);
    return status;
}

/* ---- ceilings ------------------------------------------------------------------------------------------------- */

typedef struct ceiling_task {
    const df_dryer *dryer;
    const df_substance *both[2]; /* solvent, water */
    df_standing level;
    double ceiling;
    const df_deposit *deposit;
} ceiling_task;

static df_composition composition_at(const ceiling_task *t, double fraction) {
    df_composition c;
    df_composition_set(&c, t->both, (const double[]){fraction, 1.0 - fraction}, 2, DF_BASIS_VOLUME);
    return c;
}

/* Whether the standing is reached at a fraction in the mixture m. */
static df_status reached(df_context *ctx, bool *yes, const ceiling_task *t, const df_mixture *m, double fraction,
                         df_frozen_path *path, df_setup *setup, df_job *job) {
    df_composition c = composition_at(t, fraction);
    df_verdict v;
    df_job_reference(job, t->dryer, &c);
    df_status status = df_frozen_path_follow(ctx, path, m, c.x, &c, job->mode);
    if (status >= 0)
        status = df_verdict_quick(ctx, &v, NULL, job, t->dryer, NULL, path, t->deposit, setup, false,
                                  t->level == DF_RIGID);
    *yes = status >= 0 && v.standing <= t->level;
    return status;
}

/* The ceiling next to where it was, in a mixture that is moved. */
static df_status ceiling_again(df_context *ctx, double *values, size_t n, const df_mixture *m, void *data) {
    const ceiling_task *t = data;
    df_frozen_path *path = malloc(sizeof *path);
    df_setup *setup = malloc(sizeof *setup);
    df_job *job = malloc(sizeof *job);
    df_status status = path == NULL || setup == NULL || job == NULL ? DF_E_MEMORY : DF_OK;
    double low = t->ceiling, high = t->ceiling;
    bool here = false, there;
    (void)n;
    values[0] = NAN;
    if (status >= 0)
        status = reached(ctx, &here, t, m, t->ceiling, path, setup, job);
    there = here;
    for (double step = FIRST_STEP; status >= 0 && there == here; step *= 2.0) { /* to the other side of the ceiling */
        double *end = here ? &high : &low, *inner = here ? &low : &high;
        if (*end >= HIGHEST || *end <= 0.0)
            break;
        *inner = *end;
        *end = here ? fmin(*end + step, HIGHEST) : fmax(*end - step, 0.0);
        if (*end > 0.0)
            status = reached(ctx, &there, t, m, *end, path, setup, job);
        else
            there = true; /* water alone: no solvent, no ceiling */
    }
    while (status >= 0 && high - low > CLOSE) {
        double middle = 0.5 * (low + high);
        bool yes;
        status = reached(ctx, &yes, t, m, middle, path, setup, job);
        *(yes ? &low : &high) = middle;
    }
    if (status >= 0)
        values[0] = here && there ? HIGHEST : low;
    free(path);
    free(setup);
    free(job);
    return status;
}

/* One ceiling; sigma stays NAN where nothing binds or it is never reached. */
static df_status find_band(df_context *ctx, double *sigma, ceiling_task *t, const df_pairs *pairs, double trace) {
    df_mixture *m = NULL;
    df_moves moves = {0};
    df_frozen_path *path = NULL;
    *sigma = NAN;
    if (!(t->ceiling > 0.0 && t->ceiling < HIGHEST))
        return DF_OK;
    df_composition c = composition_at(t, t->ceiling);
    df_status status = df_mixture_create(ctx, &m, pairs, t->both, 2);
    path = malloc(sizeof *path);
    if (path == NULL)
        status = df_fail(ctx, DF_E_MEMORY, "out of memory");
    if (status >= 0)
        status = df_frozen_path_follow(ctx, path, m, c.x, &c, DF_FREEZING_PRACTICE);
    if (status >= 0)
        status = df_frozen_moves(ctx, &moves, m, c.x, &c, DF_FREEZING_PRACTICE, df_effective_solidus(path, trace),
                                 CEILING_MOVES);
    if (status >= 0)
        status = df_moves_spread(ctx, sigma, NULL, &t->ceiling, 1, &moves, ceiling_again, t);
    if (status >= 0)
        *sigma /= sqrt(moves.carried); /* as above */
    df_moves_free(&moves);
    df_mixture_free(m);
    free(path);
    return status;
}

df_status df_ceiling_find_bands(df_context *ctx, df_ceiling *c, const df_dryer *dryer, const df_pairs *pairs,
                                const df_substance *water) {
    df_setup defaults;
    df_deposit *deposit = malloc(sizeof *deposit);
    df_setup_defaults(&defaults);
    c->rigid_sigma = c->wetted_sigma = NAN;
    ceiling_task t = {.dryer = dryer, .both = {c->solvent, water}, .deposit = deposit};
    df_composition half = composition_at(&t, 0.5);
    df_status status =
        deposit == NULL ? df_fail(ctx, DF_E_MEMORY, "out of memory") : df_deposit_make(ctx, deposit, pairs, &half);
    t.level = DF_RIGID;
    t.ceiling = c->rigid;
    if (status >= 0)
        status = find_band(ctx, &c->rigid_sigma, &t, pairs, defaults.trace_liquid);
    t.level = DF_WETTED;
    t.ceiling = c->wetted;
    if (status >= 0)
        status = find_band(ctx, &c->wetted_sigma, &t, pairs, defaults.trace_liquid);
    free(deposit);
    return status;
}
