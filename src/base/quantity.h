/* What the units module tells the rest of the base room. */
#ifndef DRYFRONT_BASE_QUANTITY_H
#define DRYFRONT_BASE_QUANTITY_H

#include "dryfront/base.h"

/* A quantity as the user wrote it: si = number * factor / divisor + offset; `unit` as written, owned by the text. */
typedef struct df_quantity {
    double si, factor, divisor, offset;
    const char *unit;
} df_quantity;

DF_NODISCARD df_status df_quantity_read(df_context *ctx, df_quantity *quantity, const char *text,
                                        df_dimension dimension, const char *where);
/* "a pressure" */
const char *df_dimension_name(df_dimension dimension);

#endif
