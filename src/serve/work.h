/* What is computed: a pool of threads, its queue, and what was asked for to be fetched later. */
#ifndef DRYFRONT_SERVE_WORK_H
#define DRYFRONT_SERVE_WORK_H

#include "serve/serve.h"

#define DF_WORK_ID 33 /* bytes: 128 random bits in hexadecimal and NUL */
#define DF_MOST_QUEUED 64
#define DF_MOST_KEPT 64     /* works that are fetched later */
#define DF_KEEP_FOR 900.0   /* s after their end */
#define DF_SYNC_LIMIT 120.0 /* s of computing that an open request waits for */
#define DF_ASYNC_LIMIT 7200.0

/* The answer to a request. */
typedef struct df_reply {
    unsigned status;      /* of HTTP */
    const char *type;     /* media type */
    char etag[DF_ETAG];   /* "": none */
    char allow[40];       /* methods, of a 405; "": none */
    char location[80];    /* "": none */
    unsigned retry_after; /* s; 0: none */
    const char *caching;  /* Cache-Control; NULL: by whether there is an ETag */
    const char *coding;   /* Content-Encoding; NULL: none */
    bool varies;          /* Vary: Accept-Encoding */
    const char *fixed;    /* compiled in, in place of the body; NULL: none */
    size_t fixed_length;
    df_text body;
} df_reply;

/* {"error": {"status", "message", "file", "line", "field"}}, with the status of HTTP; the last three are null here. */
void df_reply_error(df_reply *reply, unsigned http, const char *status, const char *format, ...) DF_PRINTF(4, 5);
/* The same from a failure of the library, with where it lies. */
void df_reply_refused(df_reply *reply, unsigned http, const char *status, const df_context *ctx);
void df_reply_failed(df_reply *reply, unsigned http, df_status status, const df_context *ctx);
void df_reply_free(df_reply *reply);

typedef struct df_work df_work;
typedef struct df_pool df_pool;

/* What a work does: on a thread of the pool. `tell` stops it where it returns false. */
typedef void (*df_work_run)(df_context *ctx, df_reply *reply, void *order, const df_progress *progress);

typedef struct df_order {
    df_work_run run;
    void *data; /* released with `release` when the work is */
    void (*release)(void *data);
    bool heavy, later;          /* later: kept under an id, for DF_KEEP_FOR after its end */
    void (*wake)(void *waiter); /* called once it is done, from any thread; of a work that is not for later */
    void *waiter;
} df_order;

/* What runs looks into `cache` (may be NULL), which must outlive the pool. */
DF_NODISCARD df_status df_pool_create(df_context *ctx, df_pool **pool, long threads, df_cache *cache);
/* Takes over the order. NULL where the queue is full or the pool stops (the order is released then). The caller holds one
 * reference, and releases it. */
df_work *df_pool_put(df_pool *pool, const df_order *order);
void df_work_release(df_work *work);
const char *df_work_id(const df_work *work);
/* Of a work that is done: its reply, which stays its own. */
df_reply *df_work_reply(df_work *work);
/* One that was put for later, with a reference; NULL: none of that id. */
df_work *df_pool_find(df_pool *pool, const char *id);
/* Stops it: a queued one at once, a running one when it next tells how far it is. It is forgotten. */
void df_pool_cancel(df_pool *pool, df_work *work);

typedef struct df_work_state {
    enum { DF_WORK_QUEUED, DF_WORK_RUNNING, DF_WORK_DONE } phase;
    double share;  /* done of it, 0..1 */
    double time;   /* s in the run; 0: not told */
    char text[40]; /* what is being done; "": not told */
} df_work_state;
df_work_state df_work_look(df_work *work);
/* Someone who follows a work: `wake` is called once, from any thread, when the state is another than the one last looked at
 * through it. */
typedef struct df_follower {
    df_work_state seen;
    bool looked; /* `seen` holds something */
    bool asleep; /* waits to be woken */
    void (*wake)(void *waiter);
    void *waiter;
    struct df_follower *next;
} df_follower;
void df_work_follow(df_work *work, df_follower *follower);
void df_work_leave(df_work *work, df_follower *follower);
/* True and the new state, or false: nothing new, and the follower will be woken. `sleep` is called under the lock before. */
bool df_work_news(df_work *work, df_follower *follower, df_work_state *state, void (*sleep)(void *waiter));

/* Takes nothing more, stops what runs and wakes all. False where something still runs after `seconds`. */
bool df_pool_stop(df_pool *pool, double seconds);
void df_pool_free(df_pool *pool); /* after df_pool_stop, and after every reference was released */

#endif
