/* The design space of primary drying: shelf temperature against pressure, its limits and the time. */
#include "report/figure_parts.h"
#include "report/run_parts.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define LEFT 46.0
#define RIGHT 12.0
#define TOP 8.0
#define HEIGHT 235.0
#define EDGE 10.0
#define ROW_OF_KEY 4 /* kinds of region in one row of the key */
#define KEY 11.0     /* points, of a row of the key */
#define FINE 4       /* rows and columns drawn for one of the grid */
#define FAR 60.0     /* K: a slack beyond it counts as this */

typedef struct field {
    const df_space *space;
    double (*at)(const df_space_cell *cell, double margin);
} field;

static double product_at(const df_space_cell *c, double margin) {
    (void)margin;
    return isnan(c->product) ? NAN : fmin(fmax(c->product, -FAR), FAR);
}

static double time_at(const df_space_cell *c, double margin) {
    (void)margin;
    return isnan(c->time) ? NAN : log(c->time / 3600.0);
}

static double load_at(const df_space_cell *c, double margin) {
    (void)margin;
    return c->load > 0.0 ? log(c->load / DF_HOLD_PRESSURE) : NAN;
}

static double choke_at(const df_space_cell *c, double margin) {
    (void)margin;
    return c->choke - DF_HOLD_CHOKE;
}

typedef struct picture {
    const df_space *space;
    df_axis x, y; /* °C; log10 mbar */
    df_obstacles obstacles;
} picture;

static double value_at(const field *f, size_t i, size_t j) {
    const df_space *s = f->space;
    return f->at(&s->cell[j * s->shelves + i], s->margin);
}

static double x_of(const picture *p, double i) {
    size_t k = (size_t)fmin(floor(i), (double)(p->space->shelves - 2));
    double t = p->space->shelf[k] + (i - (double)k) * (p->space->shelf[k + 1] - p->space->shelf[k]);
    return df_axis_at(&p->x, df_celsius(t));
}

static double y_of(const picture *p, double j) {
    size_t k = (size_t)fmin(floor(j), (double)(p->space->pressures - 2));
    double a = log10(p->space->pressure[k] / 100.0), b = log10(p->space->pressure[k + 1] / 100.0);
    return df_axis_at(&p->y, a + (j - (double)k) * (b - a));
}

/* ---- lines of one value --------------------------------------------------------------------------------------- */

/* Where a contour's label may stand: its points nearest to three heights of the panel. */
enum { PLACES = 3 };
typedef struct best_place {
    double x, y, reach;
} best_place;

/* Marching squares: a step of the contour in each cell it crosses (a saddle gives two). */
static bool draw_level(df_figure *f, picture *p, const field *q, double level, best_place place[PLACES]) {
    static const double heights[PLACES] = {0.45, 0.75, 0.2};
    cairo_t *cairo = df_figure_cairo(f);
    bool any = false;
    double middle_x = 0.5 * (p->x.page_low + p->x.page_high);
    for (int h = 0; h < PLACES; h++)
        place[h].reach = INFINITY;
    for (size_t j = 0; j + 1 < p->space->pressures; j++)
        for (size_t i = 0; i + 1 < p->space->shelves; i++) {
            double v[4] = {value_at(q, i, j) - level, value_at(q, i + 1, j) - level,
                           value_at(q, i + 1, j + 1) - level, value_at(q, i, j + 1) - level};
            static const double cx[] = {0, 1, 1, 0}, cy[] = {0, 0, 1, 1};
            double px[4], py[4];
            int n = 0;
            if (isnan(v[0] + v[1] + v[2] + v[3]))
                continue;
            for (int e = 0; e < 4; e++) {
                double a = v[e], b = v[(e + 1) % 4];
                if ((a < 0.0) == (b < 0.0))
                    continue;
                double part = a / (a - b);
                px[n] = x_of(p, (double)i + cx[e] + part * (cx[(e + 1) % 4] - cx[e]));
                py[n] = y_of(p, (double)j + cy[e] + part * (cy[(e + 1) % 4] - cy[e]));
                n++;
            }
            for (int k = 0; k + 1 < n; k += 2) {
                cairo_move_to(cairo, px[k], py[k]);
                cairo_line_to(cairo, px[k + 1], py[k + 1]);
                df_obstacles_line(&p->obstacles, px[k], py[k], px[k + 1], py[k + 1]);
                any = true;
                for (int h = 0; h < PLACES; h++) {
                    double wish = p->y.page_high + heights[h] * (p->y.page_low - p->y.page_high);
                    double reach = fabs(py[k] - wish) + 0.3 * fabs(px[k] - middle_x);
                    if (reach < place[h].reach && px[k] > p->x.page_low + 14.0 && px[k] < p->x.page_high - 14.0)
                        place[h] = (best_place){px[k], py[k], reach};
                }
            }
        }
    cairo_stroke(cairo);
    return any;
}

