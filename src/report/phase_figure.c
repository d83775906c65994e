/* Temperature against composition of two components, with the measured points of the sources.
 *
 * The lines are ends of tie lines that df_section_make has followed. Between two changes of phases (a band) each
 * stretch of composition is a piece of the picture; pieces of neighbouring bands that go on in each other make one
 * region, and where they do not, the horizontal line between them is an invariant temperature. */
#include "report/figure_parts.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define SCAN_LOWEST 130.0  /* K */
#define SCAN_HIGHEST 335.0 /* K */
#define USUAL_LOWEST 160.0 /* K, where no temperature is the last liquid's last */
#define BELOW_LAST 20.0    /* K shown below the temperature where the last liquid goes */
#define ABOVE_FIRST 8.0    /* K shown above the highest line */
#define ABOVE_SOLID 30.0   /* K shown above the highest solid where a gap of liquids stays open */
#define GOES_ON 2e-3       /* mole fraction: ends nearer than this are the same line */
#define LEAST_LEVEL 1e-3 /* fraction: shorter level lines close a boundary's steps and are no numbers of their own */
#define NAMED_LINE 12.0  /* points: an invariant line shorter than this bears no number */
#define MOST_POINTS 400
#define MOST_INVARIANTS 32
#define PLOT_LEFT 44.0
#define PLOT_RIGHT 14.0
#define PLOT_HEIGHT 236.0
#define TIE_GAP 4.2 /* points between the lines that fill a gap of liquids */

typedef struct piece {
    size_t region;
    size_t first, last; /* rows of its band */
    size_t part;
    size_t curve; /* which boundary its right side is a stretch of, from 1; 0: the frame, or not yet known */
} piece;

typedef struct measured {
    double temperature, fraction; /* K; of the basis, NAN: not stated */
    df_mark_shape shape;
    df_mark_fill fill;
    const char *grade, *source; /* of the table's own memory */
} measured;

typedef struct invariant {
    double temperature, from, to; /* K, fractions */
} invariant;

typedef struct binary {
    df_composition composition; /* the component on the axis first */
    df_mixture *mixture;
    bool allowed[DF_MAX_SOLIDS];
    double per_mole[2], own; /* own: the user's fraction */
    df_section section;
    piece *pieces;
    size_t piece_count;
    df_region *regions;
    size_t region_count;
    invariant invariants[MOST_INVARIANTS];
    size_t invariant_count;
    measured points[MOST_POINTS];
    size_t point_count;
    df_csv *table[3]; /* where the points are from */
    df_text sources, notes;
    df_axis x, y;
} binary;

static double fraction_of(const binary *b, double x) {
    return x * b->per_mole[0] / (x * b->per_mole[0] + (1.0 - x) * b->per_mole[1]);
}

static double page_x(const binary *b, double x) {
    return df_axis_at(&b->x, 100.0 * fraction_of(b, x));
}

static double page_y(const binary *b, double temperature) {
    return df_axis_at(&b->y, df_celsius(temperature));
}

/* ---- range ---------------------------------------------------------------------------------------------------- */

static bool any_liquid(const df_section_row *row) {
    for (size_t i = 0; i < row->parts; i++)
        if (df_section_mark(&row->part[i]).liquids > 0)
            return true;
    return false;
}

static bool any_solid(const df_section_row *row) {
    for (size_t i = 0; i < row->parts; i++)
        if (df_section_mark(&row->part[i]).solids != 0)
            return true;
    return false;
}

