/* The server's way in: one thread of libmicrohttpd that reads requests and sends answers; what has to be computed goes to the
 * pool while its connection is suspended. */
#include "serve/guard.h"
#include "serve/route.h"

#include <errno.h>
#include <microhttpd.h>
#include <netdb.h>
#include <netinet/in.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#define MOST_CONNECTIONS 256
#define IDLE_LIMIT 20u                  /* s without a byte */
#define HEADER_LIMIT 20.0               /* s that a request's headers may take to come in */
#define UPLOAD_LIMIT 30.0               /* s that a request may take to come in */
#define DISCARD_MOST ((size_t)64 << 20) /* bytes of a body that is too large, read to be answered all the same */
#define STOP_LIMIT 10.0                 /* s */
#define CACHE_LIMIT ((size_t)24 << 20)  /* bytes of frozen paths and deposits, some 100 mixtures */
#define BLOCK 16384u

typedef enum upload { READING, TOO_LARGE } upload;

/* One request, from its first line to its last byte. */
typedef struct exchange {
    df_server *server;
    struct MHD_Connection *connection;
    df_request request;
    df_text body;
    size_t received;
    upload upload;
    double begun;
    df_work *work; /* it waits for this one */
} exchange;

/* Someone who follows a work by server-sent events. */
typedef struct stream {
    struct MHD_Connection *connection;
    df_work *work;
    df_follower follower;
    df_text pending;
    size_t sent;
    bool over;
} stream;

static double now(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* ---- answers -------------------------------------------------------------------------------------------------- */

static void add(struct MHD_Response *r, const char *name, const char *value) {
    if (value[0] != '\0')
        (void)MHD_add_response_header(r, name, value);
}

/* What every answer says: pages of our own alone, types as stated, nothing told to other sites. */
static void add_common(struct MHD_Response *r, const char *type) {
    add(r, "Content-Type", type);
    add(r, "Content-Security-Policy",
        "default-src 'self'; img-src 'self' blob: data:; style-src 'self'; script-src 'self'; connect-src 'self'; "
        "worker-src 'self'; object-src 'none'; base-uri 'none'; frame-ancestors 'none'; form-action 'self'");
    add(r, "X-Content-Type-Options", "nosniff");
    add(r, "Referrer-Policy", "no-referrer");
    add(r, "Cross-Origin-Resource-Policy", "same-origin");
    add(r, "Cross-Origin-Opener-Policy", "same-origin");
}

static enum MHD_Result send_reply(struct MHD_Connection *connection, df_reply *reply) {
    bool empty = reply->status == 304 || reply->status == 204;
    char number[16];
    if (reply->body.failed)
        df_reply_error(reply, 500, "memory", "out of memory");
    struct MHD_Response *r = reply->fixed != NULL && !empty
                                 ? MHD_create_response_from_buffer(
                                       reply->fixed_length, (void *)(uintptr_t)reply->fixed, MHD_RESPMEM_PERSISTENT)
                                 : MHD_create_response_from_buffer(empty ? 0 : reply->body.length, reply->body.data,
                                                                   MHD_RESPMEM_MUST_COPY);
    if (r == NULL)
        return MHD_NO;
    add_common(r, empty ? "" : reply->type);
    add(r, "ETag", reply->etag);
    add(r, "Cache-Control",
        reply->caching != NULL   ? reply->caching
        : reply->etag[0] != '\0' ? "no-cache"
                                 : "no-store");
    if (reply->coding != NULL && !empty)
        add(r, "Content-Encoding", reply->coding);
    if (reply->varies)
        add(r, "Vary", "Accept-Encoding");
    add(r, "Allow", reply->allow);
    add(r, "Location", reply->location);
    if (reply->retry_after > 0) {
        snprintf(number, sizeof number, "%u", reply->retry_after);
        add(r, "Retry-After", number);
    }
    enum MHD_Result result = MHD_queue_response(connection, reply->status, r);
    MHD_destroy_response(r);
    return result;
}

/* ---- server-sent events --------------------------------------------------------------------------------------- */

static void resume(void *waiter) {
    MHD_resume_connection(waiter);
}

static void suspend(void *waiter) {
    MHD_suspend_connection(waiter);
}

/* One event; each line of the data begins anew (HTML Living Standard, 9.2.6). */
static void put_event(df_text *out, const char *name, const char *data) {
    df_text_printf(out, "event: %s\n", name);
    for (const char *line = data; *line != '\0';) {
        size_t length = strcspn(line, "\n");
        df_text_puts(out, "data: ");
        df_text_append(out, line, length);
        df_text_puts(out, "\n");
        line += length + (line[length] == '\n');
    }
    df_text_puts(out, "\n");
}

static void put_news(stream *s, const df_work_state *state) {
    char data[160];
    s->pending.length = s->sent = 0;
    if (state->phase != DF_WORK_DONE) {
        snprintf(data, sizeof data, "{\"phase\": \"%s\", \"share\": %.4f, \"time_h\": %.4f, \"text\": \"%s\"}",
                 state->phase == DF_WORK_QUEUED ? "queued" : "running", state->share, state->time / 3600.0,
                 state->text);
        put_event(&s->pending, "progress", data);
        return;
    }
    df_reply *reply = df_work_reply(s->work);
    put_event(&s->pending, reply->status < 300 ? "result" : "error", df_text_string(&reply->body));
    s->over = true;
}

static ssize_t read_stream(void *data, uint64_t position, char *out, size_t most) {
    stream *s = data;
    (void)position;
    if (s->sent == s->pending.length) {
        df_work_state state;
        if (s->over)
            return MHD_CONTENT_READER_END_OF_STREAM;
        if (!df_work_news(s->work, &s->follower, &state, suspend))
            return 0;
        put_news(s, &state);
        if (s->pending.failed)
            return MHD_CONTENT_READER_END_WITH_ERROR;
    }
    size_t length = s->pending.length - s->sent;
    length = length < most ? length : most;
    memcpy(out, s->pending.data + s->sent, length);
    s->sent += length;
    return (ssize_t)length;
}

static void free_stream(void *data) {
    stream *s = data;
    df_work_leave(s->work, &s->follower);
    df_work_release(s->work);
    df_text_free(&s->pending);
    free(s);
}

/* Takes over the reference to the work. */
static enum MHD_Result send_stream(struct MHD_Connection *connection, df_work *work) {
    stream *s = calloc(1, sizeof *s);
    struct MHD_Response *r =
        s != NULL ? MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, BLOCK, read_stream, s, free_stream) : NULL;
    if (r == NULL) {
        free(s);
        df_work_release(work);
        return MHD_NO;
    }
    s->connection = connection;
    s->work = work;
    s->follower.wake = resume;
    s->follower.waiter = connection;
    df_work_follow(work, &s->follower);
    add_common(r, "text/event-stream");
    add(r, "Cache-Control", "no-store");
    enum MHD_Result result = MHD_queue_response(connection, 200, r);
    MHD_destroy_response(r);
    return result;
}

