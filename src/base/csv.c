/* Comma-separated tables: RFC 4180 with a header row, comment lines and line numbers. */
#include "dryfront/base.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "utf8.h"

#define LARGEST ((size_t)256 << 20) /* bytes */

struct df_csv {
    char *name;
    char *bytes;          /* every cell, unquoted, NUL-terminated */
    char **cells;         /* header first, then row after row */
    size_t *lines;        /* of each row; the header's at 0 */
    size_t columns, rows; /* rows without the header */
    size_t cells_room, lines_room;
};

void df_csv_free(df_csv *csv) {
    if (!csv)
        return;
    free(csv->name);
    free(csv->bytes);
    free(csv->cells);
    free(csv->lines);
    free(csv);
}

static bool add_cell(df_csv *csv, size_t count, char *cell) {
    if (count == csv->cells_room) {
        size_t room = csv->cells_room ? csv->cells_room * 2 : 64;
        char **cells = realloc(csv->cells, room * sizeof *cells);
        if (!cells)
            return false;
        csv->cells = cells;
        csv->cells_room = room;
    }
    csv->cells[count] = cell;
    return true;
}

static bool add_line(df_csv *csv, size_t count, size_t line) {
    if (count == csv->lines_room) {
        size_t room = csv->lines_room ? csv->lines_room * 2 : 64;
        size_t *lines = realloc(csv->lines, room * sizeof *lines);
        if (!lines)
            return false;
        csv->lines = lines;
        csv->lines_room = room;
    }
    csv->lines[count] = line;
    return true;
}

static df_status no_memory(df_context *ctx, const char *name) {
    return df_fail(ctx, DF_E_MEMORY, "%s: out of memory while the table was read", name);
}

static df_status check_header(df_context *ctx, const df_csv *csv) {
    for (size_t i = 0; i < csv->columns; i++) {
        if (csv->cells[i][0] == '\0')
            return df_fail(ctx, DF_E_INPUT, "%s:%zu: column %zu has no name", csv->name, csv->lines[0], i + 1);
        for (size_t k = 0; k < i; k++)
            if (strcmp(csv->cells[i], csv->cells[k]) == 0)
                return df_fail(ctx, DF_E_INPUT, "%s:%zu: two columns are named '%.80s'", csv->name, csv->lines[0],
                               csv->cells[i]);
    }
    return DF_OK;
}

static bool ends_line(const char *at, const char *end) {
    return at == end || *at == '\n' || *at == '\r';
}

/* Refuses what is no text before any cell is cut. */
static df_status check_bytes(df_context *ctx, const char *buffer, size_t length, const char *name) {
    size_t line = 1;
    for (size_t i = 0; i < length;) {
        size_t width = df_utf8_length(buffer + i, length - i);
        if (width == 0)
            return df_fail(ctx, DF_E_INPUT, "%s:%zu: a byte here is no UTF-8; save the file as UTF-8", name, line);
        if (buffer[i] == '\0')
            return df_fail(ctx, DF_E_INPUT, "%s:%zu: a NUL byte stands here; this is no text file", name, line);
        if (buffer[i] == '\n' || (buffer[i] == '\r' && !(i + 1 < length && buffer[i + 1] == '\n')))
            line++;
        i += width;
    }
    return DF_OK;
}

static df_status parse_rows(df_context *ctx, df_csv *csv, const char *buffer, size_t length) {
    const char *at = buffer, *end = buffer + length;
    char *out = csv->bytes;
    size_t line = 1, cells = 0, rows = 0; /* rows with the header */
    if (length >= 3 && memcmp(at, "\xef\xbb\xbf", 3) == 0)
        at += 3;
    while (at < end) {
        size_t first_line = line, in_row = 0;
        bool skip = *at == '#';
        if (skip)
            while (!ends_line(at, end))
                at++;
        else
            skip = ends_line(at, end);
        for (bool more = !skip; more;) {
            char *cell = out;
            if (at < end && *at == '"') {
                size_t open_line = line;
                for (at++;; at++) {
                    if (at == end)
                        return df_fail(ctx, DF_E_INPUT, "%s:%zu: a quote is opened here and never closed", csv->name,
                                       open_line);
                    if (*at == '"') {
                        if (at + 1 < end && at[1] == '"')
                            at++;
                        else
                            break;
                    }
                    if (*at == '\n' || (*at == '\r' && !(at + 1 < end && at[1] == '\n')))
                        line++;
                    *out++ = *at;
                }
                at++;
                if (!ends_line(at, end) && *at != ',')
                    return df_fail(ctx, DF_E_INPUT, "%s:%zu: text follows a closing quote in cell %zu", csv->name,
                                   line, in_row + 1);
            } else {
                for (; !ends_line(at, end) && *at != ','; at++) {
                    if (*at == '"')
                        return df_fail(ctx, DF_E_INPUT,
                                       "%s:%zu: a quote stands inside cell %zu, which does not begin with one",
                                       csv->name, line, in_row + 1);
                    *out++ = *at;
                }
            }
            *out++ = '\0';
            if (!add_cell(csv, cells++, cell))
                return no_memory(ctx, csv->name);
            in_row++;
            more = at < end && *at == ',';
            if (more)
                at++;
        }
        /* The end of the line, in any of its three forms. */
        if (at < end && *at == '\r')
            at++, at += at < end && *at == '\n';
        else if (at < end)
            at++;
        line++;
        if (skip)
            continue;
        if (!add_line(csv, rows++, first_line))
            return no_memory(ctx, csv->name);
        if (rows == 1) {
            csv->columns = in_row;
            df_status status = check_header(ctx, csv);
            if (status < 0)
                return status;
        } else if (in_row != csv->columns) {
            return df_fail(ctx, DF_E_INPUT, "%s:%zu: this row has %zu cell%s, the header has %zu", csv->name,
                           first_line, in_row, in_row == 1 ? "" : "s", csv->columns);
        }
    }
    if (rows == 0)
        return df_fail(ctx, DF_E_INPUT, "%s: the table is empty; its first row must name the columns", csv->name);
    csv->rows = rows - 1;
    return DF_OK;
}

