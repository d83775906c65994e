/* A flask that is boiled down. */
#include "report/parts.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define N DF_MAX_COMPONENTS
#define ROWS 16
#define SHOWN 3 /* components with columns of their own */
#define MOST_AZEOTROPES 8
#define TRACE 1e-4 /* mole fraction of a component whose azeotropes are not looked for */

typedef struct pair_azeotrope {
    size_t i, j;
    df_azeotrope at;
    double x_sigma, temperature_sigma; /* one standard deviation; NAN: not known */
} pair_azeotrope;

typedef struct view {
    const df_strip *strip;
    const df_strip_task *task;
    const df_mixture *mixture;
    const df_composition *composition;
    df_basis basis; /* of fractions shown */
    size_t n;
    const df_strip_point *first, *last;
    size_t row[ROWS], rows; /* indices of the points shown */
    bool frozen[ROWS];
    double condenser; /* K: coldest bubble point of the vapours shown; NAN: none found */
    pair_azeotrope azeotrope[MOST_AZEOTROPES];
    size_t azeotropes;
    double azeotropes_pressure; /* Pa */
    df_strip_bands band;        /* fractions in `basis` */
} view;

/* Fractions of moles in a basis. */
static void fractions(double *out, const df_mixture *m, const double *moles, df_basis basis) {
    double sum = 0.0;
    for (size_t i = 0; i < df_mixture_count(m); i++)
        sum += out[i] = moles[i] * df_basis_measure(df_mixture_component(m, i), basis);
    for (size_t i = 0; i < df_mixture_count(m); i++)
        out[i] /= sum;
}

static void taken(double *out, const view *v, const df_strip_point *p) {
    for (size_t i = 0; i < v->n; i++)
        out[i] = fmax(v->task->amount[i] - p->left[i], 0.0);
}

static double mass_share(const view *v, const df_strip_point *p) {
    return p->mass_left / v->first->mass_left;
}

static void pick_rows(view *v) {
    static const double share[] = {0.95, 0.9, 0.85, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1, 0.03, 0.01, 1e-3};
    double end = mass_share(v, v->last);
    v->row[v->rows++] = 0;
    size_t at = 0;
    for (size_t k = 0; k < sizeof share / sizeof share[0] && v->rows + 1 < ROWS; k++) {
        if ((k == 0 || k == 2) && end < 0.6)
            continue; /* a long way: tenths will do */
        while (at + 1 < v->strip->points && mass_share(v, &v->strip->point[at]) > share[k] + 1e-3)
            at++;
        if (at > v->row[v->rows - 1] && at + 1 < v->strip->points)
            v->row[v->rows++] = at;
    }
    if (v->strip->points > 1)
        v->row[v->rows++] = v->strip->points - 1;
}

static df_status find_azeotropes(df_context *ctx, view *v) {
    double z[N];
    fractions(z, v->mixture, v->task->amount, DF_BASIS_MOLE);
    v->azeotropes_pressure = v->task->hold == DF_STRIP_AT_PRESSURE ? v->task->pressure : v->last->pressure;
    for (size_t i = 0; i < v->n; i++)
        for (size_t j = i + 1; j < v->n; j++) {
            df_azeotrope found[DF_MAX_AZEOTROPES];
            size_t count = 0;
            if (z[i] < TRACE || z[j] < TRACE)
                continue;
            df_status status = df_azeotropes_find(ctx, found, &count, v->mixture, i, j, v->azeotropes_pressure, NAN);
            if (status == DF_E_MEMORY)
                return status; /* any other: one of the two cannot boil under this pressure */
            for (size_t k = 0; k < count && v->azeotropes < MOST_AZEOTROPES; k++) {
                pair_azeotrope *z_ij = &v->azeotrope[v->azeotropes++];
                double pressure_sigma;
                *z_ij = (pair_azeotrope){i, j, found[k], NAN, NAN};
                status = df_azeotrope_spread(ctx, &z_ij->x_sigma, &z_ij->temperature_sigma, &pressure_sigma,
                                             v->mixture, i, j, &found[k], true);
                if (status == DF_E_MEMORY)
                    return status;
            }
        }
    return DF_OK;
}