/* What is worth showing, in even steps of °C. */
static void choose_range(double *lowest, double *highest, const df_section *s) {
    double solid = SCAN_LOWEST, line = SCAN_LOWEST;
    *lowest = USUAL_LOWEST;
    for (size_t i = 0; i < s->rows; i++) {
        if (any_solid(&s->row[i]))
            solid = s->row[i].temperature;
        if (s->row[i].parts > 1)
            line = s->row[i].temperature;
        if (i > 0 && !any_liquid(&s->row[i - 1]) && any_liquid(&s->row[i]))
            *lowest = s->row[i].temperature - BELOW_LAST;
    }
    *highest = line < SCAN_HIGHEST - 1.0 ? line + ABOVE_FIRST : solid + ABOVE_SOLID;
    *lowest = DF_ZERO_CELSIUS + 10.0 * floor(df_celsius(*lowest) / 10.0);
    *highest = DF_ZERO_CELSIUS + 10.0 * ceil(df_celsius(*highest) / 10.0);
}

/* ---- pieces and regions --------------------------------------------------------------------------------------- */

static size_t root_of(const size_t *parent, size_t i) {
    while (parent[i] != i)
        i = parent[i];
    return i;
}

static bool same_region(const df_section_part *a, const df_section_part *b) {
    if (a->left != b->left || a->right != b->right || a->one != b->one)
        return false;
    return a->one || (fabs(a->from - b->from) < GOES_ON && fabs(a->to - b->to) < GOES_ON);
}

static void add_invariant(binary *b, double temperature, double from, double to) {
    double lowest = fraction_of(b, from), highest = fraction_of(b, to);
    for (size_t i = 0; i < b->invariant_count; i++) {
        invariant *v = &b->invariants[i];
        if (fabs(v->temperature - temperature) < 1e-3 && lowest <= v->to + 1e-4 && highest >= v->from - 1e-4) {
            v->from = fmin(v->from, lowest);
            v->to = fmax(v->to, highest);
            return;
        }
    }
    if (b->invariant_count < MOST_INVARIANTS)
        b->invariants[b->invariant_count++] = (invariant){temperature, lowest, highest};
}

static void add_ring(binary *b, const piece *p, df_region *r) {
    df_region_begin(r);
    for (size_t i = p->first; i <= p->last; i++)
        df_region_add(r, page_x(b, b->section.row[i].part[p->part].from), page_y(b, b->section.row[i].temperature));
    for (size_t i = p->last + 1; i-- > p->first;)
        df_region_add(r, page_x(b, b->section.row[i].part[p->part].to), page_y(b, b->section.row[i].temperature));
}

static double ring_area(const df_region *r) {
    double area = 0.0;
    for (size_t ring = 0; ring < r->rings; ring++) {
        size_t first = r->ring[ring], end = ring + 1 < r->rings ? r->ring[ring + 1] : r->points;
        for (size_t i = first; i < end; i++) {
            const double *a = r->point[i], *c = r->point[i + 1 < end ? i + 1 : first];
            area += 0.5 * (a[0] * c[1] - a[1] * c[0]);
        }
    }
    return fabs(area);
}

/* Where a piece ends towards the right, at the lower or the upper end of its band. */
static double right_end(const binary *b, const piece *p, bool upper) {
    return b->section.row[upper ? p->last : p->first].part[p->part].to;
}

/* Right sides of pieces that go on in each other, between the same two regions, are one boundary. The piece on the right of
 * another is the next one: the frame alone has none. */
static void number_curves(binary *b) {
    size_t curves = 0;
    for (size_t q = 0; q < b->piece_count; q++) {
        piece *own = &b->pieces[q];
        if (q + 1 == b->piece_count || own[1].first != own->first ||
            (right_end(b, own, false) > 1.0 - 1e-9 && right_end(b, own, true) > 1.0 - 1e-9))
            continue;
        for (size_t p = 0; p < q && own->curve == 0; p++) {
            const piece *under = &b->pieces[p];
            if (under->curve > 0 && under->last + 1 == own->first && under->region == own->region &&
                under[1].region == own[1].region &&
                fabs(right_end(b, under, true) - right_end(b, own, false)) < GOES_ON)
                own->curve = under->curve;
        }
        if (own->curve == 0)
            own->curve = ++curves;
    }
}

