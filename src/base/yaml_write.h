/* Writing YAML: quantities that read back to the same double, scalars, sections with the comments of an older text. */
#ifndef DRYFRONT_BASE_YAML_WRITE_H
#define DRYFRONT_BASE_YAML_WRITE_H

#include "dryfront/base.h"

/* Writes "number unit". `unit` (NULL: the usual one of the dimension) is taken where the number has up to six digits in it, else
 * whichever of it, its like and the SI unit gives the shortest text; each of them only where it reads back to the same double. */
void df_put_quantity(df_text *out, double si, df_dimension dimension, const char *unit);
/* The value nearest to `si` that has `digits` significant digits in a unit (not above 0: that many decimals), as it
 * reads back. */
double df_quantity_round(double si, df_dimension dimension, const char *unit, int digits);
/* A scalar, quoted where YAML could take it for something else; within brackets (`flow`) that is more. */
void df_put_scalar(df_text *out, const char *text, bool flow);

/* A comment and the field before which it goes: "chamber" or "chamber.leak"; "" at the end. */
typedef struct df_yaml_comment df_yaml_comment;

/* A file of sections with fields. */
typedef struct df_yaml_writer {
    df_text *out;
    const char *section;
    df_yaml_comment *comment;
    size_t comments;
} df_yaml_writer;

/* `original` (may be NULL): an older text, whose comments go before the fields they stood at. DF_E_MEMORY. Close it in any
 * case. */
DF_NODISCARD df_status df_yaml_writer_open(df_context *ctx, df_yaml_writer *writer, df_text *out,
                                           const char *original);
/* Writes the comments that have lost their field. DF_E_MEMORY where the text grew too large. */
DF_NODISCARD df_status df_yaml_writer_close(df_context *ctx, df_yaml_writer *writer);

/* Comments of the original at "section" or "section.field", two blanks deep with `deep`. With `whole` those of all fields of
 * the section. */
void df_yaml_comments(df_yaml_writer *writer, const char *anchor, bool deep, bool whole);
/* "key:" of the top level with the comments before it: a section begins. A list has the comments of its items before it. */
void df_yaml_section(df_yaml_writer *writer, const char *key);
void df_yaml_list(df_yaml_writer *writer, const char *key);
/* "  key:" in a section, and with a value. */
void df_yaml_field(df_yaml_writer *writer, const char *key);
void df_yaml_put_quantity(df_yaml_writer *writer, const char *key, double value, df_dimension dimension,
                          const char *unit);
void df_yaml_put_word(df_yaml_writer *writer, const char *key, const char *value);
void df_yaml_put_number(df_yaml_writer *writer, const char *key, long value);

#endif
