/* Weighted nonlinear least squares with covariance. */
#include "watch/least.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define MOST_ITERATIONS 200
#define MOST_ROUNDS 12     /* of the noise */
#define SETTLED 1e-8       /* relative fall of the objective that ends a fit */
#define CREEPING 1e-3      /* relative fall that is let pass after so many iterations */
#define NOISE_SETTLED 1e-3 /* relative change of the noise */
#define MOST_CORRELATED 0.98
#define M DF_LEAST_MOST

typedef struct work {
    df_least *p;
    df_residuals f;
    void *data;
    size_t n, rows;
    double *residual, *trial, *jacobian; /* rows, rows, rows x n */
    double weight;                       /* 1/noise^2 of the data */
} work;

static double objective(const work *w, const double *r) {
    double of_data = 0.0, of_priors = 0.0;
    for (size_t i = 0; i < w->p->data; i++)
        of_data += r[i] * r[i];
    for (size_t i = w->p->data; i < w->rows; i++)
        of_priors += r[i] * r[i];
    return of_data * w->weight + of_priors;
}

/* Columns of the Jacobian; one-sided where a bound or the model forbids the other side. */
static bool differentiate(work *w) {
    df_least *p = w->p;
    double at[M];
    memcpy(at, p->value, w->n * sizeof *at);
    for (size_t k = 0; k < w->n; k++) {
        double up = fmin(p->value[k] + p->step[k], p->upper[k]), down = fmax(p->value[k] - p->step[k], p->lower[k]);
        double *column = w->jacobian + k * w->rows;
        at[k] = up;
        if (!w->f(column, at, w->data)) {
            memcpy(column, w->residual, w->rows * sizeof *column);
            up = p->value[k];
        }
        at[k] = down;
        if (!w->f(w->trial, at, w->data)) {
            memcpy(w->trial, w->residual, w->rows * sizeof *column);
            down = p->value[k];
        }
        at[k] = p->value[k];
        if (!(up > down))
            return false;
        for (size_t i = 0; i < w->rows; i++)
            column[i] = (column[i] - w->trial[i]) / (up - down);
    }
    return true;
}

static void normal(double *a, double *g, const work *w) {
    for (size_t j = 0; j < w->n; j++) {
        const double *cj = w->jacobian + j * w->rows;
        g[j] = 0.0;
        for (size_t i = 0; i < w->rows; i++)
            g[j] += cj[i] * w->residual[i] * (i < w->p->data ? w->weight : 1.0);
        for (size_t k = 0; k <= j; k++) {
            const double *ck = w->jacobian + k * w->rows;
            double sum = 0.0;
            for (size_t i = 0; i < w->rows; i++)
                sum += cj[i] * ck[i] * (i < w->p->data ? w->weight : 1.0);
            a[j * w->n + k] = a[k * w->n + j] = sum;
        }
    }
}

/* A step with damping; parameters at a bound that are pushed outwards stay. False where the system is singular. */
static bool propose(double *next, const work *w, const double *a, const double *g, double damping) {
    const df_least *p = w->p;
    size_t free_[M], m = 0, n = w->n;
    double b[M * M], s[M];
    for (size_t k = 0; k < n; k++) {
        bool held = (p->value[k] <= p->lower[k] && g[k] > 0.0) || (p->value[k] >= p->upper[k] && g[k] < 0.0);
        if (!held && a[k * n + k] > 0.0)
            free_[m++] = k;
    }
    memcpy(next, p->value, n * sizeof *next);
    for (size_t i = 0; i < m; i++) {
        double di = sqrt(a[free_[i] * n + free_[i]]);
        s[i] = -g[free_[i]] / di;
        for (size_t k = 0; k < m; k++)
            b[i * m + k] = a[free_[i] * n + free_[k]] / (di * sqrt(a[free_[k] * n + free_[k]]));
        b[i * m + i] += damping;
    }
    if (m == 0)
        return true;
    if (!df_solve_linear(b, s, m))
        return false;
    for (size_t i = 0; i < m; i++) {
        size_t k = free_[i];
        next[k] = fmin(fmax(p->value[k] + s[i] / sqrt(a[k * n + k]), p->lower[k]), p->upper[k]);
    }
    return true;
}