static df_status make_regions(df_context *ctx, binary *b) {
    const df_section *s = &b->section;
    size_t most = 0;
    for (size_t i = 0; i < s->rows; i++)
        if (i == 0 || s->row[i - 1].step)
            most += s->row[i].parts;
    size_t *parent = calloc(most + 1, sizeof *parent);
    b->pieces = calloc(most + 1, sizeof *b->pieces);
    b->regions = calloc(most + 1, sizeof *b->regions);
    if (parent == NULL || b->pieces == NULL || b->regions == NULL) {
        free(parent);
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    }
    size_t below = 0; /* first piece of the band below */
    for (size_t first = 0; first < s->rows;) {
        size_t last = first;
        while (last + 1 < s->rows && !s->row[last].step)
            last++;
        size_t here = b->piece_count;
        for (size_t k = 0; k < s->row[first].parts; k++) {
            parent[b->piece_count] = b->piece_count;
            b->pieces[b->piece_count++] = (piece){0, first, last, k, 0};
        }
        for (size_t p = below; p < here; p++)
            for (size_t q = here; q < b->piece_count; q++) {
                const df_section_part *u = &s->row[first - 1].part[b->pieces[p].part];
                const df_section_part *v = &s->row[first].part[b->pieces[q].part];
                double from = fmax(u->from, v->from), to = fmin(u->to, v->to);
                if (to <= from)
                    continue;
                if (same_region(u, v))
                    parent[root_of(parent, q)] = root_of(parent, p);
                else
                    add_invariant(b, s->row[first].temperature, from, to);
            }
        below = here;
        first = last + 1;
    }
    for (size_t p = 0; p < b->piece_count; p++) {
        size_t root = root_of(parent, p);
        if (root == p) {
            df_region *r = &b->regions[b->region_count];
            const df_section_part *part = &s->row[b->pieces[p].first].part[b->pieces[p].part];
            df_figure_mark_name(r->name, sizeof r->name, b->mixture, df_section_mark(part));
            b->pieces[p].region = b->region_count++;
        }
    }
    bool failed = false;
    for (size_t p = 0; p < b->piece_count; p++) {
        piece *own = &b->pieces[p];
        own->region = b->pieces[root_of(parent, p)].region;
        add_ring(b, own, &b->regions[own->region]);
    }
    number_curves(b);
    for (size_t r = 0; r < b->region_count; r++) {
        b->regions[r].area = ring_area(&b->regions[r]);
        failed = failed || b->regions[r].failed;
    }
    free(parent);
    return failed ? df_fail(ctx, DF_E_MEMORY, "out of memory") : DF_OK;
}

/* ---- measured points ------------------------------------------------------------------------------------------ */

static df_mark_fill fill_of(const char *grade) {
    return strcmp(grade, "measured") == 0   ? DF_MARK_FULL
           : strcmp(grade, "smoothed") == 0 ? DF_MARK_HALF
                                            : DF_MARK_OPEN;
}

/* Takes the points of one table; a point that is there already is not taken again. */
static df_status read_points(df_context *ctx, binary *b, df_csv **kept, const char *table, df_mark_shape shape) {
    df_status status = df_csv_builtin(ctx, kept, table);
    const df_csv *csv = *kept;
    const df_substance *a = b->composition.component[0], *other = b->composition.component[1];
    for (size_t row = 0; status >= 0 && row < df_csv_rows(csv); row++) {
        double t, w;
        if (strcmp(df_csv_cell(csv, row, df_csv_find(csv, "key")), a->key) != 0 ||
            strstr(df_csv_cell(csv, row, df_csv_find(csv, "phases")), "ternary") != NULL)
            continue;
        status = df_csv_number(ctx, &t, csv, row, df_csv_find(csv, "temperature_K"), NAN);
        if (status >= 0)
            status = df_csv_number(ctx, &w, csv, row, df_csv_find(csv, "w_solvent"), NAN);
        if (status < 0 || isnan(t) || df_celsius(t) < b->y.low || df_celsius(t) > b->y.high)
            continue;
        double x = w / a->molar_mass / (w / a->molar_mass + (1.0 - w) / other->molar_mass);
        const char *grade = df_csv_cell(csv, row, df_csv_find(csv, "grade")),
                   *source = df_csv_cell(csv, row, df_csv_find(csv, "source"));
        measured p = {t, fraction_of(b, x), isnan(w) ? DF_MARK_POINTER : shape, fill_of(grade), grade, source};
        bool known = false;
        for (size_t i = 0; i < b->point_count; i++) {
            double there = b->points[i].fraction;
            bool same = isnan(p.fraction) ? isnan(there) : fabs(there - p.fraction) < 1e-3;
            known = known || (same && fabs(b->points[i].temperature - t) < 0.02);
        }
        if (known || b->point_count == MOST_POINTS)
            continue;
        b->points[b->point_count++] = p;
        if (strstr(df_text_string(&b->sources), source) == NULL)
            df_text_printf(&b->sources, "%s%s", b->sources.length > 0 ? "; " : "", source);
    }
    return status;
}

