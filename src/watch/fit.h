/* What the fits share: series cut from logs, findings, remarks. */
#ifndef DRYFRONT_WATCH_FIT_H
#define DRYFRONT_WATCH_FIT_H

#include "dryfront/watch.h"
#include "watch/least.h"

/* Values of one column over time, without what is missing, averaged over blocks where there are many. */
typedef struct df_series {
    size_t n;
    double *time, *value;
    double resolution; /* the last digit of the readings */
} df_series;

/* The notes 'from' and 'until' of a log, s from its first row; 0 and its end where they are not told. */
DF_NODISCARD df_status df_series_window(df_context *ctx, double *from, double *until, const df_log *log);
/* A column within a window, at most `most` points of it. With `logarithm` blocks are averaged in the logarithm and values
 * that are not above 0 left out. DF_E_INPUT: no such column, no time, fewer than `least` values. */
DF_NODISCARD df_status df_series_take(df_context *ctx, df_series *out, const df_log *log, df_log_quantity quantity,
                                      size_t index, double from, double until, bool logarithm, size_t least,
                                      size_t most);
void df_series_free(df_series *series);
/* Straight line between points, the end values beyond. */
double df_series_at(const df_series *series, double time);

void df_fit_begin(df_fit *fit, df_test test, const df_log *const *logs, size_t n);
/* Takes the counts and the noise of a solved problem; noise above `most` is no scatter but another model. */
void df_fit_settle(df_fit *fit, const df_least *problem, double noise_scale, double most, const char *unit);
void df_fit_remark(df_fit *fit, const char *format, ...) DF_PRINTF(2, 3);
/* Adds a finding, its value rounded to a tenth of its band's first digit; returns the rounded value. */
double df_fit_find(df_fit *fit, const char *field, df_dimension dimension, const char *unit, double value,
                   double band, double before, bool written);
/* Covariance of n findings that are linear in the parameters of a solved problem: d finding/d parameter in `gradient`. */
void df_fit_join(df_fit *fit, const df_least *problem, size_t n, const size_t *finding,
                 double gradient[][DF_LEAST_MOST]);

#endif
