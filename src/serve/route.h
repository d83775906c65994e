/* From a request to what it asks for. */
#ifndef DRYFRONT_SERVE_ROUTE_H
#define DRYFRONT_SERVE_ROUTE_H

#include "serve/work.h"

#define DF_BODY_LARGEST ((size_t)4 << 20) /* bytes */

typedef enum df_method {
    DF_METHOD_GET, /* and HEAD: the same without its body */
    DF_METHOD_POST,
    DF_METHOD_PUT,
    DF_METHOD_DELETE,
    DF_METHOD_OPTIONS,
    DF_METHOD_OTHER
} df_method;
df_method df_method_of(const char *word);

/* Headers are NULL where they are not there. */
typedef struct df_request {
    df_method method;
    char *path; /* without its query, percent-encoding undone */
    const char *host, *origin, *site, *content_type, *accept, *accept_encoding, *prefer, *if_match, *if_none_match;
    bool draft;
    const char *body;
    size_t length;
} df_request;

typedef struct df_routes_table df_routes_table;

DF_NODISCARD df_status df_routes_open(df_context *ctx, df_routes_table **routes, const df_server_task *task,
                                      df_pool *pool, long port);
void df_routes_close(df_routes_table *routes); /* takes NULL */

typedef enum df_routed {
    DF_ROUTE_REPLY,   /* *reply is the answer */
    DF_ROUTE_COMPUTE, /* *order goes to the pool */
    DF_ROUTE_FOLLOW   /* *work is followed by events; the caller has a reference */
} df_routed;
df_routed df_request_route(df_routes_table *routes, const df_request *request, df_reply *reply, df_order *order,
                           df_work **work);
/* The answer where the pool takes nothing more. */
void df_request_busy(df_reply *reply);

struct df_server {
    struct MHD_Daemon *daemon;
    df_pool *pool;
    struct df_guard *guard;
    df_cache *cache; /* of what depends on a mixture alone */
    df_routes_table *routes;
    long port;
    long open; /* requests that have begun and not ended */
};

#endif