/* Minimises at the present noise. */
static bool descend(work *w) {
    df_least *p = w->p;
    double damping = 1e-3, a[M * M], g[M], next[M], best, fall = 0.0;
    if (!w->f(w->residual, p->value, w->data))
        return false;
    best = objective(w, w->residual);
    for (int i = 0; i < MOST_ITERATIONS; i++) {
        p->iterations++;
        if (!isfinite(best) || !differentiate(w))
            return false;
        normal(a, g, w);
        fall = -1.0;
        while (fall < 0.0 && damping < 1e12) {
            if (propose(next, w, a, g, damping) && w->f(w->trial, next, w->data)) {
                double here = objective(w, w->trial);
                if (here <= best)
                    fall = best - here;
            }
            damping *= fall < 0.0 ? 8.0 : 0.2;
        }
        damping = fmax(damping, 1e-12);
        if (fall < 0.0)
            return true; /* nothing better within rounding */
        memcpy(p->value, next, w->n * sizeof *next);
        memcpy(w->residual, w->trial, w->rows * sizeof *w->residual);
        best -= fall;
        if (fall <= (p->settled > 0.0 ? p->settled : SETTLED) * (best + 1e-300) || best < 1e-20)
            return true;
    }
    return fall <= CREEPING * best;
}

/* Noise of the data from its residuals; the correlation of neighbours. */
static double noise_of(df_least *p, const double *r) {
    double sum = 0.0, both = 0.0;
    for (size_t i = 0; i < p->data; i++) {
        sum += r[i] * r[i];
        both += i > 0 ? r[i] * r[i - 1] : 0.0;
    }
    double taken = (double)p->parameters - (double)p->priors;
    double freedom = fmax((double)p->data - fmax(taken, 0.0), 1.0);
    p->noise = fmax(sqrt(sum / freedom), p->least_noise);
    double rho = sum > 0.0 ? both / sum : 0.0;
    /* Fewer than that cannot be told from none. */
    p->correlation = rho > 2.0 / sqrt((double)p->data) ? fmin(rho, MOST_CORRELATED) : 0.0;
    return p->noise * sqrt((1.0 + p->correlation) / (1.0 - p->correlation));
}

/* Inverse of the normal matrix; a parameter that nothing depends on gets an infinite variance. */
static bool invert(work *w) {
    df_least *p = w->p;
    size_t n = w->n;
    double a[M * M], g[M], scale[M];
    if (!differentiate(w))
        return false;
    normal(a, g, w);
    for (size_t k = 0; k < n; k++)
        scale[k] = a[k * n + k] > 0.0 ? sqrt(a[k * n + k]) : 0.0;
    for (size_t k = 0; k < n; k++) {
        double b[M * M], e[M] = {0};
        for (size_t i = 0; i < n; i++)
            for (size_t j = 0; j < n; j++)
                b[i * n + j] = scale[i] > 0.0 && scale[j] > 0.0 ? a[i * n + j] / (scale[i] * scale[j]) : i == j;
        for (size_t i = 0; i < n; i++)
            b[i * n + i] *= 1.0 + 1e-12; /* two that cannot be told apart: a wide band, not none */
        e[k] = 1.0;
        if (!df_solve_linear(b, e, n))
            return false;
        for (size_t i = 0; i < n; i++)
            p->covariance[i][k] = scale[i] > 0.0 && scale[k] > 0.0 ? e[i] / (scale[i] * scale[k])
                                  : i == k                         ? INFINITY
                                                                   : 0.0;
        p->sigma[k] = sqrt(fmax(p->covariance[k][k], 0.0));
    }
    return true;
}

df_status df_least_fit(df_context *ctx, df_least *p, df_residuals residuals, void *data, const char *what) {
    size_t rows = p->data + p->priors;
    work w = {.p = p, .f = residuals, .data = data, .n = p->parameters, .rows = rows, .weight = 1.0};
    p->iterations = 0;
    if (rows < p->parameters || p->data < 2)
        return df_fail(ctx, DF_E_INPUT, "%s: %zu points are too few for %zu unknowns", what, p->data, p->parameters);
    w.residual = malloc(rows * sizeof *w.residual);
    w.trial = malloc(rows * sizeof *w.trial);
    w.jacobian = malloc(rows * p->parameters * sizeof *w.jacobian);
    df_status status = DF_OK;
    if (w.residual == NULL || w.trial == NULL || w.jacobian == NULL)
        status = df_fail(ctx, DF_E_MEMORY, "out of memory");
    bool sound = status == DF_OK;
    double before = 0.0;
    for (int round = 0; sound && round < MOST_ROUNDS; round++) {
        sound = descend(&w);
        double noise = sound ? noise_of(p, w.residual) : 0.0;
        w.weight = 1.0 / fmax(noise * noise, 1e-300);
        if (fabs(noise - before) <= NOISE_SETTLED * noise)
            break;
        before = noise;
    }
    sound = sound && invert(&w);
    if (status == DF_OK && !sound)
        status = df_fail(ctx, DF_E_CONVERGENCE, "%s: the fit did not settle; is the log of the test that was named?",
                         what);
    free(w.residual);
    free(w.trial);
    free(w.jacobian);
    return status;
}
