/* Status and context. */
#include "dryfront/base.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "utf8.h"

struct df_context {
    char message[1024];
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
    if (ctx)
        ctx->message[0] = '\0';
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
    return status;
}
