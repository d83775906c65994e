/* Reading and converting liquid compositions. */
#include "dryfront/sample.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#define REFERENCE_TEMPERATURE 293.15 /* K: volumes are of the liquids before mixing at 20 °C */

static const char *const basis_names[] = {"%v/v", "%w/w", "mol%"};
const char *df_basis_name(df_basis basis) {
    return basis_names[basis];
}

double df_basis_measure(const df_substance *s, df_basis basis) {
    if (basis == DF_BASIS_MOLE)
        return 1.0;
    return basis == DF_BASIS_MASS ? s->molar_mass : s->molar_mass / df_liquid_density(s, REFERENCE_TEMPERATURE);
}

void df_composition_set(df_composition *out, const df_substance *const *component, const double *fraction, size_t n,
                        df_basis basis) {
    double total = 0.0;
    out->n = 0;
    out->basis = basis;
    memset(out->seen, 0, sizeof out->seen);
    for (size_t i = 0; i < n; i++) {
        if (!(fraction[i] > 0.0))
            continue;
        out->component[out->n] = component[i];
        total += out->x[out->n++] = fraction[i] / df_basis_measure(component[i], basis);
    }
    for (size_t i = 0; i < out->n; i++)
        out->x[i] /= total;
}

void df_composition_fractions(double *fraction, const df_composition *c, df_basis basis) {
    double total = 0.0;
    for (size_t i = 0; i < c->n; i++)
        total += fraction[i] = c->x[i] * df_basis_measure(c->component[i], basis);
    for (size_t i = 0; i < c->n; i++)
        fraction[i] /= total;
}

double df_composition_density(const df_composition *c) {
    double mass = 0.0, volume = 0.0;
    for (size_t i = 0; i < c->n; i++) {
        mass += c->x[i] * df_basis_measure(c->component[i], DF_BASIS_MASS);
        volume += c->x[i] * df_basis_measure(c->component[i], DF_BASIS_VOLUME);
    }
    return mass / volume;
}

double df_composition_molar_mass(const df_composition *c) {
    double mass = 0.0;
    for (size_t i = 0; i < c->n; i++)
        mass += c->x[i] * c->component[i]->molar_mass;
    return mass;
}

/* -1 for a unit that is none. */
static int read_basis(const char *unit) {
    char plain[24];
    size_t n = 0;
    for (const char *c = unit; *c != '\0'; c++)
        if (!isspace((unsigned char)*c) && *c != '(' && *c != ')') {
            if (n + 1 >= sizeof plain)
                return -1;
            plain[n++] = (char)tolower((unsigned char)*c);
        }
    plain[n] = '\0';
    static const struct {
        const char *text;
        df_basis basis;
    } words[] = {{"%v/v", DF_BASIS_VOLUME}, {"%vol", DF_BASIS_VOLUME}, {"vol%", DF_BASIS_VOLUME},
                 {"v/v%", DF_BASIS_VOLUME}, {"%w/w", DF_BASIS_MASS},   {"wt%", DF_BASIS_MASS},
                 {"%wt", DF_BASIS_MASS},    {"%m/m", DF_BASIS_MASS},   {"mol%", DF_BASIS_MOLE},
                 {"%mol", DF_BASIS_MOLE}};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (strcmp(plain, words[i].text) == 0)
            return (int)words[i].basis;
    return -1;
}

/* Length of the part that starts at `text`: up to a ';' or a ',' that does not belong to a name ("1,4-dioxane"). */
static size_t part_length(const char *text) {
    for (size_t i = 0;; i++) {
        if (text[i] == '\0' || text[i] == ';')
            return i;
        if (text[i] == ',' && i > 0) {
            char before = text[i - 1], after = text[i + 1];
            bool inside =
                (isdigit((unsigned char)before) && isdigit((unsigned char)after)) || (before == 'N' && after == 'N');
            if (!inside)
                return i;
        } else if (text[i] == ',')
            return i;
    }
}

static void trim(char *text) {
    size_t start = 0, length = strlen(text);
    while (isspace((unsigned char)text[start]))
        start++;
    while (length > start && isspace((unsigned char)text[length - 1]))
        length--;
    memmove(text, text + start, length - start);
    text[length - start] = '\0';
}

