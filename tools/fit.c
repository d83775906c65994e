/* fit: NRTL parameters of water with each solvent, fitted to freezing, liquid-liquid and vapour-liquid points
 * together.
 *
 *     build/release/tools/fit data/pairs.csv [--residuals docs/residuals.md] > report.txt
 *     build/release/tools/fit --sample > sample.txt
 *
 * Reads the built-in tables freezing_points.csv, lle.csv, azeotropes.csv and fit_points.csv (measured points),
 * pairs_warm.csv (published parameters at about one atmosphere) and fit_plan.csv (which pairs, in which form,
 * with which stand-ins); writes the pairs' table, beside it NAME_covariance.csv and NAME_sample.csv (parameters drawn by the
 * fit's own objective: Metropolis et al., J. Chem. Phys. 21 (1953) 1087), and on standard output the residuals and what each
 * source says of a fit made without it. With --residuals also a page of tables. With --sample
 * nothing is written: the bands by the columns of each covariance stand beside those of the sample.
 *
 * Least squares by Levenberg-Marquardt; every residual is divided by the uncertainty of its point, so that all
 * kinds of points weigh alike. Where a pair has few points, published warm parameters or modified UNIFAC stand in
 * with a wide uncertainty (docs/trust.md). Covariance: inverse of the normal matrix, times chi2 over the degrees
 * of freedom where that is above one; a bound that binds narrows it as half a distribution is narrower than a whole. The same input gives the same output bit for bit. */
#include "mixture/mixture.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define MAX_POINTS 640
#define MAX_RESIDUALS (2 * MAX_POINTS + DF_PAIR_PARAMETERS)
#define MAX_SOURCES 16
#define P DF_PAIR_PARAMETERS

typedef enum kind {
    ICE,        /* ice is saturated, K */
    CRYSTAL,    /* the solvent's crystal is saturated, K */
    HYDRATE,    /* the hydrate is saturated, K */
    EUTECTIC,   /* ice and the solvent's crystal meet at this temperature, composition free, K */
    MONOTECTIC, /* ice stands with two liquids, compositions free, K */
    SPLIT,      /* two liquids of given compositions, ln a */
    SOLUBLE,    /* water-rich liquid saturated with nearly pure solvent: ln a of the solvent = 0 */
    AZEOTROPE,  /* boiling temperature, K, and composition */
    HETERO,     /* the same over two liquids */
    EXCESS,     /* molar excess Gibbs energy, J/mol */
    GAMMA,      /* ln gamma of other parameters */
    CURVE,      /* no gap here */
    ZEOTROPE,   /* no azeotrope here */
    KINDS
} kind;

static const struct {
    const char *name, *unit;
} kinds[KINDS] = {{"ice", "K"},
                  {"crystal", "K"},
                  {"hydrate", "K"},
                  {"eutectic", "K"},
                  {"monotectic", "K"},
                  {"gap", "ln a"},
                  {"solubility", "ln a"},
                  {"azeotrope", "K, x"},
                  {"two-liquid azeotrope", "K, y"},
                  {"excess energy", "J/mol"},
                  {"ln gamma", ""},
                  {"no gap", ""},
                  {"no azeotrope", ""}};

typedef struct point {
    kind kind;
    double temperature, x, x2, pressure, sigma, sigma2, target[2];
    const char *source; /* stays open as long as the tables */
    bool off;           /* left out */
} point;

typedef struct tables {
    df_context *ctx;
    df_csv *freezing, *lle, *azeotropes, *points, *plan, *warm;
    df_substances *substances;
    df_pairs *pairs;
} tables;

typedef struct study {
    const tables *t;
    size_t row; /* of the plan */
    const df_substance *solvent, *water;
    df_mixture *mixture;
    df_nrtl_pair pair;
    point points[MAX_POINTS];
    size_t count;
    bool used[P]; /* parameters in use */
    double v[P], objective;
    double covariance[P][P], scale;
} study;

static void stop(const char *what, const char *why) {
    fprintf(stderr, "fit: %s: %s\n", what, why);
    exit(3);
}

static double to_mole(const study *s, double w) {
    double a = w / s->solvent->molar_mass, b = (1.0 - w) / s->water->molar_mass;
    return a / (a + b);
}

static double to_mass(const study *s, double x) {
    double a = x * s->solvent->molar_mass, b = (1.0 - x) * s->water->molar_mass;
    return a / (a + b);
}

static point *add(study *s, kind k, double temperature, double x, double sigma, const char *source) {
    if (s->count == MAX_POINTS)
        stop(s->solvent->key, "too many points");
    point *p = &s->points[s->count++];
    memset(p, 0, sizeof *p);
    p->kind = k;
    p->temperature = temperature;
    p->x = x;
    p->sigma = sigma;
    p->source = source;
    return p;
}

/* ---- the model at a point ------------------------------------------------------------------------------------- */

/* See df_pair_covariance for what v is. */
static void set_parameters(study *s, const double *v) {
    const double t0 = DF_ZERO_CELSIUS;
    for (int k = 0; k < 2; k++) {
        double c = s->used[4] ? v[4 + k] : 0.0;
        s->pair.c[k] = c;
        s->pair.b[k] = v[2 * k + 1] * t0;
        s->pair.a[k] = v[2 * k] - v[2 * k + 1] - c * log(t0);
    }
    for (size_t k = 0; k < DF_COLD_TERMS; k++)
        s->pair.cold[k] = s->used[6 + k] ? v[6 + k] : 0.0;
    df_mixture_set_pair(s->mixture, 0, 1, &s->pair);
}

static void activity(double ln_a[2], const study *s, double temperature, double x) {
    double z[2] = {x, 1.0 - x}, gamma[2];
    df_mixture_activity(gamma, NULL, s->mixture, temperature, z);
    ln_a[0] = log(z[0]) + gamma[0];
    ln_a[1] = log(z[1]) + gamma[1];
}

/* d ln K/dT of melting, 1/K: turns a residual of ln a into kelvins. */
static double melting_slope(const df_substance *s, double temperature) {
    return df_fusion_enthalpy(s, temperature) / (DF_GAS_CONSTANT * temperature * temperature);
}

/* Compositions of the two liquids at T, the water-rich one first: substitution, then Newton in ln x and ln(1 -
 * x2). */
static bool split(double ends[2], const study *s, double temperature, double start, double start2) {
    double x = start, y = 1.0 - start2; /* solvent in water, water in solvent */
    for (int step = 0; step < 200; step++) {
        double z1[2] = {x, 1.0 - x}, z2[2] = {1.0 - y, y}, g1[2], g2[2], d1[4], d2[4];
        df_mixture_activity(g1, d1, s->mixture, temperature, z1);
        df_mixture_activity(g2, d2, s->mixture, temperature, z2);
        double f[2] = {log(z1[0]) + g1[0] - log(z2[0]) - g2[0], log(z1[1]) + g1[1] - log(z2[1]) - g2[1]};
        if (fmax(fabs(f[0]), fabs(f[1])) < 1e-13)
            break;
        double dx = -f[0], dy = f[1]; /* of ln x, ln y */
        if (step > 5) {
            double a = 1.0 + x * (d1[0] - d1[1]), b = y / z2[0] + y * (d2[0] - d2[1]);
            double c = -x / z1[1] + x * (d1[2] - d1[3]), d = -1.0 + y * (d2[2] - d2[3]);
            /* rows: d f0 = a dlnx + b dlny, d f1 = c dlnx + d dlny */
            double det = a * d - b * c;
            if (fabs(det) > 1e-12) {
                dx = (-f[0] * d + f[1] * b) / det;
                dy = (-f[1] * a + f[0] * c) / det;
            }
        }
        x = fmin(x * exp(fmin(fmax(dx, -0.5), 0.5)), 0.9);
        y = fmin(y * exp(fmin(fmax(dy, -0.5), 0.5)), 0.9);
    }
    ends[0] = x;
    ends[1] = 1.0 - y;
    double a[2], b[2];
    activity(a, s, temperature, x);
    activity(b, s, temperature, 1.0 - y);
    return fabs(a[0] - b[0]) + fabs(a[1] - b[1]) < 1e-9 && ends[1] - ends[0] > 1e-3;
}

