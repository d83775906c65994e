/* A dryer as YAML. */
#include "dryfront/dryer.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- comments of an older text -------------------------------------------------------------------------------- */

/* A comment and the field before which it goes: "chamber" or "chamber.leak"; "" at the end. */
typedef struct comment {
    char anchor[64];
    const char *text; /* from its '#' */
    size_t length;
    bool written;
} comment;

typedef struct writer {
    df_text *out;
    comment *comments;
    size_t count;
    const char *section;
} writer;

/* The comment that ends a line, NULL where there is none: '#' at the start or behind a space, outside quotes. */
static const char *comment_in(const char *line, size_t length) {
    char quote = '\0';
    for (size_t i = 0; i < length; i++) {
        char c = line[i];
        if (quote != '\0')
            quote = c == quote ? '\0' : quote;
        else if ((c == '"' || c == '\'') && i > 0 && strchr(" :{[,", line[i - 1]) != NULL)
            quote = c;
        else if (c == '#' && (i == 0 || line[i - 1] == ' ' || line[i - 1] == '\t'))
            return line + i;
    }
    return NULL;
}

/* Length of a plain key at `text`, 0 where there is none. */
static size_t key_length(const char *text, size_t length) {
    size_t n = 0;
    while (n < length && ((text[n] >= 'a' && text[n] <= 'z') || (text[n] >= 'A' && text[n] <= 'Z') || text[n] == '_'))
        n++;
    return n < length && text[n] == ':' ? n : 0;
}

static bool gather(writer *w, const char *text) {
    char top[32] = "", anchor[64] = "";
    size_t waiting = 0, nested = 0; /* comments without a field yet; indent of the fields of a section */
    for (const char *line = text; *line != '\0';) {
        size_t length = strcspn(line, "\r\n"), indent = strspn(line, " ");
        const char *found = comment_in(line, length);
        size_t plain = found != NULL ? (size_t)(found - line) : length;
        if (strspn(line, " \t") < plain) { /* there is more than a comment */
            size_t n = key_length(line + indent, plain - indent);
            if (n > 0 && n < sizeof top && indent == 0) {
                snprintf(top, sizeof top, "%.*s", (int)n, line);
                snprintf(anchor, sizeof anchor, "%s", top);
                nested = 0;
            } else if (n > 0 && n < 31 && (nested == 0 || indent == nested)) {
                nested = indent;
                snprintf(anchor, sizeof anchor, "%s.%.*s", top, (int)n, line + indent);
            }
            for (size_t i = w->count - waiting; i < w->count; i++)
                snprintf(w->comments[i].anchor, sizeof w->comments[i].anchor, "%s", anchor);
            waiting = 0;
        }
        if (found != NULL) {
            comment *more = realloc(w->comments, (w->count + 1) * sizeof *more);
            if (more == NULL)
                return false;
            w->comments = more;
            more += w->count++;
            memset(more, 0, sizeof *more);
            more->text = found;
            more->length = length - (size_t)(found - line);
            while (more->length > 0 && more->text[more->length - 1] == ' ')
                more->length--;
            if (strspn(line, " \t") < plain)
                snprintf(more->anchor, sizeof more->anchor, "%s", anchor);
            else
                waiting++;
        }
        line += length;
        line += strspn(line, "\r\n");
    }
    for (size_t i = w->count - waiting; i < w->count; i++)
        w->comments[i].anchor[0] = '\0';
    return true;
}

static void put_comments(writer *w, const char *anchor, const char *indent, bool all) {
    for (size_t i = 0; i < w->count; i++) {
        comment *c = &w->comments[i];
        if (c->written || (!all && strcmp(c->anchor, anchor) != 0))
            continue;
        c->written = true;
        df_text_puts(w->out, indent);
        df_text_append(w->out, c->text, c->length);
        df_text_puts(w->out, "\n");
    }
}

/* ---- fields --------------------------------------------------------------------------------------------------- */

/* The unit that people write, and the SI unit, in which every double can be written. */
static const struct {
    const char *usual, *si;
} units[DF_DIM_COUNT] = {
    [DF_DIM_TEMPERATURE] = {"°C", "K"},
    [DF_DIM_PRESSURE] = {"mbar", "Pa"},
    [DF_DIM_LENGTH] = {"mm", "m"},
    [DF_DIM_AREA] = {"m2", "m2"},
    [DF_DIM_VOLUME] = {"L", "m3"},
    [DF_DIM_MASS] = {"kg", "kg"},
    [DF_DIM_TIME] = {"h", "s"},
    [DF_DIM_RATE] = {"K/min", "K/s"},
    [DF_DIM_POWER] = {"W", "W"},
    [DF_DIM_VOLUME_FLOW] = {"m3/h", "m3/s"},
    [DF_DIM_HEAT_TRANSFER] = {"W/m2/K", "W/m2/K"},
    [DF_DIM_HEAT_TRANSFER_PER_PRESSURE] = {"W/m2/K/Pa", "W/m2/K/Pa"},
    [DF_DIM_PER_PRESSURE] = {"1/Pa", "1/Pa"},
    [DF_DIM_LEAK] = {"mbar L/s", "Pa m3/s"},
    [DF_DIM_HEAT_CAPACITY] = {"kJ/K", "J/K"},
};

