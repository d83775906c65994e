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
/* The last digit that its readings show, in SI; 0: none. */
double df_log_digit(const df_log *log, df_log_quantity quantity, size_t index);
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

/* ---- learning a dryer's constants ----------------------------------------------------------------------------- */

/* What was done while a log was written. */
typedef enum df_test {
    DF_TEST_ISOLATION, /* the dry, empty dryer shut off from its pump: its pressure rises */
    DF_TEST_PUMP_DOWN, /* the dry, empty dryer pumped down */
    DF_TEST_TRAP,      /* the trap cooling down, or under a known load */
    DF_TEST_ICE,       /* containers of ice weighed before and after some hours of sublimation */
    DF_TEST_PRODUCT,   /* a product in primary drying */
    DF_TESTS
} df_test;
const char *df_test_name(df_test test); /* "isolation", "pump_down", "trap", "ice_test", "product" */
/* From the note "test", else from the columns. DF_E_INPUT: neither tells. */
DF_NODISCARD df_status df_test_recognise(df_context *ctx, df_test *test, const df_log *log);

#define DF_MAX_FINDINGS 40
#define DF_MAX_FIT_REMARKS 12
#define DF_MAX_TEST_LOGS 6

/* One constant. Values in SI, rounded to a tenth of the band, as they go into the dryer. */
typedef struct df_finding {
    char field[64]; /* of the dryer's file: "pump.speed[2].flow"; of no file where `written` is false */
    df_dimension dimension;
    const char *unit;   /* as it is shown and written */
    double value, band; /* one standard deviation; of a temperature in K */
    double before;      /* NAN: not known */
    double at;          /* Pa or K where a point of a curve lies, NAN otherwise */
    df_dimension at_dimension;
    bool written; /* goes into the dryer's file */
    bool quoted;  /* goes into its history */
} df_finding;

typedef struct df_fit {
    df_test test;
    size_t logs;
    const df_log *log[DF_MAX_TEST_LOGS]; /* borrowed */
    size_t findings;
    df_finding finding[DF_MAX_FINDINGS];
    /* Covariance of the findings that are written, SI: their bands and how they go together; 0 for the others. */
    double joint[DF_MAX_FINDINGS][DF_MAX_FINDINGS];
    size_t points, unknowns;
    double residual; /* root mean square over the degrees of freedom, in residual_unit */
    const char *residual_unit;
    double correlation; /* of neighbouring residuals; 0: none to be seen */
    bool described;     /* false: residuals too large for the test's model to be that of the log */
    char remark[DF_MAX_FIT_REMARKS][280];
    size_t remarks;
} df_fit;

/* Each fits its constants to n logs of one test together, puts them into `dryer` and tells them in `fit`. Bands are one
 * standard deviation from the scatter of the residuals (widened where neighbours are correlated) and from what else is
 * uncertain by the notes; docs/tune.md has equations, notes and limits. DF_E_INPUT: a column or note is missing or cannot be
 * used, the log is not of this test; DF_E_CONVERGENCE; DF_E_MEMORY. On failure the dryer is as it was;
 * where fit->described is false the constants are of no use, and the caller puts the dryer back. */

/* chamber.leak and chamber.degassing: V dP/dt = leak + degassing (1 h)/(time since evacuation). */
DF_NODISCARD df_status df_tune_isolation(df_context *ctx, df_fit *fit, df_dryer *dryer, const df_log *const *logs,
                                         size_t n);
/* pump.speed and pump.ultimate_pressure: V dP/dt = -S(P) P + leak + degassing; leak and degassing known as
 * `isolation` found them, NULL: to 20 % each, a degassing that the file does not state to about the leak (assumptions). */
DF_NODISCARD df_status df_tune_pump_down(df_context *ctx, df_fit *fit, df_dryer *dryer, const df_log *const *logs,
                                         size_t n, const df_fit *isolation);
/* trap.refrigeration, and trap.heat_capacity where a load is known: C dT/dt = load - Q(T). */
DF_NODISCARD df_status df_tune_trap(df_context *ctx, df_fit *fit, df_dryer *dryer, const df_log *const *logs,
                                    size_t n);
/* shelf.contact, gas, gas_bend: Kv = lost heat of sublimation/(area duration (shelf - product)). */
DF_NODISCARD df_status df_tune_ice(df_context *ctx, df_fit *fit, df_dryer *dryer, const df_substance *water,
                                   const df_log *const *logs, size_t n);
/* R0, A1, A2 of the product's dried layer, by runs of model (a) under the shelf temperature and pressure of the log.
 * *cake receives them; the dryer is not changed. `learnt`: the fits (n of them, may be 0) by which the dryer's constants were
 * found; what their covariance leaves open goes into the bands. */
DF_NODISCARD df_status df_tune_product(df_context *ctx, df_fit *fit, df_cake *cake, const df_dryer *dryer,
                                       const df_job *job, const df_pairs *pairs, const df_log *log,
                                       const df_fit *learnt, size_t n);

/* A finding's value, band and earlier value as they are written, "0.0103 mbar L/s"; before: "" where it is not known. */
void df_finding_text(char value[48], char band[48], char before[48], const df_finding *finding);
/* The history entries of a fit, dated "YYYY-MM-DD". DF_E_MEMORY. */
DF_NODISCARD df_status df_fit_history(df_context *ctx, df_dryer_notes *notes, const df_fit *fit, const char *date);

#ifdef __cplusplus
}
#endif
#endif
