/* A small kit to draw figures with: page, text, axes, marks, hatching, and labels that keep clear of each other.
 *
 * Lengths are in points (1/72 inch), y downwards. Cairo draws the picture as SVG, Pango sets the text, which ends up
 * as outlines: it looks the same everywhere. All words also go into the description of the picture. */
#ifndef DRYFRONT_REPORT_FIGURE_H
#define DRYFRONT_REPORT_FIGURE_H

#include "dryfront/base.h"

#include <cairo.h>

#define DF_FIGURE_WIDTH (120.0 * 72.0 / 25.4) /* 12 cm */

typedef struct df_figure df_figure;

typedef struct df_ink {
    double red, green, blue;
} df_ink;

/* Told apart by the colour-blind, and by their greys. */
#define DF_INK_BLACK ((df_ink){0.10, 0.10, 0.10})
#define DF_INK_GREY ((df_ink){0.38, 0.38, 0.38})
#define DF_INK_WHITE ((df_ink){1.0, 1.0, 1.0})
#define DF_INK_BLUE ((df_ink){0.00, 0.35, 0.62})
#define DF_INK_TINT_LIQUID ((df_ink){1.0, 1.0, 1.0})
#define DF_INK_TINT_PARTLY ((df_ink){0.925, 0.95, 0.975}) /* solid and liquid */
#define DF_INK_TINT_SOLID ((df_ink){0.895, 0.89, 0.875})  /* solid throughout */

typedef struct df_text_style {
    double size; /* points */
    bool bold;
    df_ink ink;
    double wrap; /* width at which lines break, 0: they do not */
    bool halo;   /* a white rim, to stand on lines */
} df_text_style;

/* Makes the fonts ready; nothing is drawn before df_figure_page. DF_E_MEMORY. */
DF_NODISCARD df_status df_figure_create(df_context *ctx, df_figure **figure);
void df_figure_free(df_figure *figure); /* takes NULL */
/* Begins the page. `title` is the picture's name for those who cannot see it. */
DF_NODISCARD df_status df_figure_page(df_context *ctx, df_figure *figure, double width, double height,
                                      const char *title);
/* Ends the page and appends the SVG to `out`. DF_E_MEMORY; DF_E_INTERNAL with Cairo's word for it. */
DF_NODISCARD df_status df_figure_finish(df_context *ctx, df_text *out, df_figure *figure);
cairo_t *df_figure_cairo(df_figure *figure);

void df_figure_ink(df_figure *figure, df_ink ink);
void df_figure_line_style(df_figure *figure, double width, const double *dash, int dashes);
void df_figure_text_extent(const df_figure *figure, double *width, double *height, const char *text,
                           df_text_style style);
/* The text's box has its point (across, down), each 0 to 1, at x, y; turned by `angle` (radians, clockwise) about
 * it. */
void df_figure_text(df_figure *figure, double x, double y, double across, double down, double angle, const char *text,
                    df_text_style style);

/* "−45.7": a true minus sign. Returns out. */
const char *df_figure_number(char *out, size_t size, double value, int decimals);
/* "THF·17H₂O" from "THF.17H2O". Returns out. */
const char *df_figure_formula(char *out, size_t size, const char *name);

/* ---- axes ----------------------------------------------------------------------------------------------------- */

typedef struct df_axis {
    double low, high;           /* values at the ends (log10 of them where it is logarithmic) */
    double page_low, page_high; /* where these are on the page */
} df_axis;

double df_axis_at(const df_axis *axis, double value);
/* A step of 1, 2 or 5 times a power of ten that gives at most `most` steps. */
double df_axis_step(const df_axis *axis, int most);
/* Ticks at every `step` below a panel that ends at `bottom`; with a title numbers and the title, too. */
void df_figure_axis_x(df_figure *figure, const df_axis *x, double bottom, double step, const char *title);
/* Ticks and numbers left of a panel, at most `most` steps; the title `apart` from it (0: as close as the numbers let it).
 * `decades`: the axis holds powers of ten. */