static df_status view_make(df_context *ctx, view *v, const df_strip *strip, const df_strip_task *task, df_basis basis,
                           const df_mixture *m, const df_composition *c) {
    bool allowed[DF_MAX_SOLIDS];
    memset(v, 0, sizeof *v);
    v->strip = strip;
    v->task = task;
    v->mixture = m;
    v->composition = c;
    v->n = df_mixture_count(m);
    v->basis = task->aim == DF_STRIP_TO_FRACTION ? basis : c->basis;
    v->first = &strip->point[0];
    v->last = &strip->point[strip->points - 1];
    v->condenser = NAN;
    pick_rows(v);
    df_status status = df_composition_allow(ctx, allowed, m, c, DF_FREEZING_PRACTICE);
    if (status < 0)
        return status;
    for (size_t r = 0; r < v->rows; r++) {
        const df_strip_point *p = &strip->point[v->row[r]];
        df_assemblage there;
        double dew, y[N];
        status = df_mixture_equilibrium(ctx, &there, m, p->temperature, p->left, allowed, false);
        if (status == DF_E_MEMORY)
            return status;
        for (size_t k = 0; status >= 0 && k < df_mixture_solids(m); k++)
            v->frozen[r] = v->frozen[r] || there.solid[k] > 1e-9;
        if (df_mixture_bubble_point(ctx, &dew, y, m, p->pressure, p->vapour) >= 0)
            v->condenser = isnan(v->condenser) ? dew : fmin(v->condenser, dew);
    }
    double per_mole[N];
    for (size_t i = 0; i < v->n; i++)
        per_mole[i] = df_basis_measure(df_mixture_component(m, i), v->basis);
    status = df_strip_spread(ctx, &v->band, strip, m, task, per_mole);
    return status < 0 ? status : find_azeotropes(ctx, v);
}

/* "5 %v/v of acetonitrile", "120 g in all", "dry". */
static void aim_text(df_text *out, const view *v, df_basis basis) {
    const df_strip_task *t = v->task;
    if (t->aim == DF_STRIP_TO_FRACTION)
        df_text_printf(out, "until %s is %.4g %s", df_mixture_component(v->mixture, t->component)->name,
                       100.0 * t->target, df_basis_name(basis));
    else if (t->aim == DF_STRIP_TO_AMOUNT && basis == DF_BASIS_MASS)
        df_text_printf(out, "until %.4g g are left", 1e3 * t->target);
    else if (t->aim == DF_STRIP_TO_AMOUNT)
        df_text_printf(out, "until %.4g mL are left", 1e6 * t->target);
    else
        df_text_puts(out, "until it is dry (1e-4 of the moles left)");
}

static void hold_text(df_text *out, const view *v) {
    const df_strip_task *t = v->task;
    char a[32];
    if (t->hold == DF_STRIP_AT_PRESSURE) {
        df_text_printf(out, "under %s mbar", df_part_mbar(a, sizeof a, t->pressure));
        if (!isnan(t->temperature))
            df_text_printf(out, " over a bath of %.1f °C", df_celsius(t->temperature));
    } else {
        df_text_printf(out, "at %.1f °C, the pressure following", df_celsius(t->temperature));
        if (!isnan(t->pressure))
            df_text_printf(out, " down to %s mbar", df_part_mbar(a, sizeof a, t->pressure));
    }
}

/* "acetonitrile 85.2 ± 0.3, water 14.8 ± 0.3 %v/v", traces left out; `sigma` of the fractions may be NULL. */
static void composition_line(df_text *out, const view *v, const double *moles, df_basis basis, const double *sigma) {
    double x[N];
    char a[32], band[32];
    const char *between = "";
    fractions(x, v->mixture, moles, basis);
    for (size_t i = 0; i < v->n; i++)
        if (x[i] >= 5e-6) {
            df_text_printf(out, "%s%s %s%s", between, df_mixture_component(v->mixture, i)->name,
                           df_part_percent(a, sizeof a, x[i]),
                           df_part_band(band, sizeof band,
                                        sigma != NULL && sigma[i] > 1e-6 && x[i] >= 1e-4 ? 100.0 * sigma[i] : NAN,
                                        x[i] >= 0.0995 ? 1 : 2));
            between = ", ";
        }
    df_text_printf(out, " %s", df_basis_name(basis));
}

static void grams(char *out, size_t size, double mass) {
    double g = 1e3 * mass;
    snprintf(out, size, g >= 99.95 ? "%.0f" : g >= 9.995 ? "%.1f" : g >= 0.1 ? "%.2f" : "%.3g", g);
}

