/* How a dryer's logs are laid out, and the history of its constants. */
#include "dryer/notes.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))
#define STEP(call)                                                                                                   \
    do {                                                                                                             \
        if (status == DF_OK)                                                                                         \
            status = (call);                                                                                         \
    } while (0)
#define MOST_ENTRIES 4000

static const struct {
    const char *name;
    df_dimension dimension;
} quantities[DF_LOG_QUANTITIES] = {
    [DF_LOG_TIME] = {"time", DF_DIM_TIME},
    [DF_LOG_CHAMBER_PRESSURE] = {"chamber_pressure", DF_DIM_PRESSURE},
    [DF_LOG_PIRANI_PRESSURE] = {"pirani_pressure", DF_DIM_PRESSURE},
    [DF_LOG_TRAP_PRESSURE] = {"trap_pressure", DF_DIM_PRESSURE},
    [DF_LOG_SHELF_TEMPERATURE] = {"shelf_temperature", DF_DIM_TEMPERATURE},
    [DF_LOG_TRAP_TEMPERATURE] = {"trap_temperature", DF_DIM_TEMPERATURE},
    [DF_LOG_PRODUCT_TEMPERATURE] = {"product_temperature", DF_DIM_TEMPERATURE},
    [DF_LOG_FRONT_TEMPERATURE] = {"front_temperature", DF_DIM_TEMPERATURE},
    [DF_LOG_TRAP_LOAD] = {"trap_load", DF_DIM_POWER},
    [DF_LOG_WEIGHT] = {"weight", DF_DIM_MASS},
    [DF_LOG_BEFORE] = {"before", DF_DIM_MASS},
    [DF_LOG_AFTER] = {"after", DF_DIM_MASS},
    [DF_LOG_LOST] = {"lost", DF_DIM_MASS},
    [DF_LOG_DURATION] = {"duration", DF_DIM_TIME},
    [DF_LOG_CONTAINER] = {"container", DF_DIM_COUNT},
    [DF_LOG_POSITION] = {"position", DF_DIM_COUNT},
    [DF_LOG_IGNORED] = {"ignored", DF_DIM_COUNT},
};

const char *df_log_quantity_name(df_log_quantity quantity) {
    return quantities[quantity].name;
}

df_dimension df_log_quantity_dimension(df_log_quantity quantity) {
    return quantities[quantity].dimension;
}

/* A unit alone is read as one of it. */
static df_status check_unit(df_context *ctx, const df_log_column *column, const df_yaml_node *map) {
    char one[32], where[200];
    double value;
    df_dimension dimension = df_log_quantity_dimension(column->quantity);
    const df_yaml_node *unit = df_yaml_get(map, "unit");
    if (unit == NULL)
        return DF_OK;
    if (dimension == DF_DIM_COUNT)
        return df_yaml_fail(ctx, unit, "%s has no unit", df_log_quantity_name(column->quantity));
    snprintf(one, sizeof one, "1 %s", column->unit);
    return df_quantity_parse(ctx, &value, one, dimension, df_yaml_where(where, sizeof where, unit));
}

static df_status read_column(df_context *ctx, df_log_map *log, const df_yaml_node *map) {
    static const char *const keys[] = {"column", "quantity", "unit"};
    const char *names[DF_LOG_QUANTITIES];
    df_log_column column;
    int quantity = 0;
    memset(&column, 0, sizeof column);
    for (int i = 0; i < DF_LOG_QUANTITIES; i++)
        names[i] = df_log_quantity_name((df_log_quantity)i);
    df_status status = df_yaml_check_keys(ctx, map, keys, COUNT(keys));
    STEP(df_yaml_text(ctx, column.column, sizeof column.column, map, "column", true));
    STEP(df_yaml_choice(ctx, &quantity, map, "quantity", true, names, COUNT(names)));
    STEP(df_yaml_text(ctx, column.unit, sizeof column.unit, map, "unit", false));
    column.quantity = (df_log_quantity)quantity;
    STEP(check_unit(ctx, &column, map));
    for (size_t i = 0; status == DF_OK && i < log->columns; i++)
        if (strcmp(log->column[i].column, column.column) == 0)
            return df_yaml_fail(ctx, df_yaml_get(map, "column"), "the column '%s' is named twice", column.column);
    if (status == DF_OK)
        log->column[log->columns++] = column;
    return status;
}

static df_status read_log(df_context *ctx, df_log_map *log, const df_yaml_node *root) {
    static const char *const keys[] = {"delimiter", "decimal", "columns"};
    static const char *const delimiters[] = {"comma", "semicolon", "tab"}, *const decimals[] = {"point", "comma"};
    const df_yaml_node *map = df_yaml_get(root, "log");
    int delimiter = -1, decimal = -1;
    memset(log, 0, sizeof *log);
    if (map == NULL)
        return DF_OK;
    df_status status = df_yaml_check_keys(ctx, map, keys, COUNT(keys));
    STEP(df_yaml_choice(ctx, &delimiter, map, "delimiter", false, delimiters, COUNT(delimiters)));
    STEP(df_yaml_choice(ctx, &decimal, map, "decimal", false, decimals, COUNT(decimals)));
    if (status != DF_OK)
        return status;
    log->delimiter = delimiter < 0 ? '\0' : ",;\t"[delimiter];
    log->decimal = decimal < 0 ? '\0' : ".,"[decimal];
    if (log->delimiter == ',' && log->decimal == ',')
        return df_yaml_fail(ctx, df_yaml_get(map, "decimal"), "a comma cannot be both the delimiter and the decimal");
    const df_yaml_node *list = df_yaml_get(map, "columns");
    if (list == NULL)
        return DF_OK;
    size_t n = df_yaml_count(list);
    if (df_yaml_node_kind(list) != DF_YAML_LIST || n < 1 || n > DF_LOG_COLUMNS)
        return df_yaml_fail(ctx, list, "should be a list of 1 to %d columns with column, quantity and unit",
                            DF_LOG_COLUMNS);
    for (size_t i = 0; i < n && status == DF_OK; i++)
        status = read_column(ctx, log, df_yaml_item(list, i));
    return status;
}

