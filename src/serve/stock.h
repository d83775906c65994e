/* What a request computes with: the program's substances, solutes and containers, and those of the workspace's files. */
#ifndef DRYFRONT_SERVE_STOCK_H
#define DRYFRONT_SERVE_STOCK_H

#include "serve/workspace.h"

/* One file of the workspace, as it went into a stock. */
typedef struct df_stock_item {
    df_shelf shelf;
    char *name, *text;
    size_t length;
    char *problem; /* why it was left out; NULL: it is in */
    char **key;    /* of what it holds, as far as it can be read */
    size_t keys;
} df_stock_item;

struct df_stock {
    df_substances *substances;
    df_containers *containers;
    df_stock_item *item;
    size_t items;
    size_t references; /* under the workspace's lock */
};

/* A copy of the program's sets, which must outlive it, and of every file (taken over, their texts too, whatever comes of it):
 * substances first, then solutes, then containers, each in the order given. One that is unsound is left out, and the sets know
 * why. DF_E_MEMORY. */
DF_NODISCARD df_status df_stock_build(df_context *ctx, df_stock **stock, const df_substances *substances,
                                      const df_containers *containers, df_stock_item *item, size_t items);
/* Adds what a text holds. DF_E_INPUT. */
DF_NODISCARD df_status df_stock_add(df_context *ctx, df_stock *stock, df_shelf shelf, const char *text, size_t length,
                                    const char *file);
const df_stock_item *df_stock_find(const df_stock *stock, df_shelf shelf, const char *name); /* NULL: not there */
void df_stock_free(df_stock *stock);                                                         /* takes NULL */

#endif