/* Puts a contour's label where it meets no other. */
static void label_level(df_figure *f, picture *p, const best_place place[PLACES], const char *label) {
    const df_text_style style = {.size = 6.8, .ink = df_figure_curve_ink(0), .halo = true};
    double width, height;
    df_figure_text_extent(f, &width, &height, label, style);
    for (int h = 0; h < PLACES; h++) {
        if (!isfinite(place[h].reach))
            continue;
        df_box box = {place[h].x - 0.5 * width, place[h].y - 0.5 * height, width, height};
        bool clear = true;
        for (size_t i = 0; i < p->obstacles.boxes; i++) {
            const df_box *o = &p->obstacles.box[i];
            clear = clear && (box.x > o->x + o->width || o->x > box.x + box.width || box.y > o->y + o->height ||
                              o->y > box.y + box.height);
        }
        if (!clear)
            continue;
        df_figure_text(f, place[h].x, place[h].y, 0.5, 0.5, 0.0, label, style);
        df_obstacles_box(&p->obstacles, box);
        return;
    }
}

/* Hours at which lines are drawn: 1, 1.5, 2, 3, 5, 7 and ten times these. */
static size_t time_levels(double *hours, const df_space *s, size_t most) {
    static const double steps[] = {1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 7.0};
    double low = INFINITY, high = 0.0;
    size_t n = 0;
    for (size_t i = 0; i < s->shelves * s->pressures; i++)
        if (!isnan(s->cell[i].time)) {
            low = fmin(low, s->cell[i].time / 3600.0);
            high = fmax(high, s->cell[i].time / 3600.0);
        }
    for (double ten = 0.1; ten < 1e4; ten *= 10.0)
        for (size_t k = 0; k < sizeof steps / sizeof steps[0]; k++)
            if (steps[k] * ten > low && steps[k] * ten < high && n < most)
                hours[n++] = steps[k] * ten;
    return n;
}

/* ---- regions -------------------------------------------------------------------------------------------------- */

enum { ALLOWED, PRODUCT, VAPOUR, SLOW, TRAP, OIL, REGIONS };

/* By tint and by pattern, so that a print in grey tells them apart. */
typedef struct texture {
    const char *name;
    df_ink tint;
    double slanting, level, upright; /* points from one line to the next, 0: none */
} texture;

static const texture textures[REGIONS] = {
    {"within all limits", {1.0, 1.0, 1.0}, 0.0, 0.0, 0.0},
    {"product too warm", {0.83, 0.83, 0.83}, 0.0, 0.0, 0.0},
    {"vapour not carried off", {0.90, 0.94, 0.98}, 7.0, 0.0, 0.0},
    {"not dry in time", {0.97, 0.96, 0.91}, 0.0, 3.0, 0.0},
    {"trap full", {0.97, 0.96, 0.91}, 0.0, 0.0, 3.0},
    {"oil loaded", {0.97, 0.96, 0.91}, 0.0, 4.0, 4.0},
};
static const df_ink texture_ink = {0.55, 0.55, 0.52};

static int region_of(const df_space_cell *c) {
    switch (c->broken) {
    case DF_BOUND_NONE:
        return ALLOWED;
    case DF_BOUND_PRODUCT:
        return PRODUCT;
    case DF_BOUND_CHOKE:
    case DF_BOUND_PRESSURE:
        return VAPOUR;
    case DF_BOUND_TRAP:
        return TRAP;
    case DF_BOUND_OIL:
        return OIL;
    default:
        return SLOW;
    }
}