/* ln a of the solvent less ln K of its crystal, where ice is saturated at T. */
static double over_crystal(const study *s, double temperature) {
    double low = 1e-6, high = 1.0 - 1e-9, a[2], ice = df_solid_liquid_ratio_ln(s->water, temperature);
    for (int k = 0; k < 60; k++) {
        double x = 0.5 * (low + high);
        activity(a, s, temperature, x);
        *(a[1] > ice ? &low : &high) = x;
    }
    return a[0] - df_solid_liquid_ratio_ln(s->solvent, temperature);
}

static size_t hydrate_of(const study *s, const point *p) {
    for (size_t k = 0; k < df_mixture_solids(s->mixture); k++)
        if (df_mixture_solid(s->mixture, k)->component < 0 &&
            fabs(df_mixture_solid(s->mixture, k)->formula[1] - p->target[0]) < 0.5)
            return k;
    stop(s->solvent->key, "no such hydrate");
    return 0;
}

static double boiling_shift(const study *s, double temperature, const double *ln_a, double pressure, double *y) {
    double p[2], monomer[2], dimer[2], total = df_mixture_vapour(p, monomer, dimer, s->mixture, temperature, ln_a);
    double warmer = df_mixture_vapour(p, NULL, NULL, s->mixture, temperature + 0.5, ln_a);
    double formula[2] = {monomer[0] + 2.0 * dimer[0], monomer[1] + 2.0 * dimer[1]};
    *y = formula[0] / (formula[0] + formula[1]);
    return -log(total / pressure) / (log(warmer / total) / 0.5); /* computed less published boiling temperature */
}

/* Up to two residuals of a point, in units of its uncertainty; returns how many. `raw` in the kind's unit. */
static int residuals(double *out, double *raw, const study *s, const point *p) {
    double a[2], b[2], z[2] = {p->x, 1.0 - p->x}, t = p->temperature;
    switch (p->kind) {
    case ICE:
    case CRYSTAL: {
        const df_substance *solid = p->kind == ICE ? s->water : s->solvent;
        activity(a, s, t, p->x);
        raw[0] = (a[p->kind == ICE ? 1 : 0] - df_solid_liquid_ratio_ln(solid, t)) / melting_slope(solid, t);
        out[0] = raw[0] / p->sigma;
        return 1;
    }
    case HYDRATE: {
        size_t k = hydrate_of(s, p);
        const df_solid *h = df_mixture_solid(s->mixture, k);
        double ln = df_hydrate_reference_ln(s->mixture, k) -
                    h->enthalpy / DF_GAS_CONSTANT * (1.0 / t - 1.0 / h->reference_temperature);
        activity(a, s, t, p->x);
        raw[0] = (h->formula[0] * a[0] + h->formula[1] * a[1] - ln) * DF_GAS_CONSTANT * t * t / h->enthalpy;
        out[0] = raw[0] / p->sigma;
        return 1;
    }
    case EUTECTIC: {
        double f = over_crystal(s, t);
        raw[0] = f / ((over_crystal(s, t - 0.5) - over_crystal(s, t + 0.5)));
        out[0] = raw[0] / p->sigma;
        return 1;
    }
    case MONOTECTIC: {
        double ends[2] = {0.2, 0.2};
        split(ends, s, t, p->x, p->x2);
        activity(a, s, t, ends[0]);
        raw[0] = (a[1] - df_solid_liquid_ratio_ln(s->water, t)) / melting_slope(s->water, t);
        out[0] = raw[0] / p->sigma;
        return 1;
    }
    case SPLIT:
        activity(a, s, t, p->x);
        activity(b, s, t, p->x2);
        for (int i = 0; i < 2; i++)
            out[i] = (raw[i] = a[i] - b[i]) / p->sigma;
        return 2;
    case SOLUBLE:
        activity(a, s, t, p->x);
        out[0] = (raw[0] = a[0]) / p->sigma;
        return 1;
    case AZEOTROPE: {
        double y, up, down;
        const double h = 2e-3;
        activity(a, s, t, p->x);
        raw[0] = boiling_shift(s, t, a, p->pressure, &y);
        activity(b, s, t, p->x + h);
        boiling_shift(s, t, b, p->pressure, &up);
        activity(b, s, t, p->x - h);
        boiling_shift(s, t, b, p->pressure, &down);
        /* y - x over its slope: how far the model's azeotrope lies off in x */
        raw[1] = (y - p->x) / fmax(fabs((up - down) / (2.0 * h) - 1.0), 0.1);
        out[0] = raw[0] / p->sigma;
        out[1] = raw[1] / p->sigma2;
        return 2;
    }
    case HETERO: {
        double ends[2], y;
        bool two = split(ends, s, t, 0.01, 0.98);
        activity(a, s, t, two ? ends[0] : p->x);
        raw[0] = boiling_shift(s, t, a, p->pressure, &y);
        raw[1] = y - p->x;
        out[0] = raw[0] / p->sigma;
        out[1] = raw[1] / p->sigma2;
        return 2;
    }
    case EXCESS:
        df_mixture_activity(a, NULL, s->mixture, t, z);
        raw[0] = DF_GAS_CONSTANT * t * (z[0] * a[0] + z[1] * a[1]) - p->target[0];
        out[0] = raw[0] / p->sigma;
        return 1;
    case GAMMA:
        df_mixture_activity(a, NULL, s->mixture, t, z);
        for (int i = 0; i < 2; i++)
            out[i] = (raw[i] = a[i] - p->target[i]) / p->sigma;
        return 2;
    case CURVE: { /* the spinodal function 1 + x d ln gamma/dx stays above a floor */
        double slope[4];
        df_mixture_activity(a, slope, s->mixture, t, z);
        raw[0] = fmin(0.0, 1.0 + z[0] * (slope[0] - slope[1]) - p->target[0]);
        out[0] = raw[0] / p->sigma;
        return 1;
    }
    case ZEOTROPE: { /* the solvent stays the more (target 1) or the less (-1) volatile one */
        double y;
        activity(a, s, t, p->x);
        boiling_shift(s, t, a, DF_ATMOSPHERE, &y);
        raw[0] = fmin(0.0, p->target[0] * log(y / (1.0 - y) * z[1] / z[0]) - 0.03);
        out[0] = raw[0] / p->sigma;
        return 1;
    }
    case KINDS:
        break;
    }
    return 0;
}

/* ---- least squares -------------------------------------------------------------------------------------------- */

/* A weak pull towards nought, so that no parameter runs away along a flat valley. */
static const double width[P] = {6.0, 6.0, 6.0, 6.0, 8.0, 8.0, 2.0, 1.5, 1.0};

static double objective(double *r, size_t *n, study *s, const double *v) {
    double sum = 0.0, raw[2];
    set_parameters(s, v);
    *n = 0;
    for (size_t i = 0; i < s->count; i++) {
        if (s->points[i].off)
            continue;
        int k = residuals(&r[*n], raw, s, &s->points[i]);
        for (int j = 0; j < k; j++, (*n)++)
            sum += r[*n] * r[*n];
    }
    for (size_t k = 0; k < P; k++) {
        r[*n] = s->used[k] ? v[k] / width[k] : 0.0;
        sum += r[*n] * r[*n];
        (*n)++;
    }
    return isfinite(sum) ? sum : 1e300;
}