/* Puts " ± 5" behind the grams. */
static void grams_band(char *out, size_t size, double mass, double sigma) {
    size_t used = strlen(out);
    df_part_band(out + used, size - used, 1e3 * sigma, mass >= 0.09995 ? 0 : mass >= 9.995e-3 ? 1 : 2);
}

static void litres(char *out, size_t size, double volume) {
    if (volume >= 0.9995e-3)
        snprintf(out, size, "%.3g L", 1e3 * volume);
    else
        snprintf(out, size, "%.3g mL", 1e6 * volume);
}

/* ---- why it stops --------------------------------------------------------------------------------------------- */

static void azeotrope_words(df_text *out, const view *v) {
    const df_strip *s = v->strip;
    char a[32], band[32];
    df_text_puts(out, "an azeotrope: ");
    composition_line(out, v, s->azeotrope_x, DF_BASIS_MOLE, v->band.azeotrope_x);
    df_text_printf(out, ", %.1f%s °C at %s mbar%s", df_celsius(s->azeotrope_temperature),
                   df_part_band(band, sizeof band, v->band.azeotrope_temperature, 1),
                   df_part_mbar(a, sizeof a, s->azeotrope_pressure),
                   s->azeotrope_heterogeneous ? ", two liquids" : "");
}

static const char *stop_name(df_strip_stop stop) {
    static const char *const names[] = {"reached", "azeotrope", "limit", "empty"};
    return names[stop];
}

/* The sentences of the stop; label and text. */
static const char *stop_words(df_text *out, const view *v) {
    const df_strip *s = v->strip;
    const df_strip_task *t = v->task;
    const char *name = t->aim == DF_STRIP_TO_FRACTION ? df_mixture_component(v->mixture, t->component)->name : "";
    char a[64], b[32], c[32];
    double share = 100.0 * mass_share(v, v->last);
    grams(a, sizeof a, v->last->mass_left);
    grams_band(a, sizeof a, v->last->mass_left, v->band.mass_left * v->first->mass_left);
    litres(b, sizeof b, v->last->volume_left);
    switch (s->stop) {
    case DF_STRIP_REACHED:
        if (s->points == 1) {
            df_text_printf(out, "nothing to do: it is there already, with %s g in the flask", a);
            return "reached";
        }
        df_text_printf(out, "stop at %s g in the flask, %.*f %% of the weight put in (%s)", a, share < 1.0 ? 3 : 1,
                       share, b);
        return "reached";
    case DF_STRIP_AZEOTROPE:
        df_text_puts(out, s->azeotrope_stable ? "the flask's content tends to " : "it is, or nearly is, ");
        azeotrope_words(out, v);
        df_text_printf(out, "; there %s is %s %s, and boiling %s", name,
                       df_part_percent(c, sizeof c, s->azeotrope_fraction), df_basis_name(v->basis),
                       s->azeotrope_stable ? "brings it no lower" : "moves it hardly at all");
        if (s->azeotrope_stable && !isnan(s->settled_left))
            df_text_printf(out, "; from %.3g %% of the moles left on nothing changes", 100.0 * s->settled_left);
        return "NOT REACHED";
    case DF_STRIP_LIMIT:
        if (t->hold == DF_STRIP_AT_PRESSURE)
            df_text_printf(out, "%s: the flask would have to be warmer than the bath, %.1f °C",
                           s->points == 1 ? "it does not boil" : "the boiling ends", df_celsius(t->temperature));
        else
            df_text_printf(out, "%s: the pressure would have to be lower than %s mbar",
                           s->points == 1 ? "it does not boil" : "the boiling ends",
                           df_part_mbar(c, sizeof c, t->pressure));
        df_text_printf(out, "; left %s g, %.1f %% of the weight put in (%s)", a, share, b);
        break;
    case DF_STRIP_EMPTY:
        df_text_puts(out, "boiled dry before; the last of it is ");
        composition_line(out, v, v->last->left, v->basis, v->band.left);
    }
    if (t->aim == DF_STRIP_TO_FRACTION)
        df_text_printf(out, "; the least that %s came to is %s %s, with %.3g %% of the moles left", name,
                       df_part_percent(c, sizeof c, s->lowest), df_basis_name(v->basis), 100.0 * s->lowest_left);
    return "NOT REACHED";
}

