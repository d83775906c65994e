/* Connections that do not come to their point: whoever sends a request's headers drop by drop is cut off. */
#ifndef DRYFRONT_SERVE_GUARD_H
#define DRYFRONT_SERVE_GUARD_H

#include "dryfront/base.h"

typedef struct df_guard df_guard;
typedef struct df_guarded df_guarded; /* one connection */

/* Starts a thread that shuts down every socket which waits longer than `limit` (s) for the end of a request's headers. DF_E_MEMORY. */
DF_NODISCARD df_status df_guard_start(df_context *ctx, df_guard **guard, double limit);
void df_guard_stop(df_guard *guard); /* after the last connection; takes NULL */

/* From the thread that owns the sockets. NULL: no memory, and it is not guarded. All others take NULL. */
df_guarded *df_guard_add(df_guard *guard, int socket);
void df_guard_remove(df_guard *guard, df_guarded *connection); /* before the socket is closed */
void df_guard_wait(df_guard *guard, df_guarded *connection);   /* from now on for headers */
void df_guard_leave(df_guard *guard, df_guarded *connection);  /* they have come */

#endif
