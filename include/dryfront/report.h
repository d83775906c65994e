/* dryfront/report.h: results as text for a terminal of 80 columns and as JSON for other programs. */
#ifndef DRYFRONT_REPORT_H
#define DRYFRONT_REPORT_H

#include "dryfront/routes.h"
#include "dryfront/uncertain.h"
#include "dryfront/recipe.h"
#include "dryfront/watch.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Each pair appends to `out`: _text in 80 columns, ending in a newline; _json one JSON object (docs/schema/NAME.json),
 * indented by two, ending in a newline. DF_E_MEMORY where the text grew too large. Temperatures in °C, pressures in mbar,
 * masses in g, times in h; every JSON key names its unit. */

/* How a job stands. `text` (may be NULL): of the job's file, whose comments go into the jobs that are handed over. */
DF_NODISCARD df_status df_report_stand_text(df_context *ctx, df_text *out, const df_stand *stand, const df_job *job,
                                            const df_dryer *dryer);
DF_NODISCARD df_status df_report_stand_json(df_context *ctx, df_text *out, const df_stand *stand, const df_job *job,
                                            const df_dryer *dryer, const char *text);

/* The run of a job as it is (df_stand_simulate): phases, containers, what happens, pressure, traps, pump, exhaust, what is left in
 * the product, the account, waste, coolant, trust. `pairs` for the flash point of what thaws from the traps. */
DF_NODISCARD df_status df_report_run_text(df_context *ctx, df_text *out, const df_stand *stand, const df_job *job,
                                          const df_dryer *dryer, const df_pairs *pairs);
DF_NODISCARD df_status df_report_run_json(df_context *ctx, df_text *out, const df_stand *stand, const df_job *job,
                                          const df_dryer *dryer, const df_pairs *pairs);
/* Its series, a row for each moment, the unit in the name of each column (docs/run.md). DF_E_INPUT: there was no run. */
DF_NODISCARD df_status df_report_run_csv(df_context *ctx, df_text *out, const df_stand *stand);
/* The run over time, as one SVG page of 17 cm width. DF_E_INPUT: there was no run; errors as the other figures. */
DF_NODISCARD df_status df_report_run_figure(df_context *ctx, df_text *out, const df_stand *stand, const df_job *job);

/* What is not sure of a job and what it does (df_risk_assess). */
DF_NODISCARD df_status df_report_risk_text(df_context *ctx, df_text *out, const df_risk *risk, const df_job *job,
                                           const df_dryer *dryer);
DF_NODISCARD df_status df_report_risk_json(df_context *ctx, df_text *out, const df_risk *risk, const df_job *job,
                                           const df_dryer *dryer);

/* Routes of the task's job. */
DF_NODISCARD df_status df_report_routes_text(df_context *ctx, df_text *out, const df_routes *routes,
                                             const df_routes_task *task);
DF_NODISCARD df_status df_report_routes_json(df_context *ctx, df_text *out, const df_routes *routes,
                                             const df_routes_task *task);

/* n jobs on m dryers side by side (df_compare); `name`: what the user calls the dryers. */
DF_NODISCARD df_status df_report_compare_text(df_context *ctx, df_text *out, const df_comparison *cell,
                                              const df_job *job, size_t n, const df_dryer *dryer,
                                              const char *const *name, size_t m);
DF_NODISCARD df_status df_report_compare_json(df_context *ctx, df_text *out, const df_comparison *cell,
                                              const df_job *job, size_t n, const df_dryer *dryer,
                                              const char *const *name, size_t m);
/* The fastest recipe of a job; `stand`: a full run of what is to be taken (of the job's own where there is none); `space` may be
 * NULL; `text` as for df_report_stand_json. */
DF_NODISCARD df_status df_report_recipe_text(df_context *ctx, df_text *out, const df_recipe_advice *advice,
                                             const df_stand *stand, const df_job *job, const df_dryer *dryer,
                                             const df_space *space);
DF_NODISCARD df_status df_report_recipe_json(df_context *ctx, df_text *out, const df_recipe_advice *advice,
                                             const df_stand *stand, const df_job *job, const df_dryer *dryer,
                                             const df_space *space, const char *text);
/* A design space: a row for each cell, the unit in the name of each column (docs/recipe.md); and as one SVG page of 12 cm width.
 * `first` as given to df_space_find. */
DF_NODISCARD df_status df_report_space_csv(df_context *ctx, df_text *out, const df_space *space);
DF_NODISCARD df_status df_report_space_figure(df_context *ctx, df_text *out, const df_space *space, const df_job *job,
                                              const df_dryer *dryer, const df_recipe *first);

/* Ceilings of n solvents on a dryer. */
DF_NODISCARD df_status df_report_ceilings_text(df_context *ctx, df_text *out, const df_ceiling *ceiling, size_t n,
                                               const df_dryer *dryer);
DF_NODISCARD df_status df_report_ceilings_json(df_context *ctx, df_text *out, const df_ceiling *ceiling, size_t n,
                                               const df_dryer *dryer);