static double jacobian[P][MAX_RESIDUALS], residual[MAX_RESIDUALS], moved[MAX_RESIDUALS], other[MAX_RESIDUALS];

/* Normal matrix and gradient of the used parameters at v by central differences; returns how many there are. */
static size_t normal_matrix(double a[P * P], double b[P], size_t which[P], study *s, const double *v) {
    size_t n, m, count = 0;
    const double h = 1e-4;
    objective(residual, &n, s, v);
    for (size_t k = 0; k < P; k++) {
        if (!s->used[k])
            continue;
        double u[P];
        memcpy(u, v, sizeof u);
        u[k] = v[k] + h;
        objective(moved, &m, s, u);
        u[k] = v[k] - h;
        objective(other, &m, s, u);
        for (size_t i = 0; i < n; i++)
            jacobian[count][i] = (moved[i] - other[i]) / (2.0 * h);
        which[count++] = k;
    }
    for (size_t k = 0; k < count; k++) {
        b[k] = 0.0;
        for (size_t i = 0; i < n; i++)
            b[k] -= jacobian[k][i] * residual[i];
        for (size_t l = 0; l < count; l++) {
            double sum = 0.0;
            for (size_t i = 0; i < n; i++)
                sum += jacobian[k][i] * jacobian[l][i];
            a[k * count + l] = sum;
        }
    }
    return count;
}

/* Levenberg-Marquardt until the objective falls by less than `tolerance` of itself. */
static double minimise(study *s, double *v, int steps, double tolerance) {
    size_t n, which[P];
    double best = objective(residual, &n, s, v), damping = 1e-2;
    for (int step = 0; step < steps; step++) {
        double a[P * P], b[P], keep[P * P], keep_b[P], u[P];
        size_t count = normal_matrix(keep, keep_b, which, s, v);
        bool better = false;
        double gain = 0.0;
        while (!better && damping < 1e10) {
            memcpy(a, keep, sizeof a);
            memcpy(b, keep_b, sizeof b);
            for (size_t k = 0; k < count; k++)
                a[k * count + k] *= 1.0 + damping;
            memcpy(u, v, sizeof u);
            if (df_solve_linear(a, b, count))
                for (size_t k = 0; k < count; k++)
                    u[which[k]] += b[k];
            double sum = objective(moved, &n, s, u);
            better = sum < best;
            if (better) {
                gain = (best - sum) / best;
                best = sum;
                memcpy(v, u, sizeof u);
                damping = fmax(damping / 8.0, 1e-15);
            } else
                damping *= 5.0;
        }
        if (!better || gain < tolerance)
            break;
    }
    set_parameters(s, v);
    return best;
}

static bool stands_in(const point *p) {
    return p->kind == GAMMA;
}
static bool bounds(const point *p) {
    return p->kind == CURVE || p->kind == ZEOTROPE;
}

/* How many independent numbers a set of stand-in points counts as: level and slope of each of the two ln gamma. */
#define SET_WORTH 4.0
#define SET_POINTS 42.0

/* What a bound that binds is worth at most beside what is known without it: it leaves half of a normal distribution, whose
 * variance is 1 - 2/pi of the whole. */
#define BOUND_WORTH (1.0 / (1.0 - 2.0 / M_PI) - 1.0)

/* Inverse of a symmetric positive matrix. */
static void invert(const study *s, double *out, const double *a, size_t n) {
    for (size_t j = 0; j < n; j++) {
        double matrix[P * P], column[P] = {0};
        memcpy(matrix, a, n * n * sizeof *a);
        column[j] = 1.0;
        if (!df_solve_linear(matrix, column, n))
            stop(s->solvent->key, "the normal matrix is singular");
        for (size_t i = 0; i < n; i++)
            out[i * n + j] = column[i];
    }
}

/* Lower triangle L with L L' = a. */
static void triangle(const study *s, double *l, const double *a, size_t n) {
    memset(l, 0, n * n * sizeof *l);
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j <= i; j++) {
            double sum = a[i * n + j];
            for (size_t k = 0; k < j; k++)
                sum -= l[i * n + k] * l[j * n + k];
            if (i == j && !(sum > 0.0))
                stop(s->solvent->key, "the covariance is not positive");
            l[i * n + j] = i == j ? sqrt(sum) : sum / l[j * n + j];
        }
}

/* The covariance without bounds (in a: the normal matrix of all, in bound: the part of the bounds), narrowed by them in the
 * directions where they bind, but not more than half a distribution is narrower than a whole one. */
static void narrow(const study *s, double *covariance, const double *a, const double *bound, size_t n) {
    double free_of[P * P], whole[P * P], l[P * P], relative[P * P], vector[P * P];
    for (size_t i = 0; i < n * n; i++)
        free_of[i] = a[i] - bound[i];
    invert(s, whole, free_of, n);
    triangle(s, l, whole, n);
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < n; j++) {
            relative[i * n + j] = 0.0;
            for (size_t k = 0; k < n; k++)
                for (size_t m = 0; m < n; m++)
                    relative[i * n + j] += l[k * n + i] * bound[k * n + m] * l[m * n + j];
        }
    df_eigen_symmetric(relative, vector, n);
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < n; j++) {
            covariance[i * n + j] = 0.0;
            for (size_t k = 0; k < n; k++) {
                double left = 0.0, right = 0.0, worth = fmin(fmax(relative[k * n + k], 0.0), BOUND_WORTH);
                for (size_t m = 0; m < n; m++) {
                    left += l[i * n + m] * vector[m * n + k];
                    right += l[j * n + m] * vector[m * n + k];
                }
                covariance[i * n + j] += left * right / (1.0 + worth);
            }
        }
}

/* A gap that is known is held from both sides by its points and by the bound above it; without one a bound has one side. */
static bool gap_known(const study *s) {
    for (size_t i = 0; i < s->count; i++)
        if (s->points[i].kind == SPLIT || s->points[i].kind == MONOTECTIC)
            return true;
    return false;
}

static void find_covariance(study *s) {
    double a[P * P], b[P], bound[P * P] = {0}, covariance[P * P], out[2], raw[2], chi = 0.0, n = 0.0;
    size_t which[P], count = normal_matrix(a, b, which, s, s->v), row = 0;
    for (size_t i = 0; i < s->count; i++) {
        const point *p = &s->points[i];
        if (p->off)
            continue;
        int k = residuals(out, raw, s, p);
        for (int j = 0; j < k; j++, row++) {
            for (size_t q = 0; q < count * count && bounds(p); q++)
                bound[q] += jacobian[q / count][row] * jacobian[q % count][row];
            if (bounds(p))
                continue;
            chi += out[j] * out[j];
            n += stands_in(p) ? SET_WORTH / SET_POINTS : 1.0;
        }
    }
    s->scale = fmax(1.0, chi / fmax(1.0, n - (double)count));
    if (gap_known(s))
        invert(s, covariance, a, count);
    else
        narrow(s, covariance, a, bound, count);
    memset(s->covariance, 0, sizeof s->covariance);
    for (size_t i = 0; i < count; i++)
        for (size_t j = 0; j < count; j++)
            s->covariance[which[i]][which[j]] = s->scale * covariance[i * count + j];
}

/* ---- points --------------------------------------------------------------------------------------------------- */

static df_csv *table(df_context *ctx, const char *name) {
    df_csv *csv = NULL;
    if (df_csv_builtin(ctx, &csv, name) != DF_OK)
        stop(name, df_context_message(ctx));
    return csv;
}

static const char *cell(const df_csv *csv, size_t row, const char *column) {
    return df_csv_cell(csv, row, df_csv_find(csv, column));
}

