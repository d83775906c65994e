/* Logs inside the room. */
#ifndef DRYFRONT_WATCH_LOG_H
#define DRYFRONT_WATCH_LOG_H

#include "dryfront/watch.h"

/* A piece of a text, not terminated. */
typedef struct df_slice {
    const char *at;
    size_t length;
} df_slice;

/* Without the spaces and tabs at its ends. */
df_slice df_log_trim(const char *at, size_t length);

#define DF_LOG_DIMENSIONS 5
extern const df_dimension df_log_dimensions[DF_LOG_DIMENSIONS]; /* what the columns of logs measure */

/* SI = number * factor + offset for a unit as loggers write it; false where it is none of the dimension. */
bool df_log_unit(double *factor, double *offset, const char *unit, df_dimension dimension);
/* The dimension of a unit, DF_DIM_COUNT where it is none that a log holds. */
df_dimension df_log_unit_dimension(const char *unit);
/* Takes "P_ch [mbar]", "Pirani/µbar", "shelf °C", "time_s", "weight, g" apart; unit "" where there is none. */
void df_log_heading(char *name, char *unit, size_t size, df_slice cell);
/* What a heading without its unit names, in a dimension (DF_DIM_COUNT: no unit); DF_LOG_IGNORED where nothing. */
df_log_quantity df_log_recognise(const char *name, df_dimension dimension);

/* An empty cell, or one of the words by which loggers say that a sensor gives nothing. */
bool df_log_missing(df_slice cell);
/* "2026-02-28T14:03:20.5+01:00", "28.02.2026 14:03", a date alone, a clock alone: s since 1970 or since midnight. False:
 * none of them. */
bool df_log_clock(bool *dated, bool *timed, double *seconds, df_slice cell);

/* Adds a remark, cut at 399 bytes; beyond the most that are kept it is dropped. */
void df_log_remarkf(df_log *log, const char *format, ...) DF_PRINTF(2, 3);

#endif
