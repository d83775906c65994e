/* From a request to what it asks for: who may ask, which path, which method, and what is done on a thread of the pool. */
#include "serve/route.h"
#include "serve/documents.h"
#include "serve/pages.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#define API "/api/v1/"
#define SCHEMA "/api/schema/"
#define RETRY_AFTER 2u /* s */

struct df_routes_table {
    const df_server_task *task;
    df_pool *pool;
    long port;
    char own_host[80]; /* the address that is listened at, as it stands in a Host header */
};

df_method df_method_of(const char *word) {
    static const struct {
        const char *word;
        df_method method;
    } known[] = {{"GET", DF_METHOD_GET}, {"HEAD", DF_METHOD_GET},      {"POST", DF_METHOD_POST},
                 {"PUT", DF_METHOD_PUT}, {"DELETE", DF_METHOD_DELETE}, {"OPTIONS", DF_METHOD_OPTIONS}};
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
        if (strcmp(known[i].word, word) == 0)
            return known[i].method;
    return DF_METHOD_OTHER;
}

df_status df_routes_open(df_context *ctx, df_routes_table **routes, const df_server_task *task, df_pool *pool,
                         long port) {
    df_routes_table *r = calloc(1, sizeof *r);
    *routes = r;
    if (r == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    r->task = task;
    r->pool = pool;
    r->port = port;
    bool six = strchr(task->listen, ':') != NULL;
    snprintf(r->own_host, sizeof r->own_host, "%s%s%s", six ? "[" : "", task->listen, six ? "]" : "");
    return DF_OK;
}

void df_routes_close(df_routes_table *r) {
    free(r);
}

void df_request_busy(df_reply *reply) {
    df_reply_error(reply, 503, "busy", "there is too much to do already, or the server stops; ask again in a moment");
    reply->retry_after = RETRY_AFTER;
}

/* ---- who may ask ---------------------------------------------------------------------------------------------- */

static bool same_name(const char *name, const char *at, size_t length) {
    return strlen(name) == length && strncasecmp(name, at, length) == 0;
}

/* Whether "name:port" is this server: a page of another name that was made to lead here (DNS rebinding) is not. */
static bool is_own(const df_routes_table *r, const char *host) {
    size_t length = host[0] == '[' ? strcspn(host, "]") + 1 : strcspn(host, ":");
    char port[24] = "";
    if (length > strlen(host))
        return false;
    if (host[length] != '\0' || r->port != 80) {
        snprintf(port, sizeof port, ":%ld", r->port);
        if (strcmp(host + length, port) != 0)
            return false;
    }
    static const char *const loopback[] = {"localhost", "127.0.0.1", "[::1]"};
    for (size_t i = 0; i < sizeof loopback / sizeof loopback[0]; i++)
        if (same_name(loopback[i], host, length))
            return true;
    if (same_name(r->own_host, host, length))
        return true;
    for (size_t i = 0; i < r->task->hosts; i++)
        if (same_name(r->task->host[i], host, length))
            return true;
    return false;
}

static bool may_ask(const df_routes_table *r, const df_request *q, df_reply *reply) {
    bool api = strncmp(q->path, "/api/", 5) == 0;
    if (q->host == NULL || !is_own(r, q->host))
        df_reply_error(reply, 403, "refused", "this server does not answer to the name in the request's Host header");
    else if (q->origin != NULL && (strncmp(q->origin, "http://", 7) != 0 || !is_own(r, q->origin + 7)))
        df_reply_error(reply, 403, "refused", "a page of another origin may not ask here");
    else if (api && q->site != NULL && strcmp(q->site, "same-origin") != 0 && strcmp(q->site, "none") != 0)
        df_reply_error(reply, 403, "refused", "a page of another site may not ask here");
    else
        return true;
    return false;
}

/* ---- where a path leads --------------------------------------------------------------------------------------- */

typedef enum place { NOWHERE, PAGE, DOCUMENT, SERVICE, SHELF, KEPT_FILE, WORK } place;

typedef struct target {
    place place;
    size_t service;
    df_shelf shelf;
    const char *item; /* rest of the path: name or id */
    unsigned methods; /* a bit for each df_method */
} target;

#define BIT(method) (1u << (method))

static target find_service(const df_routes_table *r, const char *rest) {
    target t = {NOWHERE, 0, DF_SHELF_JOBS, NULL, 0};
    for (size_t i = 0; i < r->task->services; i++) {
        const df_service *s = &r->task->service[i];
        size_t length = strlen(s->path);
        if (strncmp(s->path, rest, length) != 0)
            continue;
        bool item = s->items && rest[length] == '/' && rest[length + 1] != '\0' && !strchr(rest + length + 1, '/');
        if (rest[length] != '\0' && !item)
            continue;
        t.place = SERVICE;
        t.service = i;
        t.item = item ? rest + length + 1 : NULL;
        t.methods = BIT(s->table ? DF_METHOD_GET : DF_METHOD_POST);
    }
    return t;
}

static target find_shelf(const char *rest) {
    target t = {NOWHERE, 0, DF_SHELF_JOBS, NULL, 0};
    for (int shelf = 0; shelf < DF_SHELVES; shelf++) {
        const char *name = df_shelf_name((df_shelf)shelf);
        size_t length = strlen(name);
        if (strncmp(rest, name, length) != 0 || (rest[length] != '\0' && rest[length] != '/'))
            continue;
        t.shelf = (df_shelf)shelf;
        t.place = rest[length] == '\0' ? SHELF : KEPT_FILE;
        t.item = rest[length] == '\0' ? NULL : rest + length + 1;
        t.methods = BIT(DF_METHOD_GET);
        if (t.place == KEPT_FILE)
            t.methods |= BIT(DF_METHOD_PUT) | BIT(DF_METHOD_DELETE);
    }
    return t;
}

static target find_target(const df_routes_table *r, const char *path) {
    target t = {NOWHERE, 0, DF_SHELF_JOBS, NULL, BIT(DF_METHOD_GET)};
    df_page page;
    if (strcmp(path, "/") == 0 || df_page_find(&page, path, NULL)) {
        t.place = PAGE;
        t.item = path;
    } else if (strcmp(path, API "openapi.json") == 0) {
        t.place = DOCUMENT;
        t.item = "openapi.json";
    } else if (strncmp(path, SCHEMA, strlen(SCHEMA)) == 0) {
        size_t length;
        t.item = path + strlen(SCHEMA);
        if (df_document(&length, t.item) != NULL && strcmp(t.item, "openapi.json") != 0)
            t.place = DOCUMENT;
    } else if (strncmp(path, API "workspace/", strlen(API "workspace/")) == 0)
        t = find_shelf(path + strlen(API "workspace/"));
    else if (strncmp(path, API "work/", strlen(API "work/")) == 0) {
        t.place = WORK;
        t.item = path + strlen(API "work/");
        t.methods |= BIT(DF_METHOD_DELETE);
    } else if (strncmp(path, API, strlen(API)) == 0)
        t = find_service(r, path + strlen(API));
    return t;
}

static void put_allow(df_reply *reply, unsigned methods) {
    snprintf(reply->allow, sizeof reply->allow, "%s%s%s%sOPTIONS", methods & BIT(DF_METHOD_GET) ? "GET, HEAD, " : "",
             methods & BIT(DF_METHOD_POST) ? "POST, " : "", methods & BIT(DF_METHOD_PUT) ? "PUT, " : "",
             methods & BIT(DF_METHOD_DELETE) ? "DELETE, " : "");
}

/* "application/json" or "application/json; charset=utf-8". */
static bool is_type(const char *stated, const char *wanted) {
    size_t length = strlen(wanted);
    return stated != NULL && strncasecmp(stated, wanted, length) == 0 &&
           (stated[length] == '\0' || stated[length] == ';' || stated[length] == ' ');
}

/* ---- on a thread of the pool ---------------------------------------------------------------------------------- */

/* What is to be done, with all it needs of the request. */
typedef struct errand {
    const df_routes_table *routes;
    target target;
    df_method method;
    char *item, *match, *body;
    size_t length;
    bool draft, none_match;
} errand;

static void free_errand(void *data) {
    errand *e = data;
    free(e->item);
    free(e->match);
    free(e->body);
    free(e);
}

static unsigned http_of(df_status status, const df_call *call) {
    switch (status) {
    case DF_E_INPUT:
        return call->envelope ? 400 : 422;
    case DF_E_UNKNOWN_NAME:
        return call->envelope ? 400 : call->item != NULL ? 404 : 422;
    case DF_E_IO:
        return 422;
    case DF_E_STOPPED:
        return 503;
    default:
        return 500;
    }
}

/* The object that a body holds; NULL and an answer where it holds none. */
static json_t *read_body(df_context *ctx, df_reply *reply, const errand *e) {
    json_error_t error;
    json_t *body = json_loadb(e->body, e->length, JSON_REJECT_DUPLICATES, &error);
    if (body == NULL)
        df_reply_failed(
            reply, 400,
            df_fail(ctx, DF_E_INPUT, "line %d, column %d: this is no JSON: %s", error.line, error.column, error.text),
            ctx);
    else if (!json_is_object(body)) {
        df_reply_error(reply, 400, "input", "the body should be a JSON object, such as {\"mixture\": \"...\"}");
        json_decref(body);
        body = NULL;
    }
    return body;
}

static void serve_call(df_context *ctx, df_reply *reply, const errand *e, const df_progress *progress) {
    const df_server_task *task = e->routes->task;
    const df_service *service = &task->service[e->target.service];
    df_call call = {
        .service = e->target.service, .item = e->item, .progress = progress, .workspace = task->workspace};
    if (!service->table && (call.body = read_body(ctx, reply, e)) == NULL)
        return;
    df_status status = task->perform(ctx, &reply->body, &call, task->data);
    json_decref(call.body);
    if (status >= 0 && reply->body.failed)
        status = df_fail(ctx, DF_E_MEMORY, "out of memory");
    if (status < 0) {
        df_reply_failed(reply, http_of(status, &call), status, ctx);
        return;
    }
    reply->status = 200;
    reply->type = service->type;
    if (service->table)
        df_etag(reply->etag, df_text_string(&reply->body), reply->body.length);
}

static unsigned http_of_kept(df_kept kept) {
    switch (kept) {
    case DF_KEPT_DONE:
        return 200;
    case DF_KEPT_NEW:
        return 201;
    case DF_KEPT_REFUSED:
        return 422;
    case DF_KEPT_MISSING:
        return 404;
    case DF_KEPT_CHANGED:
        return 412;
    case DF_KEPT_UNNAMED:
        return 428;
    case DF_KEPT_FULL:
        return 507;
    case DF_KEPT_FAILED:
        break;
    }
    return 500;
}

static const char *word_of_kept(df_kept kept) {
    switch (kept) {
    case DF_KEPT_MISSING:
        return "unknown_name";
    case DF_KEPT_CHANGED:
        return "changed";
    case DF_KEPT_UNNAMED:
        return "unnamed";
    case DF_KEPT_FULL:
        return "full";
    case DF_KEPT_FAILED:
        return "io";
    default:
        return "input";
    }
}

static void serve_kept(df_context *ctx, df_reply *reply, const errand *e) {
    df_workspace *w = e->routes->task->workspace;
    df_kept kept;
    char *text = NULL;
    size_t length = 0;
    reply->type = "application/json";
    if (e->target.place == SHELF) {
        kept = df_workspace_list(ctx, w, e->target.shelf, &reply->body);
        df_etag(reply->etag, df_text_string(&reply->body), reply->body.length);
    } else if (e->method == DF_METHOD_GET) {
        kept = df_workspace_read(ctx, w, e->target.shelf, e->item, &text, &length);
        if (kept == DF_KEPT_DONE) {
            df_text_append(&reply->body, text, length);
            df_etag(reply->etag, text, length);
            reply->type = "application/yaml";
        }
    } else if (e->method == DF_METHOD_PUT) {
        kept = df_workspace_write(ctx, w, e->target.shelf, e->item, e->body, e->length,
                                  e->none_match ? NULL : e->match, e->draft, reply->etag);
        if (e->none_match && kept == DF_KEPT_UNNAMED)
            kept = DF_KEPT_CHANGED;
    } else
        kept = df_workspace_remove(ctx, w, e->target.shelf, e->item, e->match);
    free(text);
    reply->status = http_of_kept(kept);
    if (kept != DF_KEPT_DONE && kept != DF_KEPT_NEW)
        df_reply_refused(reply, reply->status, word_of_kept(kept), ctx);
    else if (e->method == DF_METHOD_PUT)
        df_text_printf(&reply->body, "{\"name\": \"%s\", \"etag\": \"%.16s\"}\n", e->item, reply->etag + 1);
    else if (e->method == DF_METHOD_DELETE)
        reply->status = 204;
}

static void run_errand(df_context *ctx, df_reply *reply, void *data, const df_progress *progress) {
    const errand *e = data;
    if (e->target.place == SERVICE)
        serve_call(ctx, reply, e, progress);
    else
        serve_kept(ctx, reply, e);
}

static bool make_order(df_order *order, const df_routes_table *r, const target *t, const df_request *q) {
    errand *e = calloc(1, sizeof *e);
    if (e == NULL)
        return false;
    e->routes = r;
    e->target = *t;
    e->method = q->method;
    e->draft = q->draft;
    e->none_match = q->if_none_match != NULL && strcmp(q->if_none_match, "*") == 0;
    e->item = t->item != NULL ? df_strdup(t->item) : NULL;
    e->match = q->if_match != NULL ? df_strdup(q->if_match) : NULL;
    e->body = malloc(q->length + 1);
    e->length = q->length;
    if (e->body == NULL || (t->item != NULL && e->item == NULL) || (q->if_match != NULL && e->match == NULL)) {
        free_errand(e);
        return false;
    }
    memcpy(e->body, q->body, q->length);
    e->body[q->length] = '\0';
    *order = (df_order){.run = run_errand,
                        .data = e,
                        .release = free_errand,
                        .heavy = t->place == SERVICE && r->task->service[t->service].heavy};
    return true;
}

/* ---- what is answered at once --------------------------------------------------------------------------------- */

static void put_state(df_reply *reply, const char *id, const df_work_state *state) {
    reply->status = 202;
    reply->type = "application/json";
    reply->retry_after = 1;
    snprintf(reply->location, sizeof reply->location, API "work/%s", id);
    df_text_printf(
        &reply->body, "{\"id\": \"%s\", \"phase\": \"%s\", \"share\": %.4f, \"time_h\": %.4f, \"text\": \"%s\"}\n",
        id, state->phase == DF_WORK_QUEUED ? "queued" : "running", state->share, state->time / 3600.0, state->text);
}

static void put_later(df_routes_table *r, df_reply *reply, df_order *order) {
    order->later = true;
    df_work *work = df_pool_put(r->pool, order);
    if (work == NULL) {
        df_request_busy(reply);
        return;
    }
    put_state(reply, df_work_id(work), &(df_work_state){.phase = DF_WORK_QUEUED});
    df_work_release(work);
}

static df_routed answer_work(df_routes_table *r, const target *t, const df_request *q, df_reply *reply,
                             df_work **followed) {
    df_work *work = df_pool_find(r->pool, t->item);
    if (work == NULL) {
        df_reply_error(reply, 404, "unknown_name", "there is no such work, or no more");
        return DF_ROUTE_REPLY;
    }
    if (q->method == DF_METHOD_DELETE) {
        df_pool_cancel(r->pool, work);
        reply->status = 204;
    } else if (q->accept != NULL && strstr(q->accept, "text/event-stream") != NULL) {
        *followed = work;
        return DF_ROUTE_FOLLOW;
    } else {
        df_work_state state = df_work_look(work);
        if (state.phase != DF_WORK_DONE)
            put_state(reply, df_work_id(work), &state);
        else {
            const df_reply *done = df_work_reply(work);
            reply->status = done->status;
            reply->type = done->type;
            df_text_append(&reply->body, df_text_string(&done->body), done->body.length);
        }
    }
    df_work_release(work);
    return DF_ROUTE_REPLY;
}

/* A page or a document: what is compiled in. */
static void answer_fixed(const target *t, const df_request *q, df_reply *reply) {
    df_page page;
    reply->status = 200;
    if (t->place == DOCUMENT) {
        reply->fixed = df_document(&reply->fixed_length, t->item);
        reply->type = "application/json";
        df_etag(reply->etag, reply->fixed, reply->fixed_length);
    } else if (df_page_find(&page, t->item, q->accept_encoding)) {
        reply->fixed = page.bytes;
        reply->fixed_length = page.length;
        reply->type = page.type;
        reply->coding = page.coding;
        reply->varies = page.packable;
        reply->caching = page.lasting ? "public, max-age=31536000, immutable" : "no-cache";
        memcpy(reply->etag, page.etag, sizeof reply->etag);
    } else {
        reply->fixed = df_page_none();
        reply->fixed_length = strlen(reply->fixed);
        reply->type = "text/html; charset=utf-8";
        df_etag(reply->etag, reply->fixed, reply->fixed_length);
    }
    if (q->if_none_match != NULL && strstr(q->if_none_match, reply->etag) != NULL)
        reply->status = 304;
}

df_routed df_request_route(df_routes_table *r, const df_request *q, df_reply *reply, df_order *order,
                           df_work **followed) {
    if (!may_ask(r, q, reply))
        return DF_ROUTE_REPLY;
    target t = find_target(r, q->path);
    if (t.place == NOWHERE) {
        df_reply_error(reply, 404, "unknown_name", "nothing is here; " API "openapi.json says what is where");
        return DF_ROUTE_REPLY;
    }
    if (q->method == DF_METHOD_OPTIONS) {
        reply->status = 204;
        put_allow(reply, t.methods);
        return DF_ROUTE_REPLY;
    }
    if (q->method == DF_METHOD_OTHER || !(t.methods & BIT(q->method))) {
        df_reply_error(reply, 405, "request", "this path does not take that method; the header Allow says which");
        put_allow(reply, t.methods);
        return DF_ROUTE_REPLY;
    }
    const char *wanted = q->method == DF_METHOD_POST  ? "application/json"
                         : q->method == DF_METHOD_PUT ? "application/yaml"
                                                      : NULL;
    if (wanted != NULL && !is_type(q->content_type, wanted)) {
        df_reply_error(reply, 415, "request", "the body's Content-Type should be %s", wanted);
        return DF_ROUTE_REPLY;
    }
    if (t.place == WORK)
        return answer_work(r, &t, q, reply, followed);
    if (t.place == PAGE || t.place == DOCUMENT) {
        answer_fixed(&t, q, reply);
        return DF_ROUTE_REPLY;
    }
    if (!make_order(order, r, &t, q)) {
        df_reply_error(reply, 500, "memory", "out of memory");
        return DF_ROUTE_REPLY;
    }
    if (q->method == DF_METHOD_POST && q->prefer != NULL && strstr(q->prefer, "respond-async") != NULL) {
        put_later(r, reply, order);
        return DF_ROUTE_REPLY;
    }
    return DF_ROUTE_COMPUTE;
}
