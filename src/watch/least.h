/* Weighted nonlinear least squares with covariance. */
#ifndef DRYFRONT_WATCH_LEAST_H
#define DRYFRONT_WATCH_LEAST_H

#include "dryfront/base.h"

#define DF_LEAST_MOST 24 /* parameters */

/* Residuals at `value`: first those of the data, each divided by its relative uncertainty, in order of time; then the
 * priors, each divided by its standard deviation. False where the model has no value there. */
typedef bool (*df_residuals)(double *residual, const double *value, void *data);

/* A problem and its answer. Minimises sum(data^2)/noise^2 + sum(prior^2) between bounds by Levenberg-Marquardt (Marquardt,
 * J. Soc. Ind. Appl. Math. 11 (1963) 431) with central differences; `noise` is the root mean square of the data's residuals
 * over their degrees of freedom, at least `least_noise`, found together with the parameters. Where neighbouring residuals
 * are correlated by rho > 0 the data count for less: noise^2 (1 + rho)/(1 - rho), as of a first-order autoregression.
 * Covariance: the inverse of the normal matrix. A parameter at a bound keeps its place in it. */
typedef struct df_least {
    size_t parameters, data, priors;
    double value[DF_LEAST_MOST]; /* start, then answer */
    double lower[DF_LEAST_MOST], upper[DF_LEAST_MOST];
    double step[DF_LEAST_MOST]; /* of the difference quotient */
    double least_noise;
    double settled; /* relative fall of the objective that ends a search; 0: 1e-8 */
    double sigma[DF_LEAST_MOST], covariance[DF_LEAST_MOST][DF_LEAST_MOST];
    double noise, correlation;
    long iterations;
} df_least;

/* DF_E_INPUT: fewer data than parameters; DF_E_CONVERGENCE with `what` in the sentence; DF_E_MEMORY. */
DF_NODISCARD df_status df_least_fit(df_context *ctx, df_least *problem, df_residuals residuals, void *data,
                                    const char *what);

#endif