typedef struct part {
    char name[96];
    double amount; /* percent; NAN: the rest */
    df_basis basis;
} part;

static df_status read_part(df_context *ctx, part *out, const char *text, size_t length, const char *before) {
    char whole[192];
    if (length >= sizeof whole)
        return df_fail(ctx, DF_E_INPUT, "%sa part of the composition is longer than %zu characters", before,
                       sizeof whole - 1);
    memcpy(whole, text, length);
    whole[length] = '\0';
    trim(whole);
    if (whole[0] == '\0')
        return df_fail(ctx, DF_E_INPUT,
                       "%sthe composition has an empty part; write it as \"acetonitrile 30 %%v/v, water\"", before);
    out->amount = NAN;
    for (size_t i = strlen(whole); i-- > 1;) {
        const char *rest;
        double value;
        if (!isspace((unsigned char)whole[i - 1]) || isspace((unsigned char)whole[i]))
            continue;
        char first = whole[i];
        bool number = isdigit((unsigned char)first) || first == '.' || first == '+' || first == '-' ||
                      strncmp(&whole[i], "nan", 3) == 0 || strncmp(&whole[i], "NaN", 3) == 0 ||
                      strncmp(&whole[i], "inf", 3) == 0 || strncmp(&whole[i], "\xe2\x88\x92", 3) == 0;
        if (!number)
            continue;
        if (!df_number_scan(&value, &rest, &whole[i]))
            return df_fail(ctx, DF_E_INPUT, "%s'%s': '%s' is no finite number", before, whole, &whole[i]);
        int basis = read_basis(rest);
        if (basis < 0 && value == 0.0 && rest[0] == '\0')
            basis = DF_BASIS_VOLUME;
        if (basis < 0)
            return df_fail(ctx, DF_E_INPUT, "%s'%s': %s; write %%v/v, %%w/w or mol%% behind the number", before,
                           whole, rest[0] == '\0' ? "the unit is missing" : "the unit is not known");
        if (value < 0.0)
            return df_fail(ctx, DF_E_INPUT, "%s'%s': an amount cannot be negative", before, whole);
        if (value > 100.0)
            return df_fail(ctx, DF_E_INPUT, "%s'%s': more than 100 %%", before, whole);
        out->amount = value;
        out->basis = (df_basis)basis;
        whole[i] = '\0';
        trim(whole);
        break;
    }
    if (strlen(whole) >= sizeof out->name)
        return df_fail(ctx, DF_E_INPUT, "%sno substance has a name as long as '%s'", before, whole);
    snprintf(out->name, sizeof out->name, "%.95s", whole);
    return DF_OK;
}

df_status df_composition_parse(df_context *ctx, df_composition *out, const df_substances *substances,
                               const char *text, const char *where) {
    char before[256] = "";
    if (where != NULL)
        snprintf(before, sizeof before, "%s: ", where);
    part parts[DF_MAX_COMPONENTS];
    size_t n = 0, rest = DF_MAX_COMPONENTS;
    double total = 0.0;
    int basis = -1;
    for (const char *from = text;;) {
        size_t length = part_length(from);
        if (n == DF_MAX_COMPONENTS)
            return df_fail(ctx, DF_E_INPUT, "%smore than %d components", before, DF_MAX_COMPONENTS);
        df_status status = read_part(ctx, &parts[n], from, length, before);
        if (status != DF_OK)
            return status;
        if (isnan(parts[n].amount)) {
            if (rest != DF_MAX_COMPONENTS)
                return df_fail(ctx, DF_E_INPUT,
                               "%sboth '%s' and '%s' go without an amount; only one part can take the rest", before,
                               parts[rest].name, parts[n].name);
            rest = n;
        } else {
            if (parts[n].amount > 0.0) {
                if (basis >= 0 && basis != (int)parts[n].basis)
                    return df_fail(ctx, DF_E_INPUT,
                                   "%s%s and %s are mixed in one composition; use one of them throughout", before,
                                   basis_names[basis], basis_names[parts[n].basis]);
                basis = (int)parts[n].basis;
            }
            total += parts[n].amount;
        }
        n++;
        if (from[length] == '\0')
            break;
        from += length + 1;
    }
    if (basis < 0)
        basis = DF_BASIS_VOLUME;
    if (rest != DF_MAX_COMPONENTS) {
        if (total > 100.0 + 1e-9)
            return df_fail(ctx, DF_E_INPUT, "%sthe amounts add up to %.6g %%, which leaves nothing for '%s'", before,
                           total, parts[rest].name);
        parts[rest].amount = fmax(100.0 - total, 0.0);
    } else if (fabs(total - 100.0) > 0.01)
        return df_fail(
            ctx, DF_E_INPUT,
            "%sthe amounts add up to %.6g %%, not 100 %%; leave the number off one part to give it the rest", before,
            total);
    const df_substance *component[DF_MAX_COMPONENTS];
    double fraction[DF_MAX_COMPONENTS];
    bool water = false;
    for (size_t i = 0; i < n; i++) {
        df_status status = df_substances_find(ctx, &component[i], substances, parts[i].name, where);
        if (status != DF_OK)
            return status;
        for (size_t j = 0; j < i; j++)
            if (component[j] == component[i])
                return df_fail(ctx, DF_E_INPUT, "%s%s is named twice", before, component[i]->name);
        water = water || component[i]->is_water;
        fraction[i] = parts[i].amount;
    }
    if (!water)
        return df_fail(
            ctx, DF_E_INPUT,
            "%sthe composition does not name water; add 'water', or 'water 0 %%v/v' where there truly is none",
            before);
    df_composition_set(out, component, fraction, n, (df_basis)basis);
    return DF_OK;
}