/* Between grid points: the limits by interpolation, what else there is by the nearest point. */
static int region_at(const picture *p, double i, double j) {
    const df_space *s = p->space;
    size_t a = (size_t)fmin(floor(i), (double)(s->shelves - 2)),
           b = (size_t)fmin(floor(j), (double)(s->pressures - 2));
    double u = i - (double)a, v = j - (double)b;
    const field fields[] = {{s, product_at}, {s, choke_at}, {s, load_at}};
    double value[3];
    for (int k = 0; k < 3; k++)
        value[k] = (1.0 - v) * ((1.0 - u) * value_at(&fields[k], a, b) + u * value_at(&fields[k], a + 1, b)) +
                   v * ((1.0 - u) * value_at(&fields[k], a, b + 1) + u * value_at(&fields[k], a + 1, b + 1));
    if (value[0] < 0.0)
        return PRODUCT;
    if (value[1] > 0.0 || value[2] > 0.0)
        return VAPOUR;
    int near = region_of(&s->cell[(b + (v > 0.5)) * s->shelves + a + (u > 0.5)]);
    return near >= SLOW ? near : ALLOWED;
}

/* Where a region may have its name: the middle of the row nearest to its own middle among those nearly as wide as its widest. */
typedef struct anchor {
    double x, y, width, widest, top, bottom, off;
} anchor;

static void meet_row(anchor *a, double x1, double x2, double y1, double y2, bool second) {
    if (!second) {
        a->widest = fmax(a->widest, x2 - x1);
        a->top = fmin(a->top, y2);
        a->bottom = fmax(a->bottom, y1);
        return;
    }
    double y = 0.5 * (y1 + y2), off = fabs(y - 0.5 * (a->top + a->bottom));
    if (x2 - x1 >= 0.6 * a->widest && off < a->off) {
        a->x = 0.5 * (x1 + x2);
        a->y = y;
        a->width = x2 - x1;
        a->off = off;
    }
}

/* A rectangle of one texture; its lines lie on one lattice, so that those of neighbours meet. */
static void fill(df_figure *f, const texture *t, df_box b) {
    cairo_t *cairo = df_figure_cairo(f);
    df_figure_ink(f, t->tint);
    cairo_rectangle(cairo, b.x, b.y, b.width, b.height + 0.2);
    cairo_fill(cairo);
    if (t->slanting > 0.0)
        df_figure_hatch(f, b.x, b.y, b.width, b.height, t->slanting, texture_ink);
    df_figure_ink(f, texture_ink);
    df_figure_line_style(f, 0.4, NULL, 0);
    for (double y = ceil(b.y / fmax(t->level, 1.0)) * t->level; t->level > 0.0 && y < b.y + b.height; y += t->level) {
        cairo_move_to(cairo, b.x, y);
        cairo_line_to(cairo, b.x + b.width, y);
    }
    for (double x = ceil(b.x / fmax(t->upright, 1.0)) * t->upright; t->upright > 0.0 && x < b.x + b.width;
         x += t->upright) {
        cairo_move_to(cairo, x, b.y);
        cairo_line_to(cairo, x, b.y + b.height);
    }
    cairo_stroke(cairo);
}

/* Fills the regions row by row. */
static void fill_regions(df_figure *f, const picture *p, anchor name[REGIONS]) {
    size_t rows = (p->space->pressures - 1) * FINE, columns = (p->space->shelves - 1) * FINE;
    for (int k = 0; k < REGIONS; k++)
        name[k] = (anchor){.top = INFINITY, .bottom = -INFINITY, .off = INFINITY};
    for (int pass = 0; pass < 2; pass++)
        for (size_t r = 0; r < rows; r++) {
            double low = (double)r / FINE, high = (double)(r + 1) / FINE, y1 = y_of(p, low), y2 = y_of(p, high);
            for (size_t c = 0; c < columns;) {
                int here = region_at(p, ((double)c + 0.5) / FINE, 0.5 * (low + high));
                size_t from = c;
                while (c < columns && region_at(p, ((double)c + 0.5) / FINE, 0.5 * (low + high)) == here)
                    c++;
                double x1 = x_of(p, (double)from / FINE), x2 = x_of(p, (double)c / FINE);
                meet_row(&name[here], x1, x2, y1, y2, pass == 1);
                if (pass == 1)
                    continue;
                fill(f, &textures[here], (df_box){x1, y2, x2 - x1, y1 - y2});
            }
        }
}

