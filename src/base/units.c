/* Units: a written unit is an expression of known atoms; it fits a dimension when its powers of kg, m, s, K do. */
#define _GNU_SOURCE /* strtod_l */
#include "dryfront/base.h"

#include <float.h>
#include <locale.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "quantity.h"

/* ---- numbers -------------------------------------------------------------------------------------------------- */

typedef struct spelling {
    const char *written, *meant;
} spelling;

/* Bytes at `text` that are a space of any kind, 0 where there is none. */
static size_t space_at(const char *text) {
    static const char *const spaces[] = {" ", "\t", "\u00a0", "\u2009", "\u202f"};
    for (size_t i = 0; i < sizeof spaces / sizeof *spaces; i++) {
        size_t n = strlen(spaces[i]);
        if (strncmp(text, spaces[i], n) == 0)
            return n;
    }
    return 0;
}

static const char *skip_spaces(const char *text) {
    for (size_t n = space_at(text); n > 0; n = space_at(text))
        text += n;
    return text;
}

static bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

/* Decimal digits copied to out[size]; the count that was there. */
static size_t copy_digits(char *out, size_t *used, size_t size, const char **text) {
    size_t count = 0;
    for (; is_digit(**text); (*text)++, count++)
        if (*used + 1 < size)
            out[(*used)++] = **text;
        else
            *used = size; /* too long: the caller refuses it */
    return count;
}

bool df_number_scan(double *value, const char **rest, const char *text) {
    /* Only the plain decimal form is copied out and given to strtod, so that "nan", "inf" and hexadecimal are no
     * numbers, and in the C locale, so that the point is always a point. */
    char digits[512];
    size_t used = 0;
    const char *at = skip_spaces(text);
    if (*at == '+') {
        at++;
    } else if (*at == '-') {
        digits[used++] = '-';
        at++;
    } else if (strncmp(at, "\u2212", 3) == 0 || strncmp(at, "\u2013", 3) == 0) { /* minus sign, en dash */
        digits[used++] = '-';
        at += 3;
    }
    size_t count = copy_digits(digits, &used, sizeof digits, &at);
    if (*at == '.' && (count > 0 || is_digit(at[1]))) {
        at++;
        if (used + 1 < sizeof digits)
            digits[used++] = '.';
        count += copy_digits(digits, &used, sizeof digits, &at);
    }
    if (count == 0)
        return false;
    if (*at == 'e' || *at == 'E') {
        const char *power = at + 1;
        bool minus = *power == '-';
        if (*power == '+' || *power == '-')
            power++;
        else if (strncmp(power, "\u2212", 3) == 0) {
            minus = true;
            power += 3;
        }
        if (is_digit(*power)) {
            if (used + 2 < sizeof digits) {
                digits[used++] = 'e';
                digits[used++] = minus ? '-' : '+';
            }
            (void)copy_digits(digits, &used, sizeof digits, &power);
            at = power;
        }
    }
    if (used + 1 >= sizeof digits)
        return false;
    digits[used] = '\0';
    locale_t plain = newlocale(LC_ALL_MASK, "C", (locale_t)0);
    if (!plain)
        return false;
    double number = strtod_l(digits, NULL, plain);
    freelocale(plain);
    if (!isfinite(number))
        return false;
    *value = number;
    if (rest)
        *rest = skip_spaces(at);
    return true;
}

/* ---- units ---------------------------------------------------------------------------------------------------- */

/* Powers of kg, m, s, K. */
enum { KG, METRE, SECOND, KELVIN, POWERS };

typedef struct atom {
    const char *name;
    double factor, divisor; /* SI = number * factor / divisor: both exact where the unit is */
    int powers[POWERS];
} atom;

/* clang-format off */
#define PRESSURE_POWERS {1, -1, -2, 0}
#define POWER_POWERS {1, 2, -3, 0}
#define ENERGY_POWERS {1, 2, -2, 0}
/* clang-format on */

