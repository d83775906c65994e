/* The server: what it answers with, and how it is started. It knows of HTTP and of the workspace; what a service computes
 * stands in the room above, which hands its table over. */
#ifndef DRYFRONT_SERVE_SERVE_H
#define DRYFRONT_SERVE_SERVE_H

#include "serve/workspace.h"

#include <jansson.h>

/* Something that is asked for below /api/v1/. */
typedef struct df_service {
    const char *path; /* "stand", "figures/run" */
    bool table;       /* answers GET; else POST of a JSON object */
    bool items;       /* a table that answers PATH/NAME, too */
    bool heavy;       /* may take long: not every thread takes one */
    const char *type; /* media type of the answer */
} df_service;

typedef struct df_call {
    size_t service;   /* its place in the table */
    const char *item; /* NAME of PATH/NAME; NULL: the whole table */
    json_t *body;     /* object; NULL for a table */
    const df_progress *progress;
    df_workspace *workspace;
    bool envelope; /* set where it is the body's own shape that is wrong, not what stands in it */
} df_call;

/* Appends the answer to out. Called from several threads at once, each with a context of its own. */
typedef df_status (*df_perform)(df_context *ctx, df_text *out, df_call *call, void *data);

typedef struct df_server_task {
    const df_service *service;
    size_t services;
    df_perform perform;
    void *data;
    const char *listen; /* a numeric address */
    long port;          /* 0: any that is free */
    const char *const *host;
    size_t hosts; /* names beside those of the loopback and the address itself */
    long threads; /* that compute; 0: processors + 1 */
    df_workspace *workspace;
    const char *version;
} df_server_task;

/* {"status", "message", "file", "line", "field"} of what failed last, as in every error; new. */
json_t *df_error_object(const char *status, const df_context *ctx);

typedef struct df_server df_server;

/* Starts to listen. The task and what it points to must outlive the server. DF_E_INPUT: no such address; DF_E_IO: it is taken,
 * or may not be had; DF_E_MEMORY. */
DF_NODISCARD df_status df_server_start(df_context *ctx, df_server **server, const df_server_task *task);
long df_server_port(const df_server *server);
/* Takes no more, stops what runs, answers what waits, and frees the server. False where something could not be stopped within
 * ten seconds: threads still run, nothing is freed, and the process should end. */
bool df_server_stop(df_server *server);

#endif
