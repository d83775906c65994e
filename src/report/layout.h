/* Paragraphs with a label in front, for a terminal of 80 columns. */
#ifndef DRYFRONT_REPORT_LAYOUT_H
#define DRYFRONT_REPORT_LAYOUT_H

#include "dryfront/base.h"

#define DF_LABEL_WIDTH 12
#define DF_LINE_WIDTH 80

/* Appends `paragraph` broken at spaces, `label` in front of its first line, the others indented as wide. */
void df_layout_paragraph(df_text *out, const char *label, const char *paragraph);
/* The same, formatted. */
void df_layout_printf(df_text *out, const char *label, const char *format, ...) DF_PRINTF(3, 4);

#endif