static double value(const tables *t, const df_csv *csv, size_t row, const char *column) {
    double v = NAN;
    if (df_csv_number(t->ctx, &v, csv, row, df_csv_find(csv, column), NAN) != DF_OK)
        stop("table", df_context_message(t->ctx));
    return v;
}

static const char *setting(const study *s, const char *column) {
    return cell(s->t->plan, s->row, column);
}
static double amount(const study *s, const char *column) {
    return value(s->t, s->t->plan, s->row, column);
}

/* A row of this pair that may be used: one from memory only where the plan names the table. */
static bool mine(const study *s, const df_csv *csv, size_t row, const char *name) {
    return strcmp(cell(csv, row, "key"), s->solvent->key) == 0 && strstr(setting(s, "left_out"), name) == NULL &&
           (strcmp(cell(csv, row, "grade"), "from memory") != 0 || strstr(setting(s, "from_memory"), name) != NULL);
}

static bool recalled(const df_csv *csv, size_t row) {
    return strcmp(cell(csv, row, "grade"), "from memory") == 0;
}

static void add_freezing(study *s) {
    const df_csv *csv = s->t->freezing;
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        double w = value(s->t, csv, row, "w_solvent"), t = value(s->t, csv, row, "temperature_K");
        const char *solid = cell(csv, row, "solid"), *source = cell(csv, row, "source");
        if (!mine(s, csv, row, "freezing") || !(w > 0.0 && w < 1.0))
            continue;
        double sigma = strcmp(cell(csv, row, "grade"), "secondary") == 0 ? 2.0 : strstr(solid, "hydrate") ? 0.1 : 0.5;
        if (strstr(solid, "ice") != NULL)
            add(s, ICE, t, to_mole(s, w), sigma, source);
        if (strstr(solid, "solvent") != NULL)
            add(s, CRYSTAL, t, to_mole(s, w), sigma, source);
    }
}

/* Ends of a gap measured at nearly the same temperature become a pair; the solvent-rich end leads, the other is
 * interpolated. Where no solvent-rich end was measured the water-rich one is a solubility. */
static void add_gap(study *s) {
    const df_csv *csv = s->t->lle;
    double t[64], w[64];
    size_t n = 0, rich = 0;
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        if (!mine(s, csv, row, "gap"))
            continue;
        rich += strcmp(cell(csv, row, "phase"), "solvent-rich") == 0;
        if (strcmp(cell(csv, row, "phase"), "water-rich") == 0 && n < 64) {
            t[n] = value(s->t, csv, row, "temperature_K");
            w[n++] = value(s->t, csv, row, "w_solvent");
        }
    }
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        if (!mine(s, csv, row, "gap"))
            continue;
        double at = value(s->t, csv, row, "temperature_K"), here = value(s->t, csv, row, "w_solvent");
        bool solvent_rich = strcmp(cell(csv, row, "phase"), "solvent-rich") == 0;
        if (rich == 0 && strcmp(cell(csv, row, "phase"), "water-rich") == 0)
            add(s, SOLUBLE, at, to_mole(s, here), 0.1, cell(csv, row, "source"));
        else if (solvent_rich && n > 0 && at >= t[0] - 0.2 && at <= t[n - 1] + 0.2) {
            double there = n > 1 ? df_interpolate(t, w, n, at) : w[0];
            point *p = add(s, SPLIT, at, to_mole(s, there),
                           recalled(csv, row) ? 0.1
                           : at > 271.0       ? 0.004
                                              : 0.002,
                           cell(csv, row, "source"));
            p->x2 = to_mole(s, here);
        }
    }
}

static void add_azeotropes(study *s) {
    const df_csv *csv = s->t->azeotropes;
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        const char *word = cell(csv, row, "kind"), *source = cell(csv, row, "source");
        double x = value(s->t, csv, row, "x_solvent"), t = value(s->t, csv, row, "temperature_K");
        if (strcmp(cell(csv, row, "key"), s->solvent->key) == 0 && strcmp(word, "none") == 0) {
            /* that there is none is common knowledge, whoever recalls it */
            static const double xs[] = {0.005, 0.05, 0.3, 0.7, 0.9, 0.97, 0.99};
            double ts = s->solvent->boiling_temperature, tw = s->water->boiling_temperature;
            for (size_t k = 0; k < sizeof xs / sizeof xs[0]; k++)
                add(s, ZEOTROPE, xs[k] * ts + (1.0 - xs[k]) * tw, xs[k], 0.01, source)->target[0] =
                    ts < tw ? 1.0 : -1.0;
            continue;
        }
        if (!mine(s, csv, row, "azeotrope") || !(x > 0.0 && x < 1.0))
            continue;
        point *p = add(s, strcmp(word, "heterogeneous") == 0 ? HETERO : AZEOTROPE, t, x,
                       recalled(csv, row) ? 0.3 : 0.15, source);
        p->sigma2 = recalled(csv, row) ? 0.01 : 0.004;
        p->pressure = value(s->t, csv, row, "pressure_Pa");
    }
}

static void add_listed(study *s) {
    const df_csv *csv = s->t->points;
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        if (strcmp(cell(csv, row, "key"), s->solvent->key) != 0)
            continue;
        const char *word = cell(csv, row, "kind");
        int k = 0;
        while (k < KINDS && strcmp(kinds[k].name, word) != 0)
            k++;
        double w = value(s->t, csv, row, "w1"), w2 = value(s->t, csv, row, "w2");
        if (k == KINDS || (isnan(w) && k != EUTECTIC))
            stop("fit_points.csv", word);
        point *p = add(s, (kind)k, value(s->t, csv, row, "temperature_K"), isnan(w) ? 0.5 : to_mole(s, w),
                       value(s->t, csv, row, "uncertainty"), cell(csv, row, "source"));
        p->x2 = isnan(w2) ? NAN : to_mole(s, w2);
        p->target[0] = value(s->t, csv, row, "value");
        if (k == HETERO || k == AZEOTROPE) {
            p->x = p->target[0];
            p->sigma2 = 0.004;
            p->pressure = DF_ATMOSPHERE;
        }
    }
}

/* UNIQUAC of two components (Abrams & Prausnitz, AIChE J. 21 (1975) 116), z = 10, tau_ij = exp(b_ij/T).
 * parameters: b_12, b_21, r_1, q_1, r_2, q_2. */
static void uniquac(double gamma[2], const double *parameters, double temperature, const double *x) {
    double tau[2] = {exp(parameters[0] / temperature), exp(parameters[1] / temperature)};
    double r[2] = {parameters[2], parameters[4]}, q[2] = {parameters[3], parameters[5]}, l[2], phi[2], theta[2];
    double rs = x[0] * r[0] + x[1] * r[1], qs = x[0] * q[0] + x[1] * q[1];
    for (int i = 0; i < 2; i++) {
        phi[i] = r[i] / rs; /* over x */
        theta[i] = x[i] * q[i] / qs;
        l[i] = 5.0 * (r[i] - q[i]) - (r[i] - 1.0);
    }
    for (int i = 0; i < 2; i++) {
        int j = 1 - i;
        double own = theta[i] + theta[j] * tau[j], across = theta[j] + theta[i] * tau[i];
        gamma[i] = log(phi[i]) + 5.0 * q[i] * log(theta[i] / (x[i] * phi[i])) + l[i] -
                   phi[i] * (x[0] * l[0] + x[1] * l[1]) +
                   q[i] * (1.0 - log(own) - theta[i] / own - theta[j] * tau[i] / across);
    }
}

