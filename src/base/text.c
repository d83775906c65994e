/* Growing text, names and their nearest neighbours. */
#include "dryfront/base.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "utf8.h"

#define DEFAULT_LIMIT ((size_t)64 << 20)
#define LONGEST_NAME 64 /* bytes; a longer one has no neighbours */

/* ---- growing text --------------------------------------------------------------------------------------------- */

void df_text_init(df_text *text, size_t limit) {
    *text = (df_text){.limit = limit};
}

void df_text_free(df_text *text) {
    free(text->data);
    *text = (df_text){.limit = text->limit};
}

/* Room for `more` bytes and the NUL; sets `failed` where there is none. */
static bool make_room(df_text *text, size_t more) {
    if (text->failed)
        return false;
    size_t limit = text->limit ? text->limit : DEFAULT_LIMIT;
    if (more > limit || text->length > limit - more) {
        text->failed = true;
        return false;
    }
    size_t needed = text->length + more + 1;
    if (needed <= text->capacity)
        return true;
    size_t capacity = text->capacity < 64 ? 64 : text->capacity;
    while (capacity < needed)
        capacity *= 2;
    char *data = realloc(text->data, capacity);
    if (!data) {
        text->failed = true;
        return false;
    }
    text->data = data;
    text->capacity = capacity;
    return true;
}

void df_text_append(df_text *text, const char *bytes, size_t length) {
    if (!make_room(text, length))
        return;
    if (length > 0)
        memcpy(text->data + text->length, bytes, length);
    text->length += length;
    text->data[text->length] = '\0';
}

void df_text_puts(df_text *text, const char *string) {
    df_text_append(text, string, strlen(string));
}

void df_text_printf(df_text *text, const char *format, ...) {
    va_list arguments;
    va_start(arguments, format);
    int length = vsnprintf(NULL, 0, format, arguments);
    va_end(arguments);
    if (length < 0) {
        text->failed = true;
        return;
    }
    if (!make_room(text, (size_t)length))
        return;
    va_start(arguments, format);
    (void)vsnprintf(text->data + text->length, (size_t)length + 1, format, arguments);
    va_end(arguments);
    text->length += (size_t)length;
}

const char *df_text_string(const df_text *text) {
    return text->data ? text->data : "";
}

/* ---- UTF-8 ---------------------------------------------------------------------------------------------------- */

size_t df_utf8_width(const char *string) {
    size_t width = 0;
    for (; *string; string++)
        width += ((unsigned char)*string & 0xc0) != 0x80;
    return width;
}

size_t df_utf8_length(const char *bytes, size_t length) {
    const unsigned char *b = (const unsigned char *)bytes;
    if (length == 0)
        return 0;
    if (b[0] < 0x80)
        return 1;
    size_t size = b[0] >= 0xf0 ? 4 : b[0] >= 0xe0 ? 3 : 2;
    if (b[0] < 0xc2 || b[0] > 0xf4 || size > length)
        return 0;
    for (size_t i = 1; i < size; i++)
        if ((b[i] & 0xc0) != 0x80)
            return 0;
    if ((b[0] == 0xe0 && b[1] < 0xa0) || (b[0] == 0xed && b[1] > 0x9f) || (b[0] == 0xf0 && b[1] < 0x90) ||
        (b[0] == 0xf4 && b[1] > 0x8f))
        return 0;
    return size;
}

/* ---- names ---------------------------------------------------------------------------------------------------- */

char *df_strndup(const char *bytes, size_t length) {
    char *copy = length == SIZE_MAX ? NULL : malloc(length + 1);
    if (!copy)
        return NULL;
    if (length > 0)
        memcpy(copy, bytes, length);
    copy[length] = '\0';
    return copy;
}

char *df_strdup(const char *string) {
    return df_strndup(string, strlen(string));
}

static char fold(char c) {
    if (c >= 'A' && c <= 'Z')
        return (char)(c - 'A' + 'a');
    return c == '_' || c == ' ' ? '-' : c;
}

bool df_name_equal(const char *a, const char *b) {
    for (; *a && fold(*a) == fold(*b); a++, b++)
        ;
    return fold(*a) == fold(*b);
}

/* Edits that turn a into b: insert, delete, replace, swap of neighbours (optimal string alignment). */
static size_t edit_distance(const char *a, size_t na, const char *b, size_t nb) {
    size_t rows[3][LONGEST_NAME + 1];
    size_t *before = rows[0], *last = rows[1], *now = rows[2];
    for (size_t j = 0; j <= nb; j++)
        before[j] = last[j] = j;
    for (size_t i = 1; i <= na; i++) {
        now[0] = i;
        for (size_t j = 1; j <= nb; j++) {
            size_t best = last[j - 1] + (fold(a[i - 1]) != fold(b[j - 1]));
            if (last[j] + 1 < best)
                best = last[j] + 1;
            if (now[j - 1] + 1 < best)
                best = now[j - 1] + 1;
            if (i > 1 && j > 1 && fold(a[i - 1]) == fold(b[j - 2]) && fold(a[i - 2]) == fold(b[j - 1]) &&
                before[j - 2] + 1 < best)
                best = before[j - 2] + 1;
            now[j] = best;
        }
        size_t *spare = before;
        before = last;
        last = now;
        now = spare;
    }
    return last[nb];
}

void df_suggest(char *out, size_t size, const char *name, const char *const *names, size_t count) {
    if (size == 0)
        return;
    out[0] = '\0';
    size_t length = strlen(name);
    if (length == 0 || length > LONGEST_NAME)
        return;
    const char *best[3] = {NULL, NULL, NULL};
    size_t distance[3] = {0, 0, 0}, found = 0;
    for (size_t i = 0; i < count; i++) {
        size_t other = names[i] ? strlen(names[i]) : 0;
        if (other == 0 || other > LONGEST_NAME)
            continue;
        size_t longer = length > other ? length : other;
        size_t d = edit_distance(name, length, names[i], other);
        /* As many edits as letters is no likeness at all. */
        if (d > longer / 3 + 1 || d >= longer)
            continue;
        bool known = false;
        for (size_t k = 0; k < found; k++)
            known = known || df_name_equal(best[k], names[i]);
        if (known)
            continue;
        size_t at = found < 3 ? found++ : 3;
        for (; at > 0 && d < distance[at - 1]; at--)
            if (at < 3) {
                best[at] = best[at - 1];
                distance[at] = distance[at - 1];
            }
        if (at < 3) {
            best[at] = names[i];
            distance[at] = d;
        }
    }
    size_t used = 0;
    for (size_t k = 0; k < found; k++) {
        const char *between = k == 0 ? "" : k + 1 == found ? " or " : ", ";
        int written = snprintf(out + used, size - used, "%s%s", between, best[k]);
        if (written < 0 || (size_t)written >= size - used) {
            out[used] = '\0';
            return;
        }
        used += (size_t)written;
    }
}