static void stop_text(df_text *out, const view *v) {
    df_text line = {0};
    const char *label = stop_words(&line, v);
    df_layout_paragraph(out, label, df_text_string(&line));
    out->failed = out->failed || line.failed;
    df_text_free(&line);
    df_text left = {0};
    if (v->strip->stop == DF_STRIP_REACHED || v->strip->stop == DF_STRIP_LIMIT) {
        composition_line(&left, v, v->last->left, v->basis, v->band.left);
        df_layout_paragraph(out, "left", df_text_string(&left));
    }
    if (v->strip->stop != DF_STRIP_AZEOTROPE && v->strip->azeotrope) {
        df_text_free(&left);
        left = (df_text){0};
        df_text_puts(&left, v->strip->azeotrope_stable ? "the content tends to " : "the content is, or nearly is, ");
        azeotrope_words(&left, v);
        df_layout_paragraph(out, "", df_text_string(&left));
    }
    out->failed = out->failed || left.failed;
    df_text_free(&left);
}

/* Temperature or pressure at the two ends, with their bands. */
static void boils_text(df_text *out, const view *v) {
    char a[32], b[32];
    if (v->task->hold == DF_STRIP_AT_PRESSURE)
        df_layout_printf(out, "boils",
                         "at %.1f%s °C to begin with, at %.1f%s °C in the end (±: one standard deviation)",
                         df_celsius(v->first->temperature), df_part_band(a, sizeof a, v->band.temperature[0], 1),
                         df_celsius(v->last->temperature), df_part_band(b, sizeof b, v->band.temperature[1], 1));
    else
        df_layout_printf(out, "boils",
                         "under %s mbar ± %.2g %% to begin with, under %s mbar ± %.2g %% in the end (±: one standard "
                         "deviation)",
                         df_part_mbar(a, sizeof a, v->first->pressure), 100.0 * v->band.pressure_ln[0],
                         df_part_mbar(b, sizeof b, v->last->pressure), 100.0 * v->band.pressure_ln[1]);
}

/* ---- along the way -------------------------------------------------------------------------------------------- */

/* The components with columns: the target's, then by their share at the start or at the end. */
static size_t choose(size_t *shown, const view *v) {
    double x[N], end[N];
    bool used[N] = {false};
    size_t count = 0;
    fractions(x, v->mixture, v->task->amount, v->basis);
    fractions(end, v->mixture, v->last->left, v->basis);
    for (size_t i = 0; i < v->n; i++)
        x[i] = fmax(x[i], end[i]);
    if (v->task->aim == DF_STRIP_TO_FRACTION) {
        shown[count++] = v->task->component;
        used[v->task->component] = true;
    }
    while (count < SHOWN && count < v->n) {
        size_t best = v->n;
        for (size_t i = 0; i < v->n; i++)
            if (!used[i] && (best == v->n || x[i] > x[best]))
                best = i;
        used[best] = true;
        shown[count++] = best;
    }
    return count;
}

/* A name cut to `width` columns, right-aligned. */
static void head(df_text *out, const char *name, size_t width) {
    size_t bytes = 0, columns = 0;
    while (name[bytes] != '\0' && columns + 1 < width) {
        bytes++;
        while (((unsigned char)name[bytes] & 0xc0) == 0x80)
            bytes++;
        columns++;
    }
    df_text_printf(out, "%*s%.*s", (int)(width - columns), "", (int)bytes, name);
}