void df_figure_axis_y(df_figure *figure, double left, const df_axis *y, bool decades, int most, double apart,
                      const char *title);
/* Frame with ticks and numbers at the bottom and left, and titles. `decades`: the y axis holds powers of ten. */
void df_figure_frame(df_figure *figure, const df_axis *x, const df_axis *y, bool decades, const char *x_title,
                     const char *y_title);

/* ---- marks, hatching, legend ---------------------------------------------------------------------------------- */

typedef enum df_mark_shape { DF_MARK_CIRCLE, DF_MARK_SQUARE, DF_MARK_DIAMOND, DF_MARK_POINTER } df_mark_shape;
typedef enum df_mark_fill { DF_MARK_FULL, DF_MARK_HALF, DF_MARK_OPEN } df_mark_fill;

/* A mark of about 4 points; the pointer is a triangle whose tip points left to x. */
void df_figure_mark(df_figure *figure, double x, double y, df_mark_shape shape, df_mark_fill fill);
/* Slanted lines over the box, to be clipped by the caller. */
void df_figure_hatch(df_figure *figure, double x, double y, double width, double height, double apart, df_ink ink);

/* Entries that flow from left to right, with a mark in front where `mark` says so. */
typedef struct df_legend_entry {
    const char *text;
    df_mark_shape shape;
    df_mark_fill fill;
    bool mark;
} df_legend_entry;
/* Draws (or only measures, with `draw` false) the legend and returns its height. */
double df_figure_legend(df_figure *figure, double x, double y, double width, const df_legend_entry *entry,
                        size_t count, bool draw);

/* ---- labels that keep clear ----------------------------------------------------------------------------------- */

typedef struct df_box {
    double x, y, width, height;
} df_box;

/* What labels keep clear of. */
typedef struct df_obstacles {
    double (*line)[4]; /* x1, y1, x2, y2 */
    size_t lines, line_room;
    df_box *box;
    size_t boxes, box_room;
    size_t soft; /* 1 + index of the one line that a name may cross where it must; 0: none */
    bool failed; /* memory ran out */
} df_obstacles;

void df_obstacles_line(df_obstacles *obstacles, double x1, double y1, double x2, double y2);
void df_obstacles_box(df_obstacles *obstacles, df_box box);
void df_obstacles_free(df_obstacles *obstacles);
/* Whether a box lies in `bounds`, at least `clear` from every line and off every box. */
bool df_obstacles_clear(const df_obstacles *obstacles, df_box box, df_box bounds, double clear);

/* A region on the page: closed rings, inside by the even-odd rule. */
typedef struct df_region {
    double (*point)[2];
    size_t points, point_room;
    size_t *ring; /* first point of each ring */
    size_t rings, ring_room;
    bool failed;
    char name[200];
    double area;
    bool named; /* on the page */
} df_region;

void df_region_begin(df_region *region); /* a new ring */
void df_region_add(df_region *region, double x, double y);
void df_region_free(df_region *region);
void df_region_path(df_figure *figure, const df_region *region); /* into Cairo's path */
df_box df_region_extent(const df_region *region);
bool df_region_inside(const df_region *region, double x, double y);

/* Names the regions that have room for their `name` inside, broken into lines where that helps. Names are added to
 * the obstacles; regions too thin to be seen are left alone. */
void df_figure_name_inside(df_figure *figure, df_obstacles *obstacles, df_region *region, size_t count, df_box bounds,
                           df_text_style style);
/* Names the others from beside, with a line to each. Where they are more than `most` they get numbers instead, and
 * `key` says what these mean: "1 ice + liquid; 2 ...". */
void df_figure_name_beside(df_figure *figure, df_obstacles *obstacles, df_text *key, df_region *region, size_t count,
                           df_box bounds, df_text_style style, size_t most);

#endif
