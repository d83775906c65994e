/* Status and context. */
#include "dryfront/base.h"

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
