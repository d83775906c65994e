/* Connections that do not come to their point. */
#include "serve/guard.h"

#include <errno.h>
#include <pthread.h>
#include <stdlib.h>
#include <sys/socket.h>
#include <time.h>

#define LOOK_EVERY 2 /* s */

struct df_guarded {
    df_guarded *next, *before;
    int socket;
    bool waits;
    double since; /* s */
};

struct df_guard {
    pthread_mutex_t lock;
    pthread_cond_t stop;
    pthread_t thread;
    bool stopping;
    double limit;
    df_guarded *first;
};

static double now(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static void *look(void *data) {
    df_guard *g = data;
    pthread_mutex_lock(&g->lock);
    while (!g->stopping) {
        double at = now();
        for (df_guarded *c = g->first; c != NULL; c = c->next)
            if (c->waits && at - c->since > g->limit) {
                (void)shutdown(c->socket, SHUT_RDWR); /* who owns it sees the end and closes it */
                c->waits = false;
            }
        struct timespec until;
        clock_gettime(CLOCK_MONOTONIC, &until);
        until.tv_sec += LOOK_EVERY;
        while (!g->stopping && pthread_cond_timedwait(&g->stop, &g->lock, &until) != ETIMEDOUT) {
        }
    }
    pthread_mutex_unlock(&g->lock);
    return NULL;
}

df_status df_guard_start(df_context *ctx, df_guard **guard, double limit) {
    df_guard *g = *guard = calloc(1, sizeof *g);
    if (g == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    pthread_condattr_t clock;
    pthread_condattr_init(&clock);
    pthread_condattr_setclock(&clock, CLOCK_MONOTONIC);
    pthread_mutex_init(&g->lock, NULL);
    pthread_cond_init(&g->stop, &clock);
    pthread_condattr_destroy(&clock);
    g->limit = limit;
    if (pthread_create(&g->thread, NULL, look, g) == 0)
        return DF_OK;
    pthread_cond_destroy(&g->stop);
    pthread_mutex_destroy(&g->lock);
    free(g);
    *guard = NULL;
    return df_fail(ctx, DF_E_MEMORY, "no thread could be started");
}

void df_guard_stop(df_guard *g) {
    if (g == NULL)
        return;
    pthread_mutex_lock(&g->lock);
    g->stopping = true;
    pthread_cond_signal(&g->stop);
    pthread_mutex_unlock(&g->lock);
    pthread_join(g->thread, NULL);
    pthread_cond_destroy(&g->stop);
    pthread_mutex_destroy(&g->lock);
    free(g);
}

df_guarded *df_guard_add(df_guard *g, int socket) {
    df_guarded *c = calloc(1, sizeof *c);
    if (c == NULL)
        return NULL;
    c->socket = socket;
    c->waits = true;
    c->since = now();
    pthread_mutex_lock(&g->lock);
    c->next = g->first;
    if (g->first != NULL)
        g->first->before = c;
    g->first = c;
    pthread_mutex_unlock(&g->lock);
    return c;
}

void df_guard_remove(df_guard *g, df_guarded *c) {
    if (c == NULL)
        return;
    pthread_mutex_lock(&g->lock);
    *(c->before != NULL ? &c->before->next : &g->first) = c->next;
    if (c->next != NULL)
        c->next->before = c->before;
    pthread_mutex_unlock(&g->lock);
    free(c);
}

static void set(df_guard *g, df_guarded *c, bool waits) {
    if (c == NULL)
        return;
    pthread_mutex_lock(&g->lock);
    c->waits = waits;
    c->since = now();
    pthread_mutex_unlock(&g->lock);
}

void df_guard_wait(df_guard *g, df_guarded *c) {
    set(g, c, true);
}

void df_guard_leave(df_guard *g, df_guarded *c) {
    set(g, c, false);
}