static bool warm_pair(df_nrtl_pair *out, const study *s) {
    const df_csv *csv = s->t->warm;
    memset(out, 0, sizeof *out);
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        const char *i = cell(csv, row, "i"), *j = cell(csv, row, "j"), *solvent = s->solvent->key;
        bool reverse = strcmp(j, solvent) == 0 && strcmp(i, "water") == 0;
        if (!reverse && !(strcmp(i, solvent) == 0 && strcmp(j, "water") == 0))
            continue;
        out->a[reverse] = value(s->t, csv, row, "a_ij");
        out->b[reverse] = value(s->t, csv, row, "b_ij_K");
        out->a[!reverse] = value(s->t, csv, row, "a_ji");
        out->b[!reverse] = value(s->t, csv, row, "b_ji_K");
        out->alpha = value(s->t, csv, row, "alpha");
        return true;
    }
    return false;
}

typedef enum origin { FROM_NRTL, FROM_UNIQUAC, FROM_UNIFAC } origin;

/* A set of ln gamma taken from other parameters. `sigma` is the uncertainty of the set as a whole, which counts as
 * SET_WORTH independent numbers; below 300 K it grows by two thirds of itself every 50 K. */
static void add_set(study *s, origin from, double lowest, double highest, double sigma, const char *source) {
    static const double xs[] = {0.02, 0.1, 0.25, 0.4, 0.6, 0.8, 0.95};
    const df_substance *both[2] = {s->solvent, s->water};
    df_nrtl_pair keep = *df_mixture_pair(s->mixture, 0, 1), warm;
    double parameters[6] = {0};
    const char *list = setting(s, "warm_parameters");
    for (int k = 0; from == FROM_UNIQUAC && k < 6; k++)
        if (!df_number_scan(&parameters[k], &list, list))
            stop(s->solvent->key, "warm_parameters are six numbers");
    if (from == FROM_NRTL && !warm_pair(&warm, s))
        stop(s->solvent->key, "not in pairs_warm.csv");
    for (int k = 0; k < 3; k++) {
        double t = lowest + 0.5 * k * (highest - lowest);
        double wide = sigma * sqrt(SET_POINTS / SET_WORTH) * (t < 300.0 ? 1.0 + (300.0 - t) / 75.0 : 1.0);
        for (size_t i = 0; i < sizeof xs / sizeof xs[0]; i++) {
            double z[2] = {xs[i], 1.0 - xs[i]}, g[2];
            if (from == FROM_NRTL) {
                df_mixture_set_pair(s->mixture, 0, 1, &warm);
                df_mixture_activity(g, NULL, s->mixture, t, z);
                df_mixture_set_pair(s->mixture, 0, 1, &keep);
            } else if (from == FROM_UNIQUAC)
                uniquac(g, parameters, t, z);
            else if (!df_unifac_activity(g, s->t->pairs, both, 2, t, z))
                stop(s->solvent->key, "no groups of modified UNIFAC");
            point *p = add(s, GAMMA, t, xs[i], wide, source);
            p->target[0] = g[0];
            p->target[1] = g[1];
        }
    }
}

static void add_stand_ins(study *s) {
    double sigma = amount(s, "warm_sigma");
    const char *from = setting(s, "warm_from");
    if (strcmp(from, "nrtl") == 0)
        add_set(s, FROM_NRTL, 330.0, 370.0, sigma, "published NRTL, 1 atm");
    else if (strcmp(from, "uniquac") == 0)
        add_set(s, FROM_UNIQUAC, 330.0, 370.0, sigma, "published UNIQUAC, 1 atm");
    else if (strcmp(from, "unifac") == 0)
        add_set(s, FROM_UNIFAC, 320.0, 380.0, sigma, "modified UNIFAC, 320 K to 380 K");
    else if (from[0] != '\0')
        stop("fit_plan.csv", from);
    sigma = amount(s, "cold_unifac_sigma");
    if (sigma > 0.0)
        add_set(s, FROM_UNIFAC, 240.0, 300.0, sigma, "modified UNIFAC, 240 K to 300 K");
    if (strcmp(setting(s, "no_gap"), "yes") == 0)
        for (double at = 180.0; at < 381.0; at += 20.0) {
            add(s, CURVE, at, 0.01, 0.005, "fully miscible")->target[0] = 0.02;
            for (double x = 0.025; x < 1.0; x += 0.05)
                add(s, CURVE, at, x, 0.005, "fully miscible")->target[0] = 0.02;
        }
    double top = amount(s, "gap_top_K");
    for (double at = top; at < 411.0; at += at < top + 59.0 ? 15.0 : 30.0)
        for (double x = 0.15; x < 0.66; x += 0.03)
            add(s, CURVE, at, x, 0.002, "miscible above its gap");
}

/* ---- one pair ------------------------------------------------------------------------------------------------- */

static void open_study(study *s, const tables *t, size_t row) {
    memset(s, 0, sizeof *s);
    const df_substance *both[2];
    s->t = t;
    s->row = row;
    if (df_substances_find(t->ctx, &both[0], t->substances, setting(s, "key"), NULL) != DF_OK ||
        df_substances_find(t->ctx, &both[1], t->substances, "water", NULL) != DF_OK ||
        df_mixture_create(t->ctx, &s->mixture, t->pairs, both, 2) != DF_OK)
        stop("fit_plan.csv", df_context_message(t->ctx));
    s->solvent = both[0];
    s->water = both[1];
    double terms = amount(s, "cold_terms");
    for (size_t k = 0; k < P; k++)
        s->used[k] =
            k < 4 || (k < 6 && strcmp(setting(s, "curved"), "yes") == 0) || (k >= 6 && (double)(k - 6) < terms);
    add_freezing(s);
    add_gap(s);
    add_azeotropes(s);
    add_listed(s);
    add_stand_ins(s);
}

static void fit_study(study *s) {
    static const double alphas[] = {0.2, 0.3, 0.4, 0.47};
    static const double starts[][P] = {{0.0, 1.0, 1.0, 1.0}, {1.0, 1.0, 1.0, 1.0},  {2.0, 0.0, 0.5, 0.0},
                                       {0.5, 0.0, 2.0, 0.0}, {-0.5, 0.0, 1.5, 0.0}, {3.0, 2.0, 5.0, 1.0}};
    double fixed = amount(s, "alpha"), alpha = 0.3;
    s->objective = INFINITY;
    for (size_t a = 0; a < (fixed > 0.0 ? 1 : sizeof alphas / sizeof alphas[0]); a++) {
        s->pair.alpha = fixed > 0.0 ? fixed : alphas[a];
        for (size_t k = 0; k < sizeof starts / sizeof starts[0]; k++) {
            double v[P];
            memcpy(v, starts[k], sizeof v);
            double sum = minimise(s, v, 80, 1e-5);
            if (sum < s->objective * (1.0 - 1e-4)) {
                s->objective = sum;
                alpha = s->pair.alpha;
                memcpy(s->v, v, sizeof v);
            }
        }
    }
    s->pair.alpha = alpha;
    s->objective = minimise(s, s->v, 2000, 1e-15);
    find_covariance(s);
    set_parameters(s, s->v);
}

/* ---- output --------------------------------------------------------------------------------------------------- */

typedef struct tally {
    int count[2];
    double square[2], worst[2];
} tally;

static void count_kinds(tally out[KINDS], const study *s, bool off_only) {
    memset(out, 0, KINDS * sizeof *out);
    for (size_t i = 0; i < s->count; i++) {
        double r[2], raw[2];
        const point *p = &s->points[i];
        if (off_only && !p->off)
            continue;
        int n = residuals(r, raw, s, p);
        bool apart = p->kind == AZEOTROPE || p->kind == HETERO; /* two residuals of unlike units */
        for (int k = 0; k < n; k++) {
            int slot = apart ? k : 0;
            out[p->kind].count[slot]++;
            out[p->kind].square[slot] += raw[k] * raw[k];
            out[p->kind].worst[slot] = fmax(out[p->kind].worst[slot], fabs(raw[k]));
        }
    }
}

