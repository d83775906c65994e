/* Logs of any layout. */
#include "base/utf8.h"
#include "watch/log.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define MOST_CELLS 256
#define MOST_ROWS 4000000
#define MOST_REMARKS 64
#define MOST_NOTES 32
#define LOOKED_AT 400  /* lines from which the delimiter is found */
#define GAP 5.0        /* medians of the interval that make a gap */
#define STUCK_LEAST 20 /* rows */
#define LEFT_OUT 0.1   /* share of the rows that may be */

typedef struct column {
    char name[64];
    df_log_quantity quantity;
    size_t cell;
    bool clock;            /* a time that is no number */
    double factor, offset; /* SI = number * factor + offset */
    double *values;
    char **words;
    double digit; /* smallest place that a cell shows, SI */
    size_t missing;
} column;

typedef struct note {
    char *key, *value;
} note;

struct df_log {
    char *name;
    size_t bytes;
    size_t rows, room, columns;
    size_t *lines;
    column column[MOST_CELLS];
    df_text unknown;
    char *remark[MOST_REMARKS];
    size_t remarks;
    note note[MOST_NOTES];
    size_t notes;
};

/* What is known while a log is read. */
typedef struct reader {
    df_context *ctx;
    df_log *log;
    const df_log_map *map;
    const char *text, *end; /* UTF-8 */
    char delimiter, decimal;
    size_t cells; /* of the header */
    df_slice header;
    df_slice cell[MOST_CELLS];
    size_t count; /* of cells in the line at hand */
    double last;  /* s, of the clock: for midnight */
    double days;  /* s added for midnights passed */
} reader;

/* ---- what a log answers --------------------------------------------------------------------------------------- */

void df_log_free(df_log *log) {
    if (log == NULL)
        return;
    for (size_t i = 0; i < log->columns; i++) {
        for (size_t k = 0; log->column[i].words != NULL && k < log->rows; k++)
            free(log->column[i].words[k]);
        free(log->column[i].words);
        free(log->column[i].values);
    }
    for (size_t i = 0; i < log->remarks; i++)
        free(log->remark[i]);
    for (size_t i = 0; i < log->notes; i++) {
        free(log->note[i].key);
        free(log->note[i].value);
    }
    df_text_free(&log->unknown);
    free(log->lines);
    free(log->name);
    free(log);
}

const char *df_log_name(const df_log *log) {
    return log->name;
}

size_t df_log_bytes(const df_log *log) {
    return log->bytes;
}

size_t df_log_rows(const df_log *log) {
    return log->rows;
}

size_t df_log_line(const df_log *log, size_t row) {
    return row < log->rows ? log->lines[row] : 0;
}

static const column *find(const df_log *log, df_log_quantity quantity, size_t index) {
    for (size_t i = 0; i < log->columns; i++)
        if (log->column[i].quantity == quantity && index-- == 0)
            return &log->column[i];
    return NULL;
}

size_t df_log_count(const df_log *log, df_log_quantity quantity) {
    size_t n = 0;
    while (find(log, quantity, n) != NULL)
        n++;
    return n;
}

const double *df_log_values(const df_log *log, df_log_quantity quantity, size_t index) {
    const column *c = find(log, quantity, index);
    return c != NULL ? c->values : NULL;
}

const char *df_log_column_name(const df_log *log, df_log_quantity quantity, size_t index) {
    const column *c = find(log, quantity, index);
    return c != NULL ? c->name : "";
}

double df_log_digit(const df_log *log, df_log_quantity quantity, size_t index) {
    const column *c = find(log, quantity, index);
    return c != NULL ? c->digit : 0.0;
}

const char *df_log_words(const df_log *log, df_log_quantity quantity, size_t row) {
    const column *c = find(log, quantity, 0);
    return c != NULL && c->words != NULL && row < log->rows && c->words[row] != NULL ? c->words[row] : "";
}

const char *df_log_unknown(const df_log *log) {
    return df_text_string(&log->unknown);
}

const char *df_log_remark(const df_log *log, size_t index) {
    return index < log->remarks ? log->remark[index] : NULL;
}

void df_log_remarkf(df_log *log, const char *format, ...) {
    char text[400];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    if (log->remarks == MOST_REMARKS)
        return;
    log->remark[log->remarks] = df_strdup(text);
    log->remarks += log->remark[log->remarks] != NULL;
}

/* ---- notes ---------------------------------------------------------------------------------------------------- */

