/* Writing YAML. */
#include "base/yaml_write.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define FEW_DIGITS 6
#define MUCH_SHORTER 3 /* bytes, for which another unit is taken */

/* ---- quantities ----------------------------------------------------------------------------------------------- */

/* The unit that people write, one like it, and the SI unit, in which every double can be written. */
static const struct {
    const char *usual, *other, *si;
} units[DF_DIM_COUNT] = {
    [DF_DIM_TEMPERATURE] = {"°C", NULL, "K"},
    [DF_DIM_TEMPERATURE_STEP] = {"K", NULL, "K"},
    [DF_DIM_PRESSURE] = {"mbar", NULL, "Pa"},
    [DF_DIM_LENGTH] = {"mm", "m", "m"},
    [DF_DIM_AREA] = {"m2", NULL, "m2"},
    [DF_DIM_VOLUME] = {"L", "mL", "m3"},
    [DF_DIM_MASS] = {"kg", "g", "kg"},
    [DF_DIM_TIME] = {"h", "min", "s"},
    [DF_DIM_RATE] = {"K/min", NULL, "K/s"},
    [DF_DIM_POWER] = {"W", NULL, "W"},
    [DF_DIM_VOLUME_FLOW] = {"m3/h", "L/min", "m3/s"},
    [DF_DIM_MASS_CONCENTRATION] = {"g/L", NULL, "kg/m3"},
    [DF_DIM_HEAT_TRANSFER] = {"W/m2/K", NULL, "W/m2/K"},
    [DF_DIM_HEAT_TRANSFER_PER_PRESSURE] = {"W/m2/K/Pa", NULL, "W/m2/K/Pa"},
    [DF_DIM_PER_PRESSURE] = {"1/Pa", NULL, "1/Pa"},
    [DF_DIM_CONDUCTIVITY] = {"W/m/K", NULL, "W/m/K"},
    [DF_DIM_RESISTANCE] = {"cm2 Torr h/g", NULL, "m/s"},
    [DF_DIM_RESISTANCE_SLOPE] = {"cm Torr h/g", NULL, "1/s"},
    [DF_DIM_PER_LENGTH] = {"1/cm", NULL, "1/m"},
    [DF_DIM_LEAK] = {"mbar L/s", NULL, "Pa m3/s"},
    [DF_DIM_HEAT_CAPACITY] = {"kJ/K", NULL, "J/K"},
    [DF_DIM_NUMBER] = {"", NULL, ""},
    [DF_DIM_PERCENT] = {"%", "ppm", "%"},
};

/* `si` in a unit; false where the dimension has no such unit. */
static bool in_unit(double *number, double si, df_dimension dimension, const char *unit) {
    char one[32];
    double zero = 0.0, factor = 1.0;
    snprintf(one, sizeof one, "0 %s", unit);
    if (df_quantity_parse(NULL, &zero, one, dimension, NULL) != DF_OK)
        return false;
    snprintf(one, sizeof one, "1 %s", unit);
    if (df_quantity_parse(NULL, &factor, one, dimension, NULL) != DF_OK)
        return false;
    *number = (si - zero) / (factor - zero);
    return true;
}

static void print(char *out, size_t size, double number, int digits, const char *unit) {
    char text[64];
    snprintf(text, sizeof text, "%.*g", digits, number);
    if (strchr(text, 'e') != NULL && fabs(number) >= 1e-4 && fabs(number) < 1e9) /* "1e+02" reads badly */
        snprintf(text, sizeof text, "%.*f", digits > 9 ? digits : 0, number);
    snprintf(out, size, "%s%s%s", text, unit[0] != '\0' ? " " : "", unit);
}

/* The shortest "number unit" that reads back to the same double, and its digits; 0 where the unit has none. */
static int exact(char *out, size_t size, double si, df_dimension dimension, const char *unit) {
    double number, back;
    if (!in_unit(&number, si, dimension, unit))
        return 0;
    for (int digits = 1; digits <= 17; digits++) {
        print(out, size, number, digits, unit);
        if (df_quantity_parse(NULL, &back, out, dimension, NULL) == DF_OK && back == si)
            return digits;
    }
    for (int side = -1; side < 2; side += 2) { /* the way back rounds, too: look beside it */
        double beside = number;
        for (int step = 0; step < 4; step++) {
            beside = nextafter(beside, (double)side * HUGE_VAL);
            print(out, size, beside, 17, unit);
            if (df_quantity_parse(NULL, &back, out, dimension, NULL) == DF_OK && back == si)
                return 17;
        }
    }
    return 0;
}