static const df_legend_entry shapes[] = {
    {"freezing point", DF_MARK_CIRCLE, DF_MARK_FULL, true},
    {"two liquids", DF_MARK_SQUARE, DF_MARK_FULL, true},
    {"invariant or critical point", DF_MARK_DIAMOND, DF_MARK_FULL, true},
    {"temperature alone", DF_MARK_POINTER, DF_MARK_FULL, true},
};

static size_t legend_of(df_legend_entry *entry, const binary *b) {
    bool shape[4] = {false}, fill[3] = {false};
    size_t n = 0;
    for (size_t i = 0; i < b->point_count; i++) {
        shape[b->points[i].shape] = true;
        fill[b->points[i].fill] = true;
    }
    for (int k = 0; k < 4; k++)
        if (shape[k])
            entry[n++] = shapes[k];
    if (n > 0)
        entry[n++] = (df_legend_entry){
            .text = !fill[DF_MARK_HALF] ? "(full: measured, open: secondary or from memory)"
                                        : "(full: measured, grey: smoothed, open: secondary or from memory)"};
    return n;
}

/* ---- drawing -------------------------------------------------------------------------------------------------- */

/* Where a piece of a region begins and ends at a temperature; false where it is not there. */
static bool span_at(const binary *b, const piece *p, double temperature, double *from, double *to) {
    const df_section_row *row = b->section.row;
    if (temperature < row[p->first].temperature || temperature > row[p->last].temperature)
        return false;
    size_t i = p->first;
    while (i < p->last && row[i + 1].temperature < temperature)
        i++;
    size_t j = i < p->last ? i + 1 : i;
    double width = row[j].temperature - row[i].temperature;
    double t = width > 0.0 ? (temperature - row[i].temperature) / width : 0.0;
    *from = row[i].part[p->part].from + t * (row[j].part[p->part].from - row[i].part[p->part].from);
    *to = row[i].part[p->part].to + t * (row[j].part[p->part].to - row[i].part[p->part].to);
    return true;
}

static void draw_fills(df_figure *f, const binary *b) {
    cairo_t *c = df_figure_cairo(f);
    bool *done = calloc(b->region_count + 1, sizeof *done);
    for (size_t p = 0; done != NULL && p < b->piece_count; p++) {
        const df_section_part *part = &b->section.row[b->pieces[p].first].part[b->pieces[p].part];
        df_phase_mark mark = df_section_mark(part);
        const df_region *r = &b->regions[b->pieces[p].region];
        if (mark.liquids == 2) { /* tie lines, as dense in every piece */
            df_figure_ink(f, (df_ink){0.55, 0.70, 0.84});
            df_figure_line_style(f, 0.4, NULL, 0);
            for (double y = b->y.page_high + 0.5 * TIE_GAP; y < b->y.page_low; y += TIE_GAP) {
                double t = DF_ZERO_CELSIUS + b->y.low +
                           (y - b->y.page_low) / (b->y.page_high - b->y.page_low) * (b->y.high - b->y.low);
                double from, to;
                if (!span_at(b, &b->pieces[p], t, &from, &to))
                    continue;
                cairo_move_to(c, page_x(b, from), y);
                cairo_line_to(c, page_x(b, to), y);
            }
            cairo_stroke(c);
        }
        if (mark.solids == 0 || done[b->pieces[p].region])
            continue;
        done[b->pieces[p].region] = true;
        df_region_path(f, r);
        df_figure_ink(f, mark.liquids > 0 ? DF_INK_TINT_PARTLY : DF_INK_TINT_SOLID);
        if (mark.liquids > 0) {
            cairo_fill(c);
            continue;
        }
        cairo_save(c);
        cairo_fill_preserve(c);
        cairo_clip(c);
        df_box e = df_region_extent(r);
        df_figure_hatch(f, e.x, e.y, e.width, e.height, 7.0, (df_ink){0.78, 0.77, 0.745});
        cairo_restore(c);
    }
    free(done);
}