/* Factors by the definitions of the units; Torr is atm/760. The conventional millimetre of mercury, 133.322387415 Pa,
 * is from memory. */
static const atom atoms[] = {
    {"Pa", 1, 1, PRESSURE_POWERS},
    {"hPa", 100, 1, PRESSURE_POWERS},
    {"kPa", 1000, 1, PRESSURE_POWERS},
    {"MPa", 1e6, 1, PRESSURE_POWERS},
    {"mbar", 100, 1, PRESSURE_POWERS},
    {"ubar", 1, 10, PRESSURE_POWERS},
    {"bar", 1e5, 1, PRESSURE_POWERS},
    {"Torr", DF_ATMOSPHERE, 760, PRESSURE_POWERS},
    {"torr", DF_ATMOSPHERE, 760, PRESSURE_POWERS},
    {"mTorr", DF_ATMOSPHERE, 760e3, PRESSURE_POWERS},
    {"mtorr", DF_ATMOSPHERE, 760e3, PRESSURE_POWERS},
    {"mmHg", 133.322387415, 1, PRESSURE_POWERS},
    {"atm", DF_ATMOSPHERE, 1, PRESSURE_POWERS},
    {"um", 1, 1e6, {0, 1, 0, 0}},
    {"mm", 1, 1e3, {0, 1, 0, 0}},
    {"cm", 1, 100, {0, 1, 0, 0}},
    {"m", 1, 1, {0, 1, 0, 0}},
    {"uL", 1, 1e9, {0, 3, 0, 0}},
    {"ul", 1, 1e9, {0, 3, 0, 0}},
    {"mL", 1, 1e6, {0, 3, 0, 0}},
    {"ml", 1, 1e6, {0, 3, 0, 0}},
    {"L", 1, 1e3, {0, 3, 0, 0}},
    {"l", 1, 1e3, {0, 3, 0, 0}},
    {"ug", 1, 1e9, {1, 0, 0, 0}},
    {"mg", 1, 1e6, {1, 0, 0, 0}},
    {"g", 1, 1e3, {1, 0, 0, 0}},
    {"kg", 1, 1, {1, 0, 0, 0}},
    {"s", 1, 1, {0, 0, 1, 0}},
    {"min", 60, 1, {0, 0, 1, 0}},
    {"h", 3600, 1, {0, 0, 1, 0}},
    {"d", 86400, 1, {0, 0, 1, 0}},
    {"W", 1, 1, POWER_POWERS},
    {"kW", 1000, 1, POWER_POWERS},
    {"J", 1, 1, ENERGY_POWERS},
    {"kJ", 1000, 1, ENERGY_POWERS},
    {"K", 1, 1, {0, 0, 0, 1}},
    {"degC", 1, 1, {0, 0, 0, 1}},
    {"C", 1, 1, {0, 0, 0, 1}},
};

typedef struct dimension_row {
    const char *name, *units;
    int powers[POWERS];
    char family; /* tells apart dimensions of the same powers: 'f'low of gas by pressure, 'e'nergy, 0 any */
} dimension_row;

