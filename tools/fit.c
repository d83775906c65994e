/* fit: NRTL parameters of water with each solvent, fitted to freezing, liquid-liquid and vapour-liquid points together.
 *
 * Reads the built-in tables freezing_points.csv, invariants.csv, lle.csv, azeotropes.csv (measured points),
 * pairs_warm.csv (published parameters at about one atmosphere) and fit_plan.csv (which pairs, with which alpha and
 * which points), writes pairs.csv and prints a table of residuals:
 *
 *     build/release/tools/fit data/pairs.csv > residuals.txt
 *
 * Least squares by Levenberg-Marquardt; every residual is divided by the uncertainty of its point, so that all kinds of
 * points weigh alike. Where a pair has few points, published warm parameters or modified UNIFAC stand in as points of
 * their own with a wide uncertainty (docs/mixture.md). The same input gives the same output bit for bit. */
#include "dryfront/mixture.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define MAX_POINTS 512
#define PARAMETERS 9

typedef enum kind { ICE, CRYSTAL, SPLIT, AZEOTROPE, GAMMA, CURVE, EXCESS, ZEOTROPE } kind;

typedef struct point {
    kind kind;
    double temperature, x, x2, pressure, sigma, target[2];
    char source[96];
} point;

typedef struct study {
    const df_substance *solvent, *water;
    df_mixture *mixture;
    df_nrtl_pair pair;
    point points[MAX_POINTS];
    size_t count;
    bool curved;    /* c ln T is fitted too */
    size_t cold;    /* terms of the correction in the cold */
    FILE *out;
} study;

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
        exit(3);
    point *p = &s->points[s->count++];
    memset(p, 0, sizeof *p);
    p->kind = k;
    p->temperature = temperature;
    p->x = x;
    p->sigma = sigma;
    snprintf(p->source, sizeof p->source, "%.95s", source);
    return p;
}

