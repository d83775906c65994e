/* Several workers under mpirun, on one host or more. Without MPI: one. */
#ifndef DRYFRONT_COMMAND_HOSTS_H
#define DRYFRONT_COMMAND_HOSTS_H

#include "dryfront/base.h"

typedef struct df_hosts {
    int rank, size;
} df_hosts;

/* Finds the other workers. Under mpirun in a program that was built without MPI: DF_E_INPUT. */
DF_NODISCARD df_status df_hosts_begin(df_context *ctx, df_hosts *hosts);
void df_hosts_end(void); /* also where df_hosts_begin failed */

/* The same for all: DF_OK where `status` is at every worker and `mark` is the same; else a failure. A worker that fails says why
 * itself. Call by all together. */
DF_NODISCARD df_status df_hosts_agree(df_context *ctx, const df_hosts *hosts, df_status status, uint64_t mark);

/* A piece of work as text; called by one thread of a worker at a time. */
typedef df_status (*df_hosts_work)(df_context *ctx, df_text *out, size_t piece, void *data);
/* Takes in a piece's text, and says how far it has come; called by the first worker alone, by one thread at a time. */
typedef df_status (*df_hosts_keep)(df_context *ctx, size_t piece, const char *bytes, size_t length, void *data);

/* Does n pieces (their numbers in `piece`; read at the first worker alone) over all workers, each taking the next when it is
 * done; the first worker works, too. After a failure nothing new is begun. Call by all together. Errors of work and keep; what
 * failed at another worker shows at the first as DF_E_INTERNAL. */
DF_NODISCARD df_status df_hosts_share(df_context *ctx, const df_hosts *hosts, const size_t *piece, size_t n,
                                      df_hosts_work work, df_hosts_keep keep, void *data);

#endif