df_status df_composition_allow(df_context *ctx, bool *allowed, const df_mixture *mixture, const df_composition *c,
                               df_freezing_mode mode) {
    df_mixture_allow(allowed, mixture, mode);
    for (size_t i = 0; i < c->n; i++) {
        if (c->seen[i] == 0)
            continue;
        df_status status = df_mixture_allow_solid(
            ctx, allowed, mixture, c->component[i]->is_water ? "ice" : c->component[i]->key, c->seen[i] > 0);
        if (status != DF_OK)
            return status;
    }
    return DF_OK;
}

df_status df_composition_note(df_context *ctx, df_composition *c, const df_substances *substances, const char *name,
                              bool crystallised, const char *where) {
    const df_substance *s = NULL;
    df_status status = df_substances_find(ctx, &s, substances, name, where);
    if (status != DF_OK)
        return status;
    for (size_t i = 0; i < c->n; i++)
        if (c->component[i] == s) {
            c->seen[i] = crystallised ? 1 : -1;
            return DF_OK;
        }
    return df_fail(ctx, DF_E_UNKNOWN_NAME, "%s%s%s is not in the composition", where != NULL ? where : "",
                   where != NULL ? ": " : "", s->name);
}

/* ---- writing -------------------------------------------------------------------------------------------------- */

#define TRIALS 20000

/* Amounts in per cent as they would be read; `rest`: the part that goes without one, n where all are stated. */
typedef struct amounts {
    double percent[DF_MAX_COMPONENTS];
    size_t rest;
} amounts;

static size_t rest_of(const df_composition *c) {
    double f[DF_MAX_COMPONENTS];
    size_t most = 0;
    df_composition_fractions(f, c, c->basis);
    for (size_t i = 0; i < c->n; i++) {
        if (c->component[i]->is_water)
            return i;
        most = f[i] > f[most] ? i : most;
    }
    return most;
}

/* What df_composition_parse makes of them. */
static void read_amounts(df_composition *out, const df_composition *c, const amounts *a) {
    double fraction[DF_MAX_COMPONENTS], total = 0.0;
    for (size_t i = 0; i < c->n; i++) {
        fraction[i] = a->percent[i];
        total += i == a->rest ? 0.0 : a->percent[i];
    }
    if (a->rest < c->n)
        fraction[a->rest] = fmax(100.0 - total, 0.0);
    df_composition_set(out, c->component, fraction, c->n, c->basis);
}

static bool is_same(const df_composition *c, const amounts *a) {
    df_composition back;
    double total = 0.0;
    for (size_t i = 0; i < c->n; i++)
        total += i == a->rest ? 0.0 : a->percent[i];
    if (a->rest < c->n ? total > 100.0 : fabs(total - 100.0) > 0.009)
        return false;
    read_amounts(&back, c, a);
    return back.n == c->n && memcmp(back.x, c->x, c->n * sizeof c->x[0]) == 0;
}