/* v: a12, b12, a21, b21, c12, c21, cold terms; around 273.15 K: tau = v0 + v1 (273.15/T - 1) + v4 ln(T/273.15). */
static void set_parameters(study *s, const double *v) {
    const double t0 = DF_ZERO_CELSIUS;
    for (int k = 0; k < 2; k++) {
        double c = s->curved ? v[4 + k] : 0.0;
        s->pair.c[k] = c;
        s->pair.b[k] = v[2 * k + 1] * t0;
        s->pair.a[k] = v[2 * k] - v[2 * k + 1] - c * log(t0);
    }
    for (size_t k = 0; k < DF_COLD_TERMS; k++)
        s->pair.cold[k] = k < s->cold ? v[6 + k] : 0.0;
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

/* Up to two residuals of a point, in units of its uncertainty; returns how many. `raw` in K, ln units or ln p. */
static int residuals(double *out, double *raw, const study *s, const point *p) {
    double a[2], b[2], z[2] = {p->x, 1.0 - p->x};
    switch (p->kind) {
    case ICE:
    case CRYSTAL: {
        const df_substance *solid = p->kind == ICE ? s->water : s->solvent;
        activity(a, s, p->temperature, p->x);
        raw[0] = (a[p->kind == ICE ? 1 : 0] - df_solid_liquid_ratio_ln(solid, p->temperature)) /
                 melting_slope(solid, p->temperature);
        out[0] = raw[0] / p->sigma;
        return 1;
    }
    case SPLIT:
        activity(a, s, p->temperature, p->x);
        activity(b, s, p->temperature, p->x2);
        for (int i = 0; i < 2; i++)
            out[i] = (raw[i] = a[i] - b[i]) / p->sigma;
        return 2;
    case AZEOTROPE: {
        double pressure[2], monomer[2], dimer[2];
        activity(a, s, p->temperature, p->x);
        double total = df_mixture_vapour(pressure, monomer, dimer, s->mixture, p->temperature, a);
        double formula[2] = {monomer[0] + 2.0 * dimer[0], monomer[1] + 2.0 * dimer[1]};
        raw[0] = log(total / p->pressure);
        raw[1] = log(formula[0] / formula[1] * z[1] / z[0]);
        out[0] = raw[0] / (p->sigma * 0.035); /* 1 K of boiling temperature is 3.5 % of pressure */
        out[1] = raw[1] / 0.03;
        return 2;
    }
    case GAMMA:
        df_mixture_activity(a, NULL, s->mixture, p->temperature, z);
        for (int i = 0; i < 2; i++)
            out[i] = (raw[i] = a[i] - p->target[i]) / p->sigma;
        return 2;
    case CURVE: /* no liquid-liquid gap here: the spinodal function stays above a floor */
    {
        double slope[4];
        df_mixture_activity(a, slope, s->mixture, p->temperature, z);
        /* d ln a1/d x1 along x1 + x2 = 1 must be positive */
        double q = 1.0 + z[0] * (slope[0] - slope[1]);
        raw[0] = fmin(0.0, q - (p->sigma < 0.01 ? 0.0 : 0.02));
        out[0] = raw[0] / p->sigma;
        return 1;
    }
    case ZEOTROPE: { /* the solvent stays the more (target 1) or the less (-1) volatile one */
        double pressure[2], monomer[2], dimer[2];
        activity(a, s, p->temperature, p->x);
        df_mixture_vapour(pressure, monomer, dimer, s->mixture, p->temperature, a);
        double ratio = log((monomer[0] + 2.0 * dimer[0]) / (monomer[1] + 2.0 * dimer[1]) * z[1] / z[0]);
        raw[0] = fmin(0.0, p->target[0] * ratio - 0.03);
        out[0] = raw[0] / p->sigma;
        return 1;
    }
    case EXCESS: /* molar excess Gibbs energy, J/mol */
        df_mixture_activity(a, NULL, s->mixture, p->temperature, z);
        raw[0] = DF_GAS_CONSTANT * p->temperature * (z[0] * a[0] + z[1] * a[1]) - p->target[0];
        out[0] = raw[0] / p->sigma;
        return 1;
    }
    return 0;
}

static double objective(double *r, size_t *n, study *s, const double *v) {
    double sum = 0.0, raw[2];
    set_parameters(s, v);
    *n = 0;
    for (size_t i = 0; i < s->count; i++) {
        int k = residuals(&r[*n], raw, s, &s->points[i]);
        for (int j = 0; j < k; j++, (*n)++)
            sum += r[*n] * r[*n];
    }
    /* weak pull of the parameters towards nought, so that none runs away along a flat valley */
    static const double width[PARAMETERS] = {6.0, 6.0, 6.0, 6.0, 8.0, 8.0, 2.0, 1.5, 1.0};
    for (size_t k = 0; k < PARAMETERS; k++) {
        r[*n] = v[k] / width[k];
        sum += r[*n] * r[*n];
        (*n)++;
    }
    return isfinite(sum) ? sum : 1e300;
}

static double minimise(study *s, double *v) {
    static double r[2 * MAX_POINTS + 8], moved[2 * MAX_POINTS + 8], jacobian[PARAMETERS][2 * MAX_POINTS + 8];
    size_t n, m;
    const size_t parameters = PARAMETERS; /* those not in use have no effect but their weak pull */
    double best = objective(r, &n, s, v), damping = 1e-2;
    for (int step = 0; step < 500; step++) {
        for (size_t k = 0; k < parameters; k++) {
            double u[PARAMETERS];
            memcpy(u, v, sizeof u);
            u[k] += 1e-6;
            objective(moved, &m, s, u);
            for (size_t i = 0; i < n; i++)
                jacobian[k][i] = (moved[i] - r[i]) / 1e-6;
        }
        double a[PARAMETERS * PARAMETERS], b[PARAMETERS], u[PARAMETERS];
        for (size_t k = 0; k < parameters; k++) {
            b[k] = 0.0;
            for (size_t i = 0; i < n; i++)
                b[k] -= jacobian[k][i] * r[i];
            for (size_t l = 0; l < parameters; l++) {
                a[k * parameters + l] = 0.0;
                for (size_t i = 0; i < n; i++)
                    a[k * parameters + l] += jacobian[k][i] * jacobian[l][i];
            }
            a[k * parameters + k] *= 1.0 + damping;
        }
        if (!df_solve_linear(a, b, parameters))
            break;
        memcpy(u, v, sizeof u);
        for (size_t k = 0; k < parameters; k++)
            u[k] += b[k];
        double sum = objective(moved, &m, s, u);
        if (sum < best) {
            bool done = best - sum < 1e-12 * best;
            best = sum;
            memcpy(v, u, sizeof u);
            memcpy(r, moved, sizeof r);
            damping = fmax(damping / 6.0, 1e-14);
            if (done)
                break;
        } else if ((damping *= 5.0) > 1e12)
            break;
    }
    set_parameters(s, v);
    return best;
}

/* ---- points --------------------------------------------------------------------------------------------------- */

static df_csv *table(df_context *ctx, const char *name) {
    size_t length = 0;
    const char *text = df_embedded(&length, name);
    df_csv *csv = NULL;
    if (text == NULL || df_csv_parse(ctx, &csv, text, length, name) != DF_OK) {
        fprintf(stderr, "fit: %s: %s\n", name, text == NULL ? "not built in" : df_context_message(ctx));
        exit(3);
    }
    return csv;
}

static const char *cell(const df_csv *csv, size_t row, const char *column) {
    return df_csv_cell(csv, row, df_csv_find(csv, column));
}

static double value(df_context *ctx, const df_csv *csv, size_t row, const char *column) {
    double v = NAN;
    if (df_csv_number(ctx, &v, csv, row, df_csv_find(csv, column), NAN) != DF_OK)
        return NAN;
    return v;
}

static bool usable(const char *grade) { return strcmp(grade, "from memory") != 0; }

static void add_freezing(df_context *ctx, study *s) {
    df_csv *csv = table(ctx, "freezing_points.csv");
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        if (strcmp(cell(csv, row, "key"), s->solvent->key) != 0 || !usable(cell(csv, row, "grade")))
            continue;
        double w = value(ctx, csv, row, "w_solvent"), t = value(ctx, csv, row, "temperature_K");
        const char *solid = cell(csv, row, "solid"), *note = cell(csv, row, "note");
        double sigma = strcmp(cell(csv, row, "grade"), "secondary") == 0 ? 2.0 : strstr(solid, "hydrate") != NULL ? 0.1 : 0.5;
        if (!(w > 0.0 && w < 1.0) || strstr(note, "SUSPECT") != NULL)
            continue;
        if (strstr(solid, "ice") != NULL)
            add(s, ICE, t, to_mole(s, w), sigma, cell(csv, row, "source"));
        if (strstr(solid, "solvent") != NULL)
            add(s, CRYSTAL, t, to_mole(s, w), sigma, cell(csv, row, "source"));
    }
    df_csv_free(csv);
}

