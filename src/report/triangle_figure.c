/* Three components at a temperature: the triangle of compositions. */
#include "report/figure_parts.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define SIDE_LENGTH 252.0 /* points */
#define DIVISIONS 120     /* of the grid on each side */
#define TOP_SPACE 24.0    /* points above the triangle, for the name of its upper corner */
#define BOTTOM_SPACE 36.0
#define MOST_REGIONS 64
#define LEAST_REGION 3e-4 /* of the triangle's unit square */
#define MOST_BESIDE 3     /* names outside their regions: more are numbers with a key */

typedef struct triangle {
    df_composition composition; /* right corner, upper corner, left corner */
    df_mixture *mixture;
    bool allowed[DF_MAX_SOLIDS];
    df_ternary map;
    df_region region[MOST_REGIONS];
    df_phase_mark mark[MOST_REGIONS];
    size_t regions;
    bool plain; /* regions hold fractions, for the table, and not where they are on the page */
    df_text notes;
} triangle;

/* From fractions of components 0 (right) and 1 (up) to the page. */
static void on_page(double *at, double right, double up) {
    double left = 0.5 * (DF_FIGURE_WIDTH - SIDE_LENGTH), bottom = TOP_SPACE + SIDE_LENGTH * sqrt(0.75);
    at[0] = left + SIDE_LENGTH * (right + 0.5 * up);
    at[1] = bottom - SIDE_LENGTH * sqrt(0.75) * up;
}

static void place(const triangle *t, double *at, const double *fraction) {
    if (t->plain)
        memcpy(at, fraction, 2 * sizeof *at);
    else
        on_page(at, fraction[0], fraction[1]);
}

static void add_loop(df_region *r, const triangle *t, const df_ternary_loop *loop) {
    df_region_begin(r);
    for (size_t i = loop->first; i < loop->first + loop->count; i++) {
        double at[2];
        place(t, at, t->map.point[i]);
        df_region_add(r, at[0], at[1]);
    }
}

static size_t phases_in(const triangle *t, df_phase_mark mark) {
    size_t phases = mark.liquids;
    for (size_t k = 0; k < df_mixture_solids(t->mixture); k++)
        phases += (mark.solids >> k) & 1u;
    return phases;
}

/* What is thinner than the grid between two triangles shows as a string of beads; the triangles' sides show it
 * better. */
static bool is_bead(const triangle *t, const df_ternary_loop *loop) {
    return loop->count <= 9 && fabs(loop->area) < LEAST_REGION && phases_in(t, loop->mark) == 2 &&
           t->map.triangles > 0;
}

static df_region *new_region(triangle *t, df_phase_mark mark, double area) {
    df_region *r = &t->region[t->regions];
    t->mark[t->regions++] = mark;
    r->area = area;
    df_figure_mark_name(r->name, sizeof r->name, t->mixture, mark);
    return r;
}

/* Each outer loop is a region, with the inner loops of its kind that lie in it; three phases are their triangles. */
static df_status make_regions(df_context *ctx, triangle *t) {
    bool failed = false;
    for (size_t i = 0; i < t->regions; i++)
        df_region_free(&t->region[i]);
    t->regions = 0;
    for (size_t i = 0; i < t->map.loops && t->regions < MOST_REGIONS; i++) {
        const df_ternary_loop *outer = &t->map.loop[i];
        if (outer->area <= 0.0 || phases_in(t, outer->mark) >= 3 || is_bead(t, outer))
            continue;
        df_region *r = new_region(t, outer->mark, outer->area);
        add_loop(r, t, outer);
        for (size_t k = 0; k < t->map.loops; k++) {
            const df_ternary_loop *inner = &t->map.loop[k];
            double at[2];
            if (inner->area >= 0.0 || !df_phase_mark_equal(inner->mark, outer->mark))
                continue;
            place(t, at, t->map.point[inner->first]);
            if (df_region_inside(r, at[0], at[1]))
                add_loop(r, t, inner);
        }
        failed = failed || r->failed;
    }
    for (size_t i = 0; i < t->map.triangles && t->regions < MOST_REGIONS; i++) {
        const df_ternary_triangle *own = &t->map.triangle[i];
        const double(*c)[2] = own->corner;
        double area =
            0.5 * fabs((c[1][0] - c[0][0]) * (c[2][1] - c[0][1]) - (c[1][1] - c[0][1]) * (c[2][0] - c[0][0]));
        df_region *r = new_region(t, own->mark, area);
        df_region_begin(r);
        for (int k = 0; k < 3; k++) {
            double at[2];
            place(t, at, c[k]);
            df_region_add(r, at[0], at[1]);
        }
        failed = failed || r->failed;
    }
    return failed ? df_fail(ctx, DF_E_MEMORY, "out of memory") : DF_OK;
}