/* The shortest "number unit" that reads back to the same double; false where the unit has none. */
static bool exact(char *out, size_t size, double si, df_dimension dimension, const char *unit) {
    char one[32];
    double zero = 0.0, factor = 1.0, back;
    snprintf(one, sizeof one, "0 %s", unit);
    if (df_quantity_parse(NULL, &zero, one, dimension, NULL) != DF_OK)
        return false;
    snprintf(one, sizeof one, "1 %s", unit);
    if (df_quantity_parse(NULL, &factor, one, dimension, NULL) != DF_OK)
        return false;
    double number = (si - zero) / (factor - zero);
    for (int digits = 1; digits <= 17; digits++) {
        snprintf(out, size, "%.*g", digits, number);
        char plain[64];
        if (strchr(out, 'e') != NULL && fabs(number) >= 1e-4 && fabs(number) < 1e9) { /* "1e+02" reads badly */
            snprintf(plain, sizeof plain, "%.*f", digits > 9 ? digits : 0, number);
            snprintf(out, size, "%s", plain);
        }
        size_t used = strlen(out);
        snprintf(out + used, size - used, " %s", unit);
        if (df_quantity_parse(NULL, &back, out, dimension, NULL) == DF_OK && back == si)
            return true;
    }
    return false;
}

static void put_quantity(df_text *out, double si, df_dimension dimension, const char *unit) {
    char text[96];
    if (!exact(text, sizeof text, si, dimension, unit != NULL ? unit : units[dimension].usual))
        exact(text, sizeof text, si, dimension, units[dimension].si);
    df_text_puts(out, text);
}

/* A scalar, quoted where YAML could take it for something else; within brackets (`flow`) that is more. */
static void put_scalar(df_text *out, const char *text, bool flow) {
    bool plain = text[0] != '\0' && strchr(" -?:,[]{}#&*!|>'\"%@`~", text[0]) == NULL &&
                 text[strlen(text) - 1] != ' ' && text[strlen(text) - 1] != ':';
    for (const char *at = text; *at != '\0'; at++)
        plain = plain && (unsigned char)*at >= ' ' && (!flow || strchr(",[]{}", *at) == NULL) &&
                strncmp(at, ": ", 2) != 0 && strncmp(at, " #", 2) != 0;
    if (plain) {
        df_text_puts(out, text);
        return;
    }
    df_text_puts(out, "\"");
    for (const char *at = text; *at != '\0'; at++) {
        if ((unsigned char)*at < ' ' || *at == 0x7f)
            df_text_printf(out, "\\x%02x", (unsigned)(unsigned char)*at);
        else
            df_text_printf(out, "%s%c", *at == '"' || *at == '\\' ? "\\" : "", *at);
    }
    df_text_puts(out, "\"");
}

/* "key:" of the top level with the comments before it. */
static void top(writer *w, const char *key) {
    put_comments(w, key, "", false);
    df_text_printf(w->out, "%s:", key);
    w->section = key;
}

static void field(writer *w, const char *key) {
    char anchor[64];
    snprintf(anchor, sizeof anchor, "%s.%s", w->section, key);
    put_comments(w, anchor, "  ", false);
    df_text_printf(w->out, "  %s:", key);
}

static void quantity(writer *w, const char *key, double value, df_dimension dimension, const char *unit) {
    field(w, key);
    df_text_puts(w->out, " ");
    put_quantity(w->out, value, dimension, unit);
    df_text_puts(w->out, "\n");
}

static void word(writer *w, const char *key, const char *value) {
    field(w, key);
    df_text_puts(w->out, " ");
    put_scalar(w->out, value, false);
    df_text_puts(w->out, "\n");
}

static void number(writer *w, const char *key, long value) {
    field(w, key);
    df_text_printf(w->out, " %ld\n", value);
}

static void curve(writer *w, const char *key, const df_curve *c, const char *x, df_dimension x_dimension,
                  const char *y, df_dimension y_dimension) {
    field(w, key);
    df_text_puts(w->out, "\n");
    for (size_t i = 0; i < c->n; i++) {
        df_text_printf(w->out, "    - {%s: ", x);
        put_quantity(w->out, c->x[i], x_dimension, NULL);
        df_text_printf(w->out, ", %s: ", y);
        put_quantity(w->out, c->y[i], y_dimension, NULL);
        df_text_puts(w->out, "}\n");
    }
}

