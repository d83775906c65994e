#include "report/layout.h"

#include <stdio.h>
#include <string.h>

void df_layout_paragraph(df_text *out, const char *label, const char *paragraph) {
    size_t column = df_utf8_width(label);
    df_text_puts(out, label);
    do {
        df_text_puts(out, " ");
    } while (++column < DF_LABEL_WIDTH);
    bool fresh = true;
    for (const char *at = paragraph; *at != '\0';) {
        size_t length = strcspn(at, " \n");
        char word[256];
        snprintf(word, sizeof word, "%.*s", (int)(length < sizeof word ? length : sizeof word - 1), at);
        size_t width = df_utf8_width(word);
        bool forced = at > paragraph && at[-1] == '\n';
        if (!fresh && (forced || column + 1 + width > DF_LINE_WIDTH)) {
            df_text_printf(out, "\n%*s", DF_LABEL_WIDTH, "");
            column = DF_LABEL_WIDTH;
            fresh = true;
        }
        if (!fresh) {
            df_text_puts(out, " ");
            column++;
        }
        df_text_append(out, at, length);
        column += width;
        fresh = false;
        at += length;
        if (*at != '\0')
            at++;
    }
    df_text_puts(out, "\n");
}

void df_layout_printf(df_text *out, const char *label, const char *format, ...) {
    char buffer[2048];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(buffer, sizeof buffer, format, arguments);
    va_end(arguments);
    df_layout_paragraph(out, label, buffer);
}
