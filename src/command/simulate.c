/* dryfront run: a job's run as it is, its series and its figure. */
#include "serve/file.h"
#include "open.h"
#include "progress.h"

#include <stdlib.h>
#include <string.h>

/* ---- the command ---------------------------------------------------------------------------------------------- */

typedef struct whole {
    df_job job;
    df_dryer dryer;
    df_stand stand;
} whole;

static df_status check_names(df_session *s, const char *csv, const char *figure) {
    df_status status = csv != NULL ? df_file_suffix(s->ctx, csv, ".csv", "--csv") : DF_OK;
    if (status == DF_OK && figure != NULL)
        status = df_file_suffix(s->ctx, figure, ".svg", "--figure");
    return status;
}

static df_status simulate(df_session *s, whole *w) {
    df_bar bar;
    const df_progress progress = df_bar_begin(&bar, "drying");
    df_status status =
        df_stand_simulate(s->ctx, &w->stand, &w->job, &w->dryer, s->pairs, df_told(s, &progress));
    df_bar_end(&bar);
    return status;
}

/* All is made before anything is written. */
static df_status report(df_session *s, const whole *w, const char *csv, const char *figure) {
    df_text series = {0}, drawn = {0};
    df_status status = s->json ? df_report_run_json(s->ctx, &s->out, &w->stand, &w->job, &w->dryer, s->pairs)
                               : df_report_run_text(s->ctx, &s->out, &w->stand, &w->job, &w->dryer, s->pairs);
    if (status >= 0 && csv != NULL)
        status = df_report_run_csv(s->ctx, &series, &w->stand);
    if (status >= 0 && figure != NULL)
        status = df_report_run_figure(s->ctx, &drawn, &w->stand, &w->job);
    if (status >= 0 && csv != NULL)
        status = df_write_out(s, csv, df_text_string(&series), series.length, "--csv");
    if (status >= 0 && figure != NULL)
        status = df_write_out(s, figure, df_text_string(&drawn), drawn.length, "--figure");
    df_text_free(&series);
    df_text_free(&drawn);
    return status;
}

df_status df_run_run(df_session *s) {
    const char *csv = df_option_value(s, "--csv", 0), *figure = df_option_value(s, "--figure", 0);
    whole *w = calloc(1, sizeof *w);
    if (w == NULL)
        return df_fail(s->ctx, DF_E_MEMORY, "out of memory");
    df_status status = check_names(s, csv, figure);
    if (status == DF_OK)
        status = df_open_job(s, &w->job, &w->dryer, s->operand[0]);
    if (status == DF_OK)
        status = simulate(s, w);
    if (status >= 0) {
        s->no = !df_stand_dries(&w->stand);
        status = report(s, w, csv, figure);
        df_stand_free(&w->stand);
    }
    free(w);
    return status;
}
