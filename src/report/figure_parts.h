/* What the figures of mixtures have in common: names, footnotes, the page around the picture. */
#ifndef DRYFRONT_REPORT_FIGURE_PARTS_H
#define DRYFRONT_REPORT_FIGURE_PARTS_H

#include "report/figure.h"
#include "report/parts.h"

/* "Acetonitrile–water". Returns out. */
const char *df_figure_mixture_name(char *out, size_t size, const df_composition *composition);
/* "ice + acetonitrile crystal", "two liquids", "tert-butanol·7H₂O + liquid". Returns out. */
const char *df_figure_mark_name(char *out, size_t size, const df_mixture *mixture, df_phase_mark mark);
/* "solids that form in practice", and the like. */
const char *df_figure_mode_words(char *out, size_t size, const df_composition *composition, df_freezing_mode mode);
/* "% v/v", held together. */
const char *df_figure_unit(df_basis basis);
/* Notes, begun with `first`: each pair's grade and range, its source where the pairs are few, hydrates and their
 * sources, solids left out, the basis. */
void df_figure_trust(df_text *out, const char *first, const df_mixture *mixture, const bool *allowed, df_basis basis);

/* The page around a picture: heading above, legend and notes below. Set all but `top` and `height`. */
typedef struct df_sheet {
    const char *heading, *subheading, *title; /* the last for those who cannot see the picture */
    const df_legend_entry *legend;
    size_t legends;
    const char *key; /* what numbers in the picture mean, NULL: there are none */
    const char *notes;
    double width;   /* points; 0: DF_FIGURE_WIDTH */
    double picture; /* height needed between heading and legend, points */
    double top;     /* where the picture begins */
    double height;  /* of the page */
} df_sheet;

/* Begins the page as high as it has to be and draws heading, legend and notes. */
DF_NODISCARD df_status df_sheet_begin(df_context *ctx, df_figure *figure, df_sheet *sheet);

/* The ink of curve i of a picture: told apart by the colour-blind, and by their greys. */
df_ink df_figure_curve_ink(size_t i);

/* The name of a curve at its right end. */
typedef struct df_end_label {
    double wish, at; /* on the page: where the curve ends, where the name is put */
    const char *text;
    df_ink ink;
    bool bold;
} df_end_label;
/* Names right of `x` between top and bottom of a panel, pushed apart, with a line from each to its curve; sorts them. A name
 * wider than `room` is set smaller. */
void df_figure_name_ends(df_figure *figure, df_end_label *label, size_t n, double x, double top, double bottom,
                         double room);
/* Puts a text at the first place beside a point that is free, each of the `rings` 3 points further off than the one before,
 * with a line to it from the third on. False, and nothing put, where none is free. */
bool df_figure_put_free(df_figure *figure, df_obstacles *obstacles, df_box bounds, double x, double y,
                        const char *text, df_text_style style, int rings);

/* A figure's numbers as CSV: its head, then rows. Every table begins with what kind of thing it is, its name, and which curve of
 * those; `key` of a fraction's column: "acetonitrile_percent_v_v". */
void df_figure_csv_begin(df_text *csv);
void df_figure_csv_fraction(df_text *csv, const df_composition *composition, size_t i);
void df_figure_csv_row(df_text *csv, const char *kind, const char *name, size_t curve);

/* Each kind of figure, for df_report_phase_figure. `composition` has two or three components. */
DF_NODISCARD df_status df_figure_binary(df_context *ctx, df_text *out, df_text *csv, const df_pairs *pairs,
                                        const df_composition *composition, df_freezing_mode mode);
DF_NODISCARD df_status df_figure_triangle(df_context *ctx, df_text *out, df_text *csv, const df_pairs *pairs,
                                          const df_composition *composition, double temperature,
                                          df_freezing_mode mode);

#endif
