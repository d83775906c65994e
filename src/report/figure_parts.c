/* What the figures of mixtures have in common. */
#include "report/figure_parts.h"

#include <ctype.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define PAIRS_WITH_SOURCE 3 /* components: of more the sources fill the page; `dryfront phases` has them */
#define SIDE 10.0           /* points, margin of heading, legend and notes */

const char *df_figure_mixture_name(char *out, size_t size, const df_composition *c) {
    size_t used = 0;
    out[0] = '\0';
    for (size_t i = 0; i < c->n && used < size; i++)
        used += (size_t)snprintf(out + used, size - used, "%s%s", i > 0 ? "\u2013" : "", c->component[i]->name);
    out[0] = (char)toupper((unsigned char)out[0]);
    return out;
}

const char *df_figure_mark_name(char *out, size_t size, const df_mixture *m, df_phase_mark mark) {
    static const char *const liquids[] = {"", "liquid", "two liquids", "three liquids"};
    char name[80], formula[96];
    size_t used = 0;
    out[0] = '\0';
    for (int round = 0; round < 2; round++) /* ice first */
        for (size_t k = 0; k < df_mixture_solids(m) && used < size; k++) {
            const df_solid *s = df_mixture_solid(m, k);
            bool ice = s->component >= 0 && df_mixture_component(m, (size_t)s->component)->is_water;
            if (((mark.solids >> k) & 1u) == 0 || ice != (round == 0))
                continue;
            used += (size_t)snprintf(
                out + used, size - used, "%s%s", used > 0 ? " + " : "",
                df_figure_formula(formula, sizeof formula, df_part_solid_name(name, sizeof name, m, k)));
        }
    if (mark.liquids > 0 && used < size)
        snprintf(out + used, size - used, "%s%s", used > 0 ? " + " : "",
                 liquids[mark.liquids < 3 ? mark.liquids : 3]);
    return out;
}

const char *df_figure_mode_words(char *out, size_t size, const df_composition *c, df_freezing_mode mode) {
    static const char *const words[] = {
        [DF_FREEZING_PRACTICE] = "solids that form in practice",
        [DF_FREEZING_EQUILIBRIUM] = "all solids of equilibrium, whether they form in practice or not",
        [DF_FREEZING_ANNEALED] = "solids that form in practice, also on annealing",
        [DF_FREEZING_QUENCHED] = "solids that form when quenched",
    };
    bool seen = false;
    for (size_t i = 0; i < c->n; i++)
        seen = seen || c->seen[i] != 0;
    snprintf(out, size, "%s%s", words[mode], seen ? ", with what was seen in this sample" : "");
    return out;
}

const char *df_figure_unit(df_basis basis) {
    static const char *const units[] = {"%\u00a0v/v", "%\u00a0w/w", "mol\u00a0%"};
    return units[basis];
}

void df_figure_trust(df_text *out, const char *first, const df_mixture *m, const bool *allowed, df_basis basis) {
    char name[80], formula[96], a[32], b[32];
    size_t n = df_mixture_count(m);
    for (size_t i = 0; i < n; i++)
        for (size_t j = i + 1; j < n; j++) {
            const df_nrtl_pair *p = df_mixture_pair(m, i, j);
            df_text_printf(out, "%s%s + %s: %s", i + j == 1 ? first : " ", df_mixture_component(m, i)->name,
                           df_mixture_component(m, j)->name,
                           p->grade == DF_PAIR_IDEAL ? "WARNING, taken as ideal" : df_pair_grade_name(p->grade));
            if (isfinite(p->lowest) && isfinite(p->highest))
                df_text_printf(out, " (%s to %s °C)", df_figure_number(a, sizeof a, df_celsius(p->lowest), 0),
                               df_figure_number(b, sizeof b, df_celsius(p->highest), 0));
            if (n <= PAIRS_WITH_SOURCE)
                df_text_printf(out, "; %s", p->source);
            df_text_puts(out, ".");
        }
    for (size_t k = 0; k < df_mixture_solids(m); k++) {
        const df_solid *s = df_mixture_solid(m, k);
        if (allowed[k] && s->component < 0)
            df_text_printf(out, " %s: %s.", df_figure_formula(formula, sizeof formula, s->name), s->source);
    }
    const char *between = " Not taken to form: ";
    for (size_t k = 0; k < df_mixture_solids(m); k++)
        if (!allowed[k]) {
            df_text_printf(out, "%s%s", between,
                           df_figure_formula(formula, sizeof formula, df_part_solid_name(name, sizeof name, m, k)));
            between = ", ";
        }
    if (between[0] == ',')
        df_text_puts(out, ".");
    if (basis == DF_BASIS_VOLUME)
        df_text_puts(out, " %\u00a0v/v: volumes of the liquids before mixing, at 20 °C.");
}