bool df_is_date(const char *text) {
    static const int days[] = {31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    if (strlen(text) != 10)
        return false;
    for (int i = 0; i < 10; i++)
        if (i == 4 || i == 7 ? text[i] != '-' : text[i] < '0' || text[i] > '9')
            return false;
    int month = 10 * (text[5] - '0') + text[6] - '0', day = 10 * (text[8] - '0') + text[9] - '0';
    return month >= 1 && month <= 12 && day >= 1 && day <= days[month - 1];
}

/* A number with whatever unit follows: the field that it belonged to may have gone since. */
static df_status read_value(df_context *ctx, char *out, size_t size, const df_yaml_node *map, const char *key,
                            bool required) {
    double number;
    df_status status = df_yaml_text(ctx, out, size, map, key, required);
    if (status == DF_OK && out[0] != '\0' && !df_number_scan(&number, NULL, out))
        return df_yaml_fail(ctx, df_yaml_get(map, key), "'%s' does not begin with a number", out);
    return status;
}

static df_status read_entry(df_context *ctx, df_history_entry *e, const df_yaml_node *map) {
    static const char *const keys[] = {"date", "field", "value", "band", "before", "log", "bytes", "rows"};
    memset(e, 0, sizeof *e);
    df_status status = df_yaml_check_keys(ctx, map, keys, COUNT(keys));
    STEP(df_yaml_text(ctx, e->date, sizeof e->date, map, "date", true));
    if (status == DF_OK && !df_is_date(e->date))
        return df_yaml_fail(ctx, df_yaml_get(map, "date"), "'%s' is no date; write YYYY-MM-DD", e->date);
    STEP(df_yaml_text(ctx, e->field, sizeof e->field, map, "field", true));
    STEP(read_value(ctx, e->value, sizeof e->value, map, "value", true));
    STEP(read_value(ctx, e->band, sizeof e->band, map, "band", true));
    STEP(read_value(ctx, e->before, sizeof e->before, map, "before", false));
    STEP(df_yaml_text(ctx, e->log, sizeof e->log, map, "log", true));
    STEP(df_yaml_integer(ctx, &e->bytes, map, "bytes", false, 0, 1L << 40));
    STEP(df_yaml_integer(ctx, &e->rows, map, "rows", false, 0, 1L << 40));
    return status;
}

df_status df_dryer_notes_read(df_context *ctx, df_dryer_notes *notes, const df_yaml_node *root) {
    df_log_map log;
    df_status status = read_log(ctx, &log, root);
    const df_yaml_node *list = df_yaml_get(root, "history");
    if (status != DF_OK)
        return status;
    if (notes != NULL)
        notes->log = log;
    if (list == NULL)
        return DF_OK;
    if (df_yaml_node_kind(list) != DF_YAML_LIST || df_yaml_count(list) > MOST_ENTRIES)
        return df_yaml_fail(ctx, list, "should be a list of at most %d entries with date, field, value, band and log",
                            MOST_ENTRIES);
    for (size_t i = 0; i < df_yaml_count(list) && status == DF_OK; i++) {
        df_history_entry entry;
        status = read_entry(ctx, &entry, df_yaml_item(list, i));
        if (notes != NULL)
            STEP(df_dryer_notes_add(ctx, notes, &entry));
    }
    return status;
}

df_status df_dryer_notes_parse(df_context *ctx, df_dryer_notes *notes, const char *buffer, size_t length,
                               const char *name) {
    df_yaml *yaml = NULL;
    memset(notes, 0, sizeof *notes);
    df_status status = df_yaml_parse(ctx, &yaml, buffer, length, name);
    if (status != DF_OK)
        return status;
    status = df_dryer_notes_read(ctx, notes, df_yaml_root(yaml));
    df_yaml_free(yaml);
    if (status != DF_OK)
        df_dryer_notes_free(notes);
    return status;
}

df_status df_dryer_notes_add(df_context *ctx, df_dryer_notes *notes, const df_history_entry *entry) {
    df_history_entry copy = *entry;                     /* it may be one of ours */
    if ((notes->entries & (notes->entries - 1)) == 0) { /* room grows by doubling at each power of two */
        size_t room = notes->entries > 0 ? 2 * notes->entries : 1;
        df_history_entry *more = realloc(notes->entry, room * sizeof *more);
        if (more == NULL)
            return df_fail(ctx, DF_E_MEMORY, "out of memory");
        notes->entry = more;
    }
    notes->entry[notes->entries++] = copy;
    return DF_OK;
}

void df_dryer_notes_free(df_dryer_notes *notes) {
    free(notes->entry);
    notes->entry = NULL;
    notes->entries = 0;
}
