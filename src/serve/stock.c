/* Building a stock from the files of the workspace. */
#include "serve/stock.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void free_items(df_stock_item *item, size_t items) {
    for (size_t i = 0; i < items; i++) {
        for (size_t k = 0; k < item[i].keys; k++)
            free(item[i].key[k]);
        free(item[i].key);
        free(item[i].name);
        free(item[i].text);
        free(item[i].problem);
    }
    free(item);
}

df_status df_stock_add(df_context *ctx, df_stock *stock, df_shelf shelf, const char *text, size_t length,
                       const char *file) {
    switch (shelf) {
    case DF_SHELF_SUBSTANCES:
        return df_substances_extend(ctx, stock->substances, text, length, file);
    case DF_SHELF_SOLUTES:
        return df_solutes_extend(ctx, stock->substances, text, length, file);
    case DF_SHELF_CONTAINERS:
        return df_containers_extend(ctx, stock->containers, text, length, file);
    default:
        return df_fail(ctx, DF_E_INTERNAL, "%s: this is no file of a stock", file);
    }
}

static df_status leave_out(df_context *ctx, df_stock *stock, const df_stock_item *item, const char *name) {
    return item->shelf == DF_SHELF_CONTAINERS ? df_containers_leave_out(ctx, stock->containers, name, item->problem)
                                              : df_substances_leave_out(ctx, stock->substances, name, item->problem);
}

/* The keys in a file, where it is YAML of the form at all. */
static void find_keys(df_stock_item *item) {
    df_yaml *yaml = NULL;
    df_yaml_items list;
    if (df_yaml_parse(NULL, &yaml, item->text, item->length, item->name) != DF_OK)
        return;
    if (df_yaml_items_find(NULL, &list, df_yaml_root(yaml), df_shelf_name(item->shelf)) == DF_OK &&
        (item->key = calloc(list.count, sizeof *item->key)) != NULL)
        for (size_t i = 0; i < list.count; i++) {
            const char *key = df_yaml_scalar(df_yaml_get(df_yaml_items_at(&list, i), "key"));
            if (key != NULL && (item->key[item->keys] = df_strdup(key)) != NULL)
                item->keys++;
        }
    df_yaml_free(yaml);
}

static df_status take_item(df_context *ctx, df_stock *stock, df_stock_item *item) {
    char file[80];
    snprintf(file, sizeof file, "%.70s.yaml", item->name);
    find_keys(item);
    df_status status = df_stock_add(ctx, stock, item->shelf, item->text, item->length, file);
    if (status == DF_OK || status == DF_E_MEMORY)
        return status;
    item->problem = df_strdup(df_context_message(ctx));
    df_context_clear(ctx);
    if (item->problem == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    status = leave_out(ctx, stock, item, item->name);
    for (size_t k = 0; k < item->keys && status == DF_OK; k++)
        status = leave_out(ctx, stock, item, item->key[k]);
    return status;
}

df_status df_stock_build(df_context *ctx, df_stock **stock, const df_substances *substances,
                         const df_containers *containers, df_stock_item *item, size_t items) {
    static const df_shelf order[] = {DF_SHELF_SUBSTANCES, DF_SHELF_SOLUTES, DF_SHELF_CONTAINERS};
    df_stock *s = calloc(1, sizeof *s);
    *stock = NULL;
    if (s == NULL) {
        free_items(item, items);
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    }
    s->item = item;
    s->items = items;
    df_status status = df_substances_copy(ctx, &s->substances, substances);
    if (status == DF_OK)
        status = df_containers_copy(ctx, &s->containers, containers);
    for (size_t k = 0; k < sizeof order / sizeof order[0]; k++)
        for (size_t i = 0; i < items && status == DF_OK; i++)
            if (item[i].shelf == order[k])
                status = take_item(ctx, s, &item[i]);
    if (status != DF_OK) {
        df_stock_free(s);
        return status;
    }
    *stock = s;
    return DF_OK;
}

const df_stock_item *df_stock_find(const df_stock *stock, df_shelf shelf, const char *name) {
    for (size_t i = 0; i < stock->items; i++)
        if (stock->item[i].shelf == shelf && strcmp(stock->item[i].name, name) == 0)
            return &stock->item[i];
    return NULL;
}

void df_stock_free(df_stock *stock) {
    if (stock == NULL)
        return;
    df_containers_free(stock->containers);
    df_substances_free(stock->substances);
    free_items(stock->item, stock->items);
    free(stock);
}
