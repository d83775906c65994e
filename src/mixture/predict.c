/* NRTL fitted to modified UNIFAC (Dortmund), so that one model serves any number of components. */
#include "mixture/mixture.h"

#include <math.h>
#include <string.h>

#define TEMPERATURES 5
#define COMPOSITIONS 9
#define POINTS (TEMPERATURES * COMPOSITIONS)
#define LARGEST 25.0 /* of ln gamma in a liquid; beyond it the parameters are taken to be wrong */

static const double temperatures[TEMPERATURES] = {230.0, 265.0, 300.0, 345.0, 390.0}; /* K */
static const double compositions[COMPOSITIONS] = {0.001, 0.05, 0.15, 0.3, 0.5, 0.7, 0.85, 0.95, 0.999};

/* Sum of squares of weighted deviations of ln gamma; residuals in out (2 x POINTS). */
static double deviations(double *out, const double target[POINTS][2], const double v[4], double alpha) {
    double sum = 0.0;
    for (int t = 0; t < TEMPERATURES; t++) {
        double tau[2] = {v[0] + v[1] * (300.0 / temperatures[t] - 1.0),
                         v[2] + v[3] * (300.0 / temperatures[t] - 1.0)};
        double g[2] = {exp(-alpha * tau[0]), exp(-alpha * tau[1])};
        for (int c = 0; c < COMPOSITIONS; c++) {
            int at = t * COMPOSITIONS + c;
            double x1 = compositions[c], x2 = 1.0 - x1;
            double d1 = x1 + x2 * g[1], d2 = x2 + x1 * g[0];
            /* tau[0] = tau_12, tau[1] = tau_21 */
            double l1 = x2 * x2 * (tau[1] * (g[1] / d1) * (g[1] / d1) + tau[0] * g[0] / (d2 * d2));
            double l2 = x1 * x1 * (tau[0] * (g[0] / d2) * (g[0] / d2) + tau[1] * g[1] / (d1 * d1));
            out[2 * at] = l1 - target[at][0];
            out[2 * at + 1] = l2 - target[at][1];
            sum += out[2 * at] * out[2 * at] + out[2 * at + 1] * out[2 * at + 1];
        }
    }
    return sum;
}

/* Levenberg-Marquardt in four parameters. */
static double fit(double v[4], const double target[POINTS][2], double alpha) {
    double r[2 * POINTS], moved[2 * POINTS], jacobian[4][2 * POINTS], damping = 1e-3;
    double best = deviations(r, target, v, alpha);
    for (int step = 0; step < 40; step++) {
        for (int k = 0; k < 4; k++) {
            double u[4];
            memcpy(u, v, sizeof u);
            u[k] += 1e-5;
            deviations(moved, target, u, alpha);
            for (int i = 0; i < 2 * POINTS; i++)
                jacobian[k][i] = (moved[i] - r[i]) / 1e-5;
        }
        double a[16], b[4], u[4];
        for (int k = 0; k < 4; k++) {
            b[k] = 0.0;
            for (int i = 0; i < 2 * POINTS; i++)
                b[k] -= jacobian[k][i] * r[i];
            for (int l = 0; l < 4; l++) {
                a[4 * k + l] = 0.0;
                for (int i = 0; i < 2 * POINTS; i++)
                    a[4 * k + l] += jacobian[k][i] * jacobian[l][i];
            }
            a[5 * k] *= 1.0 + damping;
            a[5 * k] += 1e-9;
        }
        if (!df_solve_linear(a, b, 4))
            break;
        for (int k = 0; k < 4; k++)
            u[k] = v[k] + b[k];
        double sum = deviations(moved, target, u, alpha);
        if (sum < best) {
            bool done = best - sum < 1e-10 * best;
            best = sum;
            memcpy(v, u, sizeof u);
            memcpy(r, moved, sizeof r);
            damping = fmax(damping * 0.2, 1e-12);
            if (done)
                break;
        } else if ((damping *= 8.0) > 1e8)
            break;
    }
    return best;
}

bool df_predict_pair(df_nrtl_pair *out, const df_pairs *pairs, const df_substance *i, const df_substance *j) {
    double target[POINTS][2];
    bool swapped = strcmp(i->key, j->key) > 0; /* one fit for both orders */
    const df_substance *both[2] = {swapped ? j : i, swapped ? i : j};
    for (int t = 0; t < TEMPERATURES; t++)
        for (int c = 0; c < COMPOSITIONS; c++) {
            double x[2] = {compositions[c], 1.0 - compositions[c]};
            double *gamma_ln = target[t * COMPOSITIONS + c];
            if (!df_unifac_activity(gamma_ln, pairs, both, 2, temperatures[t], x) || !(fabs(gamma_ln[0]) < LARGEST) ||
                !(fabs(gamma_ln[1]) < LARGEST))
                return false;
        }
    double best = INFINITY;
    memset(out, 0, sizeof *out);
    static const double alphas[] = {0.2, 0.3, 0.45};
    for (int a = 0; a < 3; a++) {
        double v[4] = {1.0, 0.5, 1.0, 0.5};
        double sum = fit(v, (const double(*)[2])target, alphas[a]);
        if (sum < best) {
            best = sum;
            out->alpha = alphas[a];
            for (int k = 0; k < 2; k++) {
                int side = swapped ? 1 - k : k;
                out->a[side] = v[2 * k] - v[2 * k + 1];
                out->b[side] = 300.0 * v[2 * k + 1];
            }
        }
    }
    out->lowest = temperatures[0];
    out->highest = temperatures[TEMPERATURES - 1];
    out->grade = DF_PAIR_PREDICTED;
    out->source = "NRTL fitted to modified UNIFAC (Dortmund), 230 K to 390 K";
    return true;
}
