/* Shared by the files of this room: judging a run. */
#ifndef DRYFRONT_ADVICE_STAND_H
#define DRYFRONT_ADVICE_STAND_H

#include "dryfront/advice.h"

typedef struct df_verdict {
    df_standing standing;
    df_cause cause;
    size_t worst; /* class that decides */
} df_verdict;

/* ---- trial.c: a job made ready for runs ------------------------------------------------------------------------- */

/* Refuses a job that does not fit the dryer: DF_E_INPUT. */
df_status df_trial_fit(df_context *ctx, const df_job *job, const df_dryer *dryer);
/* The frozen path of a job with its solutes. Errors as df_frozen_path_follow. */
df_status df_trial_path(df_context *ctx, df_frozen_path *path, const df_job *job, const df_pairs *pairs);
/* Temperature as loaded, K. */
double df_trial_loaded(const df_job *job, const df_frozen_path *path);
/* Lowest critical temperature of the solutes, K; NAN: none known. */
double df_trial_critical(const df_job *job);
/* Volume that a fill (m3) takes up once frozen: volatiles at their frozen density, solutes at their own. */
double df_trial_volume(const df_job *job, const df_frozen_path *path, double fill);
/* Body of a class of the group at its spot, frozen from `fill` (m3 each), and what of it the room sees. Errors as df_shape_make. */
df_status df_trial_shape(df_context *ctx, df_class *class_, const df_job *job, const df_group *group,
                         const df_frozen_path *path, double fill);
/* The setup of a job, which borrows path and deposit. With `whole` the run as the job has it: what is bound, and on to the
 * targets and the recipe's end; without, as trials ask it: primary drying alone. */
df_status df_trial_fill(df_context *ctx, df_setup *setup, const df_job *job, const df_dryer *dryer,
                        const df_frozen_path *path, const df_deposit *deposit, double start, bool whole);

/* Standing after a run; the cause where the run itself shows it. */
df_verdict df_verdict_of_run(const df_run *run, const df_setup *setup);
/* Whether too little is solid as loaded; if so the verdict, too. */
bool df_verdict_afloat(df_verdict *verdict, const df_job *job, const df_frozen_path *path);
/* Judges without words: path (made here where `new_path`), fit, a terse run. With `rigid_only` it ends as soon as it is not
 * rigid. `hours` may be NULL. */
df_status df_verdict_quick(df_context *ctx, df_verdict *verdict, double *hours, const df_job *job,
                           const df_dryer *dryer, const df_pairs *pairs, df_frozen_path *path,
                           const df_deposit *deposit, df_setup *setup, bool new_path, bool rigid_only);

/* Runs a setup and judges it; `hours` (may be NULL) of primary drying, or of the run where that has no end. */
df_status df_verdict_try(df_context *ctx, df_verdict *verdict, double *hours, const df_setup *setup);

#define DF_TIDY_DIGITS 4 /* significant, of volumes, amounts and pressures that are proposed */

/* ---- remedy.c --------------------------------------------------------------------------------------------------- */

/* Solvents together, volume fraction. */
double df_organic_fraction(const df_composition *composition);
/* The composition with its organic part scaled to `fraction` by volume, water taking the rest. False without water. */
bool df_composition_scaled(df_composition *out, const df_composition *composition, double fraction);
/* A hold at `to` (K) until `until` (s), then within an hour to where the recipe is by then. False where that takes more set
 * points than a recipe has. */
bool df_hold_put(df_recipe *recipe, double to, double until);
/* How long (s) a shelf held at `to` (K) needs until the solvent has gone everywhere, in whole hours with half an hour to
 * spare; NAN where it does not go. With `rigid_only` the run ends where the margin is lost: *lost. */
df_status df_hold_length(df_context *ctx, double *length, bool *lost, const df_job *job, const df_dryer *dryer,
                         const df_frozen_path *path, const df_deposit *deposit, df_setup *setup, double to,
                         bool rigid_only);
/* Fills stand->remedy. */
df_status df_stand_find_remedies(df_context *ctx, df_stand *stand, const df_job *job, const df_dryer *dryer,
                                 const df_pairs *pairs);

/* ---- take.c ----------------------------------------------------------------------------------------------------- */

/* Moves a trap to another no-load temperature, its points to a millionth of a degree. */
void df_trap_bring(df_trap *trap, double no_load);

/* ---- bands.c ---------------------------------------------------------------------------------------------------- */

/* Bands of a job that was simulated. */
df_status df_stand_find_bands(df_context *ctx, df_stand *stand, const df_job *job, const df_pairs *pairs);
/* Bands of a solvent's ceilings. */
df_status df_ceiling_find_bands(df_context *ctx, df_ceiling *ceiling, const df_dryer *dryer, const df_pairs *pairs,
                                const df_substance *water);

#endif