static void name_regions(df_figure *f, picture *p, const anchor name[REGIONS]) {
    for (int k = 0; k < REGIONS; k++) {
        if (isinf(name[k].off) || name[k].bottom - name[k].top < 3.0)
            continue;
        const df_text_style style = {.size = 8.0, .bold = true, .ink = DF_INK_BLACK, .halo = true};
        double width, height;
        df_figure_text_extent(f, &width, &height, textures[k].name, style);
        if (width + 6.0 > name[k].width || height + 2.0 > name[k].bottom - name[k].top)
            continue; /* the key has it */
        df_figure_text(f, name[k].x, name[k].y, 0.5, 0.5, 0.0, textures[k].name, style);
        df_obstacles_box(&p->obstacles, (df_box){name[k].x - 0.5 * width, name[k].y - 0.5 * height, width, height});
    }
}

static int kinds(const df_space *s) {
    bool there[REGIONS] = {false};
    int n = 0;
    for (size_t i = 0; i < s->shelves * s->pressures; i++)
        there[region_of(&s->cell[i])] = true;
    for (int k = 0; k < REGIONS; k++)
        n += there[k];
    return n;
}

/* What the regions that are there look like, below the picture. */
static void draw_key(df_figure *f, const anchor name[REGIONS], double y) {
    const df_text_style style = {.size = 7.0, .ink = DF_INK_BLACK};
    cairo_t *cairo = df_figure_cairo(f);
    double x = EDGE;
    for (int k = 0; k < REGIONS; k++) {
        double width, height;
        if (isinf(name[k].off))
            continue;
        df_figure_text_extent(f, &width, &height, textures[k].name, style);
        if (x + 15.0 + width > DF_FIGURE_WIDTH - EDGE) {
            x = EDGE;
            y += KEY;
        }
        fill(f, &textures[k], (df_box){x, y, 12.0, 7.5});
        df_figure_ink(f, DF_INK_BLACK);
        df_figure_line_style(f, 0.5, NULL, 0);
        cairo_rectangle(cairo, x, y, 12.0, 7.5);
        cairo_stroke(cairo);
        df_figure_text(f, x + 15.0, y + 3.75, 0.0, 0.5, 0.0, textures[k].name, style);
        x += width + 24.0;
    }
}

/* ---- the page ------------------------------------------------------------------------------------------------- */

