/* dryfront risk: a job over what is not sure of it. */
#include "open.h"
#include "progress.h"

#include <math.h>
#include <stdlib.h>

#define MOST_RUNS 1000000

typedef struct whole {
    df_job job;
    df_dryer dryer;
    df_risk risk;
} whole;

static df_status read_task(df_session *s, df_risk_task *task) {
    long runs = (long)task->runs, indices = (long)task->indices, seed = (long)task->seed;
    df_status status = df_option_count(s, &runs, "--runs", 1, MOST_RUNS);
    if (status == DF_OK)
        status = df_option_count(s, &indices, "--indices", 0, MOST_RUNS);
    if (status == DF_OK)
        status = df_option_count(s, &seed, "--seed", 0, 2000000000L);
    const char *accept = df_option_value(s, "--accept", 0);
    if (status == DF_OK && accept != NULL)
        status = df_quantity_parse(s->ctx, &task->accept, accept, DF_DIM_PERCENT, "--accept");
    if (status == DF_OK && accept != NULL && !(task->accept > 0.0 && task->accept < 1.0))
        status = df_fail(s->ctx, DF_E_INPUT, "--accept: should lie between 0 and 100 %%, e.g. \"5 %%\"");
    task->runs = (size_t)runs;
    task->indices = (size_t)indices;
    task->seed = (uint64_t)seed;
    return status;
}

df_status df_run_risk(df_session *s) {
    df_risk_task task;
    df_bar bar;
    df_risk_task_defaults(&task);
    df_status status = read_task(s, &task);
    whole *w = calloc(1, sizeof *w);
    if (w == NULL)
        return df_fail(s->ctx, DF_E_MEMORY, "out of memory");
    if (status == DF_OK)
        status = df_open_job(s, &w->job, &w->dryer, s->operand[0]);
    if (status == DF_OK) {
        const df_progress progress = df_bar_begin(&bar, "running");
        task.progress = df_told(s, &progress);
        status = df_risk_assess(s->ctx, &w->risk, &w->job, &w->dryer, s->pairs, &task);
        df_bar_end(&bar);
    }
    if (status >= 0) {
        s->no = w->risk.left_rigid.value > (isnan(task.accept) ? 0.5 : task.accept);
        status = s->json ? df_report_risk_json(s->ctx, &s->out, &w->risk, &w->job, &w->dryer)
                         : df_report_risk_text(s->ctx, &s->out, &w->risk, &w->job, &w->dryer);
    }
    free(w);
    return status;
}
