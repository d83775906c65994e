/* dryfront run: a job's run as it is, its series and its figure. */
#include "file.h"
#include "open.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#define SHOW_AFTER 0.2 /* s */
#define SHOW_EVERY 0.1
#define BAR 40 /* columns */

/* ---- progress ------------------------------------------------------------------------------------------------- */

typedef struct bar {
    double started, shown; /* s; shown 0: not yet */
} bar;

static double now(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static bool show(void *data, double share, double time) {
    bar *b = data;
    double at = now();
    if (at - b->started < SHOW_AFTER || at - b->shown < SHOW_EVERY)
        return true;
    b->shown = at;
    int full = share > 0.0 ? (int)(share * BAR) : 0;
    fprintf(stderr, "\rdrying  [%.*s%*s] %3.0f %%  %8.1f h", full < BAR ? full : BAR,
            "########################################", full < BAR ? BAR - full : 0, "", 100.0 * share,
            time / 3600.0);
    return true;
}

/* Leaves the line as it was. */
static void clear(const bar *b) {
    if (b->shown > 0.0)
        fputs("\r\033[K", stderr);
}

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
    bar b = {.started = now()};
    const df_progress progress = {show, &b};
    df_status status =
        df_stand_simulate(s->ctx, &w->stand, &w->job, &w->dryer, s->pairs, isatty(STDERR_FILENO) ? &progress : NULL);
    clear(&b);
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
        status = df_file_write(s->ctx, csv, df_text_string(&series), series.length, "--csv");
    if (status >= 0 && figure != NULL)
        status = df_file_write(s->ctx, figure, df_text_string(&drawn), drawn.length, "--figure");
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