static void table_text(df_text *out, const view *v) {
    size_t shown[SHOWN], count = choose(shown, v), width = count > 2 ? 7 : 11;
    char a[32];
    df_text line = {0};
    df_text_printf(&line, "flask, %s", df_basis_name(v->basis));
    df_text_printf(out, "\n%7s %7s %7s %6s ", "left", "left", "boils", "");
    df_text_printf(out, "%*s", (int)(width * count), df_text_string(&line));
    df_text_printf(out, "  %*s, %s\n", (int)(width * count - strlen(df_basis_name(v->basis)) - 4), "vapour",
                   df_basis_name(v->basis));
    df_text_printf(out, "%7s %7s %7s %6s ", "% w/w", "g", "°C", "mbar");
    for (int side = 0; side < 2; side++) {
        for (size_t k = 0; k < count; k++)
            head(out, df_mixture_component(v->mixture, shown[k])->name, width);
        df_text_puts(out, side == 0 ? "  " : "\n");
    }
    bool two = false, frozen = false;
    for (size_t r = 0; r < v->rows; r++) {
        const df_strip_point *p = &v->strip->point[v->row[r]];
        double in[N], off[N];
        fractions(in, v->mixture, p->left, v->basis);
        fractions(off, v->mixture, p->vapour, v->basis);
        grams(a, sizeof a, p->mass_left);
        df_text_printf(out, "%7s", df_part_percent((char[32]){0}, 32, mass_share(v, p)));
        df_text_printf(out, " %7s %6.1f ", a, df_celsius(p->temperature));
        df_text_printf(out, "%7s ", df_part_mbar(a, sizeof a, p->pressure));
        for (int side = 0; side < 2; side++) {
            for (size_t k = 0; k < count; k++) {
                double x = side == 0 ? in[shown[k]] : off[shown[k]];
                df_text_printf(out, "%*s", (int)width, x < 5e-6 ? "-" : df_part_percent(a, sizeof a, x));
            }
            df_text_puts(out, side == 0 ? "  " : "");
        }
        df_text_printf(out, "%s%s%s\n", p->liquids > 1 || v->frozen[r] ? " " : "", p->liquids > 1 ? "=" : "",
                       v->frozen[r] ? "*" : "");
        two = two || p->liquids > 1;
        frozen = frozen || v->frozen[r];
    }
    if (two)
        df_text_puts(out, "  = two liquids in the flask\n");
    if (frozen)
        df_layout_paragraph(out, "  *",
                            "colder than its first solid: it would freeze, or boil with bumps, rather "
                            "than strip; a higher pressure helps");
    if (count < v->n)
        df_layout_printf(out, "  note", "%zu more component%s: see --json", v->n - count,
                         v->n - count == 1 ? "" : "s");
    out->failed = out->failed || line.failed;
    df_text_free(&line);
}

static void distillate_text(df_text *out, const view *v) {
    df_text line = {0};
    double off[N];
    char a[32], b[32];
    if (v->strip->points < 2)
        return;
    taken(off, v, v->last);
    grams(a, sizeof a, v->last->mass_taken);
    litres(b, sizeof b, v->last->volume_taken);
    df_text_printf(&line, "%s (%s g) of distillate in all: ", b, a);
    composition_line(&line, v, off, v->basis, NULL);
    df_layout_paragraph(out, "takes off", df_text_string(&line));
    df_layout_printf(out, "heat", "%.4g kJ (%.3g W h) to evaporate it; the flask's own warming comes on top",
                     v->last->heat / 1e3, v->last->heat / 3600.0);
    if (!isnan(v->condenser))
        df_layout_printf(out, "condenser",
                         "colder than %.0f °C to catch all of the vapour; what it does not catch goes to the pump "
                         "and its exhaust",
                         df_celsius(v->condenser));
    out->failed = out->failed || line.failed;
    df_text_free(&line);
}

static void azeotropes_text(df_text *out, const view *v) {
    char a[32], b[32], c[32], d[32], e[32];
    const char *label = "azeotropes";
    if (v->n > 1 && v->azeotropes == 0)
        df_layout_printf(out, label, "none between any two of these at %s mbar",
                         df_part_mbar(a, sizeof a, v->azeotropes_pressure));
    for (size_t k = 0; k < v->azeotropes; k++) {
        const pair_azeotrope *z = &v->azeotrope[k];
        df_pair_grade grade = df_mixture_pair(v->mixture, z->i, z->j)->grade;
        df_layout_printf(out, label, "%s %s%s + %s %s mol%% at %s mbar and %.1f%s °C%s: %s%s",
                         df_mixture_component(v->mixture, z->i)->name, df_part_percent(a, sizeof a, z->at.x),
                         df_part_band(c, sizeof c, 100.0 * z->x_sigma, 1),
                         df_mixture_component(v->mixture, z->j)->name, df_part_percent(e, sizeof e, 1.0 - z->at.x),
                         df_part_mbar(b, sizeof b, z->at.pressure), df_celsius(z->at.temperature),
                         df_part_band(d, sizeof d, z->temperature_sigma, 1),
                         z->at.heterogeneous ? ", two liquids" : "",
                         z->at.maximum ? "highest boiling, what is left tends to it"
                                       : "lowest boiling, what is left moves away from it",
                         grade == DF_PAIR_IDEAL       ? " (the pair is taken as ideal: do not rely on it)"
                         : grade == DF_PAIR_PREDICTED ? " (predicted)"
                                                      : "");
        label = "";
    }
}