static df_status draw(df_context *ctx, df_figure *f, picture *p, df_text *out, const df_job *job, const df_dryer *d,
                      const df_recipe *first) {
    static const double dash[] = {4.5, 2.2}, dots[] = {1.0, 1.8};
    const df_space *s = p->space;
    char below[400], title[200], notes[700], label[32];
    size_t used = (size_t)snprintf(below, sizeof below, "%s; margin %.3g K", d->name, s->margin);
    if (first != NULL)
        used += (size_t)snprintf(below + used, sizeof below - used,
                                 "; before: shelf %.0f °C for %.3g h, until the solvent has gone",
                                 df_celsius(first->shelf_temperature[0]), first->time[first->n - 1] / 3600.0);
    if (s->fastest != SIZE_MAX && used < sizeof below)
        snprintf(below + used, sizeof below - used, "; fastest: %.0f °C, %.2g mbar, %.1f h (diamond)",
                 df_celsius(s->shelf[s->fastest % s->shelves]), s->pressure[s->fastest / s->shelves] / 100.0,
                 s->cell[s->fastest].time / 3600.0);
    snprintf(title, sizeof title, "Design space of primary drying: %.120s", job->name);
    snprintf(
        notes, sizeof notes,
        "Each point is a run at one shelf temperature and pressure%s; %zu by %zu. Thick: hottest point at its limit "
        "less "
        "the margin. Dashed: the framework's vapour alone reaches the pressure that is to be held (%.0f %%). Dotted: "
        "duct at %.0f %% of sonic flow. Thin: hours of primary drying. Cake resistance: %s. Computed, not measured.",
        first != NULL ? " after the solvent has gone" : " throughout", s->shelves, s->pressures,
        100.0 * DF_HOLD_PRESSURE, 100.0 * DF_HOLD_CHOKE,
        job->cake.stated ? "stated in the job" : "assumed from the share of solids");
    df_sheet sheet = {.heading = title,
                      .subheading = below,
                      .title = title,
                      .notes = notes,
                      .picture = TOP + HEIGHT + 34.0 + (kinds(s) > ROW_OF_KEY ? 2.0 : 1.0) * KEY};
    df_status status = df_sheet_begin(ctx, f, &sheet);
    if (status < 0)
        return status;
    cairo_t *cairo = df_figure_cairo(f);
    cairo_translate(cairo, 0.0, sheet.top);
    anchor names[REGIONS];
    fill_regions(f, p, names);
    double hours[40];
    size_t levels = time_levels(hours, s, 40), every = levels > 14 ? 2 : 1;
    const field time = {s, time_at}, product = {s, product_at}, load = {s, load_at}, choke = {s, choke_at};
    best_place place[40][PLACES], unused[PLACES];
    bool seen[40] = {false};
    cairo_save(cairo);
    cairo_rectangle(cairo, p->x.page_low, p->y.page_high, p->x.page_high - p->x.page_low,
                    p->y.page_low - p->y.page_high);
    cairo_clip(cairo);
    for (size_t k = 0; k < levels; k += every) {
        df_figure_ink(f, df_figure_curve_ink(0));
        df_figure_line_style(f, 0.6, NULL, 0);
        seen[k] = draw_level(f, p, &time, log(hours[k]), place[k]);
    }
    df_figure_ink(f, DF_INK_BLACK);
    df_figure_line_style(f, 0.9, dash, 2);
    draw_level(f, p, &load, 0.0, unused);
    df_figure_line_style(f, 0.9, dots, 2);
    draw_level(f, p, &choke, 0.0, unused);
    df_figure_line_style(f, 1.5, NULL, 0);
    draw_level(f, p, &product, 0.0, unused);
    if (s->fastest != SIZE_MAX) {
        double x = x_of(p, (double)(s->fastest % s->shelves)), y = y_of(p, (double)(s->fastest / s->shelves));
        df_figure_ink(f, DF_INK_BLACK);
        df_figure_mark(f, x, y, DF_MARK_DIAMOND, DF_MARK_FULL);
        df_obstacles_box(&p->obstacles, (df_box){x - 4.0, y - 4.0, 8.0, 8.0});
    }
    name_regions(f, p, names);
    for (size_t k = 0; k < levels; k += every)
        if (seen[k]) {
            snprintf(label, sizeof label, "%.3g h", hours[k]);
            label_level(f, p, place[k], label);
        }
    cairo_restore(cairo);
    df_figure_frame(f, &p->x, &p->y, true, "shelf temperature, °C", "chamber pressure, mbar");
    draw_key(f, names, TOP + HEIGHT + 35.0);
    return p->obstacles.failed ? df_fail(ctx, DF_E_MEMORY, "out of memory") : df_figure_finish(ctx, out, f);
}

df_status df_report_space_figure(df_context *ctx, df_text *out, const df_space *s, const df_job *job,
                                 const df_dryer *d, const df_recipe *first) {
    df_figure *figure = NULL;
    picture p = {.space = s};
    p.x = (df_axis){df_celsius(s->shelf[0]), df_celsius(s->shelf[s->shelves - 1]), LEFT, DF_FIGURE_WIDTH - RIGHT};
    p.y = (df_axis){log10(s->pressure[0] / 100.0), log10(s->pressure[s->pressures - 1] / 100.0), TOP + HEIGHT, TOP};
    df_status status = df_figure_create(ctx, &figure);
    if (status >= 0)
        status = draw(ctx, figure, &p, out, job, d, first);
    df_figure_free(figure);
    df_obstacles_free(&p.obstacles);
    return status;
}