static const char *const note_keys[] = {"test",     "from",   "until",   "volume",       "evacuated", "load",
                                        "pressure", "shelf",  "product", "duration",     "sensor",    "container",
                                        "position", "probes", "kv_band", "heat_capacity"};
#define NOTE_KEYS (sizeof note_keys / sizeof note_keys[0])

const char *df_log_note(const df_log *log, const char *key) {
    for (size_t i = 0; i < log->notes; i++)
        if (df_name_equal(log->note[i].key, key))
            return log->note[i].value;
    return NULL;
}

/* Keeps "key: value"; false where it is none of ours. */
static bool take_note(df_log *log, df_slice text, bool *no_memory) {
    const char *colon = memchr(text.at, ':', text.length);
    char key[32];
    if (colon == NULL)
        return false;
    df_slice name = df_log_trim(text.at, (size_t)(colon - text.at));
    df_slice value = df_log_trim(colon + 1, text.length - (size_t)(colon - text.at) - 1);
    if (name.length >= sizeof key || value.length == 0)
        return false;
    snprintf(key, sizeof key, "%.*s", (int)name.length, name.at);
    for (size_t k = 0; k < NOTE_KEYS; k++) {
        if (!df_name_equal(note_keys[k], key))
            continue;
        char *copy = df_strndup(value.at, value.length);
        size_t i = 0;
        while (i < log->notes && !df_name_equal(log->note[i].key, key))
            i++;
        if (i == log->notes && i < MOST_NOTES) {
            log->note[i].key = df_strdup(key);
            log->note[i].value = NULL;
            if (log->note[i].key != NULL)
                log->notes++;
        }
        *no_memory = copy == NULL || i >= log->notes;
        if (*no_memory)
            free(copy);
        else {
            free(log->note[i].value);
            log->note[i].value = copy;
        }
        return true;
    }
    return false;
}

df_status df_log_add_note(df_context *ctx, df_log *log, const char *text, const char *where) {
    bool no_memory = false;
    char key[64], near[200];
    const char *colon = strchr(text, ':');
    if (colon == NULL || colon[1] == '\0')
        return df_fail(ctx, DF_E_INPUT, "%s: '%.80s' is no note; write \"key: value\", e.g. \"volume: 72 L\"", where,
                       text);
    if (!take_note(log, (df_slice){text, strlen(text)}, &no_memory)) {
        snprintf(key, sizeof key, "%.*s", (int)(colon - text < 63 ? colon - text : 63), text);
        df_suggest(near, sizeof near, key, note_keys, NOTE_KEYS);
        return df_fail(ctx, DF_E_UNKNOWN_NAME, "%s: no note is called '%s'%s%s%s", where, key,
                       near[0] != '\0' ? "; did you mean " : "; docs/tune.md lists them", near,
                       near[0] != '\0' ? "?" : "");
    }
    return no_memory ? df_fail(ctx, DF_E_MEMORY, "out of memory") : DF_OK;
}

df_status df_log_note_quantity(df_context *ctx, double *value, const df_log *log, const char *key,
                               df_dimension dimension, double lowest, double highest) {
    char where[200];
    double read;
    const char *text = df_log_note(log, key);
    if (text == NULL)
        return DF_OK;
    snprintf(where, sizeof where, "%.120s: %s", log->name, key);
    df_status status = df_quantity_parse(ctx, &read, text, dimension, where);
    if (status != DF_OK)
        return status;
    if (!(read >= lowest && read <= highest))
        return df_fail(ctx, DF_E_INPUT, "%s: '%.60s' is out of bounds", where, text);
    *value = read;
    return DF_OK;
}

/* ---- lines and cells ------------------------------------------------------------------------------------------ */

static df_slice next_line(const char **at, const char *end, size_t *line) {
    const char *start = *at, *stop = start;
    while (stop < end && *stop != '\n' && *stop != '\r')
        stop++;
    *at = stop;
    if (*at < end && **at == '\r')
        (*at)++;
    if (*at < end && **at == '\n' && (*at == stop || **at == '\n'))
        (*at)++;
    (*line)++;
    return (df_slice){start, (size_t)(stop - start)};
}

static bool is_comment(df_slice line, df_slice *rest) {
    df_slice t = df_log_trim(line.at, line.length);
    size_t mark = t.length > 0 && t.at[0] == '#' ? 1 : t.length > 1 && strncmp(t.at, "//", 2) == 0 ? 2 : 0;
    *rest = df_log_trim(t.at + mark, t.length - mark);
    return mark > 0;
}