static const dimension_row dimensions[DF_DIM_COUNT] = {
    [DF_DIM_TEMPERATURE] = {"a temperature", "°C or K", {0, 0, 0, 1}, 0},
    [DF_DIM_TEMPERATURE_STEP] = {"a temperature difference", "K or °C", {0, 0, 0, 1}, 0},
    [DF_DIM_PRESSURE] = {"a pressure", "Pa, hPa, kPa, mbar, µbar, bar, Torr, mmHg, mTorr or atm", PRESSURE_POWERS, 0},
    [DF_DIM_LENGTH] = {"a length", "µm, mm, cm or m", {0, 1, 0, 0}, 0},
    [DF_DIM_AREA] = {"an area", "mm2, cm2 or m2", {0, 2, 0, 0}, 0},
    [DF_DIM_VOLUME] = {"a volume", "µL, mL, L, cm3 or m3", {0, 3, 0, 0}, 0},
    [DF_DIM_MASS] = {"a mass", "mg, g or kg", {1, 0, 0, 0}, 0},
    [DF_DIM_TIME] = {"a time", "s, min, h or d", {0, 0, 1, 0}, 0},
    [DF_DIM_POWER] = {"a power", "W or kW", POWER_POWERS, 'e'},
    [DF_DIM_VOLUME_FLOW] = {"a volume flow", "m3/h, m3/s, L/min or L/s", {0, 3, -1, 0}, 0},
    [DF_DIM_MASS_CONCENTRATION] = {"a mass concentration", "g/L, mg/mL or kg/m3", {1, -3, 0, 0}, 0},
    [DF_DIM_HEAT_TRANSFER] = {"a heat-transfer coefficient", "W/m2/K or W/(m2 K)", {1, 0, -3, -1}, 0},
    [DF_DIM_HEAT_TRANSFER_PER_PRESSURE] = {"a heat transfer per pressure", "W/m2/K/Pa", {0, 1, -1, -1}, 0},
    [DF_DIM_PER_PRESSURE] = {"a reciprocal pressure", "1/Pa", {-1, 1, 2, 0}, 0},
    [DF_DIM_CONDUCTIVITY] = {"a thermal conductivity", "W/m/K or W/(m K)", {1, 1, -3, -1}, 0},
    [DF_DIM_RESISTANCE] = {"a cake resistance", "m/s or cm2 Torr h/g", {0, 1, -1, 0}, 0},
    [DF_DIM_RESISTANCE_SLOPE] = {"a cake resistance per depth", "1/s or cm Torr h/g", {0, 0, -1, 0}, 0},
    [DF_DIM_PER_LENGTH] = {"a reciprocal length", "1/m, 1/cm or 1/mm", {0, -1, 0, 0}, 0},
    [DF_DIM_LEAK] = {"a leak rate", "mbar L/s or Pa m3/s", POWER_POWERS, 'f'},
    [DF_DIM_RATE] = {"a temperature ramp", "K/min, °C/min, K/s or K/h", {0, 0, -1, 1}, 0},
    [DF_DIM_HEAT_CAPACITY] = {"a heat capacity", "J/K or kJ/K", {1, 2, -2, -1}, 0},
    [DF_DIM_NUMBER] = {"a plain number", "no unit", {0, 0, 0, 0}, 0},
    [DF_DIM_PERCENT] = {"a percentage", "% or ppm", {0, 0, 0, 0}, 0},
};

const char *df_unit_list(df_dimension dimension) {
    return (unsigned)dimension < DF_DIM_COUNT ? dimensions[dimension].units : "?";
}

const char *df_dimension_name(df_dimension dimension) {
    return (unsigned)dimension < DF_DIM_COUNT ? dimensions[dimension].name : "?";
}

typedef struct unit {
    double factor, divisor;
    int powers[POWERS];
    bool has_pressure, has_energy; /* atoms met on the way: leak and power share their powers */
} unit;

/* The unit as plain ASCII: one spelling for each sign. False where it does not fit or holds something strange. */
static bool plain_unit(char *out, size_t size, const char *text) {
    static const spelling spellings[] = {
        {"\u00b5", "u"},     {"\u03bc", "u"},      {"\u00b2", "2"},    {"\u00b3", "3"}, {"\u00b9", "1"},
        {"\u207b", "-"},     {"\u2212", "-"},      {"\u00b7", " "},    {"\u22c5", " "}, {"\u00d7", " "},
        {"\u00b0C", "degC"}, {"\u00b0 C", "degC"}, {"\u2103", "degC"}, {"*", " "},      {"^", ""},
        {"\u2215", "/"},     {"\u2044", "/"},
    };
    size_t used = 0;
    while (*text) {
        const char *add = NULL;
        size_t space = space_at(text);
        char one[2] = {*text, '\0'};
        if (space > 0) {
            add = " ";
            text += space;
        } else {
            for (size_t i = 0; i < sizeof spellings / sizeof *spellings && !add; i++)
                if (strncmp(text, spellings[i].written, strlen(spellings[i].written)) == 0) {
                    add = spellings[i].meant;
                    text += strlen(spellings[i].written);
                }
            if (!add) {
                if ((unsigned char)*text >= 0x80)
                    return false;
                add = one;
                text++;
            }
        }
        size_t n = strlen(add);
        if (used + n >= size)
            return false;
        memcpy(out + used, add, n);
        used += n;
    }
    while (used > 0 && out[used - 1] == ' ')
        used--;
    out[used] = '\0';
    return true;
}