static void cautions_text(df_text *out, const view *v) {
    char caution[700];
    const char *label = "caution";
    bool peroxide = false, flammable = false;
    for (size_t i = 0; i < v->n; i++) {
        df_report_caution(caution, sizeof caution, df_mixture_component(v->mixture, i));
        if (caution[0] == '\0')
            continue;
        peroxide = peroxide || strstr(caution, "peroxide") != NULL;
        flammable = flammable || strstr(caution, "flammable") != NULL;
        df_layout_paragraph(out, label, caution);
        label = "";
    }
    if (flammable) {
        df_layout_paragraph(out, label,
                            "flammable vapour: no ignition source, condenser cold before the vacuum, "
                            "exhaust of the pump into a hood");
        label = "";
    }
    if (peroxide) {
        df_layout_paragraph(out, label,
                            "peroxide former: test before evaporating, never to dryness; boiling down "
                            "concentrates peroxides");
        label = "";
    }
    if (fmin(v->first->pressure, v->last->pressure) < 0.9e5) {
        df_layout_paragraph(out, label,
                            "glass under vacuum: sound round vessels made for it, no scratches or stars, "
                            "a shield or coated glass");
        label = "";
    }
    df_layout_paragraph(out, label, "local rules, the safety data sheets and qualified people come first");
}

df_status df_report_strip_text(df_context *ctx, df_text *out, const df_strip *strip, const df_strip_task *task,
                               df_basis basis, const df_mixture *m, const df_composition *c) {
    view v;
    df_text line = {0};
    char a[32], b[32];
    df_status status = view_make(ctx, &v, strip, task, basis, m, c);
    if (status < 0)
        return status;
    df_part_composition_text(out, c);
    df_text_puts(out, "\n");
    litres(a, sizeof a, v.first->volume_left);
    grams(b, sizeof b, v.first->mass_left);
    df_text_printf(&line, "%s (%s g) ", a, b);
    hold_text(&line, &v);
    df_text_puts(&line, ", ");
    aim_text(&line, &v, basis);
    df_layout_paragraph(out, "strip", df_text_string(&line));
    stop_text(out, &v);
    boils_text(out, &v);
    distillate_text(out, &v);
    azeotropes_text(out, &v);
    table_text(out, &v);
    df_text_puts(out, "\n");
    df_part_trust_text(out, m);
    for (size_t i = 0; i < v.n; i++) {
        const df_substance *s = df_mixture_component(m, i);
        const df_correlation *k = &s->vapour_pressure;
        double low = fmin(v.first->temperature, v.last->temperature);
        double high = fmax(v.first->temperature, v.last->temperature);
        char range[64];
        if (df_liquid_pressure_extrapolated(s, low) || df_liquid_pressure_extrapolated(s, high))
            df_layout_printf(out, "", "%s: vapour pressure continued outside its range, %s", s->key,
                             df_part_range(range, sizeof range, k->lowest, k->highest));
    }
    df_layout_paragraph(out, "",
                        "vapour in equilibrium with all that is in the flask, no reflux, no solute: a "
                        "column or foam, a dissolved product or a fast vacuum moves the end");
    cautions_text(out, &v);
    out->failed = out->failed || line.failed;
    df_text_free(&line);
    return out->failed ? df_fail(ctx, DF_E_MEMORY, "out of memory, or the report grew too large") : DF_OK;
}

/* ---- JSON ----------------------------------------------------------------------------------------------------- */

static json_t *parts_json(const view *v, const double *moles) {
    json_t *list = json_array();
    double x[3][N];
    for (int basis = 0; basis < 3; basis++)
        fractions(x[basis], v->mixture, moles, (df_basis)basis);
    for (size_t i = 0; i < v->n; i++) {
        json_t *o = json_object();
        df_json_put(o, "substance", df_json_text(df_mixture_component(v->mixture, i)->key));
        df_json_put(o, "percent_v_v", df_json_number(100.0 * x[DF_BASIS_VOLUME][i]));
        df_json_put(o, "percent_w_w", df_json_number(100.0 * x[DF_BASIS_MASS][i]));
        df_json_put(o, "percent_mol", df_json_number(100.0 * x[DF_BASIS_MOLE][i]));
        json_array_append_new(list, o);
    }
    return list;
}