void df_put_quantity(df_text *out, double si, df_dimension dimension, const char *unit) {
    const char *const choice[] = {unit != NULL ? unit : units[dimension].usual, units[dimension].other,
                                  units[dimension].si};
    char best[96] = "", text[96];
    for (size_t i = 0; i < sizeof choice / sizeof choice[0]; i++) {
        int digits = choice[i] != NULL ? exact(text, sizeof text, si, dimension, choice[i]) : 0;
        if (digits > 0 && (best[0] == '\0' || strlen(text) + MUCH_SHORTER < strlen(best)))
            snprintf(best, sizeof best, "%s", text);
        if (i == 0 && digits > 0 && digits <= FEW_DIGITS)
            break;
    }
    double number;
    if (best[0] == '\0' && in_unit(&number, si, dimension, choice[0])) /* a share that no percentage reads back to */
        snprintf(best, sizeof best, "%.17g%s%s", number, choice[0][0] != '\0' ? " " : "", choice[0]);
    df_text_puts(out, best);
}

double df_quantity_round(double si, df_dimension dimension, const char *unit, int digits) {
    char text[96];
    double number, back;
    if (!in_unit(&number, si, dimension, unit))
        return si;
    if (digits > 0)
        snprintf(text, sizeof text, "%.*g %s", digits, number, unit);
    else
        snprintf(text, sizeof text, "%.*f %s", -digits, number, unit);
    return df_quantity_parse(NULL, &back, text, dimension, NULL) == DF_OK ? back : si;
}

void df_put_scalar(df_text *out, const char *text, bool flow) {
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

/* ---- comments of an older text -------------------------------------------------------------------------------- */

struct df_yaml_comment {
    char anchor[64];  /* field before which it goes */
    const char *text; /* from its '#' */
    size_t length;
    bool written;
};

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

static bool gather(df_yaml_writer *w, const char *text) {
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
            for (size_t i = w->comments - waiting; i < w->comments; i++)
                snprintf(w->comment[i].anchor, sizeof w->comment[i].anchor, "%s", anchor);
            waiting = 0;
        }
        if (found != NULL) {
            df_yaml_comment *more = realloc(w->comment, (w->comments + 1) * sizeof *more);
            if (more == NULL)
                return false;
            w->comment = more;
            more += w->comments++;
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
    for (size_t i = w->comments - waiting; i < w->comments; i++)
        w->comment[i].anchor[0] = '\0';
    return true;
}

df_status df_yaml_writer_open(df_context *ctx, df_yaml_writer *w, df_text *out, const char *original) {
    *w = (df_yaml_writer){.out = out, .section = ""};
    return original == NULL || gather(w, original) ? DF_OK : df_fail(ctx, DF_E_MEMORY, "out of memory");
}

static void put_comment(df_yaml_writer *w, df_yaml_comment *c, bool deep) {
    if (c->written)
        return;
    c->written = true;
    df_text_puts(w->out, deep ? "  " : "");
    df_text_append(w->out, c->text, c->length);
    df_text_puts(w->out, "\n");
}

df_status df_yaml_writer_close(df_context *ctx, df_yaml_writer *w) {
    for (size_t i = 0; i < w->comments; i++)
        put_comment(w, &w->comment[i], false);
    free(w->comment);
    w->comment = NULL;
    w->comments = 0;
    return w->out->failed ? df_fail(ctx, DF_E_MEMORY, "out of memory, or the file grew too large") : DF_OK;
}

void df_yaml_comments(df_yaml_writer *w, const char *anchor, bool deep, bool whole) {
    size_t length = strlen(anchor);
    for (size_t i = 0; i < w->comments; i++) {
        const char *at = w->comment[i].anchor;
        if (strncmp(at, anchor, length) == 0 && (at[length] == '\0' || (whole && at[length] == '.')))
            put_comment(w, &w->comment[i], deep);
    }
}

/* ---- sections and fields -------------------------------------------------------------------------------------- */

static void begin(df_yaml_writer *w, const char *key, bool list) {
    df_yaml_comments(w, key, false, list);
    df_text_printf(w->out, "%s:", key);
    w->section = key;
}

void df_yaml_section(df_yaml_writer *w, const char *key) {
    begin(w, key, false);
}

void df_yaml_list(df_yaml_writer *w, const char *key) {
    begin(w, key, true);
    df_text_puts(w->out, "\n");
}

void df_yaml_field(df_yaml_writer *w, const char *key) {
    char anchor[64];
    snprintf(anchor, sizeof anchor, "%s.%s", w->section, key);
    df_yaml_comments(w, anchor, true, false);
    df_text_printf(w->out, "  %s:", key);
}

void df_yaml_put_quantity(df_yaml_writer *w, const char *key, double value, df_dimension dimension,
                          const char *unit) {
    df_yaml_field(w, key);
    df_text_puts(w->out, " ");
    df_put_quantity(w->out, value, dimension, unit);
    df_text_puts(w->out, "\n");
}

void df_yaml_put_word(df_yaml_writer *w, const char *key, const char *value) {
    df_yaml_field(w, key);
    df_text_puts(w->out, " ");
    df_put_scalar(w->out, value, false);
    df_text_puts(w->out, "\n");
}

void df_yaml_put_number(df_yaml_writer *w, const char *key, long value) {
    df_yaml_field(w, key);
    df_text_printf(w->out, " %ld\n", value);
}