static double rms(const tally *t, int slot) {
    return t->count[slot] > 0 ? sqrt(t->square[slot] / t->count[slot]) : NAN;
}

static const char *tell(char out[64], const tally *t, int k) {
    if (t->count[1] > 0)
        snprintf(out, 64, "%.3g, %.3g %s", rms(t, 0), rms(t, 1), kinds[k].unit);
    else
        snprintf(out, 64, kinds[k].unit[0] != '\0' ? "%.3g %s" : "%.3g", rms(t, 0), kinds[k].unit);
    return out;
}

/* One publication is known by the first words of its citation, whatever is said of the point behind them. */
static bool same_source(const char *a, const char *b) {
    return strncmp(a, b, 18) == 0;
}

/* A fit without one source, and its error on that source beside the error of the full fit. */
static void leave_out(study *s, df_text *page) {
    const char *sources[MAX_SOURCES];
    size_t n = 0;
    for (size_t i = 0; i < s->count; i++) {
        size_t k = 0;
        while (k < n && !same_source(sources[k], s->points[i].source))
            k++;
        if (k == n && !bounds(&s->points[i]) && n < MAX_SOURCES)
            sources[n++] = s->points[i].source;
    }
    printf("  left out (rms with it -> without it):\n");
    for (size_t k = 0; k < n && n > 1; k++) {
        double v[P];
        tally with[KINDS], without[KINDS];
        for (size_t i = 0; i < s->count; i++)
            s->points[i].off = !bounds(&s->points[i]) && same_source(s->points[i].source, sources[k]);
        set_parameters(s, s->v);
        count_kinds(with, s, true);
        memcpy(v, s->v, sizeof v);
        minimise(s, v, 200, 1e-7);
        count_kinds(without, s, true);
        for (int j = 0; j < KINDS; j++) {
            if (with[j].count[0] == 0)
                continue;
            char before[64], after[64];
            tell(before, &with[j], j);
            tell(after, &without[j], j);
            printf("    %-20s %3d  %s -> %s  %.70s\n", kinds[j].name, with[j].count[0], before, after, sources[k]);
            df_text_printf(page, "| %s | %s | %s | %d | %s | %s |\n", s->solvent->key, sources[k], kinds[j].name,
                           with[j].count[0], before, after);
        }
    }
    for (size_t i = 0; i < s->count; i++)
        s->points[i].off = false;
    set_parameters(s, s->v);
}

/* The hydrate's fusion enthalpy with which it would be saturated at a point as well as at its reference. */
static double implied_enthalpy(const study *s, const point *p) {
    size_t k = hydrate_of(s, p);
    const df_solid *h = df_mixture_solid(s->mixture, k);
    double a[2];
    activity(a, s, p->temperature, p->x);
    return -(h->formula[0] * a[0] + h->formula[1] * a[1] - df_hydrate_reference_ln(s->mixture, k)) * DF_GAS_CONSTANT /
           (1.0 / p->temperature - 1.0 / h->reference_temperature);
}

static void report(const study *s) {
    tally t[KINDS];
    printf("\nwater + %s   alpha %.2f   objective %.2f   chi2/dof (at least 1) %.2f\n", s->solvent->key,
           s->pair.alpha, s->objective, s->scale);
    count_kinds(t, s, false);
    for (int k = 0; k < KINDS; k++)
        for (int slot = 0; slot < 2; slot++)
            if (t[k].count[slot] > 0)
                printf("  %-20s %3d residuals   rms %8.4f   worst %8.4f %s\n", kinds[k].name, t[k].count[slot],
                       rms(&t[k], slot), t[k].worst[slot], slot == 0 ? kinds[k].unit : "(second of these)");
    for (size_t i = 0; i < s->count; i++) {
        const point *p = &s->points[i];
        double out[2], raw[2];
        if (stands_in(p) || bounds(p))
            continue;
        int n = residuals(out, raw, s, p);
        printf("    %-20s %8.2f K  w %.4f  %9.4f", kinds[p->kind].name, p->temperature, to_mass(s, p->x), raw[0]);
        if (n == 2)
            printf(" %9.4f", raw[1]);
        printf("  %.60s\n", p->source);
        if (p->kind == HYDRATE)
            printf("    fusion enthalpy that fits both points: %.0f J/mol\n", implied_enthalpy(s, p));
    }
    printf("  one sigma of v:");
    for (size_t k = 0; k < P; k++)
        if (s->used[k])
            printf(" %zu: %.4f +- %.4f", k, s->v[k], sqrt(s->covariance[k][k]));
    printf("\n");
}

static void page_points(FILE *page, const study *s) {
    for (size_t i = 0; i < s->count; i++) {
        const point *p = &s->points[i];
        double out[2], raw[2] = {0};
        if (stands_in(p) || bounds(p))
            continue;
        int n = residuals(out, raw, s, p);
        bool composition = p->kind != EUTECTIC && p->kind != MONOTECTIC;
        fprintf(page, "| %s | %s | %.2f | ", s->solvent->key, kinds[p->kind].name, p->temperature);
        fprintf(page, composition ? "%.4f" : "free", to_mass(s, p->x));
        if (p->kind == SPLIT)
            fprintf(page, ", %.4f", to_mass(s, p->x2));
        fprintf(page, n == 2 ? " | %+.3g, %+.3g" : " | %+.3g", raw[0], raw[1]);
        fprintf(page, " %s | %s |\n", kinds[p->kind].unit, p->source);
    }
}

static void page_pair(FILE *page, const study *s) {
    tally t[KINDS];
    count_kinds(t, s, false);
    for (int k = 0; k < KINDS; k++) {
        if (t[k].count[0] == 0 || k == CURVE || k == ZEOTROPE)
            continue;
        char typical[64];
        fprintf(page, "| %s | %s | %s | %d | %s | %.3g", s->solvent->key, setting(s, "grade"), kinds[k].name,
                t[k].count[0], tell(typical, &t[k], k), t[k].worst[0]);
        if (t[k].count[1] > 0)
            fprintf(page, ", %.3g", t[k].worst[1]);
        fprintf(page, " |\n");
    }
}

static void print_pair(FILE *out, const study *s) {
    const df_nrtl_pair *p = &s->pair;
    double low = INFINITY, high = -INFINITY, square = 0.0;
    int count = 0;
    for (size_t i = 0; i < s->count; i++) {
        const point *at = &s->points[i];
        if (stands_in(at) || bounds(at))
            continue;
        low = fmin(low, at->temperature);
        high = fmax(high, at->temperature);
        if (at->kind <= MONOTECTIC) {
            double r[2], raw[2];
            residuals(r, raw, s, at);
            square += raw[0] * raw[0];
            count++;
        }
    }
    fprintf(out, "\"%s\",water,%.8g,%.8g,%.8g,%.8g,%.8g,%.8g,%.8g,%.8g,%.8g,%.4g,", s->solvent->key, p->a[0], p->b[0],
            p->c[0], p->a[1], p->b[1], p->c[1], p->cold[0], p->cold[1], p->cold[2], p->alpha);
    if (low < high)
        fprintf(out, "%.4g,%.4g,", low, high);
    else /* at most one temperature was measured */
        fprintf(out, ",,");
    fprintf(out, "%s,", setting(s, "grade"));
    if (count > 0)
        fprintf(out, "%.2f", sqrt(square / count));
    fprintf(out, ",\"%s\"\n", setting(s, "source"));
}

static void print_covariance(FILE *out, const study *s) {
    const char *between = "";
    fprintf(out, "\"%s\",", s->solvent->key);
    for (size_t k = 0; k < P; k++)
        if (s->used[k]) {
            fprintf(out, "%s%zu", between, k);
            between = " ";
        }
    between = ",";
    for (size_t k = 0; k < P; k++)
        for (size_t l = k; l < P; l++)
            if (s->used[k] && s->used[l]) {
                fprintf(out, "%s%.10g", between, s->covariance[k][l]);
                between = " ";
            }
    fprintf(out, "\n");
}