static json_t *point_json(const view *v, const df_strip_point *p) {
    json_t *o = json_object();
    df_json_put(o, "left_percent_w_w", df_json_number(100.0 * mass_share(v, p)));
    df_json_put(o, "left_g", df_json_number(1e3 * p->mass_left));
    df_json_put(o, "left_mL", df_json_number(1e6 * p->volume_left));
    df_json_put(o, "taken_g", df_json_number(1e3 * p->mass_taken));
    df_json_put(o, "taken_mL", df_json_number(1e6 * p->volume_taken));
    df_json_put(o, "temperature_C", df_json_number(df_celsius(p->temperature)));
    df_json_put(o, "pressure_mbar", df_json_number(p->pressure / 100.0));
    df_json_put(o, "heat_kJ", df_json_number(p->heat / 1e3));
    df_json_put(o, "liquids", json_integer((json_int_t)p->liquids));
    df_json_put(o, "flask", parts_json(v, p->left));
    df_json_put(o, "vapour", parts_json(v, p->vapour));
    return o;
}

static json_t *task_json(const view *v, df_basis basis) {
    static const char *const keys[] = {"percent_v_v", "percent_w_w", "percent_mol"};
    const df_strip_task *t = v->task;
    bool at_pressure = t->hold == DF_STRIP_AT_PRESSURE;
    json_t *o = json_object(), *until = json_object();
    df_json_put(o, "held", df_json_text(at_pressure ? "pressure" : "bath"));
    df_json_put(o, "pressure_mbar", df_json_number(t->pressure / 100.0));
    df_json_put(o, "bath_C", df_json_number(df_celsius(t->temperature)));
    if (t->aim == DF_STRIP_TO_FRACTION) {
        df_json_put(until, "substance", df_json_text(df_mixture_component(v->mixture, t->component)->key));
        df_json_put(until, keys[basis], df_json_number(100.0 * t->target));
    } else if (t->aim == DF_STRIP_TO_AMOUNT)
        df_json_put(until, basis == DF_BASIS_MASS ? "left_g" : "left_mL",
                    df_json_number(t->target * (basis == DF_BASIS_MASS ? 1e3 : 1e6)));
    else
        df_json_put(until, "dry_share_of_moles", df_json_number(DF_STRIP_DRY));
    df_json_put(o, "until", until);
    return o;
}

static json_t *end_json(const view *v) {
    const df_strip *s = v->strip;
    json_t *o = json_object();
    df_text line = {0};
    stop_words(&line, v);
    df_json_put(o, "reached", json_boolean(s->stop == DF_STRIP_REACHED));
    df_json_put(o, "stop", df_json_text(stop_name(s->stop)));
    df_json_put(o, "sentence", df_json_text(df_text_string(&line)));
    df_text_free(&line);
    df_json_put(o, "left_sigma_g", df_json_number(1e3 * v->band.mass_left * v->first->mass_left));
    df_json_put(o, "left_sigma_mL", df_json_number(1e6 * v->band.volume_left * v->first->volume_left));
    df_json_put(o, "temperature_sigma_K", df_json_number(v->band.temperature[1]));
    df_json_put(o, "pressure_relative_sigma", df_json_number(v->band.pressure_ln[1]));
    json_t *shares = json_array();
    for (size_t i = 0; i < v->n; i++) {
        json_t *share = json_object();
        df_json_put(share, "substance", df_json_text(df_mixture_component(v->mixture, i)->key));
        df_json_put(share, "sigma_percent", df_json_number(100.0 * v->band.left[i]));
        json_array_append_new(shares, share);
    }
    df_json_put(o, "flask_sigma", shares);
    df_json_put(o, "lowest_percent", df_json_number(100.0 * s->lowest));
    df_json_put(o, "lowest_sigma_percent", df_json_number(100.0 * v->band.lowest));
    df_json_put(o, "lowest_at_percent_of_moles_left", df_json_number(100.0 * s->lowest_left));
    if (!s->azeotrope) {
        df_json_put(o, "azeotrope", json_null());
        return o;
    }
    json_t *z = json_object();
    df_json_put(z, "stable", json_boolean(s->azeotrope_stable));
    df_json_put(z, "two_liquids", json_boolean(s->azeotrope_heterogeneous));
    df_json_put(z, "temperature_C", df_json_number(df_celsius(s->azeotrope_temperature)));
    df_json_put(z, "temperature_sigma_K", df_json_number(v->band.azeotrope_temperature));
    df_json_put(z, "pressure_mbar", df_json_number(s->azeotrope_pressure / 100.0));
    df_json_put(z, "settled_from_percent_of_moles_left", df_json_number(100.0 * s->settled_left));
    df_json_put(z, "composition", parts_json(v, s->azeotrope_x));
    df_json_put(o, "azeotrope", z);
    return o;
}