/* ---- requests ------------------------------------------------------------------------------------------------- */

static const char *header(struct MHD_Connection *connection, const char *name) {
    return MHD_lookup_connection_value(connection, MHD_HEADER_KIND, name);
}

static df_guarded *guarded(struct MHD_Connection *connection) {
    const union MHD_ConnectionInfo *info = MHD_get_connection_info(connection, MHD_CONNECTION_INFO_SOCKET_CONTEXT);
    return info != NULL ? info->socket_context : NULL;
}

static void notice(void *data, struct MHD_Connection *connection, void **context,
                   enum MHD_ConnectionNotificationCode code) {
    df_server *server = data;
    const union MHD_ConnectionInfo *info = MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    if (code == MHD_CONNECTION_NOTIFY_STARTED)
        *context = info != NULL ? df_guard_add(server->guard, info->connect_fd) : NULL;
    else {
        df_guard_remove(server->guard, *context);
        *context = NULL;
    }
}

static exchange *begin(df_server *server, struct MHD_Connection *connection, const char *url, const char *method) {
    exchange *x = calloc(1, sizeof *x);
    char *path = df_strdup(url);
    if (x == NULL || path == NULL) {
        free(x);
        free(path);
        return NULL;
    }
    x->server = server;
    x->connection = connection;
    x->begun = now();
    df_text_init(&x->body, DF_BODY_LARGEST + 1);
    df_request *q = &x->request;
    q->path = path;
    q->method = df_method_of(method);
    q->host = header(connection, "Host");
    q->origin = header(connection, "Origin");
    q->site = header(connection, "Sec-Fetch-Site");
    q->content_type = header(connection, "Content-Type");
    q->accept = header(connection, "Accept");
    q->accept_encoding = header(connection, "Accept-Encoding");
    q->prefer = header(connection, "Prefer");
    q->if_match = header(connection, "If-Match");
    q->if_none_match = header(connection, "If-None-Match");
    const char *draft = MHD_lookup_connection_value(connection, MHD_GET_ARGUMENT_KIND, "draft");
    q->draft = draft != NULL && strcmp(draft, "1") == 0;
    return x;
}