/* The same of m dryers side by side: ceiling[dryer * n + solvent]; `name`: what the user calls the dryers. */
DF_NODISCARD df_status df_report_ceilings_beside_text(df_context *ctx, df_text *out, const df_ceiling *ceiling,
                                                      size_t n, const df_dryer *dryer, const char *const *name,
                                                      size_t m);
DF_NODISCARD df_status df_report_ceilings_beside_json(df_context *ctx, df_text *out, const df_ceiling *ceiling,
                                                      size_t n, const df_dryer *dryer, size_t m);

/* Phases of a composition: freezing range, what is there at a list of temperatures (K), trust. */
DF_NODISCARD df_status df_report_phases_text(df_context *ctx, df_text *out, const df_pairs *pairs,
                                             const df_composition *composition, const double *temperatures, size_t n,
                                             df_freezing_mode mode);
DF_NODISCARD df_status df_report_phases_json(df_context *ctx, df_text *out, const df_pairs *pairs,
                                             const df_composition *composition, const double *temperatures, size_t n,
                                             df_freezing_mode mode);

/* Figures, as one SVG document of 12 cm width each; text is set as outlines, its words stand in the description. The
 * same input gives the same bytes on one machine. `csv`: the numbers that are drawn, a row for each point of each line, the
 * unit in the name of each column (docs/figures.md); `svg` and `csv` may be NULL. DF_E_INPUT: what cannot be drawn; errors as
 * df_mixture_equilibrium.
 *
 * Phases of two components (temperature against composition, `temperature` unused), or of three at `temperature` (K;
 * NAN is refused): regions named by what is in them, measured points of the sources, the composition itself.
 * Fractions are of the composition's basis. */
DF_NODISCARD df_status df_report_phase_figure(df_context *ctx, df_text *svg, df_text *csv, const df_pairs *pairs,
                                              const df_composition *composition, double temperature,
                                              df_freezing_mode mode);
/* Vapour pressure against temperature: crystal and liquid of each component, the mixture in all on its cooling path,
 * and with `dryer` (may be NULL) its trap's no-load temperature, its pump's ultimate pressure, and from a run of its
 * reference load with the mixture the warmest trap surface and the hottest frozen point. Errors as df_stand_judge. */
DF_NODISCARD df_status df_report_pressure_figure(df_context *ctx, df_text *svg, df_text *csv, const df_pairs *pairs,
                                                 const df_composition *composition, const df_dryer *dryer,
                                                 df_freezing_mode mode);

/* Vapour over a composition at a temperature (K; pressure NAN), or its bubble point at a pressure (Pa; temperature NAN). */
DF_NODISCARD df_status df_report_vapour_text(df_context *ctx, df_text *out, const df_pairs *pairs,
                                             const df_composition *composition, double temperature, double pressure,
                                             df_freezing_mode mode);
DF_NODISCARD df_status df_report_vapour_json(df_context *ctx, df_text *out, const df_pairs *pairs,
                                             const df_composition *composition, double temperature, double pressure,
                                             df_freezing_mode mode);

/* What `dryfront tune` has learnt. */
typedef struct df_tuning {
    const char *dryer, *date; /* its name; YYYY-MM-DD */
    const df_fit *fit;
    size_t fits;
    const df_cake *cake;          /* of the product; NULL: none was asked for */
    const char *written, *before; /* paths: the file written, the copy of the old one; NULL: none */
} df_tuning;
DF_NODISCARD df_status df_report_tune_text(df_context *ctx, df_text *out, const df_tuning *tuning);
DF_NODISCARD df_status df_report_tune_json(df_context *ctx, df_text *out, const df_tuning *tuning);

/* The list of substances, or one of them in full (substance not NULL). */
DF_NODISCARD df_status df_report_substances_text(df_context *ctx, df_text *out, const df_substances *substances,
                                                 const df_pairs *pairs, const df_substance *substance);
DF_NODISCARD df_status df_report_substances_json(df_context *ctx, df_text *out, const df_substances *substances,
                                                 const df_pairs *pairs, const df_substance *substance);

/* One sentence of usual caution for a substance ("" where there is none beyond good practice); from data/safety.csv.
 * Always defers to local rules and the safety data sheet. Writes to out[size]. */
void df_report_caution(char *out, size_t size, const df_substance *substance);

/* Its hazard statements ("H225, H302 (from memory)"; "" where there are none on file); from data/safety.csv. */
void df_report_hazards(char *out, size_t size, const df_substance *substance);

/* A strip distillation of `composition` (component for component the mixture's), with the azeotropes of its pairs.
 * `basis` is that of the task's measure: of the fraction, or mass or volume for an amount left. */
DF_NODISCARD df_status df_report_strip_text(df_context *ctx, df_text *out, const df_strip *strip,
                                            const df_strip_task *task, df_basis basis, const df_mixture *mixture,
                                            const df_composition *composition);
DF_NODISCARD df_status df_report_strip_json(df_context *ctx, df_text *out, const df_strip *strip,
                                            const df_strip_task *task, df_basis basis, const df_mixture *mixture,
                                            const df_composition *composition);

#ifdef __cplusplus
}
#endif
#endif
