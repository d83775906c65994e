/* dryfront recipe: the fastest set points within the limits, and the design space. */
#include "serve/file.h"
#include "open.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define GRID 40
#define LEAST_PRESSURE 2.0 /* Pa, of a design space */
#define MOST_PRESSURE 100.0

typedef struct whole {
    df_job job;
    df_dryer dryer;
    df_recipe_advice advice;
    df_stand stand;
    df_space space;
    df_recipe first;
    bool before, judged;
    char *text; /* of the job's file */
} whole;

static df_status read_option(df_session *s, double *value, const char *name, df_dimension dimension) {
    const char *text = df_option_value(s, name, 0);
    *value = NAN;
    return text != NULL ? df_quantity_parse(s->ctx, value, text, dimension, name) : DF_OK;
}

static df_status read_task(df_session *s, df_recipe_task *task, const char *csv, const char *figure) {
    df_status status = csv != NULL ? df_file_suffix(s->ctx, csv, ".csv", "--csv") : DF_OK;
    if (status == DF_OK && figure != NULL)
        status = df_file_suffix(s->ctx, figure, ".svg", "--figure");
    if (status == DF_OK)
        status = read_option(s, &task->warmest, "--warmest", DF_DIM_TEMPERATURE);
    if (status == DF_OK)
        status = read_option(s, &task->pressure, "--pressure", DF_DIM_PRESSURE);
    if (status == DF_OK)
        status = read_option(s, &task->ramp, "--ramp", DF_DIM_RATE);
    return status;
}

/* The whole run of what was found, or of the job's own recipe: how it stands. */
static df_status judge(df_session *s, whole *w) {
    size_t planned = 0;
    if (w->advice.best > 0) {
        w->job.recipe = w->advice.hold[w->advice.best - 1].recipe;
        for (size_t i = 0; i < w->job.events; i++)
            if (w->job.event[i].kind == DF_EVENT_DEFROST || w->job.event[i].kind == DF_EVENT_REFILL)
                w->job.event[planned++] = w->job.event[i];
        w->job.events = planned;
    }
    df_status status = df_stand_simulate(s->ctx, &w->stand, &w->job, &w->dryer, s->pairs, NULL);
    w->judged = status >= 0;
    return status;
}

static df_status map_space(df_session *s, whole *w) {
    w->before = df_recipe_before(&w->first, &w->advice, &w->job);
    return df_space_find(s->ctx, &w->space, &w->job, &w->dryer, s->pairs, GRID, w->advice.coldest, w->advice.warmest,
                         GRID, LEAST_PRESSURE, MOST_PRESSURE, w->before ? &w->first : NULL);
}

/* The recipes, the design space where it is asked for, and how the run of what was found stands. */
static df_status find(df_session *s, whole *w, const df_recipe_task *task, bool with_space) {
    double found = with_space ? 0.5 : 0.9;
    df_stretch before = df_context_begin(s->ctx, 0.0, found);
    df_status status = df_recipe_find(s->ctx, &w->advice, &w->job, &w->dryer, s->pairs, task);
    df_context_end(s->ctx, before);
    before = df_context_begin(s->ctx, found, 0.9);
    if (status >= 0 && with_space)
        status = map_space(s, w);
    df_context_end(s->ctx, before);
    before = df_context_begin(s->ctx, 0.9, 1.0);
    if (status >= 0)
        status = judge(s, w);
    df_context_end(s->ctx, before);
    return status;
}

/* All is made before anything is written. */
static df_status report(df_session *s, const whole *w, const char *csv, const char *figure) {
    df_text table = {0}, drawn = {0};
    const df_space *space = w->space.cell != NULL ? &w->space : NULL;
    df_status status =
        s->json ? df_report_recipe_json(s->ctx, &s->out, &w->advice, &w->stand, &w->job, &w->dryer, space, w->text)
                : df_report_recipe_text(s->ctx, &s->out, &w->advice, &w->stand, &w->job, &w->dryer, space);
    if (status >= 0 && csv != NULL)
        status = df_report_space_csv(s->ctx, &table, space);
    if (status >= 0 && figure != NULL)
        status = df_report_space_figure(s->ctx, &drawn, space, &w->job, &w->dryer, w->before ? &w->first : NULL);
    if (status >= 0 && csv != NULL)
        status = df_write_out(s, csv, df_text_string(&table), table.length, "--csv");
    if (status >= 0 && figure != NULL)
        status = df_write_out(s, figure, df_text_string(&drawn), drawn.length, "--figure");
    df_text_free(&table);
    df_text_free(&drawn);
    return status;
}

df_status df_run_recipe(df_session *s) {
    const char *csv = df_option_value(s, "--csv", 0), *figure = df_option_value(s, "--figure", 0);
    df_recipe_task task;
    whole *w = calloc(1, sizeof *w);
    if (w == NULL)
        return df_fail(s->ctx, DF_E_MEMORY, "out of memory");
    df_status status = read_task(s, &task, csv, figure);
    if (status == DF_OK)
        status = df_open_job_text(s, &w->job, &w->dryer, &w->text, s->operand[0]);
    if (status == DF_OK)
        status = find(s, w, &task, csv != NULL || figure != NULL);
    if (status >= 0) {
        s->no = w->advice.best == 0 || w->stand.standing > (w->advice.wetted ? DF_WETTED : DF_RIGID);
        status = report(s, w, csv, figure);
    }
    if (w->judged)
        df_stand_free(&w->stand);
    df_space_free(&w->space);
    free(w->text);
    free(w);
    return status;
}
