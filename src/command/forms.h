/* What the parsers ask of every field of a file, for forms. */
#ifndef DRYFRONT_COMMAND_FORMS_H
#define DRYFRONT_COMMAND_FORMS_H

#include "dryfront/base.h"

/* {"form", "fields": [...]} of "job", "dryer", "container", "solute" or "substance"; NULL: {"forms": [...]} of all. The rows of
 * data/fields.csv, in their order. DF_E_UNKNOWN_NAME; DF_E_MEMORY. */
DF_NODISCARD df_status df_forms_json(df_context *ctx, df_text *out, const char *form);

#endif