static enum MHD_Result too_large(exchange *x) {
    df_reply reply = {0};
    df_reply_error(&reply, 413, "request", "the body is larger than %zu MiB", DF_BODY_LARGEST >> 20);
    enum MHD_Result result = send_reply(x->connection, &reply);
    df_reply_free(&reply);
    return result;
}

/* The whole request is there. */
static enum MHD_Result act(exchange *x) {
    df_reply reply = {0};
    df_work *followed = NULL;
    df_order order;
    enum MHD_Result result;
    if (x->upload == TOO_LARGE)
        return too_large(x);
    x->request.body = df_text_string(&x->body);
    x->request.length = x->body.length;
    switch (df_request_route(x->server->routes, &x->request, &reply, &order, &followed)) {
    case DF_ROUTE_COMPUTE:
        order.wake = resume;
        order.waiter = x->connection;
        MHD_suspend_connection(x->connection); /* before it can be resumed */
        x->work = df_pool_put(x->server->pool, &order);
        if (x->work != NULL)
            return MHD_YES;
        MHD_resume_connection(x->connection);
        df_request_busy(&reply);
        break;
    case DF_ROUTE_FOLLOW:
        return send_stream(x->connection, followed);
    case DF_ROUTE_REPLY:
        break;
    }
    result = send_reply(x->connection, &reply);
    df_reply_free(&reply);
    return result;
}

static enum MHD_Result take_part(exchange *x, const char *bytes, size_t length) {
    x->received += length;
    if (now() - x->begun > UPLOAD_LIMIT || x->received > DISCARD_MOST)
        return MHD_NO;
    if (x->received > DF_BODY_LARGEST) {
        x->upload = TOO_LARGE;
        df_text_free(&x->body);
    } else
        df_text_append(&x->body, bytes, length);
    return MHD_YES;
}

static enum MHD_Result handle(void *data, struct MHD_Connection *connection, const char *url, const char *method,
                              const char *version, const char *bytes, size_t *length, void **state) {
    df_server *server = data;
    exchange *x = *state;
    (void)version;
    if (x == NULL) {
        x = begin(server, connection, url, method);
        if (x == NULL)
            return MHD_NO;
        *state = x;
        df_guard_leave(server->guard, guarded(connection));
        __atomic_add_fetch(&server->open, 1, __ATOMIC_SEQ_CST);
        const char *stated = header(connection, "Content-Length");
        if (stated != NULL && strtoull(stated, NULL, 10) > DISCARD_MOST)
            return too_large(x);
        return MHD_YES;
    }
    if (*length > 0) {
        enum MHD_Result result = take_part(x, bytes, *length);
        *length = 0;
        return result;
    }
    if (x->work != NULL) { /* resumed: it is done */
        df_reply *reply = df_work_reply(x->work);
        if (reply->etag[0] != '\0' && x->request.method == DF_METHOD_GET && reply->status == 200 &&
            x->request.if_none_match != NULL && strstr(x->request.if_none_match, reply->etag) != NULL)
            reply->status = 304;
        return send_reply(connection, reply);
    }
    return act(x);
}

static void end(void *data, struct MHD_Connection *connection, void **state, enum MHD_RequestTerminationCode how) {
    df_server *server = data;
    exchange *x = *state;
    (void)how;
    if (x == NULL)
        return;
    df_guard_wait(server->guard, guarded(connection));
    if (x->work != NULL)
        df_work_release(x->work);
    df_text_free(&x->body);
    free(x->request.path);
    free(x);
    *state = NULL;
    __atomic_sub_fetch(&server->open, 1, __ATOMIC_SEQ_CST);
}

/* ---- starting and stopping ------------------------------------------------------------------------------------ */