static void fill_region(df_figure *f, const triangle *t, size_t i) {
    cairo_t *c = df_figure_cairo(f);
    df_phase_mark mark = t->mark[i];
    df_region_path(f, &t->region[i]);
    df_figure_ink(f, mark.solids == 0   ? DF_INK_TINT_LIQUID
                     : mark.liquids > 0 ? DF_INK_TINT_PARTLY
                                        : DF_INK_TINT_SOLID);
    cairo_save(c);
    cairo_fill_preserve(c);
    cairo_clip(c);
    df_box e = df_region_extent(&t->region[i]);
    if (phases_in(t, mark) >= 3) /* denser where it is solid throughout */
        df_figure_hatch(f, e.x, e.y, e.width, e.height, mark.liquids > 0 ? 9.0 : 6.0,
                        mark.liquids > 0 ? (df_ink){0.66, 0.76, 0.86} : (df_ink){0.74, 0.73, 0.705});
    cairo_restore(c);
}

static void draw_fills(df_figure *f, const triangle *t) {
    cairo_t *c = df_figure_cairo(f);
    cairo_set_fill_rule(c, CAIRO_FILL_RULE_EVEN_ODD);
    for (size_t i = 0; i < t->map.loops; i++) { /* what shows between triangles of nearly the same side */
        df_region under = {0};
        if (t->map.loop[i].area <= 0.0 || phases_in(t, t->map.loop[i].mark) < 3)
            continue;
        add_loop(&under, t, &t->map.loop[i]);
        df_region_path(f, &under);
        df_figure_ink(f, t->map.loop[i].mark.liquids > 0 ? DF_INK_TINT_PARTLY : DF_INK_TINT_SOLID);
        cairo_fill(c);
        df_region_free(&under);
    }
    for (size_t i = 0; i < t->regions; i++)
        if (t->mark[i].solids != 0 && phases_in(t, t->mark[i]) < 3)
            fill_region(f, t, i);
    df_figure_ink(f, (df_ink){0.45, 0.62, 0.79});
    df_figure_line_style(f, 0.45, NULL, 0);
    for (size_t i = 0; i < t->map.ties; i++) {
        double a[2], b[2];
        on_page(a, t->map.tie[i][0][0], t->map.tie[i][0][1]);
        on_page(b, t->map.tie[i][1][0], t->map.tie[i][1][1]);
        cairo_move_to(c, a[0], a[1]);
        cairo_line_to(c, b[0], b[1]);
    }
    cairo_stroke(c);
}

static bool on_side(const double *p, const double *q) {
    return (p[0] < 1e-9 && q[0] < 1e-9) || (p[1] < 1e-9 && q[1] < 1e-9) ||
           (p[0] + p[1] > 1.0 - 1e-9 && q[0] + q[1] > 1.0 - 1e-9);
}

static void obstruct(df_obstacles *o, const df_region *r) {
    for (size_t ring = 0; ring < r->rings; ring++) {
        size_t first = r->ring[ring], end = ring + 1 < r->rings ? r->ring[ring + 1] : r->points;
        for (size_t i = first; i < end; i++) {
            const double *a = r->point[i], *b = r->point[i + 1 < end ? i + 1 : first];
            df_obstacles_line(o, a[0], a[1], b[0], b[1]);
        }
    }
}

/* All lines of the map in one stroke: those that two regions share do not get darker. The triangles go over what the
 * grid shows of them. */
static void draw_lines(df_figure *f, const triangle *t, df_obstacles *o) {
    cairo_t *c = df_figure_cairo(f);
    for (size_t i = 0; i < t->map.loops; i++) {
        const df_ternary_loop *loop = &t->map.loop[i];
        bool drawing = false;
        for (size_t k = 0; k < loop->count && phases_in(t, loop->mark) < 3 && !is_bead(t, loop); k++) {
            const double *p = t->map.point[loop->first + k], *q = t->map.point[loop->first + (k + 1) % loop->count];
            double a[2], b[2];
            on_page(a, p[0], p[1]);
            on_page(b, q[0], q[1]);
            if (on_side(p, q)) {
                drawing = false;
                continue;
            }
            if (!drawing)
                cairo_move_to(c, a[0], a[1]);
            cairo_line_to(c, b[0], b[1]);
            drawing = true;
        }
    }
    df_figure_ink(f, DF_INK_BLACK);
    df_figure_line_style(f, 0.9, NULL, 0);
    cairo_stroke(c);
    for (size_t i = 0; i < t->regions; i++) {
        obstruct(o, &t->region[i]);
        if (phases_in(t, t->mark[i]) < 3)
            continue;
        fill_region(f, t, i);
        df_region_path(f, &t->region[i]);
        df_figure_ink(f, DF_INK_BLACK);
        df_figure_line_style(f, 0.9, NULL, 0);
        cairo_stroke(c);
    }
}