static void put_trap(writer *w, const df_dryer *d, size_t index) {
    const df_trap *t = &d->trap[index];
    top(w, index == 0 ? "trap" : "second_trap");
    df_text_puts(w->out, "\n");
    if (t->kind == DF_TRAP_FINGER) {
        word(w, "coolant", df_coolant_name(t->coolant));
        quantity(w, "charge", t->charge, DF_DIM_MASS, NULL);
        quantity(w, "loss", t->loss, DF_DIM_POWER, NULL);
    } else
        curve(w, "refrigeration", &t->refrigeration, "temperature", DF_DIM_TEMPERATURE, "power", DF_DIM_POWER);
    quantity(w, "area", t->area, DF_DIM_AREA, NULL);
    quantity(w, "volume", t->volume, DF_DIM_VOLUME, NULL);
    quantity(w, "capacity", t->capacity, DF_DIM_MASS, NULL);
    quantity(w, "heat_capacity", t->heat_capacity, DF_DIM_HEAT_CAPACITY, NULL);
    if (!isnan(t->power))
        quantity(w, "power", t->power, DF_DIM_POWER, NULL);
    if (index > 0) {
        field(w, "link");
        df_text_puts(w->out, " {diameter: ");
        put_quantity(w->out, d->link.diameter, DF_DIM_LENGTH, NULL);
        df_text_puts(w->out, ", length: ");
        put_quantity(w->out, d->link.length, DF_DIM_LENGTH, "m");
        df_text_puts(w->out, "}\n");
    }
}

static void put_pump(writer *w, const df_dryer *d) {
    top(w, "pump");
    df_text_puts(w->out, "\n");
    word(w, "kind", df_pump_kind_name(d->pump.kind));
    quantity(w, "ultimate_pressure", d->pump.ultimate, DF_DIM_PRESSURE, NULL);
    if (d->pump.kind == DF_PUMP_OIL_SEALED) {
        quantity(w, "solvent_limit", d->pump.solvent_limit, DF_DIM_MASS, "g");
        quantity(w, "oil", d->pump.oil, DF_DIM_MASS, NULL);
        quantity(w, "oil_temperature", d->pump.oil_temperature, DF_DIM_TEMPERATURE, NULL);
        quantity(w, "ballast", d->pump.ballast, DF_DIM_VOLUME_FLOW, NULL);
    }
    if (!isnan(d->pump.power))
        quantity(w, "power", d->pump.power, DF_DIM_POWER, NULL);
    put_comments(w, "pump.nominal_speed", "  ", false);
    curve(w, "speed", &d->pump.speed, "pressure", DF_DIM_PRESSURE, "flow", DF_DIM_VOLUME_FLOW);
}

static void put_reference(writer *w, const df_reference_load *load) {
    bool held = false;
    top(w, "reference_load");
    df_text_puts(w->out, "\n");
    word(w, "container", load->container.key);
    number(w, "count", load->count);
    quantity(w, "fill", load->fill, DF_DIM_VOLUME, "mL");
    word(w, "place", load->place == DF_PLACE_SHELF ? "shelf" : "manifold");
    word(w, "lie", load->lie == DF_LIE_SHELL ? "shell" : "at_rest");
    if (load->recipe.n == 0)
        return;
    for (size_t i = 0; i < load->recipe.n; i++)
        held = held || load->recipe.pressure[i] > 0.0;
    field(w, "recipe");
    df_text_puts(w->out, "\n");
    for (size_t i = 0; i < load->recipe.n; i++) {
        df_text_puts(w->out, "    - {time: ");
        put_quantity(w->out, load->recipe.time[i], DF_DIM_TIME, NULL);
        df_text_puts(w->out, ", shelf_temperature: ");
        put_quantity(w->out, load->recipe.shelf_temperature[i], DF_DIM_TEMPERATURE, NULL);
        if (held) {
            df_text_puts(w->out, ", chamber_pressure: ");
            put_quantity(w->out, load->recipe.pressure[i], DF_DIM_PRESSURE, NULL);
        }
        df_text_puts(w->out, "}\n");
    }
}

static void put_log(writer *w, const df_log_map *log) {
    if (log->delimiter == '\0' && log->decimal == '\0' && log->columns == 0)
        return;
    top(w, "log");
    df_text_puts(w->out, "\n");
    if (log->delimiter != '\0')
        word(w, "delimiter", log->delimiter == ',' ? "comma" : log->delimiter == ';' ? "semicolon" : "tab");
    if (log->decimal != '\0')
        word(w, "decimal", log->decimal == '.' ? "point" : "comma");
    if (log->columns == 0)
        return;
    field(w, "columns");
    df_text_puts(w->out, "\n");
    for (size_t i = 0; i < log->columns; i++) {
        df_text_puts(w->out, "    - {column: ");
        put_scalar(w->out, log->column[i].column, true);
        df_text_printf(w->out, ", quantity: %s", df_log_quantity_name(log->column[i].quantity));
        if (log->column[i].unit[0] != '\0') {
            df_text_puts(w->out, ", unit: ");
            put_scalar(w->out, log->column[i].unit, true);
        }
        df_text_puts(w->out, "}\n");
    }
}

