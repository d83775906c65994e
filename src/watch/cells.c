/* Cells of a log: headings, units, times. */
#include "watch/log.h"

#include <stdio.h>
#include <string.h>

df_slice df_log_trim(const char *at, size_t length) {
    while (length > 0 && (*at == ' ' || *at == '\t')) {
        at++;
        length--;
    }
    while (length > 0 && (at[length - 1] == ' ' || at[length - 1] == '\t'))
        length--;
    return (df_slice){at, length};
}

/* ---- recognising columns -------------------------------------------------------------------------------------- */

static const struct {
    const char *written, *meant;
} unit_words[] = {
    {"sec", "s"},      {"secs", "s"},       {"second", "s"},      {"seconds", "s"},  {"mins", "min"},
    {"minute", "min"}, {"minutes", "min"},  {"hr", "h"},          {"hrs", "h"},      {"hour", "h"},
    {"hours", "h"},    {"day", "d"},        {"days", "d"},        {"celsius", "°C"}, {"°c", "°C"},
    {"kelvin", "K"},   {"micron", "mTorr"}, {"microns", "mTorr"}, {"torr", "Torr"},  {"mtorr", "mTorr"},
    {"watt", "W"},     {"grams", "g"},      {"gram", "g"},
};

bool df_log_unit(double *factor, double *offset, const char *unit, df_dimension dimension) {
    char text[48];
    double one;
    for (size_t i = 0; i < sizeof unit_words / sizeof unit_words[0]; i++)
        if (df_name_equal(unit_words[i].written, unit))
            unit = unit_words[i].meant;
    snprintf(text, sizeof text, "%d %s", dimension == DF_DIM_TEMPERATURE ? 100 : 0, unit);
    if (df_quantity_parse(NULL, offset, text, dimension, NULL) != DF_OK)
        return false;
    snprintf(text, sizeof text, "%d %s", dimension == DF_DIM_TEMPERATURE ? 101 : 1, unit);
    if (df_quantity_parse(NULL, &one, text, dimension, NULL) != DF_OK)
        return false;
    if (dimension == DF_DIM_TEMPERATURE) {
        *factor = 1.0;
        *offset -= 100.0; /* °C or K: both steps are 1 K */
    } else
        *factor = one;
    return true;
}

const df_dimension df_log_dimensions[DF_LOG_DIMENSIONS] = {DF_DIM_PRESSURE, DF_DIM_TEMPERATURE, DF_DIM_TIME,
                                                           DF_DIM_MASS, DF_DIM_POWER};

df_dimension df_log_unit_dimension(const char *unit) {
    double factor, offset;
    for (size_t i = 0; i < DF_LOG_DIMENSIONS; i++)
        if (df_log_unit(&factor, &offset, unit, df_log_dimensions[i]))
            return df_log_dimensions[i];
    return DF_DIM_COUNT;
}

void df_log_heading(char *name, char *unit, size_t size, df_slice cell) {
    char text[128];
    snprintf(text, sizeof text, "%.*s", (int)(cell.length < 127 ? cell.length : 127), cell.at);
    snprintf(name, size, "%.*s", (int)size - 1, text);
    unit[0] = '\0';
    size_t length = strlen(text);
    if (length == 0)
        return;
    char *open = NULL, last = text[length - 1];
    if (last == ']' || last == ')')
        open = strrchr(text, last == ']' ? '[' : '(');
    if (open != NULL) {
        text[length - 1] = '\0';
        if (df_log_unit_dimension(open + 1) != DF_DIM_COUNT || strpbrk(open + 1, "hHmMsS:") != NULL)
            snprintf(unit, size, "%.*s", (int)size - 1,
                     df_log_unit_dimension(open + 1) != DF_DIM_COUNT ? open + 1 : "");
        *open = '\0';
    } else {
        char *best = NULL;
        for (char *at = text + 1; *at != '\0' && best == NULL; at++) { /* the longest tail that is a unit */
            if (strchr("/ _,;:", *at) == NULL)
                continue;
            char *tail = at + 1;
            while (*tail == ' ')
                tail++;
            if (*tail != '\0' && df_log_unit_dimension(tail) != DF_DIM_COUNT)
                best = at;
        }
        if (best == NULL)
            return;
        char *tail = best + 1;
        while (*tail == ' ')
            tail++;
        snprintf(unit, size, "%.*s", (int)size - 1, tail);
        *best = '\0';
    }
    df_slice rest = df_log_trim(text, strlen(text));
    while (rest.length > 0 && strchr("/_,;:", rest.at[rest.length - 1]) != NULL)
        rest.length--;
    if (rest.length >= 3 && strncmp(rest.at + rest.length - 3, " in", 3) == 0)
        rest.length -= 3;
    snprintf(name, size, "%.*s", (int)(rest.length < size ? rest.length : size - 1), rest.at);
}