/* Sides, ticks in the direction of constant fraction, numbers, and what each side counts. */
/* A text, and boxes along it that names keep off. */
static void put(df_figure *f, df_obstacles *o, double x, double y, double across, double down, double angle,
                const char *text, df_text_style style) {
    double width, height;
    df_figure_text_extent(f, &width, &height, text, style);
    df_figure_text(f, x, y, across, down, angle, text, style);
    for (double along = 0.0; along < width; along += 0.5 * height) {
        double u = along + 0.25 * height - across * width, v = (0.5 - down) * height;
        df_box box = {x + u * cos(angle) - v * sin(angle) - 0.5 * height,
                      y + u * sin(angle) + v * cos(angle) - 0.5 * height, height, height};
        df_obstacles_box(o, box);
    }
}

static void draw_frame(df_figure *f, const triangle *t, df_obstacles *o) {
    const df_text_style numbers = {.size = 7.5, .ink = DF_INK_BLACK}, names = {.size = 8.5, .ink = DF_INK_BLACK};
    cairo_t *c = df_figure_cairo(f);
    double left[2], right[2], up[2];
    char word[32], side[160];
    const char *basis = df_figure_unit(t->composition.basis);
    on_page(left, 0.0, 0.0);
    on_page(right, 1.0, 0.0);
    on_page(up, 0.0, 1.0);
    df_figure_ink(f, DF_INK_BLACK);
    df_figure_line_style(f, 0.8, NULL, 0);
    cairo_move_to(c, left[0], left[1]);
    cairo_line_to(c, right[0], right[1]);
    cairo_line_to(c, up[0], up[1]);
    cairo_close_path(c);
    cairo_stroke(c);
    double s = 0.5, r = sqrt(0.75);
    for (int k = 1; k < 5; k++) {
        double value = 0.2 * k, a[2], b[2], d[2];
        on_page(a, value, 0.0); /* right component along the bottom: constant along lines that rise to the left */
        on_page(b, 1.0 - value, value); /* upper component along the right side: constant along level lines */
        on_page(d, 0.0, 1.0 - value);   /* left component along the left side: constant along lines that rise right */
        df_figure_ink(f, DF_INK_BLACK);
        df_figure_line_style(f, 0.6, NULL, 0);
        cairo_move_to(c, a[0], a[1]);
        cairo_rel_line_to(c, 3.5 * s, 3.5 * r);
        cairo_move_to(c, b[0], b[1]);
        cairo_rel_line_to(c, 3.5, 0.0);
        cairo_move_to(c, d[0], d[1]);
        cairo_rel_line_to(c, -3.5 * s, -3.5 * r);
        cairo_stroke(c);
        df_figure_number(word, sizeof word, 100.0 * value, 0);
        put(f, o, a[0] + 3.5 * s + 1.0, a[1] + 3.5, 0.5, 0.0, 0.0, word, numbers);
        put(f, o, b[0] + 5.0, b[1], 0.0, 0.5, 0.0, word, numbers);
        put(f, o, d[0] - 3.5 * s - 1.0, d[1] - 3.0, 1.0, 0.8, 0.0, word, numbers);
    }
    snprintf(side, sizeof side, "%s, %s \u2192", t->composition.component[0]->name, basis);
    put(f, o, 0.5 * (left[0] + right[0]), left[1] + 16.0, 0.5, 0.0, 0.0, side, names);
    snprintf(side, sizeof side, "\u2190 %s, %s", t->composition.component[1]->name, basis);
    put(f, o, 0.5 * (right[0] + up[0]) + 21.0 * r, 0.5 * (right[1] + up[1]) - 21.0 * s, 0.5, 1.0, M_PI / 3.0, side,
        names);
    snprintf(side, sizeof side, "\u2190 %s, %s", t->composition.component[2]->name, basis);
    put(f, o, 0.5 * (left[0] + up[0]) - 21.0 * r, 0.5 * (left[1] + up[1]) - 21.0 * s, 0.5, 1.0, -M_PI / 3.0, side,
        names);
    const df_text_style corners = {.size = 8.5, .bold = true, .ink = DF_INK_BLACK};
    const double *const at[3] = {right, up, left};
    for (int k = 0; k < 3; k++) { /* a long name moves in from the edge of the page */
        const char *name = t->composition.component[k]->name;
        double width, height;
        df_figure_text_extent(f, &width, &height, name, corners);
        double middle = fmin(fmax(at[k][0], 6.0 + 0.5 * width), DF_FIGURE_WIDTH - 6.0 - 0.5 * width);
        put(f, o, middle, at[k][1] + (k == 1 ? -4.0 : 4.0), 0.5, k == 1 ? 1.0 : 0.0, 0.0, name, corners);
    }
}