df_status df_sheet_begin(df_context *ctx, df_figure *f, df_sheet *s) {
    const df_text_style heading = {.size = 9.5, .bold = true, .ink = DF_INK_BLACK};
    double page = s->width > 0.0 ? s->width : DF_FIGURE_WIDTH, inner = page - 2.0 * SIDE;
    const df_text_style below = {.size = 7.5, .ink = DF_INK_GREY, .wrap = inner};
    const df_text_style notes = {.size = 6.3, .ink = DF_INK_GREY, .wrap = inner};
    const df_text_style key = {.size = 7.5, .ink = DF_INK_BLACK, .wrap = inner};
    double width, heading_height, below_height, notes_height, key_height = 0.0;
    df_figure_text_extent(f, &width, &heading_height, s->heading, heading);
    df_text_style fitted = heading;
    if (width > inner)
        fitted.size *= inner / width;
    df_figure_text_extent(f, &width, &below_height, s->subheading, below);
    df_figure_text_extent(f, &width, &notes_height, s->notes, notes);
    if (s->key != NULL)
        df_figure_text_extent(f, &width, &key_height, s->key, key);
    double legend = df_figure_legend(f, 0.0, 0.0, inner, s->legend, s->legends, false);
    s->top = 6.0 + heading_height + 1.0 + below_height;
    s->height = s->top + s->picture + legend + key_height + 5.0 + notes_height + 6.0;
    df_status status = df_figure_page(ctx, f, page, s->height, s->title);
    if (status < 0)
        return status;
    df_figure_text(f, SIDE, 6.0, 0.0, 0.0, 0.0, s->heading, fitted);
    df_figure_text(f, SIDE, 7.0 + heading_height, 0.0, 0.0, 0.0, s->subheading, below);
    df_figure_legend(f, SIDE, s->top + s->picture, inner, s->legend, s->legends, true);
    if (s->key != NULL)
        df_figure_text(f, SIDE, s->top + s->picture + legend, 0.0, 0.0, 0.0, s->key, key);
    df_figure_text(f, SIDE, s->height - 6.0 - notes_height, 0.0, 0.0, 0.0, s->notes, notes);
    return DF_OK;
}

/* ---- curves and their names ----------------------------------------------------------------------------------- */

df_ink df_figure_curve_ink(size_t i) {
    static const df_ink inks[] = {
        {0.00, 0.35, 0.62}, {0.72, 0.35, 0.00}, {0.45, 0.20, 0.50}, {0.20, 0.50, 0.60}, {0.45, 0.38, 0.10}};
    return inks[i % (sizeof inks / sizeof inks[0])];
}

static int lower_wish(const void *a, const void *b) {
    const df_end_label *p = a, *q = b;
    return p->wish < q->wish ? -1 : p->wish > q->wish;
}

void df_figure_name_ends(df_figure *f, df_end_label *label, size_t n, double x, double top, double bottom,
                         double room) {
    const double apart = 10.0;
    qsort(label, n, sizeof *label, lower_wish);
    for (size_t i = 0; i < n; i++)
        label[i].at = fmax(label[i].wish, i > 0 ? label[i - 1].at + apart : top + 4.0);
    for (size_t i = n; i-- > 0;)
        label[i].at = fmin(label[i].at, i + 1 < n ? label[i + 1].at - apart : bottom - 4.0);
    for (size_t i = 0; i < n; i++) {
        const df_text_style style = {.size = 7.5, .bold = label[i].bold, .ink = label[i].ink};
        df_text_style fitted = style;
        double width, height;
        df_figure_text_extent(f, &width, &height, label[i].text, style);
        if (width > room)
            fitted.size *= room / width;
        df_figure_ink(f, label[i].ink);
        df_figure_line_style(f, 0.5, NULL, 0);
        cairo_move_to(df_figure_cairo(f), x + 1.0, label[i].wish);
        cairo_line_to(df_figure_cairo(f), x + 9.0, label[i].at);
        cairo_stroke(df_figure_cairo(f));
        df_figure_text(f, x + 11.0, label[i].at, 0.0, 0.5, 0.0, label[i].text, fitted);
    }
}

bool df_figure_put_free(df_figure *f, df_obstacles *o, df_box bounds, double x, double y, const char *text,
                        df_text_style style, int rings) {
    double width, height;
    df_figure_text_extent(f, &width, &height, text, style);
    for (int ring = 0; ring < rings; ring++)
        for (int k = 0; k < 8; k++) {
            static const double around[8][2] = {{1, 1}, {-1, -1}, {1, 0}, {-1, 0}, {1, -1}, {-1, 1}, {0, 1}, {0, -1}};
            double gap = 4.0 + 3.0 * ring;
            df_box box = {x + around[k][0] * (gap + 0.5 * width) - 0.5 * width,
                          y + around[k][1] * (gap + 0.5 * height) - 0.5 * height, width, height};
            if (!df_obstacles_clear(o, box, bounds, 1.5))
                continue;
            if (ring > 1) {
                df_figure_ink(f, DF_INK_GREY);
                df_figure_line_style(f, 0.5, NULL, 0);
                cairo_move_to(df_figure_cairo(f), fmin(fmax(x, box.x), box.x + width),
                              fmin(fmax(y, box.y), box.y + height));
                cairo_line_to(df_figure_cairo(f), x, y);
                cairo_stroke(df_figure_cairo(f));
            }
            df_figure_text(f, box.x, box.y, 0.0, 0.0, 0.0, text, style);
            df_obstacles_box(o, box);
            return true;
        }
    return false;
}

void df_figure_csv_begin(df_text *csv) {
    df_text_puts(csv, "kind,name,curve");
}

void df_figure_csv_fraction(df_text *csv, const df_composition *c, size_t i) {
    static const char *const unit[] = {"percent_v_v", "percent_w_w", "percent_mol"};
    char column[160];
    snprintf(column, sizeof column, "%s_%s", c->component[i]->key, unit[c->basis]);
    df_text_puts(csv, ",");
    df_part_csv_text(csv, column);
}

void df_figure_csv_row(df_text *csv, const char *kind, const char *name, size_t curve) {
    df_text_printf(csv, "%s,", kind);
    df_part_csv_text(csv, name);
    df_text_puts(csv, ",");
    if (curve > 0)
        df_text_printf(csv, "%zu", curve);
}
