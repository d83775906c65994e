/* Activity coefficients of the pairs' model: NRTL and its correction in the cold (include/dryfront/mixture.h). */
#include "mixture/mixture.h"

#include <math.h>

void df_nrtl_setup(df_nrtl *model, const df_mixture *mixture, double temperature) {
    size_t n = model->n = mixture->n;
    double inverse = 1.0 / temperature, logarithm = log(temperature);
    double fade = fmax(0.0, DF_ZERO_CELSIUS * (inverse - 1.0 / 360.0));
    model->corrected = false;
    for (size_t i = 0; i < n; i++) {
        model->tau[i][i] = 0.0;
        model->g[i][i] = 1.0;
        for (size_t j = i + 1; j < n; j++) {
            const df_nrtl_pair *p = &mixture->pair[i][j];
            model->tau[i][j] = p->a[0] + p->b[0] * inverse + p->c[0] * logarithm;
            model->tau[j][i] = p->a[1] + p->b[1] * inverse + p->c[1] * logarithm;
            model->g[i][j] = exp(-p->alpha * model->tau[i][j]);
            model->g[j][i] = exp(-p->alpha * model->tau[j][i]);
            for (int k = 0; k < DF_COLD_TERMS; k++) {
                model->cold[i][j][k] = fade * p->cold[k];
                model->cold[j][i][k] = k % 2 == 0 ? model->cold[i][j][k] : -model->cold[i][j][k];
                model->corrected = model->corrected || model->cold[i][j][k] != 0.0;
            }
        }
    }
}

/* Adds the Redlich-Kister part. With g(x) its GE/RT as a function of independent x, g_i and g_ij its derivatives:
 *   ln gamma_i = g + g_i - sum_k x_k g_k,   d ln gamma_i/d n_j = (D_ij - sum_l x_l D_il)/n,  D_ij = g_ij - sum_k x_k g_kj. */
static void correct(double *gamma_ln, double *slope, const df_nrtl *model, const double *amount) {
    size_t n = model->n;
    double total = 0.0, x[DF_N], g = 0.0, first[DF_N] = {0}, second[DF_N][DF_N] = {{0}};
    for (size_t i = 0; i < n; i++)
        total += amount[i];
    for (size_t i = 0; i < n; i++)
        x[i] = amount[i] / total;
    for (size_t i = 0; i < n; i++)
        for (size_t j = i + 1; j < n; j++) {
            const double *r = model->cold[i][j];
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
            slope[i * n + j] += (second[i][j] - column[j] - row) / total;
    }
}

/* With C_j = sum_k x_k G_kj and S_j = sum_k x_k tau_kj G_kj:
 *   ln gamma_i = S_i/C_i + sum_j x_j G_ij/C_j (tau_ij - S_j/C_j), and, with W_ij = G_ij/C_j (tau_ij - S_j/C_j),
 *   d ln gamma_i/d x_m = W_mi + W_im - sum_j x_j (W_ij G_mj + W_mj G_ij)/C_j. */
void df_nrtl_activity(double *gamma_ln, double *slope, const df_nrtl *model, const double *x) {
    size_t n = model->n;
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
        correct(gamma_ln, slope, model, x);
}

void df_mixture_activity(double *gamma_ln, double *slope, const df_mixture *mixture, double temperature,
                         const double *x) {
    df_nrtl model;
    df_nrtl_setup(&model, mixture, temperature);
    df_nrtl_activity(gamma_ln, slope, &model, x);
}