static void draw_lines(df_figure *f, const binary *b, df_obstacles *o) {
    cairo_t *c = df_figure_cairo(f);
    df_figure_ink(f, DF_INK_BLACK);
    df_figure_line_style(f, 0.9, NULL, 0);
    for (size_t p = 0; p < b->piece_count; p++) {
        const piece *own = &b->pieces[p];
        double before[2] = {0.0, 0.0};
        if (own->curve == 0)
            continue; /* the frame */
        for (size_t i = own->first; i <= own->last; i++) {
            double at[2] = {page_x(b, b->section.row[i].part[own->part].to),
                            page_y(b, b->section.row[i].temperature)};
            if (i == own->first)
                cairo_move_to(c, at[0], at[1]);
            else {
                cairo_line_to(c, at[0], at[1]);
                df_obstacles_line(o, before[0], before[1], at[0], at[1]);
            }
            memcpy(before, at, sizeof at);
        }
    }
    for (size_t i = 0; i < b->invariant_count; i++) {
        const invariant *v = &b->invariants[i];
        double y = page_y(b, v->temperature);
        double x1 = df_axis_at(&b->x, 100.0 * v->from), x2 = df_axis_at(&b->x, 100.0 * v->to);
        cairo_move_to(c, x1, y);
        cairo_line_to(c, x2, y);
        df_obstacles_line(o, x1, y, x2, y);
    }
    cairo_stroke(c);
}

/* The temperature stands on its line where there is room, near an end. */
static void name_invariants(df_figure *f, const binary *b, df_obstacles *o, df_box bounds) {
    const df_text_style style = {.size = 7.0, .ink = DF_INK_BLACK};
    for (size_t i = 0; i < b->invariant_count; i++) {
        const invariant *v = &b->invariants[i];
        char number[32], text[48];
        double width, height, y = page_y(b, v->temperature);
        double x1 = df_axis_at(&b->x, 100.0 * v->from), x2 = df_axis_at(&b->x, 100.0 * v->to);
        if (x2 - x1 < NAMED_LINE)
            continue;
        snprintf(text, sizeof text, "%s °C", df_figure_number(number, sizeof number, df_celsius(v->temperature), 1));
        df_figure_text_extent(f, &width, &height, text, style);
        bool placed = false;
        for (int try = 0; try < 60 && !placed; try++) {
            double slide = (try / 4) * 8.0; /* from the ends inwards, above before below */
            bool right = try & 1, under = try & 2;
            df_box box = {right ? x2 - 4.0 - width - slide : x1 + 4.0 + slide, under ? y + 1.2 : y - 1.2 - height,
                          width, height};
            if (slide > x2 - x1 || !df_obstacles_clear(o, box, bounds, 1.0))
                continue;
            df_figure_text(f, box.x, box.y, 0.0, 0.0, 0.0, text, style);
            df_obstacles_box(o, (df_box){box.x - 2.0, box.y, box.width + 4.0, box.height});
            placed = true;
        }
    }
}