/* Cells of a line, df_log_trim, without their quotes (doubled quotes inside stay doubled). False: too many, an open quote. */
static bool cut(reader *r, df_slice line, char delimiter) {
    const char *at = line.at, *end = line.at + line.length;
    r->count = 0;
    for (;;) {
        if (r->count == MOST_CELLS)
            return false;
        while (at < end && (*at == ' ' || (*at == '\t' && delimiter != '\t')))
            at++;
        const char *start = at;
        if (at < end && *at == '"') {
            for (at++; at < end && !(*at == '"' && !(at + 1 < end && at[1] == '"')); at += *at == '"' ? 2 : 1)
                ;
            if (at >= end)
                return false;
            r->cell[r->count++] = df_log_trim(start + 1, (size_t)(at - start) - 1);
            at++;
            while (at < end && *at != delimiter)
                at++;
        } else {
            while (at < end && *at != delimiter)
                at++;
            r->cell[r->count++] = df_log_trim(start, (size_t)(at - start));
        }
        if (at >= end)
            return true;
        at++;
    }
}

/* The delimiter that most lines agree on; a comma last, as it may be a decimal sign. */
static char find_delimiter(reader *r) {
    static const char candidates[] = "\t;,";
    size_t best_score = 0, best = 2;
    for (size_t k = 0; k < 3; k++) {
        size_t votes[MOST_CELLS + 1] = {0}, line = 0, looked = 0, score = 0;
        for (const char *at = r->text; at < r->end && looked < LOOKED_AT;) {
            df_slice rest, l = next_line(&at, r->end, &line);
            if (is_comment(l, &rest) || df_log_trim(l.at, l.length).length == 0)
                continue;
            looked++;
            if (cut(r, l, candidates[k]) && r->count > 1)
                votes[r->count]++;
        }
        for (size_t i = 2; i <= MOST_CELLS; i++)
            score = votes[i] > score ? votes[i] : score;
        if (score > best_score) {
            best_score = score;
            best = k;
        }
    }
    return candidates[best];
}

/* ---- numbers and times ---------------------------------------------------------------------------------------- */

/* A number in the log's decimal sign; a mixture of both signs is no number. */
static bool read_number(reader *r, double *value, df_slice cell) {
    char text[64];
    const char *rest;
    if (cell.length == 0 || cell.length >= sizeof text)
        return false;
    snprintf(text, sizeof text, "%.*s", (int)cell.length, cell.at);
    char *comma = strchr(text, ','), *point = strchr(text, '.');
    if (comma != NULL && point != NULL)
        return false;
    if (comma != NULL) {
        if (r->decimal == '.' || r->delimiter == ',')
            return false;
        r->decimal = ',';
        *comma = '.';
    } else if (point != NULL) {
        if (r->decimal == ',')
            return false;
        r->decimal = '.';
    }
    return df_number_scan(value, &rest, text) && *rest == '\0';
}

/* Place of the last digit of a number: 0.01 of "3.14", 1e-5 of "1.234e-2". */
static double last_place(df_slice cell) {
    int decimals = 0, power = 0, sign = 1;
    bool behind = false;
    for (size_t i = 0; i < cell.length; i++) {
        char c = cell.at[i];
        if (c == 'e' || c == 'E') {
            for (i++; i < cell.length; i++) {
                sign = cell.at[i] == '-' ? -1 : sign;
                if (cell.at[i] >= '0' && cell.at[i] <= '9' && power < 400)
                    power = 10 * power + (cell.at[i] - '0');
            }
            break;
        }
        decimals += behind && c >= '0' && c <= '9';
        behind = behind || c == '.' || c == ',';
    }
    return pow(10.0, sign * power - decimals);
}

/* ---- reading -------------------------------------------------------------------------------------------------- */

#define SHOWN(cell) (int)((cell).length < 60 ? (cell).length : 60), (cell).at

static bool same_word(df_slice cell, const char *name) {
    return strlen(name) == cell.length && strncmp(name, cell.at, cell.length) == 0;
}

/* How many cells of the line at hand name a quantity; one that the map names counts as two: it alone makes a header. */
static size_t known_cells(const reader *r) {
    size_t n = 0;
    for (size_t i = 0; i < r->count; i++) {
        char name[64], unit[64];
        bool mapped = false;
        for (size_t k = 0; r->map != NULL && k < r->map->columns; k++)
            mapped = mapped || same_word(r->cell[i], r->map->column[k].column);
        df_log_heading(name, unit, sizeof name, r->cell[i]);
        df_dimension dimension = df_log_unit_dimension(unit);
        bool named = df_log_recognise(name, dimension) != DF_LOG_IGNORED;
        for (size_t k = 0; k < DF_LOG_DIMENSIONS && !named && unit[0] == '\0'; k++) /* its unit may stand below */
            named = df_log_recognise(name, df_log_dimensions[k]) != DF_LOG_IGNORED;
        n += mapped ? 2 : named;
    }
    return n;
}