static bool is_letter(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

/* Multiplies `u` by other^sign. */
static void combine(unit *u, const unit *other, int sign) {
    u->factor *= sign > 0 ? other->factor : other->divisor;
    u->divisor *= sign > 0 ? other->divisor : other->factor;
    for (int i = 0; i < POWERS; i++)
        u->powers[i] += sign * other->powers[i];
    u->has_pressure = u->has_pressure || other->has_pressure;
    u->has_energy = u->has_energy || other->has_energy;
}

static const unit no_unit = {1, 1, {0, 0, 0, 0}, false, false};

/* An atom with its power, or "1". */
static bool parse_atom(unit *out, const char **text) {
    *out = no_unit;
    if (**text == '1') {
        (*text)++;
        return true;
    }
    size_t n = 0;
    while (is_letter((*text)[n]))
        n++;
    const atom *found = NULL;
    for (size_t i = 0; n > 0 && i < sizeof atoms / sizeof *atoms && !found; i++)
        if (strlen(atoms[i].name) == n && memcmp(atoms[i].name, *text, n) == 0)
            found = &atoms[i];
    if (!found)
        return false;
    *text += n;
    int sign = 1, power = 1;
    if (**text == '-' && is_digit((*text)[1])) {
        sign = -1;
        (*text)++;
    }
    if (is_digit(**text)) {
        power = **text - '0';
        (*text)++;
        if (power == 0 || is_digit(**text))
            return false;
    }
    unit base = {found->factor, found->divisor, {0, 0, 0, 0}, false, false};
    for (int i = 0; i < POWERS; i++)
        base.powers[i] = found->powers[i];
    base.has_pressure = found->powers[KG] == 1 && found->powers[METRE] == -1;
    base.has_energy = found->powers[KG] == 1 && found->powers[METRE] == 2;
    for (int i = 0; i < power; i++)
        combine(out, &base, sign);
    return true;
}

/* A product of atoms and of one level of brackets; '/' divides by the one factor that follows it. */
static bool parse_unit(unit *out, const char **text, bool inside) {
    *out = no_unit;
    for (bool first = true;; first = false) {
        while (**text == ' ')
            (*text)++;
        if (**text == '\0' || **text == ')')
            return !first;
        int sign = 1;
        if (**text == '/') {
            if (first)
                return false;
            sign = -1;
            (*text)++;
            while (**text == ' ')
                (*text)++;
        }
        unit factor;
        if (**text == '(' && !inside) {
            (*text)++;
            if (!parse_unit(&factor, text, true) || **text != ')')
                return false;
            (*text)++;
        } else if (!parse_atom(&factor, text)) {
            return false;
        }
        combine(out, &factor, sign);
    }
}

static bool fits(const unit *u, df_dimension dimension) {
    const dimension_row *row = &dimensions[dimension];
    for (int i = 0; i < POWERS; i++)
        if (u->powers[i] != row->powers[i])
            return false;
    if (row->family == 'e')
        return !u->has_pressure;
    if (row->family == 'f')
        return !u->has_energy;
    return true;
}

df_status df_quantity_read(df_context *ctx, df_quantity *quantity, const char *text, df_dimension dimension,
                           const char *where) {
    const char *colon = where && *where ? ": " : "";
    const char *units;
    const char *name;
    double number = 0;
    if (!where)
        where = "";
    if ((unsigned)dimension >= DF_DIM_COUNT)
        return df_fail(ctx, DF_E_INTERNAL, "%s%sno such dimension", where, colon);
    units = dimensions[dimension].units;
    name = dimensions[dimension].name;
    const char *rest = text;
    if (*skip_spaces(text) == '\0')
        return df_fail(ctx, DF_E_INPUT, "%s%s%s is wanted here (unit: %s), but nothing is written", where, colon,
                       name, units);
    if (!df_number_scan(&number, &rest, text))
        return df_fail(ctx, DF_E_INPUT, "%s%s'%.80s' does not begin with a finite number; %s is wanted (unit: %s)",
                       where, colon, text, name, units);
    if (*rest == ',' && is_digit(rest[1]))
        return df_fail(ctx, DF_E_INPUT, "%s%s'%.80s' has a decimal comma; write a decimal point", where, colon, text);

    df_quantity q = {0, 1, 1, 0, rest};
    char plain[128];
    if (dimension == DF_DIM_NUMBER) {
        if (*rest)
            return df_fail(ctx, DF_E_INPUT, "%s%s'%.80s' has something after the number; a plain number is wanted",
                           where, colon, text);
    } else if (*rest == '\0') {
        return df_fail(ctx, DF_E_INPUT, "%s%s'%.80s' has no unit; write %s", where, colon, text, units);
    } else if (!plain_unit(plain, sizeof plain, rest)) {
        return df_fail(ctx, DF_E_INPUT, "%s%sthe unit of '%.80s' is not known; write %s", where, colon, text, units);
    } else if (strcmp(plain, "%") == 0 || strcmp(plain, "ppm") == 0) {
        if (dimension != DF_DIM_PERCENT)
            return df_fail(ctx, DF_E_INPUT, "%s%s'%.80s' is a percentage where %s is wanted; write %s", where, colon,
                           text, name, units);
        q.divisor = plain[0] == '%' ? 100 : 1000000;
    } else {
        unit u;
        const char *at = plain;
        if (!parse_unit(&u, &at, false) || *at != '\0')
            return df_fail(ctx, DF_E_INPUT, "%s%sthe unit of '%.80s' is not known; write %s", where, colon, text,
                           units);
        if (dimension == DF_DIM_PERCENT || !fits(&u, dimension)) {
            const char *is = NULL;
            for (int d = 0; d < DF_DIM_NUMBER && !is; d++)
                if (fits(&u, (df_dimension)d))
                    is = dimensions[d].name;
            if (is)
                return df_fail(ctx, DF_E_INPUT, "%s%s'%.80s' is %s where %s is wanted; write %s", where, colon, text,
                               is, name, units);
            return df_fail(ctx, DF_E_INPUT, "%s%sthe unit of '%.80s' does not measure %s; write %s", where, colon,
                           text, name, units);
        }
        q.factor = u.factor;
        q.divisor = u.divisor;
        if (dimension == DF_DIM_TEMPERATURE && (strcmp(plain, "degC") == 0 || strcmp(plain, "C") == 0))
            q.offset = DF_ZERO_CELSIUS;
    }
    q.si = number * q.factor / q.divisor + q.offset;
    if (!isfinite(q.si))
        return df_fail(ctx, DF_E_INPUT, "%s%s'%.80s' is too large a number", where, colon, text);
    if (dimension == DF_DIM_TEMPERATURE && q.si < 0)
        return df_fail(ctx, DF_E_INPUT, "%s%s'%.80s' is below absolute zero", where, colon, text);
    *quantity = q;
    return DF_OK;
}

df_status df_quantity_parse(df_context *ctx, double *si, const char *text, df_dimension dimension,
                            const char *where) {
    df_quantity quantity;
    df_status status = df_quantity_read(ctx, &quantity, text, dimension, where);
    if (status == DF_OK)
        *si = quantity.si;
    return status;
}
