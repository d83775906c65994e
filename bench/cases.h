/* The loads that are timed and that the peer solves too: invented, in the manner of examples/. */
#ifndef DRYFRONT_BENCH_CASES_H
#define DRYFRONT_BENCH_CASES_H

#include "dryfront/drying.h"

typedef struct bench_data {
    df_context *ctx;
    df_substances *substances;
    df_pairs *pairs;
} bench_data;

/* Ends the program with the sentence of the failure, as the benchmarks do on any failure. */
void bench_check(const bench_data *data, df_status status);
void bench_open(bench_data *data);
void bench_close(bench_data *data);

/* One load, ready for df_run_simulate. Its setup points into the struct, which must not be moved. */
typedef struct bench_case {
    df_dryer dryer;
    df_frozen_path path;
    df_deposit deposit;
    df_setup setup;
} bench_case;

/* "water", "acetonitrile", "two_classes", "manifold", "secondary" or "ten_classes" on bench-55; the name of row `index`, NULL past
 * the end. */
const char *bench_case_name(size_t index);
void bench_case_make(bench_case *out, const bench_data *data, const char *name);

/* Monotonic clock and time of all this process's threads on a core, s; median of n values (sorts them). */
double bench_now(void);
double bench_cpu(void);
double bench_median(double *values, size_t n);

#endif
