/* Shared by the files of this room: what is not sure of a job. */
#ifndef DRYFRONT_ADVICE_UNCERTAIN_H
#define DRYFRONT_ADVICE_UNCERTAIN_H

#include "base/yaml_write.h"
#include "dryfront/uncertain.h"

/* Reads the section 'uncertainty' of a job; NULL: there is none. DF_E_INPUT. */
df_status df_uncertain_read(df_context *ctx, df_uncertain_stated stated[DF_UNCERTAINS], const df_yaml_node *map);
/* Writes it, where the job states any. */
void df_uncertain_write(df_yaml_writer *writer, const df_uncertain_stated stated[DF_UNCERTAINS]);

#endif
