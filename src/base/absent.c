/* Names of what was left out of a set, and why. */
#include "dryfront/base.h"

#include <stdlib.h>

df_status df_absent_add(df_context *ctx, df_absent *absent, const char *name, const char *why) {
    struct df_absent_entry *grown = realloc(absent->entry, (absent->count + 1) * sizeof *grown);
    if (grown == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    absent->entry = grown;
    struct df_absent_entry *e = &grown[absent->count];
    e->name = df_strdup(name);
    e->why = df_strdup(why);
    if (e->name != NULL && e->why != NULL) {
        absent->count++;
        return DF_OK;
    }
    free(e->name);
    free(e->why);
    return df_fail(ctx, DF_E_MEMORY, "out of memory");
}

const char *df_absent_why(const df_absent *absent, const char *name) {
    for (size_t i = 0; i < absent->count; i++)
        if (df_name_equal(absent->entry[i].name, name))
            return absent->entry[i].why;
    return NULL;
}

void df_absent_free(df_absent *absent) {
    for (size_t i = 0; i < absent->count; i++) {
        free(absent->entry[i].name);
        free(absent->entry[i].why);
    }
    free(absent->entry);
    *absent = (df_absent){NULL, 0};
}