static double rounded(double value, int digits) {
    char text[40];
    snprintf(text, sizeof text, "%.*g", digits, value);
    df_number_scan(&value, NULL, text);
    return value;
}

static uint64_t next_bits(uint64_t *s) { /* xorshift: the same trials every time */
    *s ^= *s << 13;
    *s ^= *s >> 7;
    *s ^= *s << 17;
    return *s;
}

/* Moves each amount to a neighbour that reads back to its mole fraction, as long as the sum stays what it is. */
static void adjust(amounts *a, const df_composition *c) {
    double total = 0.0;
    for (size_t i = 0; i < c->n; i++)
        total += a->percent[i] / df_basis_measure(c->component[i], c->basis);
    for (size_t i = 0; i < c->n; i++)
        for (int step = 0; step < 6; step++) {
            double x = a->percent[i] / df_basis_measure(c->component[i], c->basis) / total;
            if (x == c->x[i])
                break;
            a->percent[i] = nextafter(a->percent[i], x < c->x[i] ? 200.0 : 0.0);
        }
}

/* Amounts that read back to the composition, as few digits as will do. With all digits rounding on the way back meets some mole
 * fractions and misses others; which ones changes with the sum, which may lie beside 100 % by a hundredth. */
static bool find_amounts(amounts *out, int *digits, const df_composition *c) {
    double f[DF_MAX_COMPONENTS];
    size_t rest = rest_of(c);
    bool plain_water = c->component[0]->is_water && c->basis == DF_BASIS_VOLUME;
    df_composition_fractions(f, c, c->basis);
    for (*digits = 1; *digits <= 17; ++*digits)
        for (int all = c->n == 1 && !plain_water; all < 2; all++) { /* one alone needs its unit */
            out->rest = all ? c->n : rest;
            for (size_t i = 0; i < c->n; i++)
                out->percent[i] = rounded(100.0 * f[i], *digits);
            if (is_same(c, out))
                return true;
        }
    *digits = 17;
    out->rest = c->n;
    uint64_t state = 0x9E3779B97F4A7C15u;
    for (int trial = 0; trial < TRIALS; trial++) {
        double sum = 100.0 + 1e-15 * (double)(next_bits(&state) % 1000000000000u);
        for (size_t i = 0; i < c->n; i++)
            out->percent[i] = sum * f[i];
        for (int again = 0; again < 3; again++) {
            adjust(out, c);
            if (is_same(c, out))
                return true;
        }
    }
    for (size_t i = 0; i < c->n; i++)
        out->percent[i] = 100.0 * f[i];
    return false;
}

/* " 30 %v/v": without an exponent where that is short. */
static void put_amount(df_text *out, double percent, int digits, df_basis basis) {
    char text[40];
    snprintf(text, sizeof text, "%.*g", digits, percent);
    if (strchr(text, 'e') != NULL && percent >= 1.0)
        snprintf(text, sizeof text, "%.0f", percent); /* fewer digits than stand before the point */
    df_text_printf(out, " %s %s", text, basis_names[basis]);
}

void df_composition_write(df_text *out, const df_composition *c) {
    amounts a;
    int digits;
    bool water = false;
    find_amounts(&a, &digits, c);
    for (size_t i = 0; i < c->n; i++) {
        df_text_printf(out, "%s%s", i > 0 ? ", " : "", c->component[i]->name);
        if (i != a.rest)
            put_amount(out, a.percent[i], digits, c->basis);
        water = water || c->component[i]->is_water;
    }
    if (!water)
        df_text_printf(out, ", water 0 %s", basis_names[c->basis]);
}

void df_composition_round(df_composition *c, int digits) {
    double f[DF_MAX_COMPONENTS];
    amounts a = {.rest = rest_of(c)};
    signed char seen[DF_MAX_COMPONENTS];
    df_composition_fractions(f, c, c->basis);
    for (size_t i = 0; i < c->n; i++)
        a.percent[i] = rounded(100.0 * f[i], digits);
    memcpy(seen, c->seen, sizeof seen);
    df_composition old = *c;
    read_amounts(c, &old, &a);
    memcpy(c->seen, seen, sizeof seen);
}