static void draw_own(df_figure *f, const binary *b, df_obstacles *o) {
    cairo_t *c = df_figure_cairo(f);
    const df_text_style style = {.size = 7.5, .bold = true, .ink = DF_INK_BLUE};
    double x = df_axis_at(&b->x, 100.0 * b->own), width, height;
    char text[64], percent[32];
    snprintf(percent, sizeof percent, "%.3g", 100.0 * b->own);
    snprintf(text, sizeof text, "%s %s", percent, df_figure_unit(b->composition.basis));
    df_figure_ink(f, DF_INK_BLUE);
    df_figure_line_style(f, 1.0, (const double[]){5.0, 2.0, 1.0, 2.0}, 4);
    cairo_set_line_cap(c, CAIRO_LINE_CAP_BUTT);
    cairo_move_to(c, x, b->y.page_low);
    cairo_line_to(c, x, b->y.page_high);
    cairo_stroke(c);
    cairo_set_line_cap(c, CAIRO_LINE_CAP_ROUND);
    df_obstacles_line(o, x, b->y.page_low, x, b->y.page_high);
    o->soft = o->lines;
    df_figure_text_extent(f, &width, &height, text, style);
    double left = fmin(fmax(x - 0.5 * width, b->x.page_low), b->x.page_high - width);
    df_figure_text(f, left, b->y.page_high - 2.0, 0.0, 1.0, 0.0, text, style);
}

static void draw_points(df_figure *f, const binary *b, df_obstacles *o) {
    for (size_t i = 0; i < b->point_count; i++) {
        const measured *p = &b->points[i];
        double x = p->shape == DF_MARK_POINTER ? b->x.page_high + 1.5 : df_axis_at(&b->x, 100.0 * p->fraction);
        double y = page_y(b, p->temperature);
        df_figure_mark(f, x, y, p->shape, p->fill);
        if (p->shape != DF_MARK_POINTER)
            df_obstacles_box(o, (df_box){x - 3.2, y - 3.2, 6.4, 6.4});
    }
}

static void note_invariants(binary *b) {
    char number[32];
    for (size_t i = 0; i < b->invariant_count; i++)
        if (b->invariants[i].to - b->invariants[i].from > 0.02) /* less is the top of a gap or of a hydrate */
            df_text_printf(&b->notes, "%s%s",
                           strstr(df_text_string(&b->notes), " Level lines") ? ", " : " Level lines: ",
                           df_figure_number(number, sizeof number, df_celsius(b->invariants[i].temperature), 1));
    if (strstr(df_text_string(&b->notes), " Level lines") != NULL)
        df_text_puts(&b->notes, " °C.");
}

/* The same lines and marks as a table. */
static void write_numbers(df_text *csv, const binary *b) {
    char name[2 * sizeof b->regions[0].name + 4];
    df_figure_csv_begin(csv);
    df_figure_csv_fraction(csv, &b->composition, 0);
    df_text_puts(csv, ",temperature_C,grade,source\r\n");
    size_t curves = 0;
    for (size_t p = 0; p < b->piece_count; p++)
        curves = b->pieces[p].curve > curves ? b->pieces[p].curve : curves;
    for (size_t curve = 1; curve <= curves; curve++)
        for (size_t p = 0; p < b->piece_count; p++) {
            const piece *own = &b->pieces[p];
            if (own->curve != curve)
                continue;
            snprintf(name, sizeof name, "%s | %s", b->regions[own->region].name, b->regions[own[1].region].name);
            for (size_t i = own->first; i <= own->last; i++) {
                const df_section_row *row = &b->section.row[i];
                df_figure_csv_row(csv, "boundary", name, curve);
                df_part_csv_number(csv, 100.0 * fraction_of(b, row->part[own->part].to));
                df_part_csv_number(csv, df_celsius(row->temperature));
                df_text_puts(csv, ",,\r\n");
            }
        }
    for (size_t i = 0, level = 0; i < b->invariant_count; i++)
        for (int end = 0; end < 2; end++) {
            const invariant *v = &b->invariants[i];
            if (v->to - v->from < LEAST_LEVEL)
                continue;
            level += end == 0;
            df_figure_csv_row(csv, "level line", "", level);
            df_part_csv_number(csv, 100.0 * (end == 0 ? v->from : v->to));
            df_part_csv_number(csv, df_celsius(v->temperature));
            df_text_puts(csv, ",,\r\n");
        }
    for (size_t i = 0; i < b->point_count; i++) {
        const measured *p = &b->points[i];
        df_figure_csv_row(csv, "point", shapes[p->shape].text, 0);
        df_part_csv_number(csv, 100.0 * p->fraction);
        df_part_csv_number(csv, df_celsius(p->temperature));
        df_text_puts(csv, ",");
        df_part_csv_text(csv, p->grade);
        df_text_puts(csv, ",");
        df_part_csv_text(csv, p->source);
        df_text_puts(csv, "\r\n");
    }
    df_figure_csv_row(csv, "this mixture", "", 0);
    df_part_csv_number(csv, 100.0 * b->own);
    df_text_puts(csv, ",,,\r\n");
}