static bool any_number(reader *r) {
    double value;
    bool dated, timed, found = false;
    char decimal = r->decimal;
    for (size_t i = 0; i < r->count && !found; i++)
        found = read_number(r, &value, r->cell[i]) || df_log_clock(&dated, &timed, &value, r->cell[i]);
    r->decimal = decimal;
    return found;
}

/* A row of units below the header. */
static bool units_row(const reader *r) {
    size_t units = 0;
    for (size_t i = 0; i < r->count; i++) {
        char text[32], *at = text;
        df_slice c = r->cell[i];
        if (c.length == 0 || (c.length == 1 && *c.at == '-'))
            continue;
        if (c.length >= sizeof text)
            return false;
        snprintf(text, sizeof text, "%.*s", (int)c.length, c.at);
        if (*at == '[' || *at == '(')
            at++;
        size_t n = strlen(at);
        if (n > 0 && (at[n - 1] == ']' || at[n - 1] == ')'))
            at[n - 1] = '\0';
        if (df_log_unit_dimension(at) == DF_DIM_COUNT && strchr(at, ':') == NULL)
            return false;
        units++;
    }
    return units > 0;
}

static bool is_single(df_log_quantity q) {
    return q == DF_LOG_CHAMBER_PRESSURE || q == DF_LOG_PIRANI_PRESSURE || q == DF_LOG_TRAP_PRESSURE ||
           q == DF_LOG_DURATION || q == DF_LOG_CONTAINER || q == DF_LOG_POSITION || q == DF_LOG_TRAP_LOAD ||
           q == DF_LOG_BEFORE || q == DF_LOG_AFTER || q == DF_LOG_LOST;
}

/* Takes one column of the header; `below` is the cell of a row of units, empty where there is none. */
static df_status take_column(reader *r, df_slice heading, df_slice below, size_t cell, size_t line) {
    df_log *log = r->log;
    column *c = &log->column[log->columns];
    char name[64], unit[64], under[64];
    memset(c, 0, sizeof *c);
    snprintf(c->name, sizeof c->name, "%.*s", (int)(heading.length < 63 ? heading.length : 63), heading.at);
    c->cell = cell;
    c->factor = 1.0;
    df_log_heading(name, unit, sizeof name, heading);
    if (below.length > 0 && below.length < sizeof under - 2) {
        bool open = *below.at == '[' || *below.at == '(';
        snprintf(under, sizeof under, "%.*s", (int)below.length - 2 * open, below.at + open);
        if (df_log_unit_dimension(under) != DF_DIM_COUNT)
            snprintf(unit, sizeof unit, "%s", under);
    }
    const df_log_column *mapped = NULL;
    for (size_t k = 0; r->map != NULL && k < r->map->columns; k++)
        if (same_word(heading, r->map->column[k].column))
            mapped = &r->map->column[k];
    if (mapped != NULL) {
        c->quantity = mapped->quantity;
        if (mapped->unit[0] != '\0')
            snprintf(unit, sizeof unit, "%s", mapped->unit);
    } else
        c->quantity = df_log_recognise(name, df_log_unit_dimension(unit));
    if (c->quantity == DF_LOG_IGNORED) {
        if (mapped == NULL && heading.length > 0 && log->unknown.length < 300)
            df_text_printf(&log->unknown, "%s'%.*s'", log->unknown.length > 0 ? ", " : "", SHOWN(heading));
        return DF_OK;
    }
    df_dimension dimension = df_log_quantity_dimension(c->quantity);
    c->clock = c->quantity == DF_LOG_TIME && unit[0] == '\0';
    if (dimension != DF_DIM_COUNT && !c->clock && !df_log_unit(&c->factor, &c->offset, unit, dimension))
        return df_fail(
            r->ctx, DF_E_INPUT,
            "%s:%zu: the column '%s' %s%s; %s needs %s, in the header or in the section 'log' of the dryer's "
            "file",
            log->name, line, c->name, unit[0] != '\0' ? "is in " : "has no unit", unit,
            df_log_quantity_name(c->quantity), df_unit_list(dimension));
    const column *other = find(log, c->quantity, 0);
    bool too_many = is_single(c->quantity) && other != NULL;
    if (c->quantity == DF_LOG_TIME && other != NULL)
        too_many = !c->clock || !other->clock || df_log_count(log, DF_LOG_TIME) > 1;
    if (too_many)
        return df_fail(
            r->ctx, DF_E_INPUT,
            "%s:%zu: the columns '%s' and '%s' both read as %s; say which is which in the section 'log' of "
            "the dryer's file",
            log->name, line, other->name, c->name, df_log_quantity_name(c->quantity));
    log->columns++;
    return DF_OK;
}