static void draw_own(df_figure *f, const triangle *t, df_obstacles *o, df_box bounds) {
    const df_text_style style = {.size = 7.5, .bold = true, .ink = DF_INK_BLUE, .halo = true};
    cairo_t *c = df_figure_cairo(f);
    double fraction[DF_MAX_COMPONENTS], at[2], width, height;
    df_composition_fractions(fraction, &t->composition, t->composition.basis);
    on_page(at, fraction[0], fraction[1]);
    cairo_arc(c, at[0], at[1], 3.0, 0.0, 2.0 * M_PI);
    df_figure_ink(f, DF_INK_BLUE);
    cairo_fill_preserve(c);
    df_figure_ink(f, DF_INK_WHITE);
    df_figure_line_style(f, 1.0, NULL, 0);
    cairo_stroke(c);
    df_obstacles_box(o, (df_box){at[0] - 4.0, at[1] - 4.0, 8.0, 8.0});
    df_figure_text_extent(f, &width, &height, "this mixture", style);
    static const double around[8][2] = {{1, 0}, {-1, 0}, {0, -1}, {0, 1}, {1, -1}, {-1, -1}, {1, 1}, {-1, 1}};
    for (int strict = 1; strict >= 0; strict--) /* clear of lines if that can be had */
        for (int k = 0; k < 8; k++) {
            df_box box = {at[0] + around[k][0] * (5.0 + 0.5 * width) - 0.5 * width,
                          at[1] + around[k][1] * (4.5 + 0.5 * height) - 0.5 * height, width, height};
            if (!df_obstacles_clear(o, box, bounds, strict ? 1.0 : 0.0))
                continue;
            df_figure_text(f, box.x, box.y, 0.0, 0.0, 0.0, "this mixture", style);
            df_obstacles_box(o, (df_box){box.x - 2.0, box.y - 2.0, box.width + 4.0, box.height + 4.0});
            return;
        }
}

/* Draws the page. `key` is in-out: what is known of it (NULL data: nothing yet) stands under the picture; it is
 * replaced by what the numbers that were given mean. */
static df_status draw(df_context *ctx, df_figure *f, triangle *t, df_text *out, df_text *key, double temperature,
                      df_freezing_mode mode) {
    char heading[200], title[260], below[200], words[160], number[32];
    df_figure_mixture_name(heading, sizeof heading, &t->composition);
    df_figure_number(number, sizeof number, df_celsius(temperature),
                     fabs(remainder(df_celsius(temperature), 1.0)) > 0.05);
    snprintf(title, sizeof title, "Phases of %s at %s °C", heading, number);
    snprintf(below, sizeof below, "at %s °C; %s", number,
             df_figure_mode_words(words, sizeof words, &t->composition, mode));
    df_text_free(&t->notes);
    df_figure_trust(&t->notes, "Lines: ", t->mixture, t->allowed, t->composition.basis);
    df_sheet sheet = {.heading = heading,
                      .subheading = below,
                      .title = title,
                      .key = key->data,
                      .notes = df_text_string(&t->notes),
                      .picture = TOP_SPACE + SIDE_LENGTH * sqrt(0.75) + BOTTOM_SPACE};
    df_status status = df_sheet_begin(ctx, f, &sheet);
    if (status < 0)
        return status;
    df_text_free(key);
    cairo_translate(df_figure_cairo(f), 0.0, sheet.top);
    df_obstacles o = {0};
    df_box bounds = {4.0, 4.0, DF_FIGURE_WIDTH - 8.0, TOP_SPACE + SIDE_LENGTH * sqrt(0.75) - 4.0};
    draw_fills(f, t);
    draw_lines(f, t, &o);
    draw_frame(f, t, &o);
    draw_own(f, t, &o, bounds);
    const df_text_style names = {.size = 8.0, .ink = DF_INK_BLACK, .halo = true};
    df_figure_name_inside(f, &o, t->region, t->regions, bounds, names);
    df_figure_name_beside(f, &o, key, t->region, t->regions, bounds, names, MOST_BESIDE);
    bool failed = o.failed || t->notes.failed || key->failed;
    df_obstacles_free(&o);
    return failed ? df_fail(ctx, DF_E_MEMORY, "out of memory") : df_figure_finish(ctx, out, f);
}