/* Small letters and digits, words set apart by single spaces, one space at either end. */
static void plain_words(char *out, size_t size, const char *name) {
    size_t n = 0;
    out[n++] = ' ';
    for (; *name != '\0' && n + 2 < size; name++) {
        char c = *name;
        if (c >= 'A' && c <= 'Z')
            c = (char)(c - 'A' + 'a');
        bool keep = (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || (unsigned char)c >= 0x80;
        if (keep)
            out[n++] = c;
        else if (out[n - 1] != ' ')
            out[n++] = ' ';
    }
    if (out[n - 1] != ' ')
        out[n++] = ' ';
    out[n] = '\0';
}

/* Names by which a quantity is known: a part of the heading, or a whole word between spaces; the first that fits counts. */
static const struct {
    df_dimension dimension;
    df_log_quantity quantity;
    const char *part;
} names[] = {
    {DF_DIM_PRESSURE, DF_LOG_PIRANI_PRESSURE, "pirani"},
    {DF_DIM_PRESSURE, DF_LOG_TRAP_PRESSURE, "trap"},
    {DF_DIM_PRESSURE, DF_LOG_TRAP_PRESSURE, "cond"},
    {DF_DIM_PRESSURE, DF_LOG_TRAP_PRESSURE, "pump"},
    {DF_DIM_PRESSURE, DF_LOG_CHAMBER_PRESSURE, "chamber"},
    {DF_DIM_PRESSURE, DF_LOG_CHAMBER_PRESSURE, "capacit"},
    {DF_DIM_PRESSURE, DF_LOG_CHAMBER_PRESSURE, "vacuum"},
    {DF_DIM_PRESSURE, DF_LOG_CHAMBER_PRESSURE, "pressure"},
    {DF_DIM_PRESSURE, DF_LOG_CHAMBER_PRESSURE, " p ch "},
    {DF_DIM_PRESSURE, DF_LOG_CHAMBER_PRESSURE, " pch "},
    {DF_DIM_PRESSURE, DF_LOG_CHAMBER_PRESSURE, " pc "},
    {DF_DIM_PRESSURE, DF_LOG_CHAMBER_PRESSURE, " p "},
    {DF_DIM_TEMPERATURE, DF_LOG_SHELF_TEMPERATURE, "shelf"},
    {DF_DIM_TEMPERATURE, DF_LOG_SHELF_TEMPERATURE, "plate"},
    {DF_DIM_TEMPERATURE, DF_LOG_TRAP_TEMPERATURE, "trap"},
    {DF_DIM_TEMPERATURE, DF_LOG_TRAP_TEMPERATURE, "cond"},
    {DF_DIM_TEMPERATURE, DF_LOG_TRAP_TEMPERATURE, "coil"},
    {DF_DIM_TEMPERATURE, DF_LOG_FRONT_TEMPERATURE, "front"},
    {DF_DIM_TEMPERATURE, DF_LOG_PRODUCT_TEMPERATURE, "product"},
    {DF_DIM_TEMPERATURE, DF_LOG_PRODUCT_TEMPERATURE, "probe"},
    {DF_DIM_TEMPERATURE, DF_LOG_PRODUCT_TEMPERATURE, "vial"},
    {DF_DIM_TEMPERATURE, DF_LOG_PRODUCT_TEMPERATURE, "sample"},
    {DF_DIM_TEMPERATURE, DF_LOG_PRODUCT_TEMPERATURE, " tp"},
    {DF_DIM_TEMPERATURE, DF_LOG_PRODUCT_TEMPERATURE, " tc"},
    {DF_DIM_TIME, DF_LOG_DURATION, "duration"},
    {DF_DIM_TIME, DF_LOG_TIME, "time"},
    {DF_DIM_TIME, DF_LOG_TIME, "elapsed"},
    {DF_DIM_TIME, DF_LOG_TIME, " t "},
    {DF_DIM_MASS, DF_LOG_BEFORE, "before"},
    {DF_DIM_MASS, DF_LOG_AFTER, "after"},
    {DF_DIM_MASS, DF_LOG_LOST, "lost"},
    {DF_DIM_MASS, DF_LOG_LOST, "loss"},
    {DF_DIM_MASS, DF_LOG_WEIGHT, "weight"},
    {DF_DIM_MASS, DF_LOG_WEIGHT, "mass"},
    {DF_DIM_POWER, DF_LOG_TRAP_LOAD, "load"},
    {DF_DIM_COUNT, DF_LOG_TIME, "time"}, /* without a unit: a clock's */
    {DF_DIM_COUNT, DF_LOG_TIME, " date "},
    {DF_DIM_COUNT, DF_LOG_TIME, "clock"},
    {DF_DIM_COUNT, DF_LOG_POSITION, " position "},
    {DF_DIM_COUNT, DF_LOG_POSITION, " place "},
    {DF_DIM_COUNT, DF_LOG_CONTAINER, " vial "},
    {DF_DIM_COUNT, DF_LOG_CONTAINER, " container "},
    {DF_DIM_COUNT, DF_LOG_CONTAINER, " flask "},
};

/* What is set is not what is. */
static const char *const not_measured[] = {" set ",    " setpoint ", " sp ",    " target ",
                                           " wanted ", " alarm ",    " status "};

df_log_quantity df_log_recognise(const char *name, df_dimension dimension) {
    char words[140];
    plain_words(words, sizeof words, name);
    for (size_t i = 0; i < sizeof not_measured / sizeof not_measured[0]; i++)
        if (strstr(words, not_measured[i]) != NULL)
            return DF_LOG_IGNORED;
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (names[i].dimension == dimension && strstr(words, names[i].part) != NULL)
            return names[i].quantity;
    return DF_LOG_IGNORED;
}

/* ---- values --------------------------------------------------------------------------------------------------- */

bool df_log_missing(df_slice cell) {
    static const char *const words[] = {"-",    "--",    "---", "nan",   "n/a",       "na",        "null",
                                        "none", "ol",    "err", "error", "fault",     "#n/a",      "over",
                                        "open", "under", "inf", "-inf",  "overrange", "underrange"};
    char text[16];
    if (cell.length == 0 || strspn(cell.at, "*?") >= cell.length)
        return true;
    if (cell.length >= sizeof text)
        return false;
    snprintf(text, sizeof text, "%.*s", (int)cell.length, cell.at);
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        size_t k = 0;
        while (text[k] != '\0' && (text[k] | 32) == (words[i][k] | 32) && words[i][k] != '\0')
            k++;
        if (text[k] == '\0' && words[i][k] == '\0')
            return true;
    }
    return false;
}