/* ---- a sample beside the covariance --------------------------------------------------------------------------- */

#define SAMPLE_STEPS 30000
#define SAMPLES DF_PAIR_DRAWS
#define PROBES 13

static const char *const probe_names[PROBES] = {"first solid, 10 % w/w, K",
                                                "30 % w/w",
                                                "50 % w/w",
                                                "solidus, 10 % w/w, K",
                                                "30 % w/w",
                                                "ln gamma, solvent, 300 K",
                                                "water",
                                                "solvent, 270 K",
                                                "water",
                                                "solvent, 250 K",
                                                "water",
                                                "solvent, 230 K",
                                                "water"};

/* First solids and solidus (K; NAN where there is none), ln gamma of the solvent at x = 0.05 and of water at 0.5. */
static void probe(double out[PROBES], const study *s) {
    static const double w[3] = {0.1, 0.3, 0.5}, temperature[4] = {300.0, 270.0, 250.0, 230.0};
    bool allowed[DF_MAX_SOLIDS];
    size_t at = 0;
    df_mixture_allow(allowed, s->mixture, DF_FREEZING_PRACTICE);
    for (size_t i = 0; i < 3; i++, at++) {
        double x = to_mole(s, w[i]), z[2] = {x, 1.0 - x}, solidus;
        if (df_mixture_freezing_range(NULL, &out[at], &solidus, s->mixture, z, allowed, 150.0) != DF_OK)
            out[at] = solidus = NAN;
        if (i < 2)
            out[3 + i] = solidus;
    }
    at += 2;
    for (size_t i = 0; i < 4; i++) {
        double gamma[2];
        df_mixture_activity(gamma, NULL, s->mixture, temperature[i], (const double[]){0.05, 0.95});
        out[at++] = gamma[0];
        df_mixture_activity(gamma, NULL, s->mixture, temperature[i], (const double[]){0.5, 0.5});
        out[at++] = gamma[1];
    }
}

/* xorshift64* (Vigna, ACM Trans. Math. Softw. 42 (2016) 30), and Box and Muller's normal numbers from it. */
static double uniform(uint64_t *seed) {
    *seed ^= *seed >> 12;
    *seed ^= *seed << 25;
    *seed ^= *seed >> 27;
    return ((double)((*seed * 0x2545F4914F6CDD1Du) >> 11) + 0.5) * 0x1p-53;
}
static double normal(uint64_t *seed) {
    double r = sqrt(-2.0 * log(uniform(seed)));
    return r * cos(2.0 * M_PI * uniform(seed));
}

