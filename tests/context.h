/* What every test needs: cmocka, a context, checks with a sentence. */
#ifndef DRYFRONT_TESTS_CONTEXT_H
#define DRYFRONT_TESTS_CONTEXT_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "dryfront/base.h"

static inline int make_context(void **state) {
    df_context *ctx;
    if (df_context_create(&ctx) != DF_OK)
        return -1;
    *state = ctx;
    return 0;
}

static inline int drop_context(void **state) {
    df_context_destroy(*state);
    return 0;
}

static inline void assert_near(double got, double expected, double relative) {
    if (!(fabs(got - expected) <= relative * fabs(expected)))
        fail_msg("got %.17g, expected %.17g (%+.3g %%)", got, expected, 100.0 * (got / expected - 1.0));
}

/* The recorded sentence contains `part`. */
static inline void assert_says(const df_context *ctx, const char *part) {
    if (!strstr(df_context_message(ctx), part))
        fail_msg("'%s' lacks '%s'", df_context_message(ctx), part);
}

#endif
