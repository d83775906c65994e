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
    double picture; /* height needed between heading and legend, points */
    double top;     /* where the picture begins */
    double height;  /* of the page */
} df_sheet;

/* Begins the page as high as it has to be and draws heading, legend and notes. */
DF_NODISCARD df_status df_sheet_begin(df_context *ctx, df_figure *figure, df_sheet *sheet);

/* Each kind of figure, for df_report_phase_figure. `composition` has two or three components. */
DF_NODISCARD df_status df_figure_binary(df_context *ctx, df_text *out, const df_pairs *pairs,
                                        const df_composition *composition, df_freezing_mode mode);
DF_NODISCARD df_status df_figure_triangle(df_context *ctx, df_text *out, const df_pairs *pairs,
                                          const df_composition *composition, double temperature,
                                          df_freezing_mode mode);

#endif