static bool digits(int *value, const char **at, const char *end, int least, int most) {
    int n = 0;
    *value = 0;
    while (*at < end && **at >= '0' && **at <= '9' && n < most) {
        *value = 10 * *value + (*(*at)++ - '0');
        n++;
    }
    return n >= least && !(*at < end && **at >= '0' && **at <= '9');
}

/* Days from 1970-01-01 in the Gregorian calendar; any text on calendars (years counted from March). */
static long day_number(int y, int m, int d) {
    y -= m <= 2;
    long era = (y >= 0 ? y : y - 399) / 400, in_era = y - era * 400;
    long of_year = (153 * (m + (m > 2 ? -3 : 9)) + 2) / 5 + d - 1;
    return era * 146097 + in_era * 365 + in_era / 4 - in_era / 100 + of_year - 719468;
}

bool df_log_clock(bool *dated, bool *timed, double *seconds, df_slice cell) {
    const char *at = cell.at, *end = cell.at + cell.length, *start = at;
    int a, b, c;
    *dated = *timed = false;
    *seconds = 0.0;
    bool first = digits(&a, &at, end, 1, 4);
    if (first && at < end && (*at == '-' || *at == '/' || *at == '.')) {
        char mark = *at++;
        int width = (int)(at - 1 - start);
        if (!digits(&b, &at, end, 1, 2) || at >= end || *at++ != mark || !digits(&c, &at, end, 1, 4))
            return false;
        int year = width == 4 ? a : c, day = width == 4 ? c : a;
        if ((width != 4 && mark != '.') || year < 1900 || year > 2200 || b < 1 || b > 12 || day < 1 || day > 31)
            return false; /* 3/4/2026 is two days */
        *seconds = 86400.0 * (double)day_number(year, b, day);
        *dated = true;
        if (at == end)
            return true;
        if (*at != 'T' && *at != ' ')
            return false;
        while (at < end && (*at == 'T' || *at == ' '))
            at++;
        first = digits(&a, &at, end, 1, 2);
    }
    if (!first || at >= end || *at++ != ':' || !digits(&b, &at, end, 2, 2) || b > 59)
        return false;
    double fraction = 0.0;
    c = 0;
    if (at < end && *at == ':') {
        at++;
        if (!digits(&c, &at, end, 2, 2) || c > 60)
            return false;
        if (at < end && (*at == '.' || *at == ',')) {
            double unit = 0.1;
            for (at++; at < end && *at >= '0' && *at <= '9'; at++, unit *= 0.1)
                fraction += unit * (*at - '0');
        }
    }
    if (*dated && a > 24)
        return false;
    *seconds += 3600.0 * a + 60.0 * b + c + fraction;
    *timed = true;
    if (at < end && *at == 'Z')
        at++;
    else if (at < end && *dated && (*at == '+' || *at == '-')) {
        int hours, minutes = 0, sign = *at++ == '+' ? -1 : 1;
        if (!digits(&hours, &at, end, 2, 2))
            return false;
        if (at < end && *at == ':' && (at++, !digits(&minutes, &at, end, 2, 2)))
            return false;
        *seconds += sign * (3600.0 * hours + 60.0 * minutes);
    }
    return at == end;
}
