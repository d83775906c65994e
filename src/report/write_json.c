/* JSON as text: byte for byte as json_dumps of Jansson with JSON_INDENT(2) and JSON_REAL_PRECISION(9) has it, at a fifth of its
 * cost, most of which is printf's. */
#include "report/parts.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define DIGITS 9        /* of a number */
#define LEAST_POWER -18 /* of ten, of the first digit of what is written here; what lies beyond is left to printf */
#define MOST_POWER 24
#define UNSURE 1e-6L /* of one in the last digit, about the middle between two: left to printf, too */

/* As printf with %.9g. `buffer` has room for 32 bytes. */
static void plain(char *buffer, double value) {
    snprintf(buffer, 32, "%.*g", DIGITS, value);
}

/* The digits of a > 0 as a whole number of nine of them; a = digits 10^(power - 8), rounded to nearest. False where that is not
 * sure. */
static bool digits_of(unsigned long *digits, int *power, double a) {
    /* All exact: 10^27 has 63 bits behind its twos. */
    static const long double tens[] = {1e0L,  1e1L,  1e2L,  1e3L,  1e4L,  1e5L,  1e6L,  1e7L,  1e8L,
                                       1e9L,  1e10L, 1e11L, 1e12L, 1e13L, 1e14L, 1e15L, 1e16L, 1e17L,
                                       1e18L, 1e19L, 1e20L, 1e21L, 1e22L, 1e23L, 1e24L, 1e25L, 1e26L};
    int binary;
    (void)frexp(a, &binary);
    int p = (int)floor((double)(binary - 1) * 0.30102999566398120); /* or one more */
    for (int round = 0; round < 2; round++, p++) {
        if (p < LEAST_POWER || p > MOST_POWER)
            return false;
        int shift = DIGITS - 1 - p;
        long double scaled = shift >= 0 ? (long double)a * tens[shift] : (long double)a / tens[-shift];
        if (scaled >= 1e9L)
            continue;
        unsigned long whole = (unsigned long)scaled;
        long double rest = scaled - (long double)whole;
        if (fabsl(rest - 0.5L) < UNSURE)
            return false;
        whole += rest > 0.5L;
        if (whole == 1000000000ul) {
            whole = 100000000ul;
            p++;
        }
        *digits = whole;
        *power = p;
        return whole >= 100000000ul;
    }
    return false;
}

/* As %.9g, with a ".0" where it would pass for an integer, and exponents without '+' and leading zeros. */
static size_t number(char *buffer, double value) {
    unsigned long digits;
    int power;
    char digit[DIGITS], *at = buffer;
    if (value == 0.0) {
        strcpy(buffer, signbit(value) ? "-0.0" : "0.0");
        return strlen(buffer);
    }
    if (!digits_of(&digits, &power, fabs(value))) {
        plain(buffer, value);
        char *e = strchr(buffer, 'e');
        if (e == NULL && strchr(buffer, '.') == NULL)
            strcat(buffer, ".0");
        if (e != NULL) {
            char *from = e + 1 + (e[1] == '+' || e[1] == '-'), *to = e + 1 + (e[1] == '-');
            while (from[0] == '0' && from[1] != '\0')
                from++;
            memmove(to, from, strlen(from) + 1);
        }
        return strlen(buffer);
    }
    for (int i = DIGITS; i-- > 0; digits /= 10)
        digit[i] = (char)('0' + digits % 10);
    int last = DIGITS;
    while (last > 1 && digit[last - 1] == '0')
        last--;
    if (value < 0.0)
        *at++ = '-';
    if (power < -4 || power >= DIGITS) {
        *at++ = digit[0];
        if (last > 1) {
            *at++ = '.';
            memcpy(at, digit + 1, (size_t)last - 1);
            at += last - 1;
        }
        return (size_t)(at - buffer) + (size_t)snprintf(at, 8, "e%d", power);
    }
    if (power < 0) {
        *at++ = '0';
        *at++ = '.';
        for (int i = -1; i > power; i--)
            *at++ = '0';
        memcpy(at, digit, (size_t)last);
        return (size_t)(at - buffer) + (size_t)last;
    }
    memcpy(at, digit, (size_t)power + 1);
    at += power + 1;
    *at++ = '.';
    if (last <= power + 1) {
        *at++ = '0';
        return (size_t)(at - buffer);
    }
    memcpy(at, digit + power + 1, (size_t)(last - power - 1));
    return (size_t)(at - buffer) + (size_t)(last - power - 1);
}

static void put_text(df_text *out, const char *text, size_t length) {
    size_t begun = 0;
    df_text_append(out, "\"", 1);
    for (size_t i = 0; i < length; i++) {
        unsigned char c = (unsigned char)text[i];
        static const char named[] = "\"\\\b\f\n\r\t", letter[] = "\"\\bfnrt";
        if (c >= 0x20 && c != '"' && c != '\\')
            continue;
        df_text_append(out, text + begun, i - begun);
        begun = i + 1;
        const char *known = c != '\0' ? strchr(named, c) : NULL;
        if (known != NULL)
            df_text_append(out, (char[]){'\\', letter[known - named]}, 2);
        else
            df_text_printf(out, "\\u%04X", c);
    }
    df_text_append(out, text + begun, length - begun);
    df_text_append(out, "\"", 1);
}

static void new_line(df_text *out, size_t depth) {
    static const char blank[] = "\n                                                                ";
    size_t width = 2 * depth;
    df_text_append(out, blank, width < sizeof blank - 1 ? width + 1 : sizeof blank - 1);
    for (size_t i = sizeof blank - 2; i < width; i++)
        df_text_append(out, " ", 1);
}

static void put(df_text *out, json_t *value, size_t depth) {
    char buffer[40];
    const char *between = "";
    switch (json_typeof(value)) {
    case JSON_OBJECT: {
        const char *key;
        json_t *item;
        df_text_append(out, "{", 1);
        json_object_foreach(value, key, item) {
            df_text_puts(out, between);
            between = ",";
            new_line(out, depth + 1);
            put_text(out, key, strlen(key));
            df_text_append(out, ": ", 2);
            put(out, item, depth + 1);
        }
        if (between[0] != '\0')
            new_line(out, depth);
        df_text_append(out, "}", 1);
        break;
    }
    case JSON_ARRAY: {
        size_t n = json_array_size(value);
        df_text_append(out, "[", 1);
        for (size_t i = 0; i < n; i++) {
            df_text_append(out, ",", i > 0);
            new_line(out, depth + 1);
            put(out, json_array_get(value, i), depth + 1);
        }
        if (n > 0)
            new_line(out, depth);
        df_text_append(out, "]", 1);
        break;
    }
    case JSON_STRING:
        put_text(out, json_string_value(value), json_string_length(value));
        break;
    case JSON_INTEGER:
        df_text_printf(out, "%" JSON_INTEGER_FORMAT, json_integer_value(value));
        break;
    case JSON_REAL:
        df_text_append(out, buffer, number(buffer, json_real_value(value)));
        break;
    case JSON_TRUE:
        df_text_puts(out, "true");
        break;
    case JSON_FALSE:
        df_text_puts(out, "false");
        break;
    case JSON_NULL:
        df_text_puts(out, "null");
        break;
    }
}

df_status df_json_finish(df_context *ctx, df_text *out, json_t *root) {
    bool sound = root != NULL;
    if (sound)
        put(out, root, 0);
    df_text_puts(out, "\n");
    json_decref(root);
    return sound && !out->failed ? DF_OK : df_fail(ctx, DF_E_MEMORY, "out of memory, or the report grew too large");
}
