/* What a trap gives when it is thawed, and what that is as waste. */
#ifndef DRYFRONT_REPORT_WASTE_H
#define DRYFRONT_REPORT_WASTE_H

#include "dryfront/report.h"

/* A liquid thawed from a trap, by species of the run. */
typedef struct df_waste {
    double mass[DF_MAX_COMPONENTS]; /* kg */
    double total, volume;           /* kg; m3 of the liquids before mixing at 20 °C */
    double flash_point;             /* K, NAN: none found up to 373 K */
} df_waste;

/* From masses (kg) of the run's species. The flash point is where sum x_i gamma_i p_i(T)/p_i(T_i) = 1 over what has a flash
 * point T_i of its own (Liaw and co-workers, J. Loss Prev. Process Ind. 15 (2002) 429; with water as what does not burn:
 * J. Hazard. Mater. A137 (2006) 38; both from memory): an estimate that rests on the pairs and the closed-cup figures of the
 * pure liquids. Errors as df_mixture_equilibrium. */
DF_NODISCARD df_status df_waste_find(df_context *ctx, df_waste *out, const df_run *run, const double *mass,
                                     const df_pairs *pairs);
/* "category 2" ... by flash and boiling point of the liquid (EU CLP, Annex I 2.6, from memory), "" above 60 °C. `lowest`: the
 * lowest boiling point (K) of what burns in it. */
const char *df_waste_category(double flash_point, double lowest);
/* Lowest boiling point (K) of what has a flash point in the waste; INFINITY: nothing has. */
double df_waste_boiling(const df_waste *waste, const df_run *run);

#endif
