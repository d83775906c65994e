/* What a dryer's file keeps beside its figures, inside the room. */
#ifndef DRYFRONT_DRYER_NOTES_H
#define DRYFRONT_DRYER_NOTES_H

#include "dryfront/dryer.h"

/* Reads 'log' and 'history' of a dryer's root; with `notes` NULL they are checked alone. */
DF_NODISCARD df_status df_dryer_notes_read(df_context *ctx, df_dryer_notes *notes, const df_yaml_node *root);

#endif
