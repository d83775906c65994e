/* Jobs and dryers side by side. */
#include "advice/stand.h"
#include "dryfront/routes.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void read_stand(df_comparison *c, const df_stand *s) {
    const df_run *run = &s->run;
    c->standing = s->standing;
    c->cause = s->cause;
    c->acceptable = s->acceptable;
    c->simulated = s->simulated;
    c->margin_sigma = s->margin_sigma;
    snprintf(c->because, sizeof c->because, "%s", s->because);
    if (!s->simulated)
        return;
    df_verdict v = df_verdict_of_run(run, &s->setup);
    c->time = run->time;
    c->primary_time = run->primary_time;
    c->margin =
        v.cause == DF_CAUSE_GLASS ? run->classes[v.worst].least_glass_margin : run->classes[v.worst].least_margin;
    for (size_t i = 0; i < run->species; i++)
        if (!run->substance[i]->is_water)
            c->vented += run->exhaust[i];
}

static df_status one(df_context *ctx, df_comparison *c, const df_job *given, const df_dryer *dryer,
                     const df_pairs *pairs) {
    memset(c, 0, sizeof *c);
    c->time = c->primary_time = c->margin = c->margin_sigma = NAN;
    df_job *job = malloc(sizeof *job);
    df_stand *stand = calloc(1, sizeof *stand);
    if (job == NULL || stand == NULL) {
        free(job);
        free(stand);
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    }
    *job = *given;
    c->adapted = df_job_adapt(job, dryer);
    df_status status = df_trial_fit(ctx, job, dryer);
    c->fits = status == DF_OK;
    if (c->fits)
        status = df_stand_simulate(ctx, stand, job, dryer, pairs, NULL);
    if (c->fits && status == DF_E_INPUT)
        c->fits = false; /* an event for a part that this dryer has not */
    if (!c->fits) {
        snprintf(c->because, sizeof c->because, "%.390s", df_context_message(ctx));
        df_context_clear(ctx);
        status = DF_OK;
    } else if (status >= 0) {
        read_stand(c, stand);
        df_stand_free(stand);
        status = DF_OK;
    }
    free(job);
    free(stand);
    return status;
}

df_status df_compare(df_context *ctx, df_comparison *cell, const df_job *job, size_t n, const df_dryer *dryer,
                     size_t m, const df_pairs *pairs) {
    df_status worst = DF_OK;
    size_t worst_at = 0;
    char sentence[200] = "";
    df_tally tally = {.ctx = ctx, .what = "jobs on dryers", .of = n * m};
#pragma omp parallel for schedule(dynamic, 1)
    for (size_t i = 0; i < n * m; i++) {
        df_context *own = NULL;
        df_status status = df_context_branch(&own, ctx);
        if (status == DF_OK)
            status = one(own, &cell[i], &job[i / m], &dryer[i % m], pairs);
        if (status >= 0 && !df_tally_one(&tally))
            status = df_fail(own, DF_E_STOPPED, "stopped");
        if (status < 0) {
#pragma omp critical(df_compare)
            if (worst == DF_OK || i < worst_at) { /* the same sentence whatever the number of threads */
                worst = status;
                worst_at = i;
                snprintf(sentence, sizeof sentence, "%.199s",
                         own != NULL ? df_context_message(own) : "out of memory");
            }
        }
        df_context_destroy(own);
    }
    return worst < 0 ? df_fail(ctx, worst, "%s", sentence) : DF_OK;
}