static df_status take_header(reader *r, df_slice units_line, size_t line) {
    df_slice heading[MOST_CELLS], none = {"", 0};
    size_t n = r->count;
    df_status status = DF_OK;
    memcpy(heading, r->cell, n * sizeof *heading);
    for (size_t k = 0; r->map != NULL && k < r->map->columns; k++) {
        bool there = false;
        for (size_t i = 0; i < n; i++)
            there = there || same_word(heading[i], r->map->column[k].column);
        if (!there)
            return df_fail(r->ctx, DF_E_INPUT, "%s:%zu: the column '%s' of the dryer's section 'log' is missing",
                           r->log->name, line, r->map->column[k].column);
    }
    if (units_line.length > 0)
        (void)cut(r, units_line, r->delimiter);
    else
        r->count = 0;
    for (size_t i = 0; i < n && status == DF_OK; i++)
        status = take_column(r, heading[i], i < r->count ? r->cell[i] : none, i, line);
    r->cells = n;
    return status;
}

/* Room for one more row in every column. */
static bool grow(df_log *log) {
    if (log->rows < log->room)
        return true;
    size_t room = log->room > 0 ? 2 * log->room : 256;
    size_t *lines = realloc(log->lines, room * sizeof *lines);
    if (lines == NULL)
        return false;
    log->lines = lines;
    for (size_t i = 0; i < log->columns; i++) {
        column *c = &log->column[i];
        if (df_log_quantity_dimension(c->quantity) == DF_DIM_COUNT) {
            char **words = realloc(c->words, room * sizeof *words);
            if (words == NULL)
                return false;
            c->words = words;
        } else {
            double *values = realloc(c->values, room * sizeof *values);
            if (values == NULL)
                return false;
            c->values = values;
        }
    }
    log->room = room;
    return true;
}

/* Time of the row at hand, s; a clock that starts anew has passed midnight. */
static df_status read_time(reader *r, double *seconds, size_t line) {
    df_log *log = r->log;
    bool has_date = false, has_clock = false;
    *seconds = 0.0;
    for (size_t k = 0; find(log, DF_LOG_TIME, k) != NULL; k++) {
        const column *c = find(log, DF_LOG_TIME, k);
        df_slice cell = r->cell[c->cell];
        double value;
        bool dated, timed;
        if (!c->clock) {
            if (!read_number(r, &value, cell))
                return df_fail(r->ctx, DF_E_INPUT, "%s:%zu: %s: '%.*s' is not a finite number", log->name, line,
                               c->name, SHOWN(cell));
            *seconds = value * c->factor;
            return DF_OK;
        }
        if (!df_log_clock(&dated, &timed, &value, cell)) {
            double bare;
            bool number = read_number(r, &bare, cell);
            return df_fail(
                r->ctx, DF_E_INPUT,
                number ? "%s:%zu: %s: '%.*s' is a number, but the header states no unit; write e.g. 'time [s]'"
                       : "%s:%zu: %s: '%.*s' is no time; write s, min or h with the unit in the header, 14:03:20 "
                         "or 2026-02-28T14:03:20",
                log->name, line, c->name, SHOWN(cell));
        }
        if ((dated && has_date) || (timed && has_clock))
            return df_fail(r->ctx, DF_E_INPUT,
                           "%s:%zu: %s: a second time in one row; say which column counts in the "
                           "section 'log' of the dryer's file",
                           log->name, line, c->name);
        has_date = has_date || dated;
        has_clock = has_clock || timed;
        *seconds += value;
    }
    if (!has_date) {
        if (*seconds + r->days < r->last - 43200.0)
            r->days += 86400.0;
        *seconds += r->days;
        r->last = *seconds;
    }
    return DF_OK;
}