/* The monotectic's two liquids, from fit_plan: ice with liquids of mass fraction w1 and w2 at T. */
static void add_monotectic(study *s, double t, double w1, double w2) {
    point *p = add(s, SPLIT, t, to_mole(s, w1), 0.01, "monotectic");
    p->x2 = to_mole(s, w2);
    add(s, ICE, t, to_mole(s, w1), 0.3, "monotectic");
    add(s, ICE, t, to_mole(s, w2), 0.3, "monotectic");
}

/* Points written in the plan as "T/K w uncertainty" (K), "T/K w GE uncertainty" (J/mol) or "T/K w1 w2
 * uncertainty" (ln activity), separated by ';'. */
static void add_listed(study *s, kind k, const char *text) {
    for (const char *at = text; *at != '\0';) {
        double v[4];
        int n = 0;
        while (n < 4 && df_number_scan(&v[n], &at, at))
            n++;
        if (n != (k == EXCESS || k == SPLIT ? 4 : 3)) {
            fprintf(stderr, "fit: fit_plan.csv: '%s' is no list of points\n", text);
            exit(2);
        }
        point *p = add(s, k, v[0], to_mole(s, v[1]), v[n - 1], "fit_plan.csv");
        p->target[0] = v[2];
        p->x2 = to_mole(s, v[2]);
        at += *at == ';';
    }
}

