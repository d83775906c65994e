/* dryfront/watch.h: reading a dryer's logs, and learning its constants from them. docs/tune.md has the equations. */
#ifndef DRYFRONT_WATCH_H
#define DRYFRONT_WATCH_H

#include "dryfront/advice.h"

#ifdef __cplusplus
extern "C" {
#endif

/* ---- logs ----------------------------------------------------------------------------------------------------- */

/* A log or a table of weights, its columns known by quantity, every value in SI. */
typedef struct df_log df_log;

/* Reads CSV of any layout: delimiter, decimal sign and header row are found, or taken from `map` (may be NULL); UTF-8, else
 * Latin-1; lines that begin with '#' or '//' are comments, and "# key: value" with a key of df_log_note is a note. Columns
 * are those of the map, else recognised by name and unit. Times in s, min, h or d, as a clock's ("14:03:20", past midnight
 * too) or with a date ("2026-02-28T14:03:20", "28.02.2026 14:03"), date and clock in one column or two.
 * Rows whose time repeats or goes back are left out; this, gaps, missing values and sensors that do not move are told by
 * df_log_remark. DF_E_INPUT with file, line and column: no header, a ragged row, what is no number or time, a unit missing or
 * wrong, two columns for one quantity, more than a tenth of the rows left out; DF_E_MEMORY. On failure *log is NULL. */
DF_NODISCARD df_status df_log_parse(df_context *ctx, df_log **log, const char *buffer, size_t length,
                                    const char *name, const df_log_map *map);
void df_log_free(df_log *log); /* takes NULL */
const char *df_log_name(const df_log *log);
size_t df_log_bytes(const df_log *log);
size_t df_log_rows(const df_log *log);
size_t df_log_line(const df_log *log, size_t row); /* line in the file, from 1 */
/* How many columns hold a quantity; 0 or 1 for time and pressures. */
size_t df_log_count(const df_log *log, df_log_quantity quantity);
/* Values of the index-th of them, one for each row, NAN where missing; time in s from the first row. NULL: none, or text. */
const double *df_log_values(const df_log *log, df_log_quantity quantity, size_t index);
const char *df_log_column_name(const df_log *log, df_log_quantity quantity, size_t index);
/* Text of a row in a column of names or positions; "" where there is none. */
const char *df_log_words(const df_log *log, df_log_quantity quantity, size_t row);
/* Names of the columns that were not understood, as one list; "" where there are none. */
const char *df_log_unknown(const df_log *log);
/* The index-th remark, a sentence without its full stop; NULL past the end. */
const char *df_log_remark(const df_log *log, size_t index);

/* What is told of a log beside its columns (docs/tune.md lists the keys). */
const char *df_log_note(const df_log *log, const char *key); /* NULL: not told */
/* Adds "key: value", in place of an older one. DF_E_INPUT: no colon; DF_E_UNKNOWN_NAME with the nearest key. */
DF_NODISCARD df_status df_log_add_note(df_context *ctx, df_log *log, const char *text, const char *where);
/* A note that is a quantity; *value stays where it is not told. */
DF_NODISCARD df_status df_log_note_quantity(df_context *ctx, double *value, const df_log *log, const char *key,
                                            df_dimension dimension, double lowest, double highest);

#ifdef __cplusplus
}
#endif
#endif
