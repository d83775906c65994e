/* Shared by the files of this room. */
#ifndef DRYFRONT_MIXTURE_INTERNAL_H
#define DRYFRONT_MIXTURE_INTERNAL_H

#include "dryfront/mixture.h"

#define DF_N DF_MAX_COMPONENTS

struct df_mixture {
    size_t n;
    const df_substance *component[DF_N];
    df_nrtl_pair pair[DF_N][DF_N]; /* [i][j] with i < j */
    size_t solids;
    df_solid solid[DF_MAX_SOLIDS];
    double pressure_shift[DF_N]; /* standard deviations by which the pure liquid's vapour pressure is moved (trust) */
};

/* Vapour pressure of the pure liquid of component i, Pa, moved as above. */
double df_mixture_pure_pressure(const df_mixture *mixture, size_t i, double temperature);

/* The pairs' model at one temperature. */
#define DF_TRACE_PAIR 2e-4 /* product of two mole fractions below which a pair does not bear on the whole */

typedef struct df_nrtl {
    size_t n;
    double tau[DF_N][DF_N], g[DF_N][DF_N];
    bool corrected;                         /* any cold term is not nought */
    double cold[DF_N][DF_N][DF_COLD_TERMS]; /* times f(T), of i < j */
} df_nrtl;

void df_nrtl_setup(df_nrtl *model, const df_mixture *mixture, double temperature);
/* x need not be normalised: gamma is of degree zero; slope[i * n + j] = d ln gamma_i/d x_j. slope may be NULL. */
void df_nrtl_activity(double *gamma_ln, double *slope, const df_nrtl *model, const double *x);

/* NRTL fitted to modified UNIFAC for a pair; false where UNIFAC has no parameters, or where they give what no liquid does
 * (its row for pyridine with CH2 takes ln gamma to -800 in the cold). The same for both orders. */
bool df_predict_pair(df_nrtl_pair *out, const df_pairs *pairs, const df_substance *i, const df_substance *j);

/* Groups and hydrates without the fitted pairs: for the tool that makes their table. */
DF_NODISCARD df_status df_pairs_create_bare(df_context *ctx, df_pairs **pairs);

/* ln K of hydrate k at its reference point by the pair's model; NAN where it has none of its own. */
double df_hydrate_reference_ln(const df_mixture *mixture, size_t k);

/* Hydrates of the pairs table whose parts are all in the mixture. */
df_status df_pairs_add_hydrates(df_context *ctx, df_mixture *mixture, const df_pairs *pairs);

/* Moves everything that is not known at once, the pure pressures included, by size[k] standard deviations in the k-th
 * direction; size holds df_mixture_directions numbers. For comparing first order with draws. */
size_t df_mixture_directions(const df_mixture *mixture);
df_status df_mixture_move_all(df_context *ctx, df_mixture *mixture, const double *size);

/* Parameters of a pair of water and a solute without vapour: a Margules term through its anchor. With another component
 * ideal. */
void df_involatile_pair(df_nrtl_pair *out, const df_substance *i, const df_substance *j);
/* Crystals of the mixture's solutes. */
df_status df_involatile_solids(df_context *ctx, df_mixture *mixture);

#endif
