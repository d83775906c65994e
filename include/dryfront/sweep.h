/* dryfront/sweep.h: large studies: a job run over lists, ranges and draws of its fields. Part of the room advice; docs/sweep.md. */
#ifndef DRYFRONT_SWEEP_H
#define DRYFRONT_SWEEP_H

#include "dryfront/advice.h"

#ifdef __cplusplus
extern "C" {
#endif

#define DF_SWEEP_AXES 12
#define DF_SWEEP_RUNS 1000000 /* most */

typedef struct df_sweep df_sweep;

/* Reads a plan (docs/sweep.md). DF_E_INPUT with file, line and field. Free with df_sweep_free. */
DF_NODISCARD df_status df_sweep_parse(df_context *ctx, df_sweep **sweep, const char *buffer, size_t length,
                                      const char *name);
void df_sweep_free(df_sweep *sweep); /* takes NULL */

const char *df_sweep_name(const df_sweep *sweep);
/* Path of the job's file as written in the plan, and "file:line: field" of it for sentences. */
const char *df_sweep_job(const df_sweep *sweep);
const char *df_sweep_job_where(const df_sweep *sweep);
size_t df_sweep_runs(const df_sweep *sweep);
size_t df_sweep_chunks(const df_sweep *sweep); /* pieces that the runs are done in */

/* The job's file, on which the fields are changed; `substances`, `containers` (NULL: the built-in ones) and `pairs` are borrowed. Every field of the plan is looked for in
 * it, and the first run's job is read. DF_E_INPUT. */
DF_NODISCARD df_status df_sweep_take_job(df_context *ctx, df_sweep *sweep, const df_substances *substances,
                                         const df_containers *containers, const df_pairs *pairs, const char *buffer,
                                         size_t length, const char *name);
/* The dryers that the runs name, in order; NULL past the end. Each has to be handed in before runs. */
const char *df_sweep_dryer_name(const df_sweep *sweep, size_t index);
void df_sweep_take_dryer(df_sweep *sweep, size_t index, const df_dryer *dryer);

/* 64 bits that tell plan, job and dryers from others. DF_E_MEMORY. */
DF_NODISCARD df_status df_sweep_fingerprint(df_context *ctx, uint64_t *out, const df_sweep *sweep);

/* Appends the header of the table, in RFC 4180 with LF, and the rows of one chunk (docs/sweep.md has the columns). Runs go side by
 * side over threads; rows are the same for any number of them. A job that cannot be read or run is a row with its status and a
 * sentence. DF_E_MEMORY. */
void df_sweep_header(df_text *out, const df_sweep *sweep);
DF_NODISCARD df_status df_sweep_chunk(df_context *ctx, df_text *out, const df_sweep *sweep, size_t chunk);

#ifdef __cplusplus
}
#endif
#endif