/* Ends of a gap measured at nearly the same temperature become a pair; the solvent-rich end leads, the other is
 * interpolated. */
static void add_gap(df_context *ctx, study *s) {
    df_csv *csv = table(ctx, "lle.csv");
    double t[64], w[64];
    size_t n = 0;
    for (size_t row = 0; row < df_csv_rows(csv); row++)
        if (strcmp(cell(csv, row, "key"), s->solvent->key) == 0 && strcmp(cell(csv, row, "phase"), "water-rich") == 0 &&
            usable(cell(csv, row, "grade")) && n < 64) {
            t[n] = value(ctx, csv, row, "temperature_K");
            w[n++] = value(ctx, csv, row, "w_solvent");
        }
    for (size_t row = 0; row < df_csv_rows(csv) && n > 1; row++) {
        if (strcmp(cell(csv, row, "key"), s->solvent->key) != 0 || strcmp(cell(csv, row, "phase"), "solvent-rich") != 0 ||
            !usable(cell(csv, row, "grade")))
            continue;
        double at = value(ctx, csv, row, "temperature_K");
        if (at < t[0] - 0.2 || at > t[n - 1] + 0.2)
            continue;
        point *p = add(s, SPLIT, at, to_mole(s, df_interpolate(t, w, n, at)), at > 271.0 ? 0.002 : 0.004,
                       cell(csv, row, "source"));
        p->x2 = to_mole(s, value(ctx, csv, row, "w_solvent"));
    }
    df_csv_free(csv);
}

static void add_azeotropes(df_context *ctx, study *s) {
    df_csv *csv = table(ctx, "azeotropes.csv");
    for (size_t row = 0; row < df_csv_rows(csv); row++) {
        if (strcmp(cell(csv, row, "key"), s->solvent->key) != 0 || strstr(cell(csv, row, "kind"), "hetero") != NULL)
            continue;
        double x = value(ctx, csv, row, "x_solvent"), t = value(ctx, csv, row, "temperature_K");
        if (strcmp(cell(csv, row, "kind"), "none") == 0) {
            static const double xs[] = {0.005, 0.05, 0.3, 0.7, 0.9, 0.97, 0.99};
            double ts = s->solvent->boiling_temperature, tw = s->water->boiling_temperature;
            for (size_t k = 0; k < sizeof xs / sizeof xs[0]; k++)
                add(s, ZEOTROPE, xs[k] * ts + (1.0 - xs[k]) * tw, xs[k], 0.01, cell(csv, row, "source"))->target[0] =
                    ts < tw ? 1.0 : -1.0;
            continue;
        }
        if (!(x > 0.0 && x < 1.0))
            continue;
        point *p = add(s, AZEOTROPE, t, x, 0.3, cell(csv, row, "source"));
        p->pressure = value(ctx, csv, row, "pressure_Pa");
    }
    df_csv_free(csv);
}

/* Points of ln gamma taken from other parameters (published warm NRTL) or from modified UNIFAC. */
static void add_gammas(study *s, const df_pairs *pairs, const df_nrtl_pair *warm, double lowest, double highest,
                       double sigma) {
    static const double xs[] = {0.02, 0.1, 0.25, 0.4, 0.6, 0.8, 0.95};
    df_nrtl_pair keep = *df_mixture_pair(s->mixture, 0, 1);
    const df_substance *both[2] = {s->solvent, s->water};
    for (int k = 0; k < 3; k++) {
        double t = lowest + 0.5 * k * (highest - lowest);
        for (size_t i = 0; i < sizeof xs / sizeof xs[0]; i++) {
            double z[2] = {xs[i], 1.0 - xs[i]}, g[2];
            bool known = true;
            if (warm != NULL) {
                df_mixture_set_pair(s->mixture, 0, 1, warm);
                df_mixture_activity(g, NULL, s->mixture, t, z);
                df_mixture_set_pair(s->mixture, 0, 1, &keep);
            } else
                known = df_unifac_activity(g, pairs, both, 2, t, z);
            if (!known)
                return;
            point *p = add(s, GAMMA, t, xs[i], sigma, warm != NULL ? "warm NRTL" : "modified UNIFAC");
            p->target[0] = g[0];
            p->target[1] = g[1];
        }
    }
}

