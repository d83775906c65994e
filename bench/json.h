/* Writes JSON to standard output, for the programs that dump a case: each is one file and a single thread. */
#ifndef DRYFRONT_BENCH_JSON_H
#define DRYFRONT_BENCH_JSON_H

#include <math.h>
#include <stdio.h>

static const char *separator = "";

static inline void key(const char *name) {
    printf("%s\"%s\": ", separator, name);
    separator = ", ";
}

static inline void value(double v) {
    if (isfinite(v))
        printf("%.17g", v);
    else
        printf("null");
}

static inline void number(const char *name, double v) {
    key(name);
    value(v);
}

static inline void word(const char *name, const char *text) { /* our own names: nothing to escape */
    key(name);
    printf("\"%s\"", text);
}

static inline void values(const double *v, size_t n) {
    for (size_t i = 0; i < n; i++) {
        printf(i == 0 ? "[" : ", ");
        value(v[i]);
    }
    printf(n == 0 ? "[]" : "]");
}

static inline void list(const char *name, const double *v, size_t n) {
    key(name);
    values(v, n);
}

/* A list within a list. */
static inline void entry(const double *v, size_t n) {
    printf("%s", separator);
    values(v, n);
    separator = ", ";
}

static inline void open_with(char bracket) {
    putchar(bracket);
    separator = "";
}

static inline void close_with(const char *bracket) {
    printf("%s", bracket);
    separator = ", ";
}

static inline void item(void) {
    printf("%s", separator);
    open_with('{');
}

#endif