df_status df_csv_parse(df_context *ctx, df_csv **csv, const char *buffer, size_t length, const char *name) {
    *csv = NULL;
    if (length > LARGEST)
        return df_fail(ctx, DF_E_MEMORY, "%s: the table is larger than %zu MiB", name, LARGEST >> 20);
    df_status status = check_bytes(ctx, buffer, length, name);
    if (status < 0)
        return status;
    df_csv *table = calloc(1, sizeof *table);
    if (!table)
        return no_memory(ctx, name);
    table->name = df_strdup(name);
    /* A cell and its NUL take at most the bytes of the cell and its comma or line end; the last may lack one. */
    table->bytes = malloc(length + 2);
    status = table->name && table->bytes ? parse_rows(ctx, table, buffer, length) : no_memory(ctx, name);
    if (status < 0) {
        df_csv_free(table);
        return status;
    }
    *csv = table;
    return DF_OK;
}

size_t df_csv_rows(const df_csv *csv) {
    return csv->rows;
}

size_t df_csv_columns(const df_csv *csv) {
    return csv->columns;
}

const char *df_csv_column_name(const df_csv *csv, size_t column) {
    return column < csv->columns ? csv->cells[column] : "";
}

int df_csv_find(const df_csv *csv, const char *column) {
    for (size_t i = 0; i < csv->columns; i++)
        if (strcmp(csv->cells[i], column) == 0)
            return (int)i;
    return -1;
}

const char *df_csv_cell(const df_csv *csv, size_t row, int column) {
    if (column < 0 || (size_t)column >= csv->columns || row >= csv->rows)
        return "";
    return csv->cells[(row + 1) * csv->columns + (size_t)column];
}

size_t df_csv_line(const df_csv *csv, size_t row) {
    return row < csv->rows ? csv->lines[row + 1] : 0;
}

const char *df_csv_name(const df_csv *csv) {
    return csv->name;
}

df_status df_csv_number(df_context *ctx, double *value, const df_csv *csv, size_t row, int column, double missing) {
    const char *cell = df_csv_cell(csv, row, column);
    const char *rest = cell;
    double number;
    if (*cell == '\0') {
        *value = missing;
        return DF_OK;
    }
    if (!df_number_scan(&number, &rest, cell) || *rest != '\0')
        return df_fail(ctx, DF_E_INPUT, "%s:%zu: %s: '%.80s' is not a finite number", csv->name,
                       df_csv_line(csv, row), df_csv_column_name(csv, (size_t)column), cell);
    *value = number;
    return DF_OK;
}

df_status df_csv_require(df_context *ctx, const df_csv *csv, const char *const *columns, size_t count) {
    for (size_t i = 0; i < count; i++)
        if (df_csv_find(csv, columns[i]) < 0) {
            char near[256];
            df_suggest(near, sizeof near, columns[i], (const char *const *)csv->cells, csv->columns);
            return df_fail(ctx, DF_E_INPUT, "%s:%zu: the column '%s' is missing%s%s%s", csv->name, csv->lines[0],
                           columns[i], *near ? "; is it " : "", near, *near ? "?" : "");
        }
    return DF_OK;
}

df_status df_csv_builtin(df_context *ctx, df_csv **csv, const char *name) {
    size_t length = 0;
    const char *text = df_embedded(&length, name);
    *csv = NULL;
    if (text == NULL)
        return df_fail(ctx, DF_E_INTERNAL, "the built-in table %s is missing", name);
    return df_csv_parse(ctx, csv, text, length, name);
}