static df_status take_row(reader *r, size_t line) {
    df_log *log = r->log;
    size_t row = log->rows;
    double time = 0.0;
    if (row == MOST_ROWS)
        return df_fail(r->ctx, DF_E_INPUT, "%s:%zu: more than %d rows", log->name, line, MOST_ROWS);
    if (!grow(log))
        return df_fail(r->ctx, DF_E_MEMORY, "%s: out of memory while the log was read", log->name);
    df_status status = find(log, DF_LOG_TIME, 0) != NULL ? read_time(r, &time, line) : DF_OK;
    if (status != DF_OK)
        return status;
    for (size_t i = 0; i < log->columns; i++)
        if (log->column[i].words != NULL)
            log->column[i].words[row] = NULL;
    log->lines[row] = line;
    log->rows++;
    for (size_t i = 0; i < log->columns; i++) {
        column *c = &log->column[i];
        df_slice cell = r->cell[c->cell];
        double value;
        if (c->quantity == DF_LOG_TIME)
            c->values[row] = time;
        else if (c->words != NULL) {
            if ((c->words[row] = df_strndup(cell.at, cell.length)) == NULL)
                return df_fail(r->ctx, DF_E_MEMORY, "%s: out of memory while the log was read", log->name);
        } else if (df_log_missing(cell)) {
            c->values[row] = NAN;
            c->missing++;
        } else if (!read_number(r, &value, cell))
            return df_fail(r->ctx, DF_E_INPUT, "%s:%zu: %s: '%.*s' is not a finite number%s", log->name, line,
                           c->name, SHOWN(cell),
                           memchr(cell.at, ',', cell.length) != NULL || memchr(cell.at, '.', cell.length) != NULL
                               ? " in the log's decimal sign; the dryer's section 'log' can state it"
                               : "");
        else {
            c->values[row] = value * c->factor + c->offset;
            double place = last_place(cell) * c->factor;
            c->digit = c->digit > 0.0 ? fmin(c->digit, place) : place;
            if (df_log_quantity_dimension(c->quantity) == DF_DIM_TEMPERATURE && !(c->values[row] > 0.0))
                return df_fail(r->ctx, DF_E_INPUT, "%s:%zu: %s: '%.*s' is below absolute zero", log->name, line,
                               c->name, SHOWN(cell));
        }
    }
    return DF_OK;
}

static df_status read_lines(reader *r) {
    df_log *log = r->log;
    size_t line = 0;
    bool header = false, no_memory = false;
    df_status status = DF_OK;
    for (const char *at = r->text; at < r->end && status == DF_OK;) {
        df_slice rest, text = next_line(&at, r->end, &line);
        if (is_comment(text, &rest)) {
            take_note(log, rest, &no_memory);
            continue;
        }
        if (df_log_trim(text.at, text.length).length == 0)
            continue;
        if (!cut(r, text, r->delimiter)) {
            if (!header)
                continue; /* what stands before the table may be anything */
            return df_fail(r->ctx, DF_E_INPUT,
                           "%s:%zu: a quote is opened here and never closed, or there are more than %d cells",
                           log->name, line, MOST_CELLS);
        }
        if (!header) {
            size_t known = known_cells(r);
            if (any_number(r) || known == 0 || (known == 1 && r->count > 1)) {
                take_note(log, df_log_trim(text.at, text.length), &no_memory);
                continue;
            }
            /* The row below may hold the units. */
            df_slice units = {"", 0};
            const char *peek = at;
            size_t peeked = line, header_line = line;
            size_t n = r->count;
            df_slice next = peek < r->end ? next_line(&peek, r->end, &peeked) : units;
            if (next.length > 0 && cut(r, next, r->delimiter) && r->count == n && units_row(r)) {
                units = next;
                at = peek;
                line = peeked;
            }
            (void)cut(r, text, r->delimiter);
            r->header = text;
            header = true;
            status = take_header(r, units, header_line);
            continue;
        }
        if (text.length == r->header.length && memcmp(text.at, r->header.at, text.length) == 0) {
            df_log_remarkf(log, "the header stands again in line %zu", line);
            continue;
        }
        if (r->count == r->cells + 1 && r->cell[r->cells].length == 0)
            r->count--;
        if (r->count != r->cells) {
            if (r->count < r->cells && at >= r->end && r->end[-1] != '\n' && r->end[-1] != '\r') {
                df_log_remarkf(log, "the last line, %zu, is cut off and left out", line);
                continue;
            }
            return df_fail(r->ctx, DF_E_INPUT, "%s:%zu: this row has %zu cell%s, the header has %zu", log->name, line,
                           r->count, r->count == 1 ? "" : "s", r->cells);
        }
        if (units_row(r) && !any_number(r))
            continue;
        status = take_row(r, line);
    }
    if (status == DF_OK && no_memory)
        status = df_fail(r->ctx, DF_E_MEMORY, "%s: out of memory while the log was read", log->name);
    if (status == DF_OK && !header)
        status =
            df_fail(r->ctx, DF_E_INPUT,
                    "%s: no header row was found; name the columns with their units, e.g. 'time [s]' and 'chamber "
                    "pressure [mbar]', or map them in the section 'log' of the dryer's file",
                    log->name);
    if (status == DF_OK && log->rows == 0)
        status = df_fail(r->ctx, DF_E_INPUT, "%s: there is no row of numbers below the header", log->name);
    return status;
}

