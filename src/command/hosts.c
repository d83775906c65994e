/* Several workers under mpirun. The first hands out pieces and keeps what comes back; a thread of its own works. */
#include "hosts.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#ifndef DRYFRONT_MPI

df_status df_hosts_begin(df_context *ctx, df_hosts *h) {
    const char *size = getenv("OMPI_COMM_WORLD_SIZE");
    if (size == NULL)
        size = getenv("PMI_SIZE");
    *h = (df_hosts){0, 1};
    if (size != NULL && atol(size) > 1)
        return df_fail(
            ctx, DF_E_INPUT,
            "this program is built without MPI and would do the same work %ld times; run dryfront-sweep under "
            "mpirun",
            atol(size));
    return DF_OK;
}

void df_hosts_end(void) {
}

df_status df_hosts_agree(df_context *ctx, const df_hosts *h, df_status status, uint64_t mark) {
    (void)ctx;
    (void)h;
    (void)mark;
    return status;
}

df_status df_hosts_share(df_context *ctx, const df_hosts *h, const size_t *piece, size_t n, df_hosts_work work,
                         df_hosts_keep keep, void *data) {
    df_status status = DF_OK;
    (void)h;
    for (size_t i = 0; i < n && status == DF_OK; i++) {
        df_text text = {0};
        status = work(ctx, &text, piece[i], data);
        if (status == DF_OK)
            status = keep(ctx, piece[i], df_text_string(&text), text.length, data);
        df_text_free(&text);
    }
    return status;
}

#else

#include <mpi.h>
#include <pthread.h>
#include <time.h>

enum { ASK = 1, RESULT, FAILED, ANSWER };
#define NOTHING (-1LL)
#define PAUSE 500000L /* ns between looks at the mail: no core is taken from the work */

df_status df_hosts_begin(df_context *ctx, df_hosts *h) {
    int level = 0;
    *h = (df_hosts){0, 1};
    if (MPI_Init_thread(NULL, NULL, MPI_THREAD_FUNNELED, &level) != MPI_SUCCESS || level < MPI_THREAD_FUNNELED)
        return df_fail(ctx, DF_E_INTERNAL, "MPI does not start");
    MPI_Comm_rank(MPI_COMM_WORLD, &h->rank);
    MPI_Comm_size(MPI_COMM_WORLD, &h->size);
    return DF_OK;
}

void df_hosts_end(void) {
    int on = 0, off = 0;
    MPI_Initialized(&on);
    MPI_Finalized(&off);
    if (on && !off)
        MPI_Finalize();
}

df_status df_hosts_agree(df_context *ctx, const df_hosts *h, df_status status, uint64_t mark) {
    /* The smallest of each and of its opposite: same where they are each other's opposite. */
    unsigned long long mine[2] = {mark, ~mark}, least[2];
    int own = status < 0 ? (int)status : 0, worst = 0;
    MPI_Allreduce(&own, &worst, 1, MPI_INT, MPI_MIN, MPI_COMM_WORLD);
    MPI_Allreduce(mine, least, 2, MPI_UNSIGNED_LONG_LONG, MPI_MIN, MPI_COMM_WORLD);
    (void)h;
    if (status < 0)
        return status;
    if (worst < 0)
        return df_fail(ctx, (df_status)worst, "another worker failed");
    if (least[0] != ~least[1])
        return df_fail(ctx, DF_E_INPUT,
                       "the workers do not read the same plan, job and dryers: have the same files on each host");
    return DF_OK;
}

/* ---- the first worker ----------------------------------------------------------------------------------------- */

typedef struct desk {
    pthread_mutex_t lock;
    const size_t *piece;
    size_t n, next;
    df_status status; /* first failure */
    char message[400];
    df_hosts_work work;
    df_hosts_keep keep;
    void *data;
    bool own_done;
} desk;

static void fail_with(desk *d, df_status status, const char *message) { /* locked */
    if (d->status == DF_OK) {
        d->status = status;
        snprintf(d->message, sizeof d->message, "%.399s", message);
    }
}

static long long take(desk *d) {
    pthread_mutex_lock(&d->lock);
    long long piece = d->status == DF_OK && d->next < d->n ? (long long)d->piece[d->next++] : NOTHING;
    pthread_mutex_unlock(&d->lock);
    return piece;
}

static void put(desk *d, df_context *ctx, size_t piece, const char *bytes, size_t length) {
    pthread_mutex_lock(&d->lock);
    df_status status = d->keep(ctx, piece, bytes, length, d->data);
    if (status < 0)
        fail_with(d, status, df_context_message(ctx));
    pthread_mutex_unlock(&d->lock);
}

