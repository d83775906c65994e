/* Points of low discrepancy, normal numbers, estimates with their standard errors, and Sobol indices. */
#ifndef DRYFRONT_ADVICE_SOBOL_H
#define DRYFRONT_ADVICE_SOBOL_H

#include "dryfront/uncertain.h"

#define DF_SOBOL_DIMENSIONS 64

/* A Sobol sequence in up to 64 dimensions (direction numbers of Joe & Kuo, SIAM J. Sci. Comput. 30 (2008) 2635), scrambled
 * digit by digit (Owen, in Monte Carlo and Quasi-Monte Carlo Methods 1994, Springer 1995, 287) where `scrambled`. The same seed
 * gives the same points on every machine; seeds that differ give independent scramblings. */
typedef struct df_sobol {
    size_t n;
    uint64_t seed;
    bool scrambled;
    uint32_t direction[DF_SOBOL_DIMENSIONS][32];
} df_sobol;
void df_sobol_make(df_sobol *sobol, size_t n, uint64_t seed, bool scrambled);
/* Point `index` (from 0): n numbers between 0 and 1, both left out. */
void df_sobol_point(double *u, const df_sobol *sobol, uint32_t index);

/* Well mixed bits of x: the finaliser of splitmix64 (Steele, Lea & Flood, OOPSLA 2014). */
uint64_t df_mix_bits(uint64_t x);

/* z with Phi(z) = u for 0 < u < 1: Abramowitz & Stegun 26.2.23, then Halley's steps on erfc to rounding. */
double df_normal_quantile(double u);

/* ---- estimates ------------------------------------------------------------------------------------------------ */

/* The values stand as `replicates` blocks of `each`, each block a scrambling of its own; NAN counts as not there. The standard
 * error is that of the blocks' estimates among each other over sqrt(replicates): it holds for points that are not independent
 * within a block (Owen, ACM Trans. Model. Comput. Simul. 8 (1998) 71). NAN where nothing is there. */
df_estimate df_estimate_mean(const double *value, size_t replicates, size_t each);
/* Quantile q of all values together (linear between order statistics); `room` for replicates * each numbers. */
df_estimate df_estimate_quantile(const double *value, size_t replicates, size_t each, double q, double *room);

/* First-order and total index of one group of inputs, from f at points A, B, and at A with that group's inputs from B:
 *     S = mean(f_B (f_AB - f_A))/V,  S_T = mean((f_A - f_AB)^2)/(2 V)
 * (Saltelli et al., Comput. Phys. Commun. 181 (2010) 259; Jansen, Comput. Phys. Commun. 117 (1999) 35), V the variance of A and B
 * together. Blocks as above. NAN where any value is, or nothing varies. */
typedef struct df_sobol_index {
    df_estimate first, total;
} df_sobol_index;
df_sobol_index df_sobol_index_of(const double *a, const double *b, const double *ab, size_t replicates, size_t each);

#endif