/* ---- what is odd ---------------------------------------------------------------------------------------------- */

static void move_row(df_log *log, size_t to, size_t from) {
    if (to == from)
        return;
    log->lines[to] = log->lines[from];
    for (size_t i = 0; i < log->columns; i++) {
        column *c = &log->column[i];
        if (c->values != NULL)
            c->values[to] = c->values[from];
        if (c->words != NULL) {
            free(c->words[to]);
            c->words[to] = c->words[from];
            c->words[from] = NULL;
        }
    }
}

/* One time column is enough from here on; rows that repeat a time or go back leave. */
static df_status settle_times(reader *r) {
    df_log *log = r->log;
    column *time = (column *)find(log, DF_LOG_TIME, 0);
    if (time == NULL)
        return DF_OK;
    size_t kept = 0, repeated = 0, back = 0, repeated_line = 0, back_line = 0, all = log->rows;
    double start = time->values[0], latest = -INFINITY;
    for (size_t i = 0; i < all; i++) {
        double t = time->values[i];
        if (t > latest) {
            latest = t;
            move_row(log, kept++, i);
            continue;
        }
        size_t *count = t == latest ? &repeated : &back, *line = t == latest ? &repeated_line : &back_line;
        if ((*count)++ == 0)
            *line = log->lines[i];
    }
    for (size_t i = kept; i < all; i++)
        for (size_t k = 0; k < log->columns; k++)
            if (log->column[k].words != NULL) {
                free(log->column[k].words[i]);
                log->column[k].words[i] = NULL;
            }
    log->rows = kept;
    if (repeated + back > 0 && (double)(repeated + back) > LEFT_OUT * (double)all)
        return df_fail(r->ctx, DF_E_INPUT,
                       "%s:%zu: %s: the time of %zu of %zu rows repeats or goes back; is it one log?", log->name,
                       back > 0 ? back_line : repeated_line, time->name, repeated + back, all);
    if (repeated > 0)
        df_log_remarkf(log, "%zu row%s with a repeated time left out, the first in line %zu", repeated,
                       repeated == 1 ? "" : "s", repeated_line);
    if (back > 0)
        df_log_remarkf(log, "%zu row%s whose time goes back left out, the first in line %zu", back,
                       back == 1 ? "" : "s", back_line);
    for (size_t i = 0; i < kept; i++)
        time->values[i] -= start;
    return DF_OK;
}