static void write_point(df_text *csv, const char *kind, const char *name, size_t curve, const double *fraction,
                        double temperature) {
    df_figure_csv_row(csv, kind, name, curve);
    df_part_csv_number(csv, 100.0 * fraction[0]);
    df_part_csv_number(csv, 100.0 * fraction[1]);
    df_part_csv_number(csv, 100.0 * (1.0 - fraction[0] - fraction[1]));
    df_part_csv_number(csv, df_celsius(temperature));
    df_text_puts(csv, "\r\n");
}

/* The same outlines and tie lines as a table; each outline comes back to where it begins. */
static df_status write_numbers(df_context *ctx, df_text *csv, triangle *t, double temperature) {
    double own[DF_MAX_COMPONENTS];
    t->plain = true;
    df_status status = make_regions(ctx, t);
    if (status < 0)
        return status;
    df_figure_csv_begin(csv);
    for (size_t i = 0; i < 3; i++)
        df_figure_csv_fraction(csv, &t->composition, i);
    df_text_puts(csv, ",temperature_C\r\n");
    for (size_t i = 0, curve = 0; i < t->regions; i++) {
        const df_region *r = &t->region[i];
        for (size_t ring = 0; ring < r->rings; ring++) {
            size_t first = r->ring[ring], end = ring + 1 < r->rings ? r->ring[ring + 1] : r->points;
            curve++;
            for (size_t k = first; k <= end; k++)
                write_point(csv, "outline", r->name, curve, r->point[k < end ? k : first], temperature);
        }
    }
    for (size_t i = 0; i < t->map.ties; i++)
        for (int end = 0; end < 2; end++)
            write_point(csv, "tie line", "two liquids", i + 1, t->map.tie[i][end], temperature);
    df_composition_fractions(own, &t->composition, t->composition.basis);
    write_point(csv, "this mixture", "", 0, own, temperature);
    t->plain = false;
    return csv->failed ? df_fail(ctx, DF_E_MEMORY, "out of memory") : DF_OK;
}

df_status df_figure_triangle(df_context *ctx, df_text *out, df_text *csv, const df_pairs *pairs,
                             const df_composition *c, double temperature, df_freezing_mode mode) {
    triangle *t = calloc(1, sizeof *t);
    df_figure *figure = NULL;
    double per_mole[DF_MAX_COMPONENTS];
    if (t == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    t->composition = *c;
    for (size_t i = 0, next = 0; i < 3; i++) { /* water to the left corner */
        size_t to = c->component[i]->is_water || next == 2 ? 2 : next++;
        t->composition.component[to] = c->component[i];
        t->composition.x[to] = c->x[i];
        t->composition.seen[to] = c->seen[i];
    }
    for (size_t i = 0; i < 3; i++)
        per_mole[i] = df_basis_measure(t->composition.component[i], c->basis);
    df_status status = df_mixture_create(ctx, &t->mixture, pairs, t->composition.component, 3);
    if (status >= 0)
        status = df_composition_allow(ctx, t->allowed, t->mixture, &t->composition, mode);
    if (status >= 0)
        status = df_ternary_make(ctx, &t->map, t->mixture, t->allowed, temperature, per_mole, DIVISIONS);
    if (status >= 0 && csv != NULL)
        status = write_numbers(ctx, csv, t, temperature);
    /* Twice where there is a key: how long it is shows only when the names have been placed. */
    df_text key = {0};
    for (int pass = 0; pass < 2 && status >= 0 && out != NULL; pass++) {
        df_text drawn = {0};
        size_t known = key.length;
        status = make_regions(ctx, t);
        if (status >= 0)
            status = df_figure_create(ctx, &figure);
        if (status >= 0)
            status = draw(ctx, figure, t, &drawn, &key, temperature, mode);
        df_figure_free(figure);
        figure = NULL;
        bool last = pass == 1 || key.length == known;
        if (status >= 0 && last)
            df_text_append(out, drawn.data, drawn.length);
        df_text_free(&drawn);
        if (last)
            break;
    }
    df_text_free(&key);
    if (status >= 0 && out != NULL && out->failed)
        status = df_fail(ctx, DF_E_MEMORY, "out of memory, or the figure grew too large");
    for (size_t i = 0; i < t->regions; i++)
        df_region_free(&t->region[i]);
    df_ternary_free(&t->map);
    df_mixture_free(t->mixture);
    df_text_free(&t->notes);
    free(t);
    return status;
}
