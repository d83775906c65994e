/* dryfront routes and compare: what to do instead, and which dryer. */
#include "open.h"

#include <stdlib.h>

#define MOST_DRYERS 16

/* The dryers of --dryer, then those that the job names, and what the job's file calls them. */
static df_status open_others(df_session *s, df_dryer *other, char **name, size_t *n, const df_job *job) {
    df_status status = DF_OK;
    *n = 0;
    for (size_t i = 0; status == DF_OK && df_option_value(s, "--dryer", i) != NULL; i++) {
        if (*n == MOST_DRYERS)
            return df_fail(s->ctx, DF_E_INPUT, "--dryer: more than %d dryers", MOST_DRYERS);
        name[*n] = df_open_seen_from(s, s->operand[0], df_option_value(s, "--dryer", i));
        status = df_open_dryer(s, &other[(*n)++], df_option_value(s, "--dryer", i), NULL, "--dryer");
    }
    for (size_t i = 0; status == DF_OK && i < job->others; i++) {
        if (*n == MOST_DRYERS)
            return df_fail(s->ctx, DF_E_INPUT, "%s: more than %d dryers with those of --dryer", job->others_where,
                           MOST_DRYERS);
        name[*n] = df_strdup(job->other[i]);
        status = df_open_dryer(s, &other[(*n)++], job->other[i], s->operand[0], job->others_where);
    }
    return status;
}

df_status df_run_routes(df_session *s) {
    struct {
        df_job job;
        df_dryer dryer, other[MOST_DRYERS];
        char *name[MOST_DRYERS], *text;
        df_routes routes;
    } *all = calloc(1, sizeof *all);
    if (all == NULL)
        return df_fail(s->ctx, DF_E_MEMORY, "out of memory");
    df_routes_task task = {
        .job = &all->job, .dryer = &all->dryer, .other = all->other, .other_name = (const char *const *)all->name};
    df_status status = df_open_job_text(s, &all->job, &all->dryer, &all->text, s->operand[0]);
    task.text = all->text;
    if (status == DF_OK)
        status = open_others(s, all->other, all->name, &task.others, &all->job);
    if (status == DF_OK)
        status = df_routes_find(s->ctx, &all->routes, &task, s->substances, s->pairs);
    if (status >= 0) {
        s->no = all->routes.count == 0;
        status = s->json ? df_report_routes_json(s->ctx, &s->out, &all->routes, &task)
                         : df_report_routes_text(s->ctx, &s->out, &all->routes, &task);
        df_routes_free(&all->routes);
    }
    for (size_t i = 0; i < MOST_DRYERS; i++)
        free(all->name[i]);
    free(all->text);
    free(all);
    return status;
}

df_status df_run_compare(df_session *s) {
    size_t n = s->operands, m = 0;
    const char *name[MOST_DRYERS];
    df_job *job = calloc(n, sizeof *job);
    df_dryer *dryer = calloc(MOST_DRYERS, sizeof *dryer), own;
    df_comparison *cell = calloc(n * MOST_DRYERS, sizeof *cell);
    df_status status =
        job != NULL && dryer != NULL && cell != NULL ? DF_OK : df_fail(s->ctx, DF_E_MEMORY, "out of memory");
    for (size_t i = 0; status == DF_OK && i < n; i++)
        status = df_open_job(s, &job[i], &own, s->operand[i]);
    for (; status == DF_OK && df_option_value(s, "--dryer", m) != NULL; m++) {
        if (m == MOST_DRYERS)
            status = df_fail(s->ctx, DF_E_INPUT, "--dryer: more than %d dryers", MOST_DRYERS);
        else {
            name[m] = df_option_value(s, "--dryer", m);
            status = df_open_dryer(s, &dryer[m], name[m], NULL, "--dryer");
        }
    }
    if (status == DF_OK && m == 0)
        status = df_fail(s->ctx, DF_E_INPUT, "compare needs dryers: --dryer NAME or --dryer FILE, once for each");
    if (status == DF_OK)
        status = df_compare(s->ctx, cell, job, n, dryer, m, s->pairs);
    if (status == DF_OK) {
        bool any = false;
        for (size_t i = 0; i < n * m; i++)
            any = any || cell[i].acceptable;
        s->no = !any;
        status = s->json ? df_report_compare_json(s->ctx, &s->out, cell, job, n, dryer, name, m)
                         : df_report_compare_text(s->ctx, &s->out, cell, job, n, dryer, name, m);
    }
    free(job);
    free(dryer);
    free(cell);
    return status;
}