static bool warm_pair(df_nrtl_pair *out, df_context *ctx, const char *solvent) {
    df_csv *csv = table(ctx, "pairs_warm.csv");
    bool found = false;
    memset(out, 0, sizeof *out);
    for (size_t row = 0; row < df_csv_rows(csv) && !found; row++) {
        const char *i = cell(csv, row, "i"), *j = cell(csv, row, "j");
        bool forward = strcmp(i, solvent) == 0 && strcmp(j, "water") == 0;
        bool reverse = strcmp(j, solvent) == 0 && strcmp(i, "water") == 0;
        if (!forward && !reverse)
            continue;
        out->a[reverse] = value(ctx, csv, row, "a_ij");
        out->b[reverse] = value(ctx, csv, row, "b_ij_K");
        out->a[!reverse] = value(ctx, csv, row, "a_ji");
        out->b[!reverse] = value(ctx, csv, row, "b_ji_K");
        out->alpha = value(ctx, csv, row, "alpha");
        found = true;
    }
    df_csv_free(csv);
    return found;
}

/* ---- output --------------------------------------------------------------------------------------------------- */

static const char *const kind_names[] = {"ice", "crystal", "gap", "azeotrope", "ln gamma", "no gap", "excess G", "zeotrope"};

static void report(const study *s, double objective_value) {
    printf("\nwater + %s   alpha %.2f   objective %.2f\n", s->solvent->key, s->pair.alpha, objective_value);
    double square[8] = {0}, worst[8] = {0};
    int count[8] = {0};
    for (size_t i = 0; i < s->count; i++) {
        double out[2], raw[2];
        int n = residuals(out, raw, s, &s->points[i]);
        for (int k = 0; k < n; k++) {
            square[s->points[i].kind] += raw[k] * raw[k];
            worst[s->points[i].kind] = fmax(worst[s->points[i].kind], fabs(raw[k]));
            count[s->points[i].kind]++;
        }
    }
    for (int k = 0; k < 8; k++)
        if (count[k] > 0)
            printf("  %-10s %3d residuals   rms %8.4f   worst %8.4f %s\n", kind_names[k], count[k],
                    sqrt(square[k] / count[k]), worst[k], k < 2 ? "K" : "");
    for (size_t i = 0; i < s->count; i++) {
        const point *p = &s->points[i];
        double out[2], raw[2];
        if (p->kind == GAMMA || p->kind == CURVE || p->kind == ZEOTROPE)
            continue;
        int n = residuals(out, raw, s, p);
        printf("    %-9s %8.2f K  w %.4f  %9.4f", kind_names[p->kind], p->temperature, to_mass(s, p->x), raw[0]);
        if (n == 2)
            printf(" %9.4f", raw[1]);
        printf("  %.60s\n", p->source);
    }
}

/* Root mean square of the freezing residuals in K, NAN where there are none. */
static double freezing_rms(const study *s) {
    double square = 0.0;
    int count = 0;
    for (size_t i = 0; i < s->count; i++)
        if (s->points[i].kind == ICE || s->points[i].kind == CRYSTAL) {
            double out[2], raw[2];
            residuals(out, raw, s, &s->points[i]);
            square += raw[0] * raw[0];
            count++;
        }
    return count > 0 ? sqrt(square / count) : NAN;
}

