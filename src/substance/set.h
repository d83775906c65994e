/* Shared by the files of this room: how a set of substances is made. */
#ifndef DRYFRONT_SUBSTANCE_SET_H
#define DRYFRONT_SUBSTANCE_SET_H

#include "dryfront/substance.h"

#define DF_MAX_SUBSTANCES 512
#define DF_MAX_TABLES 8

struct df_substances {
    df_substance *items;
    size_t count;
    df_csv *tables[DF_MAX_TABLES]; /* texts of the built-in substances live here */
    size_t table_count;
    char **strings; /* texts of the user's substances */
    size_t string_count;
    df_absent absent;
};

/* Everything unknown. */
void df_substance_blank(df_substance *substance);
/* Derives what the property functions need; DF_E_INPUT says what a substance lacks. */
DF_NODISCARD df_status df_substance_complete(df_context *ctx, df_substance *substance, const char *where);
df_correlation df_constant_curve(double value, const char *source);

/* The families of correlations by the names that a file gives them; `coefficients`: how many one needs at least. */
size_t df_form_count(void);
const char *df_form_name(size_t index);
df_form df_form_at(size_t index, int *coefficients);

#endif
