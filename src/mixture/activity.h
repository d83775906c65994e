/* The pairs' model at one temperature, written once for every number of components: where that number is a constant the compiler
 * unrolls it, and most of an equilibrium's time goes here. */
#ifndef DRYFRONT_MIXTURE_ACTIVITY_H
#define DRYFRONT_MIXTURE_ACTIVITY_H

#include "mixture/mixture.h"

#define DF_UNROLLED static inline __attribute__((always_inline))

/* Adds the Redlich-Kister part. With g(x) its GE/RT as a function of independent x, g_i and g_ij its derivatives:
 *   ln gamma_i = g + g_i - sum_k x_k g_k,   d ln gamma_i/d n_j = (D_ij - sum_l x_l D_il)/n,  D_ij = g_ij - sum_k x_k g_kj. */
DF_UNROLLED void df_activity_correct(double *gamma_ln, double *slope, const df_nrtl *model, const double *amount,
                                     const size_t n) {
    double total = 0.0, inverse, x[DF_N], g = 0.0, first[DF_N], second[DF_N][DF_N];
    for (size_t i = 0; i < n; i++)
        total += amount[i];
    inverse = 1.0 / total;
    for (size_t i = 0; i < n; i++) {
        x[i] = amount[i] * inverse;
        first[i] = 0.0;
        for (size_t j = 0; j < n; j++)
            second[i][j] = 0.0;
    }
    for (size_t i = 0; i < n; i++)
        for (size_t j = i + 1; j < n; j++) {
            const double *r = model->cold[i][j];
            if (r[0] == 0.0 && r[1] == 0.0 && r[2] == 0.0)
                continue;
            double d = x[i] - x[j], u = x[i] * x[j];
            double p = r[0] + d * (r[1] + d * r[2]), dp = r[1] + 2.0 * d * r[2], ddp = 2.0 * r[2];
            g += u * p;
            first[i] += x[j] * p + u * dp;
            first[j] += x[i] * p - u * dp;
            second[i][i] += 2.0 * x[j] * dp + u * ddp;
            second[j][j] += u * ddp - 2.0 * x[i] * dp;
            second[i][j] += p + d * dp - u * ddp;
            second[j][i] = second[i][j];
        }
    double mean = 0.0;
    for (size_t k = 0; k < n; k++)
        mean += x[k] * first[k];
    for (size_t i = 0; i < n; i++)
        gamma_ln[i] += g + first[i] - mean;
    if (slope == NULL)
        return;
    double column[DF_N];
    for (size_t j = 0; j < n; j++) {
        column[j] = 0.0;
        for (size_t k = 0; k < n; k++)
            column[j] += x[k] * second[k][j];
    }
    for (size_t i = 0; i < n; i++) {
        double row = 0.0;
        for (size_t l = 0; l < n; l++)
            row += x[l] * (second[i][l] - column[l]);
        for (size_t j = 0; j < n; j++)
            slope[i * n + j] += (second[i][j] - column[j] - row) * inverse;
    }
}

/* With C_j = sum_k x_k G_kj and S_j = sum_k x_k tau_kj G_kj:
 *   ln gamma_i = S_i/C_i + sum_j x_j G_ij/C_j (tau_ij - S_j/C_j), and, with W_ij = G_ij/C_j (tau_ij - S_j/C_j),
 *   d ln gamma_i/d x_m = W_mi + W_im - sum_j x_j (W_ij G_mj + W_mj G_ij)/C_j. */
DF_UNROLLED void df_activity(double *gamma_ln, double *slope, const df_nrtl *model, const double *x, const size_t n) {
    double inverse[DF_N], ratio[DF_N], w[DF_N][DF_N];
    for (size_t j = 0; j < n; j++) {
        double c = 0.0, s = 0.0;
        for (size_t k = 0; k < n; k++) {
            double xg = x[k] * model->g[k][j];
            c += xg;
            s += xg * model->tau[k][j];
        }
        inverse[j] = 1.0 / c;
        ratio[j] = s * inverse[j];
    }
    for (size_t i = 0; i < n; i++) {
        double sum = ratio[i];
        for (size_t j = 0; j < n; j++) {
            w[i][j] = model->g[i][j] * inverse[j] * (model->tau[i][j] - ratio[j]);
            sum += x[j] * w[i][j];
        }
        gamma_ln[i] = sum;
    }
    if (slope != NULL)
        for (size_t i = 0; i < n; i++)
            for (size_t m = 0; m <= i; m++) {
                double sum = w[m][i] + w[i][m];
                for (size_t j = 0; j < n; j++)
                    sum -= x[j] * inverse[j] * (w[i][j] * model->g[m][j] + w[m][j] * model->g[i][j]);
                slope[i * n + m] = slope[m * n + i] = sum;
            }
    if (model->corrected)
        df_activity_correct(gamma_ln, slope, model, x, n);
}

#endif
