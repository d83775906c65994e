/* Limits for what may be left in a product. */
#include "dryfront/secondary.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

const char *df_residual_class_name(df_residual_class class_) {
    static const char *const names[] = {"class 1",    "class 2", "class 3", "no limit: without adequate data",
                                        "not listed", "stated"};
    return names[class_];
}

static df_status read_limit(df_context *ctx, df_residual_limit *out, const df_csv *csv, size_t row) {
    static const char *const words[] = {"1", "2", "3", "none"};
    const char *word = df_csv_cell(csv, row, df_csv_find(csv, "class"));
    double ppm = NAN, daily = NAN;
    int class_ = 0;
    while (class_ < 4 && strcmp(word, words[class_]) != 0)
        class_++;
    if (class_ == 4)
        return df_fail(ctx, DF_E_INTERNAL, "%s:%zu: class '%s' should be 1, 2, 3 or none", df_csv_name(csv),
                       df_csv_line(csv, row), word);
    df_status status = df_csv_number(ctx, &ppm, csv, row, df_csv_find(csv, "limit_ppm"), NAN);
    if (status == DF_OK)
        status = df_csv_number(ctx, &daily, csv, row, df_csv_find(csv, "pde_mg_day"), NAN);
    if (status != DF_OK)
        return status;
    out->class_ = (df_residual_class)class_;
    out->limit = ppm * 1e-6;
    out->daily = daily * 1e-6;
    snprintf(out->revision, sizeof out->revision, "%s", df_csv_cell(csv, row, df_csv_find(csv, "revision")));
    snprintf(out->grade, sizeof out->grade, "%s", df_csv_cell(csv, row, df_csv_find(csv, "grade")));
    snprintf(out->source, sizeof out->source, "%s", df_csv_cell(csv, row, df_csv_find(csv, "source")));
    return DF_OK;
}

df_status df_residual_limit_find(df_context *ctx, df_residual_limit *out, const df_substance *substance) {
    static const char *const columns[] = {"key", "class", "limit_ppm", "pde_mg_day", "revision", "grade", "source"};
    df_residual_limit limit = {.class_ = DF_RESIDUAL_UNLISTED, .limit = NAN, .daily = NAN};
    df_csv *csv;
    df_status status = df_csv_builtin(ctx, &csv, "residual_limits.csv");
    if (status != DF_OK)
        return status;
    status = df_csv_require(ctx, csv, columns, sizeof columns / sizeof columns[0]);
    for (size_t row = 0; status == DF_OK && row < df_csv_rows(csv); row++)
        if (strcmp(df_csv_cell(csv, row, df_csv_find(csv, "key")), substance->key) == 0) {
            status = read_limit(ctx, &limit, csv, row);
            break;
        }
    df_csv_free(csv);
    if (status == DF_OK)
        *out = limit;
    return status;
}

df_status df_residual_limit_state(df_context *ctx, df_residual_limit *out, double limit, const char *where) {
    if (!(limit > 0.0 && limit <= 1.0))
        return df_fail(ctx, DF_E_INPUT, "%s%sa limit for what is left should lie above 0 and not above 1 kg/kg",
                       where ? where : "", where ? ": " : "");
    memset(out, 0, sizeof *out);
    out->class_ = DF_RESIDUAL_STATED;
    out->limit = limit;
    out->daily = NAN;
    snprintf(out->source, sizeof out->source, "stated by the user");
    return DF_OK;
}

double df_residual_limit_at_dose(const df_residual_limit *limit, double dose) {
    return limit->daily / dose;
}

const char *df_residual_verdict_name(df_residual_verdict verdict) {
    static const char *const names[] = {"below", "above", "cannot be told"};
    return names[verdict];
}

df_residual_verdict df_residual_compare(const df_residual *residual, double limit) {
    if (!isfinite(limit) || !isfinite(residual->low) || !isfinite(residual->high))
        return DF_RESIDUAL_UNTOLD;
    if (residual->high <= limit)
        return DF_RESIDUAL_BELOW;
    return residual->low > limit ? DF_RESIDUAL_ABOVE : DF_RESIDUAL_UNTOLD;
}