static void print_pair(const study *s, const char *grade, double lowest, double highest, const char *source) {
    const df_nrtl_pair *p = &s->pair;
    double rms = freezing_rms(s);
    fprintf(s->out, "\"%s\",water,%.9g,%.9g,%.9g,%.9g,%.9g,%.9g,%.9g,%.9g,%.9g,%.4g,", s->solvent->key, p->a[0], p->b[0],
           p->c[0], p->a[1], p->b[1], p->c[1], p->cold[0], p->cold[1], p->cold[2], p->alpha);
    if (lowest < highest)
        fprintf(s->out, "%.4g,%.4g,%s,", lowest, highest, grade);
    else /* at most one temperature was measured */
        fprintf(s->out, ",,%s,", grade);
    if (isnan(rms))
        fprintf(s->out, ",");
    else
        fprintf(s->out, "%.2f,", rms);
    fprintf(s->out, "\"%s\"\n", source);
}

static void fit_row(FILE *out, df_context *ctx, const df_substances *substances, const df_pairs *pairs,
                    const df_csv *plan, size_t row) {
    static study s;
    memset(&s, 0, sizeof s);
    const df_substance *both[2];
    const char *key = cell(plan, row, "key");
    if (df_substances_find(ctx, &both[0], substances, key, NULL) != DF_OK ||
        df_substances_find(ctx, &both[1], substances, "water", NULL) != DF_OK ||
        df_mixture_create(ctx, &s.mixture, pairs, both, 2) != DF_OK) {
        fprintf(stderr, "fit: %s\n", df_context_message(ctx));
        exit(3);
    }
    s.out = out;
    s.solvent = both[0];
    s.water = both[1];
    s.curved = strcmp(cell(plan, row, "curved"), "yes") == 0;
    double terms = value(ctx, plan, row, "cold_terms");
    s.cold = terms > 0.0 ? (size_t)terms : 0;
    add_freezing(ctx, &s);
    add_gap(ctx, &s);
    add_azeotropes(ctx, &s);
    double t = value(ctx, plan, row, "monotectic_K");
    if (t > 0.0)
        add_monotectic(&s, t, value(ctx, plan, row, "monotectic_w1"), value(ctx, plan, row, "monotectic_w2"));
    add_listed(&s, ICE, cell(plan, row, "ice_points"));
    add_listed(&s, CRYSTAL, cell(plan, row, "crystal_points"));
    add_listed(&s, SPLIT, cell(plan, row, "gap_points"));
    add_listed(&s, EXCESS, cell(plan, row, "excess_points"));
    double sigma = value(ctx, plan, row, "warm_sigma");
    df_nrtl_pair warm;
    if (sigma > 0.0 && warm_pair(&warm, ctx, key))
        add_gammas(&s, pairs, &warm, 330.0, 370.0, sigma);
    else if (sigma > 0.0)
        add_gammas(&s, pairs, NULL, 320.0, 380.0, sigma);
    sigma = value(ctx, plan, row, "cold_unifac_sigma");
    if (sigma > 0.0)
        add_gammas(&s, pairs, NULL, 240.0, 300.0, sigma);
    if (strcmp(cell(plan, row, "no_gap"), "yes") == 0)
        for (double at = 180.0; at < 381.0; at += 20.0)
            for (double x = 0.025; x < 1.0; x += 0.05)
                add(&s, CURVE, at, x, 0.02, "fully miscible");
    double top = value(ctx, plan, row, "gap_top_K");
    if (top > 0.0)
        for (double at = top; at < top + 61.0; at += 15.0)
            for (double x = 0.15; x < 0.66; x += 0.03)
                add(&s, CURVE, at, x, 0.002, "miscible above its gap");

    double best = INFINITY, chosen[PARAMETERS] = {0}, alpha = 0.3;
    static const double alphas[] = {0.1, 0.2, 0.3, 0.4, 0.47, 0.6, 0.75};
    static const double starts[][PARAMETERS] = {
        {0.0, 1.0, 1.0, 1.0}, {1.0, 1.0, 1.0, 1.0}, {2.0, 0.0, 0.5, 0.0}, {0.5, 0.0, 2.0, 0.0}, {-0.5, 0.0, 1.5, 0.0}};
    double fixed = value(ctx, plan, row, "alpha");
    for (size_t a = 0; a < sizeof alphas / sizeof alphas[0]; a++) {
        s.pair.alpha = fixed > 0.0 ? fixed : alphas[a];
        for (size_t k = 0; k < sizeof starts / sizeof starts[0]; k++) {
            double v[PARAMETERS];
            memcpy(v, starts[k], sizeof v);
            double sum = minimise(&s, v);
            if (sum < best * (1.0 - 1e-9)) {
                best = sum;
                alpha = s.pair.alpha;
                memcpy(chosen, v, sizeof chosen);
            }
        }
        if (fixed > 0.0)
            break;
    }
    s.pair.alpha = alpha;
    set_parameters(&s, chosen);
    report(&s, best);
    double low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < s.count; i++)
        if (s.points[i].kind != GAMMA && s.points[i].kind != CURVE && s.points[i].kind != ZEOTROPE) {
            low = fmin(low, s.points[i].temperature);
            high = fmax(high, s.points[i].temperature);
        }
    print_pair(&s, cell(plan, row, "grade"), low, high, cell(plan, row, "source"));
    df_mixture_free(s.mixture);
}