static int rising(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Half of what lies between the 16th and the 84th part of a hundred, and the one in the middle. */
static double half_width(double *median, double *value, size_t n) {
    size_t known = 0;
    for (size_t i = 0; i < n; i++)
        if (isfinite(value[i]))
            value[known++] = value[i];
    if (known < n / 2)
        return NAN;
    qsort(value, known, sizeof *value, rising);
    *median = value[known / 2];
    return 0.5 * (value[(size_t)(0.84 * (double)known)] - value[(size_t)(0.16 * (double)known)]);
}

static void move_along(study *s, double *v, const double *column, double size) {
    for (size_t k = 0; k < P; k++)
        v[k] = s->v[k] + size * column[k];
    set_parameters(s, v);
}

/* Parameters of s, drawn by the fit's own objective: SAMPLES of them into `drawn`. The share of the steps that was taken. */
static double draw_sample(double drawn[SAMPLES][P], study *s) {
    size_t which[P], d = 0, n, samples = 0;
    double packed[P * P], l[P * P], v[P];
    for (size_t k = 0; k < P; k++)
        if (s->used[k])
            which[d++] = k;
    for (size_t i = 0; i < d * d; i++)
        packed[i] = s->covariance[which[i / d]][which[i % d]];
    triangle(s, l, packed, d);
    memcpy(v, s->v, sizeof v);
    uint64_t seed = 0x9E3779B97F4A7C15u;
    double now = objective(moved, &n, s, v), size = 1.9 / sqrt((double)d);
    long taken = 0;
    for (long step = 0; step < SAMPLE_STEPS; step++) {
        double u[P], z[P];
        memcpy(u, v, sizeof u);
        for (size_t k = 0; k < d; k++)
            z[k] = size * normal(&seed);
        for (size_t k = 0; k < d * d; k++)
            u[which[k / d]] += l[k] * z[k % d];
        double next = objective(moved, &n, s, u);
        if (log(uniform(&seed)) < (now - next) / (2.0 * s->scale)) {
            memcpy(v, u, sizeof v);
            now = next;
            taken++;
        }
        if (step < SAMPLE_STEPS / 10 && step % 100 == 99) { /* towards a quarter of the steps taken */
            double share = (double)taken / (double)(step + 1);
            size *= share < 0.15 ? 0.8 : share > 0.35 ? 1.2 : 1.0;
        }
        if (step >= SAMPLE_STEPS / 10 && step % (SAMPLE_STEPS * 9 / 10 / SAMPLES) == 0 && samples < SAMPLES)
            memcpy(drawn[samples++], v, sizeof v);
    }
    set_parameters(s, s->v);
    return (double)taken / SAMPLE_STEPS;
}

/* The sample's differences from the fit, a line each. */
static void print_sample(FILE *out, study *s) {
    static double drawn[SAMPLES][P];
    draw_sample(drawn, s);
    for (size_t i = 0; i < SAMPLES; i++) {
        const char *between = "";
        fprintf(out, "\"%s\",", s->solvent->key);
        for (size_t k = 0; k < P; k++)
            if (s->used[k]) {
                fprintf(out, "%s%.6g", between, drawn[i][k] - s->v[k]);
                between = " ";
            }
        fprintf(out, "\n");
    }
}

/* The bands by columns, as df_mixture_spread, beside those of a sample. */
static void compare_sample(study *s) {
    static double drawn[SAMPLES][P], there[PROBES][SAMPLES];
    size_t which[P], d = 0;
    double packed[P * P], l[P * P], base[PROBES], square[PROBES] = {0}, v[P];
    for (size_t k = 0; k < P; k++)
        if (s->used[k])
            which[d++] = k;
    for (size_t i = 0; i < d * d; i++)
        packed[i] = s->covariance[which[i / d]][which[i % d]];
    triangle(s, l, packed, d);
    probe(base, s);
    for (size_t c = 0; c < d; c++) {
        double column[P] = {0}, up[PROBES], down[PROBES];
        for (size_t i = 0; i < d; i++)
            column[which[i]] = l[i * d + c];
        move_along(s, v, column, 1.0);
        probe(up, s);
        move_along(s, v, column, -1.0);
        probe(down, s);
        for (size_t q = 0; q < PROBES; q++)
            square[q] += pow(0.5 * (up[q] - down[q]), 2.0);
    }
    double share = draw_sample(drawn, s);
    for (size_t i = 0; i < SAMPLES; i++) {
        double value[PROBES];
        set_parameters(s, drawn[i]);
        probe(value, s);
        for (size_t q = 0; q < PROBES; q++)
            there[q][i] = value[q];
    }
    printf("%s: %.0f %% of %d steps taken\n", s->solvent->key, 100.0 * share, SAMPLE_STEPS);
    for (size_t q = 0; q < PROBES; q++)
        if (isfinite(base[q]) && isfinite(square[q])) {
            double median = NAN, half = half_width(&median, there[q], SAMPLES);
            printf("  %-26s %9.3f  by columns %.3f  by sample %.3f, middle %+.3f\n", probe_names[q], base[q],
                   sqrt(square[q]), half, median - base[q]);
        }
    set_parameters(s, s->v);
}

/* ---- the files ------------------------------------------------------------------------------------------------ */

static FILE *draft(char name[4096], const char *path) {
    snprintf(name, 4096, "%s.draft", path);
    FILE *file = fopen(name, "w");
    if (file == NULL)
        stop(name, "cannot be written");
    return file;
}

static void finish(FILE *file, const char *name, const char *path) {
    if (fclose(file) != 0 || rename(name, path) != 0)
        stop(path, "cannot be written");
}

static void print_unfitted(FILE *out, const tables *t) {
    for (size_t row = 0; row < df_csv_rows(t->warm); row++) {
        const char *i = cell(t->warm, row, "i"), *j = cell(t->warm, row, "j");
        bool fitted = false;
        for (size_t k = 0; k < df_csv_rows(t->plan); k++) {
            const char *key = cell(t->plan, k, "key");
            fitted = fitted || (strcmp(i, key) == 0 && strcmp(j, "water") == 0) ||
                     (strcmp(j, key) == 0 && strcmp(i, "water") == 0);
        }
        if (!fitted)
            fprintf(out, "\"%s\",\"%s\",%s,%s,%s,%s,%s,%s,0,0,0,%s,,,warm,,\"%s\"\n", i, j,
                    cell(t->warm, row, "a_ij"), cell(t->warm, row, "b_ij_K"), cell(t->warm, row, "c_ij"),
                    cell(t->warm, row, "a_ji"), cell(t->warm, row, "b_ji_K"), cell(t->warm, row, "c_ji"),
                    cell(t->warm, row, "alpha"), cell(t->warm, row, "source"));
    }
}

static void run(const tables *t, const char *pairs_path, const char *page_path) {
    char pairs_draft[4096], covariance_path[4096], covariance_draft[4096], sample_path[4096], sample_draft[4096],
        page_draft[4096];
    size_t stem = strlen(pairs_path), pairs_count = df_csv_rows(t->plan);
    if (stem > 4 && strcmp(pairs_path + stem - 4, ".csv") == 0)
        stem -= 4;
    snprintf(covariance_path, sizeof covariance_path, "%.*s_covariance.csv", (int)(stem < 4000 ? stem : 4000),
             pairs_path);
    snprintf(sample_path, sizeof sample_path, "%.*s_sample.csv", (int)(stem < 4000 ? stem : 4000), pairs_path);
    FILE *out = draft(pairs_draft, pairs_path), *covariance = draft(covariance_draft, covariance_path);
    FILE *sample = draft(sample_draft, sample_path);
    FILE *page = page_path != NULL ? draft(page_draft, page_path) : NULL;
    df_text left_out = {0};
    study *studies = calloc(pairs_count + 1, sizeof *studies);
    if (studies == NULL)
        stop(pairs_path, "out of memory");
    fprintf(
        out,
        "# Generated by tools/fit from freezing_points.csv, lle.csv, azeotropes.csv, fit_points.csv, pairs_warm.csv "
        "and\n# fit_plan.csv. Do not edit: change those, build and run it again. residual: rms of the freezing "
        "points in K.\n"
        "i,j,a_ij,b_ij_K,c_ij,a_ji,b_ji_K,c_ji,cold_0,cold_1,cold_2,alpha,Tmin_K,Tmax_K,grade,residual,source\n");
    fprintf(covariance,
            "# Generated by tools/fit with pairs.csv: covariance of the fitted parameters of each pair with "
            "water (the\n# parameters v0 to v8 of include/dryfront/mixture.h that are in use; upper triangle, "
            "row by row), times\n# chi2 over the degrees of freedom where that is above 1. docs/trust.md.\n"
            "key,parameters,covariance\n");
    fprintf(
        sample,
        "# Generated by tools/fit with pairs.csv: %d draws of the fitted parameters of each pair with water by the "
        "fit's own\n# objective, as differences from the fit, in the order of pairs_covariance.csv. "
        "docs/trust.md.\nkey,difference\n",
        SAMPLES);
    for (size_t row = 0; row < pairs_count; row++) {
        study *s = &studies[row];
        open_study(s, t, row);
        fit_study(s);
        report(s);
        print_pair(out, s);
        print_covariance(covariance, s);
        print_sample(sample, s);
        leave_out(s, &left_out);
    }
    print_unfitted(out, t);
    finish(out, pairs_draft, pairs_path);
    finish(covariance, covariance_draft, covariance_path);
    finish(sample, sample_draft, sample_path);
    if (page != NULL) {
        fprintf(page,
                "# Residuals of the fitted pairs\n\nWritten by `tools/fit`; do not edit. What the kinds and weights "
                "are: `trust.md`. Residual: computed less published, in the\nunit given (for azeotropes of boiling "
                "temperature and of composition).\n\n## By pair and kind\n\n"
                "| water with | grade | kind | number | rms | worst |\n| --- | --- | --- | ---: | --- | --- |\n");
        for (size_t row = 0; row < pairs_count; row++)
            page_pair(page, &studies[row]);
        fprintf(page, "\n## Each source against a fit made without it\n\n"
                      "rms of the residuals on that source, of the full fit and of one that has not seen it.\n\n"
                      "| water with | source left out | kind | number | with it | without it |\n"
                      "| --- | --- | --- | ---: | --- | --- |\n");
        fputs(df_text_string(&left_out), page);
        fprintf(page, "\n## Every measured point\n\n"
                      "| water with | kind | T, K | mass fraction of the solvent | residual | source |\n"
                      "| --- | --- | ---: | --- | --- | --- |\n");
        for (size_t row = 0; row < pairs_count; row++)
            page_points(page, &studies[row]);
        finish(page, page_draft, page_path);
    }
    for (size_t row = 0; row < pairs_count; row++)
        df_mixture_free(studies[row].mixture);
    free(studies);
    df_text_free(&left_out);
}

int main(int argc, char **argv) {
    bool sampled = argc == 2 && strcmp(argv[1], "--sample") == 0;
    if (!(argc == 2 || (argc == 4 && strcmp(argv[2], "--residuals") == 0))) {
        fprintf(stderr, "usage: fit PAIRS.csv [--residuals PAGE.md] | fit --sample\n");
        return 2;
    }
    tables t = {0};
    if (df_context_create(&t.ctx) != DF_OK || df_substances_create(t.ctx, &t.substances) != DF_OK ||
        df_pairs_create_bare(t.ctx, &t.pairs) != DF_OK)
        stop("data", t.ctx != NULL ? df_context_message(t.ctx) : "out of memory");
    t.freezing = table(t.ctx, "freezing_points.csv");
    t.lle = table(t.ctx, "lle.csv");
    t.azeotropes = table(t.ctx, "azeotropes.csv");
    t.points = table(t.ctx, "fit_points.csv");
    t.plan = table(t.ctx, "fit_plan.csv");
    t.warm = table(t.ctx, "pairs_warm.csv");
    for (size_t row = 0; row < df_csv_rows(t.plan) && sampled; row++) {
        study *s = calloc(1, sizeof *s);
        if (s == NULL)
            stop("--sample", "out of memory");
        open_study(s, &t, row);
        fit_study(s);
        compare_sample(s);
        df_mixture_free(s->mixture);
        free(s);
    }
    if (!sampled)
        run(&t, argv[1], argc == 4 ? argv[3] : NULL);
    df_csv_free(t.freezing);
    df_csv_free(t.lle);
    df_csv_free(t.azeotropes);
    df_csv_free(t.points);
    df_csv_free(t.plan);
    df_csv_free(t.warm);
    df_pairs_free(t.pairs);
    df_substances_free(t.substances);
    df_context_destroy(t.ctx);
    return 0;
}