static int ascending(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static df_status look_for_gaps(reader *r) {
    df_log *log = r->log;
    const double *t = df_log_values(log, DF_LOG_TIME, 0);
    size_t n = log->rows, gaps = 0, where = 0;
    if (t == NULL || n < 4)
        return DF_OK;
    double *step = malloc((n - 1) * sizeof *step), longest = 0.0;
    if (step == NULL)
        return df_fail(r->ctx, DF_E_MEMORY, "%s: out of memory while the log was read", log->name);
    for (size_t i = 1; i < n; i++)
        step[i - 1] = t[i] - t[i - 1];
    qsort(step, n - 1, sizeof *step, ascending);
    double usual = step[(n - 1) / 2];
    free(step);
    for (size_t i = 1; i < n; i++) {
        double gap = t[i] - t[i - 1];
        gaps += gap > GAP * usual;
        if (gap > GAP * usual && gap > longest) {
            longest = gap;
            where = i;
        }
    }
    if (gaps > 0)
        df_log_remarkf(log, "%zu gap%s in time, the longest %.3g min before line %zu", gaps, gaps == 1 ? "" : "s",
                       longest / 60.0, log->lines[where]);
    return DF_OK;
}

/* A reading that stays the same to the last digit while others move. */
static void look_for_stuck(df_log *log) {
    for (size_t k = 0; k < log->columns; k++) {
        const column *c = &log->column[k];
        df_log_quantity q = c->quantity;
        if (c->missing > 0)
            df_log_remarkf(log, "%zu value%s missing in '%s'", c->missing, c->missing == 1 ? "" : "s", c->name);
        bool sensor = q == DF_LOG_CHAMBER_PRESSURE || q == DF_LOG_PIRANI_PRESSURE || q == DF_LOG_TRAP_PRESSURE ||
                      q == DF_LOG_TRAP_TEMPERATURE || q == DF_LOG_PRODUCT_TEMPERATURE ||
                      q == DF_LOG_FRONT_TEMPERATURE || q == DF_LOG_WEIGHT;
        if (!sensor || find(log, DF_LOG_TIME, 0) == NULL || log->rows < STUCK_LEAST)
            continue;
        size_t run = 1, longest = 1, where = 0;
        for (size_t i = 1; i < log->rows; i++) {
            run = c->values[i] == c->values[i - 1] ? run + 1 : 1;
            if (run > longest) {
                longest = run;
                where = i + 1 - run;
            }
        }
        if (longest >= STUCK_LEAST && 4 * longest >= log->rows)
            df_log_remarkf(log,
                           "'%s' does not move over %zu rows from line %zu on: stuck, or at the end of its range?",
                           c->name, longest, log->lines[where]);
    }
}

/* The text as UTF-8: as it is, or from Latin-1 into a new buffer. */
static df_status to_utf8(df_context *ctx, char **fresh, size_t *fresh_length, const char *buffer, size_t length,
                         const char *name) {
    size_t line = 1;
    const char *nul = memchr(buffer, '\0', length);
    *fresh = NULL;
    for (const char *at = buffer; nul != NULL && at < nul; at++)
        line += *at == '\n';
    if (nul != NULL)
        return df_fail(ctx, DF_E_INPUT, "%s:%zu: a NUL byte stands here; save the log as text in UTF-8", name, line);
    size_t good = 0;
    for (size_t width = 1; good < length && width > 0; good += width)
        width = df_utf8_length(buffer + good, length - good);
    if (good == length)
        return DF_OK;
    char *out = malloc(2 * length + 1);
    if (out == NULL)
        return df_fail(ctx, DF_E_MEMORY, "%s: out of memory while the log was read", name);
    size_t n = 0;
    for (size_t i = 0; i < length; i++) {
        unsigned char c = (unsigned char)buffer[i];
        if (c < 0x80)
            out[n++] = (char)c;
        else {
            out[n++] = (char)(0xc0 | c >> 6);
            out[n++] = (char)(0x80 | (c & 0x3f));
        }
    }
    *fresh = out;
    *fresh_length = n;
    return DF_OK;
}

df_status df_log_parse(df_context *ctx, df_log **out, const char *buffer, size_t length, const char *name,
                       const df_log_map *map) {
    char *fresh = NULL;
    size_t fresh_length = 0;
    *out = NULL;
    df_status status = to_utf8(ctx, &fresh, &fresh_length, buffer, length, name);
    if (status != DF_OK)
        return status;
    df_log *log = calloc(1, sizeof *log);
    reader *r = calloc(1, sizeof *r);
    if (log != NULL)
        log->name = df_strdup(name);
    if (log == NULL || r == NULL || log->name == NULL)
        status = df_fail(ctx, DF_E_MEMORY, "%s: out of memory while the log was read", name);
    else {
        log->bytes = length;
        r->ctx = ctx;
        r->log = log;
        r->map = map;
        r->text = fresh != NULL ? fresh : buffer;
        r->end = r->text + (fresh != NULL ? fresh_length : length);
        r->last = -INFINITY;
        if (r->end - r->text >= 3 && memcmp(r->text, "\xef\xbb\xbf", 3) == 0)
            r->text += 3;
        r->decimal = map != NULL ? map->decimal : '\0';
        r->delimiter = map != NULL && map->delimiter != '\0' ? map->delimiter : find_delimiter(r);
        if (fresh != NULL)
            df_log_remarkf(log, "the file is no UTF-8 and was read as Latin-1");
        status = read_lines(r);
        if (status == DF_OK)
            status = settle_times(r);
        if (status == DF_OK)
            status = look_for_gaps(r);
        if (status == DF_OK)
            look_for_stuck(log);
    }
    free(fresh);
    free(r);
    if (status != DF_OK)
        df_log_free(log);
    else
        *out = log;
    return status;
}