int main(int argc, char **argv) {
    if (argc != 2) {
        fprintf(stderr, "usage: fit PAIRS.csv\n");
        return 2;
    }
    char draft[4096];
    snprintf(draft, sizeof draft, "%s.draft", argv[1]);
    df_context *ctx = NULL;
    df_substances *substances = NULL;
    df_pairs *pairs = NULL;
    if (df_context_create(&ctx) != DF_OK || df_substances_create(ctx, &substances) != DF_OK ||
        df_pairs_create(ctx, &pairs) != DF_OK) {
        fprintf(stderr, "fit: %s\n", ctx != NULL ? df_context_message(ctx) : "out of memory");
        return 3;
    }
    FILE *out = fopen(draft, "w");
    if (out == NULL) {
        fprintf(stderr, "fit: %s cannot be written\n", draft);
        return 2;
    }
    fprintf(out, "# Generated by tools/fit from freezing_points.csv, lle.csv, azeotropes.csv, pairs_warm.csv and fit_plan.csv.\n"
           "# Do not edit: change those and run it again. residual: rms of the freezing points in K.\n");
    fprintf(out, "i,j,a_ij,b_ij_K,c_ij,a_ji,b_ji_K,c_ji,cold_0,cold_1,cold_2,alpha,Tmin_K,Tmax_K,grade,residual,source\n");
    df_csv *plan = table(ctx, "fit_plan.csv"), *warm = table(ctx, "pairs_warm.csv");
    for (size_t row = 0; row < df_csv_rows(plan); row++)
        fit_row(out, ctx, substances, pairs, plan, row);
    for (size_t row = 0; row < df_csv_rows(warm); row++) {
        bool fitted = false;
        for (size_t k = 0; k < df_csv_rows(plan); k++) {
            const char *key = cell(plan, k, "key"), *i = cell(warm, row, "i"), *j = cell(warm, row, "j");
            fitted = fitted || (strcmp(i, key) == 0 && strcmp(j, "water") == 0) ||
                     (strcmp(j, key) == 0 && strcmp(i, "water") == 0);
        }
        if (fitted)
            continue;
        fprintf(out, "\"%s\",\"%s\",%s,%s,%s,%s,%s,%s,0,0,0,%s,,,warm,,\"%s\"\n", cell(warm, row, "i"), cell(warm, row, "j"), cell(warm, row, "a_ij"),
               cell(warm, row, "b_ij_K"), cell(warm, row, "c_ij"), cell(warm, row, "a_ji"), cell(warm, row, "b_ji_K"),
               cell(warm, row, "c_ji"), cell(warm, row, "alpha"), cell(warm, row, "source"));
    }
    df_csv_free(plan);
    df_csv_free(warm);
    df_pairs_free(pairs);
    df_substances_free(substances);
    df_context_destroy(ctx);
    if (fclose(out) != 0 || rename(draft, argv[1]) != 0) {
        fprintf(stderr, "fit: %s cannot be written\n", argv[1]);
        return 2;
    }
    return 0;
}