/* A socket that listens at a numeric address. */
static df_status listen_at(df_context *ctx, int *out, const char *address, long port) {
    struct addrinfo hints = {.ai_flags = AI_NUMERICHOST | AI_PASSIVE, .ai_socktype = SOCK_STREAM}, *found = NULL;
    char number[16];
    int on = 1;
    snprintf(number, sizeof number, "%ld", port);
    if (getaddrinfo(address, number, &hints, &found) != 0 || found == NULL)
        return df_fail(ctx, DF_E_INPUT, "--listen: '%.60s' is no numeric address such as 127.0.0.1 or ::1", address);
    int s = socket(found->ai_family, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    bool sound = s >= 0 && setsockopt(s, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on) == 0 &&
                 bind(s, found->ai_addr, found->ai_addrlen) == 0 && listen(s, 128) == 0;
    int error = errno;
    freeaddrinfo(found);
    if (sound) {
        *out = s;
        return DF_OK;
    }
    if (s >= 0)
        close(s);
    return df_fail(ctx, DF_E_IO, "%s port %ld: %s", address, port,
                   error == EADDRINUSE      ? "another program listens there already"
                   : error == EADDRNOTAVAIL ? "this machine has no such address"
                   : error == EACCES        ? "it may not be had with your permissions"
                                            : "it cannot be listened at");
}

static long port_of(int s) {
    struct sockaddr_storage at;
    socklen_t length = sizeof at;
    if (getsockname(s, (struct sockaddr *)&at, &length) != 0)
        return 0;
    return at.ss_family == AF_INET6 ? ntohs(((struct sockaddr_in6 *)&at)->sin6_port)
                                    : ntohs(((struct sockaddr_in *)&at)->sin_port);
}

static void free_server(df_server *s) {
    df_guard_stop(s->guard);
    df_routes_close(s->routes);
    if (s->pool != NULL)
        df_pool_free(s->pool);
    df_cache_free(s->cache);
    free(s);
}

df_status df_server_start(df_context *ctx, df_server **server, const df_server_task *task) {
    df_server *s = calloc(1, sizeof *s);
    int socket = -1;
    *server = NULL;
    if (s == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    df_status status = listen_at(ctx, &socket, task->listen, task->port);
    if (status == DF_OK) {
        s->port = port_of(socket);
        status = df_cache_create(ctx, &s->cache, CACHE_LIMIT);
    }
    if (status == DF_OK)
        status = df_pool_create(ctx, &s->pool, task->threads, s->cache);
    if (status == DF_OK)
        status = df_routes_open(ctx, &s->routes, task, s->pool, s->port);
    if (status == DF_OK)
        status = df_guard_start(ctx, &s->guard, HEADER_LIMIT);
    if (status == DF_OK) {
        s->daemon = MHD_start_daemon(MHD_USE_AUTO_INTERNAL_THREAD | MHD_ALLOW_SUSPEND_RESUME, 0, NULL, NULL, handle,
                                     s, MHD_OPTION_LISTEN_SOCKET, socket, MHD_OPTION_NOTIFY_COMPLETED, end, s,
                                     MHD_OPTION_NOTIFY_CONNECTION, notice, s, MHD_OPTION_CONNECTION_LIMIT,
                                     MOST_CONNECTIONS, MHD_OPTION_CONNECTION_TIMEOUT, IDLE_LIMIT,
                                     MHD_OPTION_CONNECTION_MEMORY_LIMIT, (size_t)32768, MHD_OPTION_END);
        if (s->daemon == NULL)
            status = df_fail(ctx, DF_E_IO, "the server could not be started");
    }
    if (status == DF_OK) {
        *server = s;
        return DF_OK;
    }
    if (s->daemon == NULL && socket >= 0)
        close(socket);
    if (s->pool != NULL)
        (void)df_pool_stop(s->pool, STOP_LIMIT); /* has nothing to do */
    free_server(s);
    return status;
}

long df_server_port(const df_server *s) {
    return s->port;
}

bool df_server_stop(df_server *s) {
    int socket = MHD_quiesce_daemon(s->daemon);
    bool stopped = df_pool_stop(s->pool, STOP_LIMIT);
    if (socket >= 0)
        close(socket);
    if (!stopped)
        return false;
    /* What was asked is answered, as far as those who asked read on. */
    for (int i = 0; i < 200 && __atomic_load_n(&s->open, __ATOMIC_SEQ_CST) > 0; i++)
        nanosleep(&(struct timespec){.tv_nsec = 10000000}, NULL);
    MHD_stop_daemon(s->daemon);
    free_server(s);
    return true;
}
