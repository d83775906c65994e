/* The pool: one lock, a queue in the order of coming, threads that take from it. */
#include "serve/work.h"

#include <errno.h>
#include <math.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/random.h>
#include <time.h>
#include <unistd.h>
#ifdef _OPENMP
#include <omp.h>
#endif

#define TELL_EVERY 0.1 /* s */
#define MOST_THREADS 64
#define LEFT_FREE 1 /* threads that heavy works leave to the others */

struct df_work {
    df_pool *pool;
    df_order order;
    df_reply reply;
    char id[DF_WORK_ID];
    size_t references;
    df_work_state state;
    bool cancelled, late, stopped;
    double started, ended, told, asked; /* s, of the monotonic clock */
    df_follower *follower;
    df_work *next;      /* in the queue */
    df_work *next_kept; /* among those for later */
};

struct df_pool {
    pthread_mutex_t lock;
    pthread_cond_t more, fewer; /* something to do; something came to its end */
    pthread_t thread[MOST_THREADS];
    size_t threads, processors, alive, running, heavy, queued, kept_count;
    bool stopping;
    df_cache *cache; /* of the server; NULL: none */
    df_work *first, *last, *kept;
};

static double now(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* ---- replies -------------------------------------------------------------------------------------------------- */

static json_t *text_or_null(const char *text) {
    return text[0] != '\0' ? json_string(text) : json_null();
}

static json_t *error_object(const char *status, const char *sentence, const df_fault *place) {
    return json_pack(
        "{s:s, s:s, s:o, s:o, s:o}", "status", status, "message", sentence, "file", text_or_null(place->file), "line",
        place->line > 0 ? json_integer((json_int_t)place->line) : json_null(), "field", text_or_null(place->field));
}

json_t *df_error_object(const char *status, const df_context *ctx) {
    df_fault place = df_context_fault(ctx);
    return error_object(status, df_context_message(ctx), &place);
}

static void put_error(df_reply *reply, unsigned http, const char *status, const char *sentence,
                      const df_fault *place) {
    df_text_free(&reply->body);
    reply->status = http;
    reply->type = "application/json";
    reply->etag[0] = '\0';
    json_t *root = json_pack("{s:o}", "error", error_object(status, sentence, place));
    char *bytes = root != NULL ? json_dumps(root, JSON_INDENT(2)) : NULL;
    df_text_puts(&reply->body, bytes != NULL
                                   ? bytes
                                   : "{\"error\": {\"status\": \"internal\", \"message\": \"?\", \"file\": null, "
                                     "\"line\": null, \"field\": null}}");
    df_text_puts(&reply->body, "\n");
    free(bytes);
    json_decref(root);
}

void df_reply_error(df_reply *reply, unsigned http, const char *status, const char *format, ...) {
    char sentence[1200];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(sentence, sizeof sentence, format, arguments);
    va_end(arguments);
    put_error(reply, http, status, sentence, &(df_fault){"", 0, ""});
}

void df_reply_refused(df_reply *reply, unsigned http, const char *status, const df_context *ctx) {
    const char *sentence = df_context_message(ctx);
    df_fault place = df_context_fault(ctx);
    put_error(reply, http, status, sentence[0] != '\0' ? sentence : status, &place);
}

void df_reply_failed(df_reply *reply, unsigned http, df_status status, const df_context *ctx) {
    df_reply_refused(reply, http, df_status_name(status), ctx);
}

void df_reply_free(df_reply *reply) {
    df_text_free(&reply->body);
}

/* ---- works ---------------------------------------------------------------------------------------------------- */

static void free_work(df_work *w) {
    if (w->order.release != NULL)
        w->order.release(w->order.data);
    df_reply_free(&w->reply);
    free(w);
}

/* The caller holds the lock. */
static void drop(df_work *w) {
    if (--w->references == 0)
        free_work(w);
}

void df_work_release(df_work *w) {
    df_pool *pool = w->pool;
    pthread_mutex_lock(&pool->lock);
    drop(w);
    pthread_mutex_unlock(&pool->lock);
}

const char *df_work_id(const df_work *w) {
    return w->id;
}

df_reply *df_work_reply(df_work *w) {
    return &w->reply;
}

df_work_state df_work_look(df_work *w) {
    pthread_mutex_lock(&w->pool->lock);
    df_work_state state = w->state;
    pthread_mutex_unlock(&w->pool->lock);
    return state;
}

/* The caller holds the lock. */
static void wake_followers(df_work *w) {
    for (df_follower *f = w->follower; f != NULL; f = f->next)
        if (f->asleep) {
            f->asleep = false;
            f->wake(f->waiter);
        }
}

void df_work_follow(df_work *w, df_follower *f) {
    pthread_mutex_lock(&w->pool->lock);
    f->next = w->follower;
    w->follower = f;
    pthread_mutex_unlock(&w->pool->lock);
}

void df_work_leave(df_work *w, df_follower *f) {
    pthread_mutex_lock(&w->pool->lock);
    for (df_follower **at = &w->follower; *at != NULL; at = &(*at)->next)
        if (*at == f) {
            *at = f->next;
            break;
        }
    pthread_mutex_unlock(&w->pool->lock);
}

bool df_work_news(df_work *w, df_follower *f, df_work_state *state, void (*sleep)(void *waiter)) {
    pthread_mutex_lock(&w->pool->lock);
    *state = w->state;
    bool news = !f->looked || f->seen.phase != state->phase || f->seen.share != state->share;
    f->seen = *state;
    f->looked = true;
    if (!news) {
        f->asleep = true;
        sleep(f->waiter);
    }
    pthread_mutex_unlock(&w->pool->lock);
    return news;
}

/* From any thread of the work. Looked at ten times a second: a run tells thousands of times. */
static bool hear_all(df_work *w, double share, double time, const char *what) {
    double at = now(), last, *gate = isnan(share) ? &w->asked : &w->told;
    if (__atomic_load_n(&w->cancelled, __ATOMIC_RELAXED))
        return false;
    __atomic_load(gate, &last, __ATOMIC_RELAXED);
    if (at - last < TELL_EVERY)
        return true;
    __atomic_store(gate, &at, __ATOMIC_RELAXED);
    pthread_mutex_lock(&w->pool->lock);
    if (share > w->state.share) /* threads tell in any order */
        w->state.share = fmin(share, 1.0);
    if (time > 0.0)
        w->state.time = time;
    if (what != NULL)
        snprintf(w->state.text, sizeof w->state.text, "%s", what);
    w->late = at - w->started > (w->order.later ? DF_ASYNC_LIMIT : DF_SYNC_LIMIT);
    bool on = !w->cancelled && !w->late && !w->pool->stopping;
    w->stopped = w->stopped || !on;
    wake_followers(w);
    pthread_mutex_unlock(&w->pool->lock);
    return on;
}

static bool tell(void *data, double share, double time) {
    return hear_all(data, share, time, NULL);
}

static bool hear(void *data, double share, const char *what) {
    return hear_all(data, share, 0.0, what);
}

/* ---- the pool ------------------------------------------------------------------------------------------------- */

/* The first that may be taken: heavy works leave a thread to the others. The caller holds the lock. */
static df_work *take(df_pool *p) {
    size_t most_heavy = p->threads > LEFT_FREE ? p->threads - LEFT_FREE : 1;
    df_work **at = &p->first, *before = NULL;
    while (*at != NULL && (*at)->order.heavy && p->heavy >= most_heavy) {
        before = *at;
        at = &(*at)->next;
    }
    df_work *w = *at;
    if (w != NULL) {
        *at = w->next;
        if (p->last == w)
            p->last = before;
        w->next = NULL;
        p->queued--;
    }
    return w;
}

/* The caller holds the lock. */
static void finish(df_work *w) {
    w->state.phase = DF_WORK_DONE;
    w->state.share = 1.0;
    w->ended = now();
    wake_followers(w);
    if (w->order.wake != NULL)
        w->order.wake(w->order.waiter);
    pthread_cond_broadcast(&w->pool->fewer);
}

static void run(df_pool *p, df_work *w, df_context *ctx) {
    df_progress progress = {tell, w};
#ifdef _OPENMP
    /* What runs shares the processors; results do not depend on it. */
    size_t share = p->processors / (p->running > 0 ? p->running : 1);
    omp_set_num_threads(share > 1 ? (int)share : 1);
#endif
    pthread_mutex_unlock(&p->lock);
    df_context_clear(ctx);
    df_context_listen(ctx, &(df_listener){hear, w});
    w->order.run(ctx, &w->reply, w->order.data, &progress);
    df_context_listen(ctx, NULL);
    pthread_mutex_lock(&p->lock);
    if (w->stopped && !w->late) /* what it came to cannot be told from what it would have */
        df_reply_error(&w->reply, 503, "stopped", "stopped by the one who asked, or with the server");
    if (w->late)
        df_reply_error(&w->reply, 503, "stopped", "it took longer than %.0f s and was stopped",
                       w->order.later ? DF_ASYNC_LIMIT : DF_SYNC_LIMIT);
}

static void *work_on(void *data) {
    df_pool *p = data;
    df_context *ctx = NULL;
    bool sound = df_context_create(&ctx) == DF_OK;
    if (sound)
        df_context_lend(ctx, p->cache);
    pthread_mutex_lock(&p->lock);
    for (;;) {
        df_work *w;
        while ((w = take(p)) == NULL && !p->stopping)
            pthread_cond_wait(&p->more, &p->lock);
        if (w == NULL)
            break;
        if (p->stopping || w->cancelled)
            df_reply_error(&w->reply, 503, "stopped", "stopped before it began");
        else if (!sound)
            df_reply_error(&w->reply, 500, "memory", "out of memory");
        else {
            w->state.phase = DF_WORK_RUNNING;
            w->started = now();
            p->running++;
            p->heavy += w->order.heavy;
            wake_followers(w);
            run(p, w, ctx);
            p->running--;
            p->heavy -= w->order.heavy;
        }
        finish(w);
        drop(w);
        pthread_cond_broadcast(&p->more); /* a heavy one may go now */
    }
    p->alive--;
    pthread_cond_broadcast(&p->fewer);
    pthread_mutex_unlock(&p->lock);
    df_context_destroy(ctx);
    return NULL;
}

df_status df_pool_create(df_context *ctx, df_pool **pool, long threads, df_cache *cache) {
    df_pool *p = calloc(1, sizeof *p);
    *pool = NULL;
    if (p == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    long processors = sysconf(_SC_NPROCESSORS_ONLN);
    p->cache = cache;
    p->processors = processors > 0 ? (size_t)processors : 1;
    size_t wanted = threads > 0 ? (size_t)threads : p->processors + 1;
    wanted = wanted < MOST_THREADS ? wanted : MOST_THREADS;
    pthread_condattr_t clock;
    pthread_condattr_init(&clock);
    pthread_condattr_setclock(&clock, CLOCK_MONOTONIC);
    pthread_mutex_init(&p->lock, NULL);
    pthread_cond_init(&p->more, NULL);
    pthread_cond_init(&p->fewer, &clock);
    pthread_condattr_destroy(&clock);
    pthread_mutex_lock(&p->lock);
    while (p->threads < wanted && pthread_create(&p->thread[p->threads], NULL, work_on, p) == 0)
        p->threads++;
    p->alive = p->threads;
    pthread_mutex_unlock(&p->lock);
    if (p->threads == 0) {
        df_pool_free(p);
        return df_fail(ctx, DF_E_MEMORY, "no thread could be started");
    }
    *pool = p;
    return DF_OK;
}

/* Forgets what was kept long enough, and the oldest where there are too many. The caller holds the lock. */
static void tidy(df_pool *p) {
    double at = now();
    for (df_work **link = &p->kept; *link != NULL;) {
        df_work *w = *link;
        bool done = w->state.phase == DF_WORK_DONE;
        if (done && (at - w->ended > DF_KEEP_FOR || p->kept_count >= DF_MOST_KEPT)) {
            *link = w->next_kept;
            p->kept_count--;
            drop(w);
        } else
            link = &w->next_kept;
    }
}

df_work *df_pool_put(df_pool *p, const df_order *order) {
    df_work *w = calloc(1, sizeof *w);
    unsigned char bytes[(DF_WORK_ID - 1) / 2];
    bool sound = w != NULL && getrandom(bytes, sizeof bytes, 0) == (ssize_t)sizeof bytes;
    if (sound) {
        w->pool = p;
        w->order = *order;
        w->references = 2; /* the caller's and the queue's */
        for (size_t i = 0; i < sizeof bytes; i++)
            snprintf(w->id + 2 * i, 3, "%02x", bytes[i]);
    }
    pthread_mutex_lock(&p->lock);
    if (sound && order->later)
        tidy(p);
    if (!sound || p->stopping || p->queued >= DF_MOST_QUEUED || (order->later && p->kept_count >= DF_MOST_KEPT)) {
        pthread_mutex_unlock(&p->lock);
        free(w);
        if (order->release != NULL)
            order->release(order->data);
        return NULL;
    }
    if (p->last != NULL)
        p->last->next = w;
    else
        p->first = w;
    p->last = w;
    p->queued++;
    if (order->later) {
        df_work **end = &p->kept; /* the oldest first */
        while (*end != NULL)
            end = &(*end)->next_kept;
        *end = w;
        w->references++;
        p->kept_count++;
    }
    pthread_cond_signal(&p->more);
    pthread_mutex_unlock(&p->lock);
    return w;
}

df_work *df_pool_find(df_pool *p, const char *id) {
    pthread_mutex_lock(&p->lock);
    tidy(p);
    df_work *w = p->kept;
    while (w != NULL && strcmp(w->id, id) != 0)
        w = w->next_kept;
    if (w != NULL)
        w->references++;
    pthread_mutex_unlock(&p->lock);
    return w;
}

void df_pool_cancel(df_pool *p, df_work *w) {
    pthread_mutex_lock(&p->lock);
    __atomic_store_n(&w->cancelled, true, __ATOMIC_RELAXED);
    df_work *before = NULL;
    for (df_work **link = &p->first; *link != NULL; before = *link, link = &(*link)->next)
        if (*link == w) {
            *link = w->next;
            if (p->last == w)
                p->last = before;
            p->queued--;
            df_reply_error(&w->reply, 503, "stopped", "stopped before it began");
            finish(w);
            drop(w);
            break;
        }
    for (df_work **link = &p->kept; *link != NULL; link = &(*link)->next_kept)
        if (*link == w) {
            *link = w->next_kept;
            p->kept_count--;
            drop(w);
            break;
        }
    pthread_mutex_unlock(&p->lock);
}

bool df_pool_stop(df_pool *p, double seconds) {
    struct timespec until;
    clock_gettime(CLOCK_MONOTONIC, &until);
    until.tv_sec += (time_t)seconds;
    pthread_mutex_lock(&p->lock);
    p->stopping = true;
    pthread_cond_broadcast(&p->more);
    int late = 0;
    while (p->alive > 0 && late != ETIMEDOUT)
        late = pthread_cond_timedwait(&p->fewer, &p->lock, &until);
    bool stopped = p->alive == 0;
    pthread_mutex_unlock(&p->lock);
    for (size_t i = 0; stopped && i < p->threads; i++)
        pthread_join(p->thread[i], NULL);
    return stopped;
}

void df_pool_free(df_pool *p) {
    while (p->kept != NULL) {
        df_work *w = p->kept;
        p->kept = w->next_kept;
        drop(w);
    }
    pthread_cond_destroy(&p->more);
    pthread_cond_destroy(&p->fewer);
    pthread_mutex_destroy(&p->lock);
    free(p);
}
