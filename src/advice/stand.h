/* Shared by the files of this room: judging a run. */
#ifndef DRYFRONT_ADVICE_STAND_H
#define DRYFRONT_ADVICE_STAND_H

#include "dryfront/advice.h"

typedef struct df_verdict {
    df_standing standing;
    df_cause cause;
    size_t worst; /* class that decides */
} df_verdict;

/* Standing after a run; the cause where the run itself shows it. */
df_verdict df_verdict_of_run(const df_run *run, const df_setup *setup);
/* Whether too little is solid as loaded; if so the verdict, too. */
bool df_verdict_afloat(df_verdict *verdict, const df_job *job, const df_frozen_path *path);
/* Judges without words: path (made here where `new_path`), fit, a terse run. With `rigid_only` it ends as soon as it is not
 * rigid. `hours` may be NULL. */
df_status df_verdict_quick(df_context *ctx, df_verdict *verdict, double *hours, const df_job *job,
                           const df_dryer *dryer, const df_pairs *pairs, df_frozen_path *path,
                           const df_deposit *deposit, df_setup *setup, bool new_path, bool rigid_only);

/* Bands of a job that was simulated. */
df_status df_stand_find_bands(df_context *ctx, df_stand *stand, const df_job *job, const df_pairs *pairs);
/* Bands of a solvent's ceilings. */
df_status df_ceiling_find_bands(df_context *ctx, df_ceiling *ceiling, const df_dryer *dryer, const df_pairs *pairs,
                                const df_substance *water);

#endif