static void *own_work(void *data) {
    desk *d = data;
    df_context *ctx;
    if (df_context_create(&ctx) == DF_OK) {
        for (long long piece; (piece = take(d)) != NOTHING;) {
            df_text text = {0};
            df_status status = d->work(ctx, &text, (size_t)piece, d->data);
            if (status == DF_OK)
                put(d, ctx, (size_t)piece, df_text_string(&text), text.length);
            else {
                pthread_mutex_lock(&d->lock);
                fail_with(d, status, df_context_message(ctx));
                pthread_mutex_unlock(&d->lock);
            }
            df_text_free(&text);
        }
        df_context_destroy(ctx);
    }
    pthread_mutex_lock(&d->lock);
    d->own_done = true;
    pthread_mutex_unlock(&d->lock);
    return NULL;
}

/* One letter: a result with its piece in the first 8 bytes, or a worker that asks or has failed. False: no more is said to it. */
static bool answer_letter(desk *d, df_context *ctx, const MPI_Status *about) {
    int length = 0;
    MPI_Get_count(about, MPI_BYTE, &length);
    char *bytes = malloc((size_t)length + 1);
    if (bytes == NULL) { /* nothing can be taken in any more: mpirun ends the others; what was written stays */
        MPI_Abort(MPI_COMM_WORLD, 3);
        return false;
    }
    MPI_Recv(bytes, length, MPI_BYTE, about->MPI_SOURCE, about->MPI_TAG, MPI_COMM_WORLD, MPI_STATUS_IGNORE);
    long long piece;
    if (about->MPI_TAG == RESULT) {
        memcpy(&piece, bytes, sizeof piece);
        put(d, ctx, (size_t)piece, bytes + sizeof piece, (size_t)length - sizeof piece);
    } else if (about->MPI_TAG == FAILED) {
        bytes[length] = '\0';
        pthread_mutex_lock(&d->lock);
        fail_with(d, DF_E_INTERNAL, bytes);
        pthread_mutex_unlock(&d->lock);
    }
    free(bytes);
    piece = take(d);
    MPI_Send(&piece, 1, MPI_LONG_LONG, about->MPI_SOURCE, ANSWER, MPI_COMM_WORLD);
    return piece != NOTHING;
}

static df_status lead(df_context *ctx, const df_hosts *h, desk *d) {
    pthread_t own;
    int there, busy = h->size - 1;
    pthread_mutex_init(&d->lock, NULL);
    bool threaded = pthread_create(&own, NULL, own_work, d) == 0;
    if (!threaded)
        d->own_done = true; /* the others do it, or the count at the end shows it */
    for (bool done = false; busy > 0 || !done;) {
        MPI_Status about;
        there = 0;
        if (busy > 0)
            MPI_Iprobe(MPI_ANY_SOURCE, MPI_ANY_TAG, MPI_COMM_WORLD, &there, &about);
        if (there)
            busy -= answer_letter(d, ctx, &about) ? 0 : 1;
        else
            nanosleep(&(struct timespec){0, PAUSE}, NULL);
        pthread_mutex_lock(&d->lock);
        done = d->own_done;
        pthread_mutex_unlock(&d->lock);
    }
    if (threaded)
        pthread_join(own, NULL);
    pthread_mutex_destroy(&d->lock);
    if (d->status == DF_OK && d->next < d->n)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    return d->status == DF_OK ? DF_OK : df_fail(ctx, d->status, "%s", d->message);
}

/* ---- the others ----------------------------------------------------------------------------------------------- */

static df_status follow(df_context *ctx, df_hosts_work work, void *data) {
    long long piece;
    MPI_Send("", 0, MPI_BYTE, 0, ASK, MPI_COMM_WORLD);
    MPI_Recv(&piece, 1, MPI_LONG_LONG, 0, ANSWER, MPI_COMM_WORLD, MPI_STATUS_IGNORE);
    df_status status = DF_OK;
    while (piece != NOTHING) {
        df_text text = {0};
        df_text_append(&text, (const char *)&piece, sizeof piece);
        status = work(ctx, &text, (size_t)piece, data);
        if (status == DF_OK)
            MPI_Send(text.data, (int)text.length, MPI_BYTE, 0, RESULT, MPI_COMM_WORLD);
        else
            MPI_Send(df_context_message(ctx), (int)strlen(df_context_message(ctx)), MPI_BYTE, 0, FAILED,
                     MPI_COMM_WORLD);
        df_text_free(&text);
        MPI_Recv(&piece, 1, MPI_LONG_LONG, 0, ANSWER, MPI_COMM_WORLD, MPI_STATUS_IGNORE);
    }
    return status;
}

df_status df_hosts_share(df_context *ctx, const df_hosts *h, const size_t *piece, size_t n, df_hosts_work work,
                         df_hosts_keep keep, void *data) {
    desk d = {.piece = piece, .n = n, .work = work, .keep = keep, .data = data};
    return h->rank == 0 ? lead(ctx, h, &d) : follow(ctx, work, data);
}

#endif