static df_status draw(df_context *ctx, df_figure *f, binary *b, df_text *out, df_freezing_mode mode) {
    df_legend_entry legend[8];
    char heading[160], title[240], x_title[160], below[160];
    size_t legends = legend_of(legend, b);
    df_figure_trust(&b->notes, "Lines: ", b->mixture, b->allowed, b->composition.basis);
    note_invariants(b);
    if (b->point_count > 0)
        df_text_printf(&b->notes, " Points: %s.", df_text_string(&b->sources));
    df_figure_mixture_name(heading, sizeof heading, &b->composition);
    snprintf(title, sizeof title, "Phases of %s against temperature and composition", heading);
    df_sheet sheet = {.heading = heading,
                      .subheading = df_figure_mode_words(below, sizeof below, &b->composition, mode),
                      .title = title,
                      .legend = legend,
                      .legends = legends,
                      .notes = df_text_string(&b->notes),
                      .picture = b->y.page_low + 33.0};
    df_status status = df_sheet_begin(ctx, f, &sheet);
    if (status < 0)
        return status;
    cairo_translate(df_figure_cairo(f), 0.0, sheet.top);
    df_obstacles o = {0};
    df_box bounds = {b->x.page_low, b->y.page_high, b->x.page_high - b->x.page_low, b->y.page_low - b->y.page_high};
    double right = bounds.x + bounds.width, bottom = bounds.y + bounds.height;
    draw_fills(f, b);
    draw_lines(f, b, &o);
    df_obstacles_line(&o, bounds.x, bounds.y, right, bounds.y);
    df_obstacles_line(&o, bounds.x, bottom, right, bottom);
    df_obstacles_line(&o, bounds.x, bounds.y, bounds.x, bottom);
    df_obstacles_line(&o, right, bounds.y, right, bottom);
    draw_own(f, b, &o);
    snprintf(x_title, sizeof x_title, "%s, %s", b->composition.component[0]->name,
             df_figure_unit(b->composition.basis));
    df_figure_frame(f, &b->x, &b->y, false, x_title, "temperature, °C");
    draw_points(f, b, &o);
    const df_text_style names = {.size = 8.0, .ink = DF_INK_BLACK};
    df_figure_name_inside(f, &o, b->regions, b->region_count, bounds, names);
    name_invariants(f, b, &o, bounds);
    df_figure_name_beside(f, &o, NULL, b->regions, b->region_count, bounds, names, SIZE_MAX);
    bool failed = o.failed || b->notes.failed || b->sources.failed;
    df_obstacles_free(&o);
    return failed ? df_fail(ctx, DF_E_MEMORY, "out of memory") : df_figure_finish(ctx, out, f);
}

