/* Status and context. */
#include "dryfront/base.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fault.h"
#include "utf8.h"

struct df_context {
    char message[1024];
    char file[128], field[256];
    size_t line;
    df_cache *cache; /* of someone else; NULL: none */
    df_listener listener;
    df_stretch part; /* of the whole work, that is at hand */
};

const char *df_status_name(df_status status) {
    switch (status) {
#define X(symbol, number, name, exit_status, meaning)                                                                \
    case symbol:                                                                                                     \
        return name;
        DF_STATUS_LIST(X)
#undef X
    }
    return "?";
}

int df_status_exit(df_status status) {
    switch (status) {
#define X(symbol, number, name, exit_status, meaning)                                                                \
    case symbol:                                                                                                     \
        return exit_status;
        DF_STATUS_LIST(X)
#undef X
    }
    return 3;
}

df_status df_context_create(df_context **ctx) {
    *ctx = calloc(1, sizeof **ctx);
    return *ctx ? DF_OK : DF_E_MEMORY;
}

void df_context_destroy(df_context *ctx) {
    free(ctx);
}

const char *df_context_message(const df_context *ctx) {
    return ctx ? ctx->message : "";
}

void df_context_clear(df_context *ctx) {
    if (ctx) {
        ctx->message[0] = '\0';
        df_context_put_fault(ctx, "", 0, "");
    }
}

df_fault df_context_fault(const df_context *ctx) {
    return ctx != NULL ? (df_fault){ctx->file, ctx->line, ctx->field} : (df_fault){"", 0, ""};
}

void df_context_put_fault(df_context *ctx, const char *file, size_t line, const char *field) {
    if (ctx == NULL)
        return;
    bool fits = strlen(file) < sizeof ctx->file && strlen(field) < sizeof ctx->field;
    ctx->line = line;
    snprintf(ctx->file, sizeof ctx->file, "%s", fits ? file : "");
    snprintf(ctx->field, sizeof ctx->field, "%s", fits ? field : "");
}

static bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

static bool is_word(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '_' || is_digit(c);
}

/* Bytes of a path "sample.solutes[0].name" that ends in ": "; 0: no path stands there. A key below the first may hold spaces. */
static size_t path_length(const char *text) {
    const char *end = strstr(text, ": "), *at = text;
    while (at != end && is_word(*at))
        at++;
    bool path = end != NULL && at > text && (at == end || *at == '.' || *at == '[');
    return path ? (size_t)(end - text) : 0;
}

/* Sentences about a file begin with "FILE:LINE: PATH: " (df_yaml_where). */
static void read_fault(df_context *ctx) {
    const char *end = strstr(ctx->message, ": "), *digits = end;
    char file[sizeof ctx->file], field[sizeof ctx->field];
    df_context_put_fault(ctx, "", 0, "");
    while (digits != NULL && digits > ctx->message && is_digit(digits[-1]))
        digits--;
    if (digits == end || digits - ctx->message < 2 || digits[-1] != ':')
        return;
    size_t path = path_length(end + 2), name = (size_t)(digits - 1 - ctx->message);
    if (name >= sizeof file || path >= sizeof field)
        return;
    snprintf(file, sizeof file, "%.*s", (int)name, ctx->message);
    snprintf(field, sizeof field, "%.*s", (int)path, end + 2);
    df_context_put_fault(ctx, file, strtoul(digits, NULL, 10), field);
}

void df_context_lend(df_context *ctx, df_cache *cache) {
    ctx->cache = cache;
}

df_cache *df_context_cache(const df_context *ctx) {
    return ctx != NULL ? ctx->cache : NULL;
}

/* ---- long work ------------------------------------------------------------------------------------------------ */

void df_context_listen(df_context *ctx, const df_listener *listener) {
    ctx->listener = listener != NULL ? *listener : (df_listener){0};
    ctx->part = (df_stretch){0.0, 1.0};
}

bool df_context_go_on(const df_context *ctx) {
    return ctx == NULL || ctx->listener.hear == NULL || ctx->listener.hear(ctx->listener.data, NAN, NULL);
}

bool df_context_tell(const df_context *ctx, double share, const char *what) {
    if (ctx == NULL || ctx->listener.hear == NULL)
        return true;
    return ctx->listener.hear(ctx->listener.data, ctx->part.from + ctx->part.width * share, what);
}

df_stretch df_context_begin(df_context *ctx, double from, double to) {
    if (ctx == NULL)
        return (df_stretch){0.0, 1.0};
    df_stretch before = ctx->part;
    ctx->part = (df_stretch){before.from + before.width * from, before.width * (to - from)};
    return before;
}

void df_context_end(df_context *ctx, df_stretch before) {
    if (ctx != NULL)
        ctx->part = before;
}

df_status df_context_branch(df_context **branch, const df_context *ctx) {
    df_status status = df_context_create(branch);
    if (status == DF_OK && ctx != NULL) {
        (*branch)->cache = ctx->cache;
        (*branch)->listener = ctx->listener;
        (*branch)->part = (df_stretch){ctx->part.from, 0.0};
    }
    return status;
}

bool df_tally_one(df_tally *t) {
    if (t == NULL)
        return true;
    double done = (double)__atomic_add_fetch(&t->done, 1, __ATOMIC_RELAXED),
           x = done / (double)(t->of > 0 ? t->of : 1);
    return df_context_tell(t->ctx, t->guess ? 1.0 - exp(-x) : fmin(x, 1.0), t->what);
}

df_status df_fail(df_context *ctx, df_status status, const char *format, ...) {
    if (!ctx)
        return status;
    /* Formatted aside first: an argument may be the old message. */
    char text[sizeof ctx->message];
    va_list arguments;
    va_start(arguments, format);
    int written = vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    if (written < 0)
        text[0] = '\0';
    /* What a user's file holds may stand in the sentence: keep it one line of valid UTF-8. */
    size_t out = 0;
    for (size_t in = 0; text[in] != '\0';) {
        size_t width = df_utf8_length(text + in, strlen(text + in));
        if (width == 0) {
            bool cut = written >= (int)sizeof text && strlen(text + in) < 4;
            if (cut)
                break;
            ctx->message[out++] = '?';
            in++;
            continue;
        }
        if (width == 1) {
            unsigned char c = (unsigned char)text[in];
            ctx->message[out++] = c < 0x20 || c == 0x7f ? ' ' : text[in];
            in++;
            continue;
        }
        memcpy(ctx->message + out, text + in, width);
        out += width;
        in += width;
    }
    ctx->message[out] = '\0';
    read_fault(ctx);
    return status;
}