static void put_history(writer *w, const df_dryer_notes *notes) {
    if (notes->entries == 0)
        return;
    top(w, "history");
    df_text_puts(w->out, "\n");
    for (size_t i = 0; i < notes->entries; i++) {
        const df_history_entry *e = &notes->entry[i];
        const char *const keys[] = {"field", "value", "band", "before", "log"};
        const char *const values[] = {e->field, e->value, e->band, e->before, e->log};
        df_text_printf(w->out, "  - {date: %s", e->date);
        for (size_t k = 0; k < sizeof keys / sizeof keys[0]; k++) {
            if (values[k][0] == '\0')
                continue;
            df_text_printf(w->out, ", %s: ", keys[k]);
            put_scalar(w->out, values[k], true);
        }
        df_text_printf(w->out, ", bytes: %ld, rows: %ld}\n", e->bytes, e->rows);
    }
}

df_status df_dryer_write(df_context *ctx, df_text *out, const df_dryer *d, const df_dryer_notes *notes,
                         const char *original) {
    static const char *const controls[] = {"none", "bleed", "throttle"};
    writer w = {out, NULL, 0, ""};
    if (original != NULL && !gather(&w, original)) {
        free(w.comments);
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    }
    top(&w, "name");
    df_text_puts(out, " ");
    put_scalar(out, d->name, false);
    df_text_puts(out, "\n");
    if (d->description[0] != '\0') {
        top(&w, "description");
        df_text_puts(out, " ");
        put_scalar(out, d->description, false);
        df_text_puts(out, "\n");
    }
    top(&w, "chamber");
    df_text_puts(out, "\n");
    quantity(&w, "volume", d->chamber.volume, DF_DIM_VOLUME, NULL);
    quantity(&w, "room_temperature", d->chamber.room_temperature, DF_DIM_TEMPERATURE, NULL);
    quantity(&w, "leak", d->chamber.leak, DF_DIM_LEAK, NULL);
    quantity(&w, "degassing", d->chamber.degassing, DF_DIM_LEAK, NULL);
    word(&w, "control", controls[d->chamber.control]);
    top(&w, "duct");
    df_text_puts(out, "\n");
    quantity(&w, "diameter", d->duct.diameter, DF_DIM_LENGTH, NULL);
    quantity(&w, "length", d->duct.length, DF_DIM_LENGTH, "m");
    for (size_t i = 0; i < d->traps; i++)
        put_trap(&w, d, i);
    put_pump(&w, d);
    if (d->shelf.present) {
        top(&w, "shelf");
        df_text_puts(out, "\n");
        quantity(&w, "area", d->shelf.area, DF_DIM_AREA, NULL);
        quantity(&w, "lowest", d->shelf.lowest, DF_DIM_TEMPERATURE, NULL);
        quantity(&w, "highest", d->shelf.highest, DF_DIM_TEMPERATURE, NULL);
        quantity(&w, "contact", d->shelf.contact, DF_DIM_HEAT_TRANSFER, NULL);
        quantity(&w, "gas", d->shelf.gas, DF_DIM_HEAT_TRANSFER_PER_PRESSURE, NULL);
        quantity(&w, "gas_bend", d->shelf.gas_bend, DF_DIM_PER_PRESSURE, NULL);
        quantity(&w, "drift", d->shelf.drift, DF_DIM_TIME, NULL);
        quantity(&w, "ramp", d->shelf.ramp, DF_DIM_RATE, NULL);
    }
    if (d->manifold.present) {
        top(&w, "manifold");
        df_text_puts(out, "\n");
        number(&w, "ports", d->manifold.ports);
        quantity(&w, "port_diameter", d->manifold.port_diameter, DF_DIM_LENGTH, NULL);
        quantity(&w, "frost", d->manifold.frost, DF_DIM_LENGTH, NULL);
    }
    if (!isnan(d->hood_flow)) {
        top(&w, "hood_flow");
        df_text_puts(out, " ");
        put_quantity(out, d->hood_flow, DF_DIM_VOLUME_FLOW, NULL);
        df_text_puts(out, "\n");
    }
    put_reference(&w, &d->reference);
    if (notes != NULL) {
        put_log(&w, &notes->log);
        put_history(&w, notes);
    }
    put_comments(&w, "", "", true);
    free(w.comments);
    return out->failed ? df_fail(ctx, DF_E_MEMORY, "out of memory, or the file grew too large") : DF_OK;
}