df_status df_report_strip_json(df_context *ctx, df_text *out, const df_strip *strip, const df_strip_task *task,
                               df_basis basis, const df_mixture *m, const df_composition *c) {
    view v;
    double off[N];
    char caution[700];
    df_status status = view_make(ctx, &v, strip, task, basis, m, c);
    if (status < 0)
        return status;
    json_t *root = json_object(), *path = json_array(), *pairs = json_array(), *cautions = json_array();
    json_t *distillate = json_object();
    df_json_put(root, "composition", df_part_composition_json(c));
    df_json_put(root, "volumes", df_json_text("of the liquids before mixing, at 20 °C"));
    df_json_put(root, "start_g", df_json_number(1e3 * v.first->mass_left));
    df_json_put(root, "start_mL", df_json_number(1e6 * v.first->volume_left));
    df_json_put(root, "task", task_json(&v, basis));
    df_json_put(root, "start_temperature_sigma_K", df_json_number(v.band.temperature[0]));
    df_json_put(root, "start_pressure_relative_sigma", df_json_number(v.band.pressure_ln[0]));
    df_json_put(root, "end", end_json(&v));
    taken(off, &v, v.last);
    df_json_put(distillate, "g", df_json_number(1e3 * v.last->mass_taken));
    df_json_put(distillate, "mL", df_json_number(1e6 * v.last->volume_taken));
    df_json_put(distillate, "heat_kJ", df_json_number(v.last->heat / 1e3));
    df_json_put(distillate, "condenser_below_C", df_json_number(df_celsius(v.condenser)));
    df_json_put(distillate, "composition", strip->points > 1 ? parts_json(&v, off) : json_array());
    df_json_put(root, "distillate", distillate);
    for (size_t k = 0; k < v.azeotropes; k++) {
        const pair_azeotrope *z = &v.azeotrope[k];
        json_t *o = json_object(), *names = json_array();
        json_array_append_new(names, df_json_text(df_mixture_component(m, z->i)->key));
        json_array_append_new(names, df_json_text(df_mixture_component(m, z->j)->key));
        df_json_put(o, "substances", names);
        df_json_put(o, "first_percent_mol", df_json_number(100.0 * z->at.x));
        df_json_put(o, "first_sigma_percent_mol", df_json_number(100.0 * z->x_sigma));
        df_json_put(o, "temperature_C", df_json_number(df_celsius(z->at.temperature)));
        df_json_put(o, "temperature_sigma_K", df_json_number(z->temperature_sigma));
        df_json_put(o, "pressure_mbar", df_json_number(z->at.pressure / 100.0));
        df_json_put(o, "two_liquids", json_boolean(z->at.heterogeneous));
        df_json_put(o, "kind", df_json_text(z->at.maximum ? "maximum" : "minimum"));
        df_json_put(o, "pair", df_json_text(df_pair_grade_name(df_mixture_pair(m, z->i, z->j)->grade)));
        json_array_append_new(pairs, o);
    }
    df_json_put(root, "azeotropes", pairs);
    for (size_t k = 0; k < strip->points; k++)
        json_array_append_new(path, point_json(&v, &strip->point[k]));
    df_json_put(root, "path", path);
    bool frozen = false;
    for (size_t r = 0; r < v.rows; r++)
        frozen = frozen || v.frozen[r];
    df_json_put(root, "freezes_on_the_way", json_boolean(frozen));
    df_json_put(root, "trust", df_part_trust_json(m));
    for (size_t i = 0; i < v.n; i++) {
        df_report_caution(caution, sizeof caution, df_mixture_component(m, i));
        if (caution[0] != '\0')
            json_array_append_new(cautions, df_json_text(caution));
    }
    json_array_append_new(cautions,
                          df_json_text("local rules, the safety data sheets and qualified people come first"));
    df_json_put(root, "cautions", cautions);
    return df_json_finish(ctx, out, root);
}
