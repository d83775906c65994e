/* Where a failure lies: for those of the base room that know it. */
#ifndef DRYFRONT_BASE_FAULT_H
#define DRYFRONT_BASE_FAULT_H

#include "dryfront/base.h"

/* Says where the failure recorded last lies; forgotten with the next. A name that is too long is left out. */
void df_context_put_fault(df_context *ctx, const char *file, size_t line, const char *field);

#endif