static void binary_free(binary *b) {
    if (b == NULL)
        return;
    for (size_t r = 0; r < b->region_count; r++)
        df_region_free(&b->regions[r]);
    free(b->regions);
    free(b->pieces);
    df_section_free(&b->section);
    for (size_t i = 0; i < sizeof b->table / sizeof b->table[0]; i++)
        df_csv_free(b->table[i]);
    df_mixture_free(b->mixture);
    df_text_free(&b->sources);
    df_text_free(&b->notes);
    free(b);
}

df_status df_figure_binary(df_context *ctx, df_text *out, df_text *csv, const df_pairs *pairs,
                           const df_composition *c, df_freezing_mode mode) {
    binary *b = calloc(1, sizeof *b);
    df_figure *figure = NULL;
    double lowest = 0.0, highest = 0.0, fraction[DF_MAX_COMPONENTS];
    if (b == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    b->composition = *c;
    if (c->component[0]->is_water) {
        b->composition.component[0] = c->component[1];
        b->composition.component[1] = c->component[0];
        b->composition.x[0] = c->x[1];
        b->composition.x[1] = c->x[0];
        b->composition.seen[0] = c->seen[1];
        b->composition.seen[1] = c->seen[0];
    }
    for (size_t i = 0; i < 2; i++)
        b->per_mole[i] = df_basis_measure(b->composition.component[i], c->basis);
    df_composition_fractions(fraction, &b->composition, c->basis);
    b->own = fraction[0];
    df_status status = df_mixture_create(ctx, &b->mixture, pairs, b->composition.component, 2);
    if (status >= 0)
        status = df_composition_allow(ctx, b->allowed, b->mixture, &b->composition, mode);
    if (status >= 0)
        status = df_section_make(ctx, &b->section, b->mixture, b->allowed, SCAN_LOWEST, SCAN_HIGHEST);
    if (status >= 0) {
        choose_range(&lowest, &highest, &b->section);
        df_section_free(&b->section);
        status = df_section_make(ctx, &b->section, b->mixture, b->allowed, lowest, highest);
    }
    if (status >= 0) {
        b->x = (df_axis){0.0, 100.0, PLOT_LEFT, DF_FIGURE_WIDTH - PLOT_RIGHT};
        b->y = (df_axis){df_celsius(lowest), df_celsius(highest), 14.0 + PLOT_HEIGHT, 14.0};
        status = make_regions(ctx, b);
    }
    if (status >= 0 && b->composition.component[1]->is_water) {
        status = read_points(ctx, b, &b->table[0], "invariants.csv", DF_MARK_DIAMOND);
        if (status >= 0)
            status = read_points(ctx, b, &b->table[1], "lle.csv", DF_MARK_SQUARE);
        if (status >= 0)
            status = read_points(ctx, b, &b->table[2], "freezing_points.csv", DF_MARK_CIRCLE);
    }
    if (status >= 0 && csv != NULL)
        write_numbers(csv, b);
    if (status >= 0 && csv != NULL && csv->failed)
        status = df_fail(ctx, DF_E_MEMORY, "out of memory");
    if (status >= 0 && out != NULL)
        status = df_figure_create(ctx, &figure);
    if (status >= 0 && out != NULL)
        status = draw(ctx, figure, b, out, mode);
    df_figure_free(figure);
    binary_free(b);
    return status;
}

df_status df_report_phase_figure(df_context *ctx, df_text *svg, df_text *csv, const df_pairs *pairs,
                                 const df_composition *c, double temperature, df_freezing_mode mode) {
    if (c->n == 2)
        return df_figure_binary(ctx, svg, csv, pairs, c, mode);
    if (c->n != 3)
        return df_fail(ctx, DF_E_INPUT,
                       "a figure of phases has two or three components with an amount, and this mixture has %zu; a "
                       "figure of the kind 'pressure' can be drawn",
                       c->n);
    if (isnan(temperature))
        return df_fail(
            ctx, DF_E_INPUT,
            "a figure of three components is a triangle at one temperature: say which, with --temperature");
    return df_figure_triangle(ctx, svg, csv, pairs, c, temperature, mode);
}
