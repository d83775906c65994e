/* Phases of least Gibbs energy.
 *
 * A set of phases is brought to equal potentials (the plane), and every candidate is held against that plane: the
 * solids one by one, liquids by going down the tangent-plane distance from many starts. What lies under the plane
 * is taken in, which lowers the energy, until nothing does. The start is one liquid of the whole composition, or
 * the caller's guess.
 *
 * Where that gets stuck a linear programme takes over: minimise sum_j y_j g_j over amounts y_j >= 0 of candidate
 * phases j of composition a_j and Gibbs energy g_j (per unit, pure liquids = 0) with sum_j y_j a_j = z. Its dual
 * variables are the ln of the activities. Solids are a fixed list; liquids are added where one lies under the
 * present plane. */
#include "mixture/activity.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define MAX_UNKNOWNS (DF_MAX_LIQUIDS * DF_N + DF_N)
#define SEPARATE 1e-10   /* rise of the tangent-plane distance between two points that makes them two liquids */
#define ABSENT 5e-13     /* mole fraction up to which a component counts as absent: beside solids it has no digits */
#define JUMP 0.05        /* of a mole fraction, from one temperature to the next: another liquid */
#define SAME_AMOUNT 1e-7 /* moles, of one in all */
#define TRACE 1e-7       /* moles of a liquid, of one in all */
#define LEAP 0.5         /* longest step of a search, in 2 sqrt(x): a longer one may leave the basin */
#define UNLIKE 2.0       /* ln gamma at infinite dilution from which a pair may part into two liquids */

typedef struct column {
    double a[DF_N];
    double cost;
    int solid; /* -1: a liquid */
} column;

typedef struct problem {
    size_t n;
    df_nrtl model;
    double z[DF_N];
    size_t solids;
    int solid[DF_MAX_SOLIDS];            /* index in the mixture */
    double formula[DF_MAX_SOLIDS][DF_N]; /* in active components */
    double constant[DF_MAX_SOLIDS];      /* ln K */
    double size[DF_MAX_SOLIDS];          /* moles in a formula */
    size_t pairs;                        /* of unlike components */
    size_t pair[DF_N * (DF_N - 1) / 2][2];
} problem;

typedef struct phases {
    size_t solids;
    int solid[DF_N]; /* index in problem */
    double amount[DF_N];
    size_t liquids;
    double liquid[DF_MAX_LIQUIDS][DF_N];
    double potential[DF_N]; /* ln activity */
    bool crowded;           /* one liquid more than there is room for would have lowered the energy */
} phases;

double df_solid_constant_ln(const df_mixture *mixture, size_t k, double temperature) {
    const df_solid *s = &mixture->solid[k];
    if (s->component >= 0)
        return df_solid_liquid_ratio_ln(mixture->component[s->component], temperature);
    return s->reference_ln - s->enthalpy / DF_GAS_CONSTANT * (1.0 / temperature - 1.0 / s->reference_temperature);
}

static double total_of(const double *v, size_t n) {
    double total = 0.0;
    for (size_t i = 0; i < n; i++)
        total += v[i];
    return total;
}

/* Gibbs energy of a liquid of composition x (one mole) over pure liquids, in RT; potentials in `mu`. */
static double liquid_energy(double *mu, const problem *p, const double *x) {
    double sum = 0.0;
    df_nrtl_activity(mu, NULL, &p->model, x);
    for (size_t i = 0; i < p->n; i++) {
        mu[i] += log(x[i]);
        sum += x[i] * mu[i];
    }
    return sum;
}

/* Tangent-plane distance of x under the plane `potential`, in RT for one mole. */
static double plane_distance(const problem *p, const double *x, const double *potential) {
    double mu[DF_N], sum = liquid_energy(mu, p, x);
    for (size_t i = 0; i < p->n; i++)
        sum -= x[i] * potential[i];
    return sum;
}

/* tm = 1 + sum X_i (ln X_i + ln gamma_i - potential_i - 1), Michelsen's unconstrained form: its stationary points
 * are those of the tangent-plane distance and the distance there is -ln sum X. With `d` (ln X + ln gamma -
 * potential) on the way. */
DF_UNROLLED double modified_distance(double *d, double *slope, const problem *p, const double *x,
                                     const double *potential, const size_t n) {
    double gamma[DF_N], tm = 1.0;
    df_activity(gamma, slope, &p->model, x, n);
    for (size_t i = 0; i < n; i++) {
        d[i] = log(x[i]) + gamma[i] - potential[i];
        tm += x[i] * (d[i] - 1.0);
    }
    return tm;
}

/* Solves (H + shift) s = r by Cholesky; false where the matrix is not positive definite. n <= MAX_UNKNOWNS. */
DF_UNROLLED bool solve_for(double *s, const double *h, const double *r, double shift, const size_t n) {
    double l[MAX_UNKNOWNS * MAX_UNKNOWNS];
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j <= i; j++) {
            double sum = h[i * n + j] + (i == j ? shift : 0.0);
            for (size_t k = 0; k < j; k++)
                sum -= l[i * n + k] * l[j * n + k];
            if (i == j) {
                if (sum <= 1e-10)
                    return false;
                l[i * n + i] = sqrt(sum);
            } else
                l[i * n + j] = sum / l[j * n + j];
        }
    for (size_t i = 0; i < n; i++) {
        double sum = r[i];
        for (size_t k = 0; k < i; k++)
            sum -= l[i * n + k] * s[k];
        s[i] = sum / l[i * n + i];
    }
    for (size_t i = n; i-- > 0;) {
        double sum = s[i];
        for (size_t k = i + 1; k < n; k++)
            sum -= l[k * n + i] * s[k];
        s[i] = sum / l[i * n + i];
    }
    return true;
}

static bool solve_positive(double *s, const double *h, const double *r, double shift, size_t n) {
    return solve_for(s, h, r, shift, n);
}

/* Whether x has come close to one of the known liquids. */
static bool returns(const problem *p, const double *x, const phases *known) {
    double total = 0.0;
    for (size_t i = 0; i < p->n; i++)
        total += x[i];
    for (size_t l = 0; l < known->liquids; l++) {
        double there = 0.0;
        for (size_t i = 0; i < p->n; i++)
            there += known->liquid[l][i];
        bool near = true;
        for (size_t i = 0; i < p->n && near; i++)
            near = fabs(x[i] / total - known->liquid[l][i] / there) < 2e-3;
        if (near)
            return true;
    }
    return false;
}

/* From the start x goes down to a minimum of the tangent-plane distance: Newton in alpha_i = 2 sqrt(X_i), shifted
 * to be positive definite and shortened until it descends (Michelsen, Fluid Phase Equilib. 9 (1982) 1). x becomes
 * the minimum's composition; returns the distance. A clearly negative value ends the search early; so does coming
 * back to a liquid that is `known` (may be NULL) to touch the plane. */
DF_UNROLLED double descend_for(const problem *p, double *x, const double *potential, const phases *known,
                               double enough, int steps, const size_t n) {
    double d[DF_N], slope[DF_N * DF_N], h[DF_N * DF_N], r[DF_N], s[DF_N], root[DF_N];
    double tm = modified_distance(d, slope, p, x, potential, n);
    for (int step = 0; step < steps; step++) {
        double worst = 0.0;
        for (size_t i = 0; i < n; i++) {
            root[i] = sqrt(x[i]);
            r[i] = -root[i] * d[i];
            worst = fabs(r[i]) > worst ? fabs(r[i]) : worst;
        }
        if (worst < 1e-9 || (tm < enough && worst < 1e-2) || (tm > 1e-4 && worst < 1e-3))
            break; /* settled, clearly below the plane, or on the way to a minimum clearly above it */
        if (known != NULL && returns(p, x, known))
            return 0.0;
        for (size_t i = 0; i < n; i++)
            for (size_t j = 0; j < n; j++)
                h[i * n + j] = (i == j ? 1.0 : 0.0) + root[i] * root[j] * slope[i * n + j];
        double shift = 0.0;
        while (!solve_for(s, h, r, shift, n))
            shift = shift == 0.0 ? 1e-3 : 10.0 * shift;
        double leap = 0.0, next[DF_N], next_tm = INFINITY;
        for (size_t i = 0; i < n; i++)
            leap += s[i] * s[i];
        double length = fmin(1.0, LEAP / sqrt(leap));
        for (int half = 0; half < 30; half++, length *= 0.5) {
            for (size_t i = 0; i < n; i++) {
                double a = root[i] + 0.5 * length * s[i]; /* sqrt(X) */
                a = a > 0.1 * root[i] ? a : 0.1 * root[i];
                a = a < 10.0 * root[i] ? a : 10.0 * root[i];
                next[i] = a * a > 1e-300 ? a * a : 1e-300;
            }
            next_tm = modified_distance(d, slope, p, next, potential, n);
            if (next_tm <= tm + 1e-15 * fabs(tm))
                break;
        }
        if (!(next_tm <= tm + 1e-15 * fabs(tm)))
            break;
        bool still = tm - next_tm < 1e-15;
        memcpy(x, next, n * sizeof *x);
        tm = next_tm;
        if (still)
            break;
    }
    double total = 0.0;
    for (size_t i = 0; i < n; i++)
        total += x[i];
    for (size_t i = 0; i < n; i++)
        x[i] = fmax(x[i] / total, 1e-300);
    return plane_distance(p, x, potential);
}

static double descend(const problem *p, double *x, const double *potential, const phases *known, double enough,
                      int steps) {
    switch (p->n) {
    case 2:
        return descend_for(p, x, potential, known, enough, steps, 2);
    case 3:
        return descend_for(p, x, potential, known, enough, steps, 3);
    case 4:
        return descend_for(p, x, potential, known, enough, steps, 4);
    default:
        return descend_for(p, x, potential, known, enough, steps, p->n);
    }
}

/* The liquid lowest under the plane, from every corner, from two points between the parts of each unlike pair, and
 * from `extra` starts. Corners alone miss liquids that lie between two others. */
static double lowest_liquid(double *best, const problem *p, const double *potential, const phases *known,
                            const double (*extra)[DF_N], size_t extras, int steps) {
    size_t n = p->n, between = 2 * p->pairs;
    double lowest = INFINITY;
    for (size_t start = 0; start < n + between + extras; start++) {
        double x[DF_N];
        if (start < n) {
            for (size_t i = 0; i < n; i++)
                x[i] = n == 1 ? 1.0 : i == start ? 0.995 : 0.005 / (double)(n - 1);
        } else if (start < n + between) {
            const size_t *pair = p->pair[(start - n) / 2];
            size_t more = pair[start % 2], less = pair[1 - start % 2];
            for (size_t i = 0; i < n; i++)
                x[i] = i == more ? 0.72 : i == less ? 0.24 : 0.04 / (double)(n - 2);
        } else
            memcpy(x, extra[start - n - between], sizeof x);
        double distance = descend(p, x, potential, known, -1e-3, steps);
        if (distance < lowest) {
            lowest = distance;
            memcpy(best, x, sizeof x);
        }
    }
    return lowest;
}

/* Solves basis^T potential = cost and basis y = z. */
static bool solve_basis(const problem *p, const column *basis, double *y, double *potential) {
    size_t n = p->n;
    double matrix[DF_N * DF_N];
    if (y != NULL) {
        for (size_t i = 0; i < n; i++) {
            y[i] = p->z[i];
            for (size_t j = 0; j < n; j++)
                matrix[i * n + j] = basis[j].a[i];
        }
        if (!df_solve_linear(matrix, y, n))
            return false;
    }
    for (size_t j = 0; j < n; j++) {
        potential[j] = basis[j].cost;
        for (size_t i = 0; i < n; i++)
            matrix[j * n + i] = basis[j].a[i];
    }
    return df_solve_linear(matrix, potential, n);
}

/* Puts `entering` into the basis by the ratio test. False where that is not possible. */
static bool exchange(const problem *p, column *basis, const double *y, const column *entering) {
    size_t n = p->n, leave = n;
    double matrix[DF_N * DF_N], direction[DF_N], least = INFINITY;
    for (size_t i = 0; i < n; i++) {
        direction[i] = entering->a[i];
        for (size_t j = 0; j < n; j++)
            matrix[i * n + j] = basis[j].a[i];
    }
    if (!df_solve_linear(matrix, direction, n))
        return false;
    for (size_t j = 0; j < n; j++)
        if (direction[j] > 1e-12) {
            double ratio = fmax(y[j], 0.0) / direction[j];
            if (ratio < least - 1e-300 || (ratio == least && direction[j] > direction[leave])) {
                least = ratio;
                leave = j;
            }
        }
    if (leave == n)
        return false;
    basis[leave] = *entering;
    return true;
}

/* The linear programme. basis[n] is in-out; stops at a plane under which nothing lies by more than `tolerance`. */
static bool hull(const problem *p, column *basis, double *y, double *potential, double tolerance) {
    size_t n = p->n;
    for (int round = 0; round < 400; round++) {
        if (!solve_basis(p, basis, y, potential))
            return false;
        column best = {.solid = -1, .cost = 0.0};
        double lowest = -tolerance;
        for (size_t k = 0; k < p->solids; k++) {
            double distance = p->constant[k];
            for (size_t i = 0; i < n; i++)
                distance -= p->formula[k][i] * potential[i];
            distance /= p->size[k];
            if (distance < lowest) {
                lowest = distance;
                best.solid = (int)k;
            }
        }
        double x[DF_N], starts[DF_N + 1][DF_N];
        size_t extras = 0;
        for (size_t j = 0; j < n; j++)
            if (basis[j].solid < 0 && y[j] > 0.0) {
                double total = 0.0;
                for (size_t i = 0; i < n; i++) {
                    starts[extras][i] = fmax(basis[j].a[i], 1e-6);
                    total += starts[extras][i];
                }
                for (size_t i = 0; i < n; i++)
                    starts[extras][i] /= total;
                extras++;
            }
        memcpy(starts[extras++], p->z, sizeof starts[0]);
        double distance = lowest_liquid(x, p, potential, NULL, (const double(*)[DF_N])starts, extras, 60);
        if (distance < lowest) {
            double mu[DF_N];
            memcpy(best.a, x, sizeof x);
            best.cost = liquid_energy(mu, p, x);
            best.solid = -1;
        } else if (best.solid >= 0) {
            for (size_t i = 0; i < n; i++)
                best.a[i] = p->formula[best.solid][i] / p->size[best.solid];
            best.cost = p->constant[best.solid] / p->size[best.solid];
        } else
            return true;
        if (!exchange(p, basis, y, &best))
            return true; /* nothing better can enter: the numbers are exhausted */
    }
    return true; /* Newton and its verification judge what was reached */
}

/* Whether two liquid points belong to two phases: the distance rises between them. */
static bool separate(const problem *p, const double *a, const double *b, const double *potential) {
    double ends = fmax(plane_distance(p, a, potential), plane_distance(p, b, potential));
    for (int k = 1; k < 8; k++) {
        double x[DF_N], t = k / 8.0;
        for (size_t i = 0; i < p->n; i++)
            x[i] = fmax((1.0 - t) * a[i] + t * b[i], 1e-300);
        if (plane_distance(p, x, potential) > ends + SEPARATE)
            return true;
    }
    return false;
}

/* Turns a basis into phases: liquid points of one basin become one liquid. */
static void collect(phases *out, const problem *p, const column *basis, const double *y, const double *potential) {
    double seed[DF_MAX_LIQUIDS][DF_N];
    memset(out, 0, sizeof *out);
    memcpy(out->potential, potential, sizeof out->potential);
    for (size_t j = 0; j < p->n; j++) {
        if (y[j] <= 1e-13)
            continue;
        if (basis[j].solid >= 0) {
            out->solid[out->solids] = basis[j].solid;
            out->amount[out->solids++] = y[j] / p->size[basis[j].solid];
            continue;
        }
        double x[DF_N], total = 0.0;
        for (size_t i = 0; i < p->n; i++)
            total += x[i] = fmax(basis[j].a[i], 1e-12);
        for (size_t i = 0; i < p->n; i++)
            x[i] /= total;
        size_t group = 0;
        while (group < out->liquids && separate(p, seed[group], x, potential))
            group++;
        if (group == DF_MAX_LIQUIDS)
            group = DF_MAX_LIQUIDS - 1;
        if (group == out->liquids)
            memcpy(seed[out->liquids++], x, sizeof x);
        for (size_t i = 0; i < p->n; i++)
            out->liquid[group][i] += y[j] * x[i];
    }
}

static void drop_solid(phases *f, size_t k) {
    f->solids--;
    memmove(&f->solid[k], &f->solid[k + 1], (f->solids - k) * sizeof f->solid[0]);
    memmove(&f->amount[k], &f->amount[k + 1], (f->solids - k) * sizeof f->amount[0]);
}

static void drop_liquid(phases *f, size_t l) {
    f->liquids--;
    memmove(f->liquid[l], f->liquid[l + 1], (f->liquids - l) * sizeof f->liquid[0]);
}

/* Potentials in the liquids; with `slope` (may be NULL) also d mu_i/d l_j. */
static void potentials(double (*mu)[DF_N], double (*slope)[DF_N * DF_N], const problem *p, const phases *f) {
    size_t n = p->n;
    for (size_t l = 0; l < f->liquids; l++) {
        const double *x = f->liquid[l];
        double total = total_of(x, n);
        df_nrtl_activity(mu[l], slope != NULL ? slope[l] : NULL, &p->model, x);
        for (size_t i = 0; i < n; i++) {
            mu[l][i] += log(x[i] / total);
            for (size_t j = 0; j < n && slope != NULL; j++)
                slope[l][i * n + j] += (i == j ? 1.0 / x[i] : 0.0) - 1.0 / total;
        }
    }
}

/* How far solid k of the phases lies above a plane, for one formula of it. */
static double solid_distance(const problem *p, const phases *f, size_t k, const double *plane) {
    double d = p->constant[f->solid[k]];
    for (size_t i = 0; i < p->n; i++)
        d -= p->formula[f->solid[k]][i] * plane[i];
    return d;
}

/* Gibbs energy of the phases above a plane, in RT. A plane near theirs keeps the digits of phases of which there is
 * little. */
static double height(const problem *p, const phases *f, double (*mu)[DF_N], const double *plane) {
    double h = 0.0;
    for (size_t k = 0; k < f->solids; k++)
        h += f->amount[k] * solid_distance(p, f, k, plane);
    for (size_t l = 0; l < f->liquids; l++)
        for (size_t i = 0; i < p->n; i++)
            h += f->liquid[l][i] * (mu[l][i] - plane[i]);
    return h;
}

typedef enum outcome { SOUND, DROPPED, FAILED } outcome;

/* Newton on amounts of solids and ln amounts in liquids: mass balances, equal potentials of liquids, saturation of
 * solids. DROPPED: a phase went away and was taken out; call again. */
static outcome polish(phases *f, const problem *p) {
    size_t n = p->n, liquids = f->liquids, solids = f->solids, unknowns = n * liquids + solids;
    if (liquids == 0) {
        if (solids < n) { /* on a hydrate's own line: the plane may tilt; only the programme's will do */
            for (size_t i = 0; i < n; i++) {
                double left = p->z[i];
                for (size_t k = 0; k < solids; k++)
                    left -= p->formula[f->solid[k]][i] * f->amount[k];
                if (fabs(left) > 1e-10 * p->z[i])
                    return FAILED;
            }
            for (size_t k = 0; k < solids; k++)
                if (fabs(solid_distance(p, f, k, f->potential)) > 1e-10 * p->size[f->solid[k]])
                    return FAILED;
            return SOUND;
        }
        double matrix[DF_N * DF_N];
        for (size_t k = 0; k < n; k++) {
            f->potential[k] = p->constant[f->solid[k]];
            for (size_t i = 0; i < n; i++)
                matrix[k * n + i] = p->formula[f->solid[k]][i];
        }
        if (!df_solve_linear(matrix, f->potential, n))
            return FAILED;
        for (size_t i = 0; i < n; i++) {
            f->amount[i] = p->z[i];
            for (size_t k = 0; k < n; k++)
                matrix[i * n + k] = p->formula[f->solid[k]][i];
        }
        return df_solve_linear(matrix, f->amount, n) ? SOUND : FAILED;
    }
    for (size_t l = 0; l < liquids; l++)
        for (size_t i = 0; i < n; i++)
            f->liquid[l][i] = fmax(f->liquid[l][i], 1e-60);
    double a[MAX_UNKNOWNS * MAX_UNKNOWNS], b[MAX_UNKNOWNS];
    double mu[DF_MAX_LIQUIDS][DF_N], slope[DF_MAX_LIQUIDS][DF_N * DF_N];
    for (int step = 0; step < 60; step++) {
        memset(a, 0, unknowns * unknowns * sizeof *a);
        for (size_t l = 0; l < liquids; l++) {
            double total = 0.0;
            for (size_t i = 0; i < n; i++)
                total += f->liquid[l][i];
            df_nrtl_activity(mu[l], slope[l], &p->model, f->liquid[l]);
            for (size_t i = 0; i < n; i++)
                mu[l][i] += log(f->liquid[l][i] / total);
            /* d mu_i/d ln l_j = l_j (d ln gamma_i/d l_j - 1/total) + [i = j] */
            for (size_t i = 0; i < n; i++)
                for (size_t j = 0; j < n; j++)
                    slope[l][i * n + j] =
                        f->liquid[l][j] * (slope[l][i * n + j] - 1.0 / total) + (i == j ? 1.0 : 0.0);
        }
        double worst = 0.0;
        for (size_t i = 0; i < n; i++) { /* mass balance, relative to what there is */
            double left = p->z[i];
            for (size_t l = 0; l < liquids; l++) {
                left -= f->liquid[l][i];
                a[i * unknowns + l * n + i] = f->liquid[l][i] / p->z[i];
            }
            for (size_t k = 0; k < solids; k++) {
                left -= p->formula[f->solid[k]][i] * f->amount[k];
                a[i * unknowns + n * liquids + k] = p->formula[f->solid[k]][i] / p->z[i];
            }
            b[i] = left / p->z[i];
            worst = fmax(worst, fabs(b[i]));
        }
        size_t row = n;
        for (size_t l = 1; l < liquids; l++)
            for (size_t i = 0; i < n; i++, row++) {
                for (size_t j = 0; j < n; j++) {
                    a[row * unknowns + l * n + j] = slope[l][i * n + j];
                    a[row * unknowns + j] = -slope[0][i * n + j];
                }
                b[row] = mu[0][i] - mu[l][i];
                worst = fmax(worst, fabs(b[row]));
            }
        for (size_t k = 0; k < solids; k++, row++) {
            double left = p->constant[f->solid[k]];
            for (size_t i = 0; i < n; i++) {
                double nu = p->formula[f->solid[k]][i];
                if (nu == 0.0)
                    continue;
                left -= nu * mu[0][i];
                for (size_t j = 0; j < n; j++)
                    a[row * unknowns + j] += nu * slope[0][i * n + j];
            }
            b[row] = left;
            worst = fmax(worst, fabs(left));
        }
        if (worst < 1e-12 || (step > 20 && worst < 1e-10)) {
            memcpy(f->potential, mu[0], sizeof f->potential);
            return SOUND;
        }
        if (!isfinite(worst) || !df_solve_linear(a, b, unknowns))
            return FAILED;
        double shrink = 1.0;
        for (size_t u = 0; u < n * liquids; u++)
            if (fabs(b[u]) * shrink > 1.5)
                shrink = 1.5 / fabs(b[u]);
        for (size_t l = 0; l < liquids; l++) {
            double before = 0.0, after = 0.0;
            for (size_t i = 0; i < n; i++) {
                before += f->liquid[l][i];
                f->liquid[l][i] *= exp(shrink * b[l * n + i]);
                after += f->liquid[l][i];
            }
            if (after < 1e-22 && after < before) { /* this liquid goes away */
                if (l + 1 < liquids)
                    memmove(f->liquid[l], f->liquid[l + 1], (liquids - l - 1) * sizeof f->liquid[0]);
                f->liquids--;
                return DROPPED;
            }
        }
        for (size_t k = 0; k < solids; k++)
            f->amount[k] += shrink * b[n * liquids + k];
    }
    return FAILED;
}

/* Takes out the solid with the most negative amount; true where there was one. */
static bool drop_negative(phases *f) {
    size_t worst = f->solids;
    double least = 0.0;
    for (size_t k = 0; k < f->solids; k++)
        if (f->amount[k] < least) {
            least = f->amount[k];
            worst = k;
        }
    if (worst == f->solids)
        return false;
    drop_solid(f, worst);
    return true;
}

/* The largest liquid goes first; liquids next to nothing, or the same as the first, become one with it. */
static void order_liquids(phases *f, size_t n) {
    for (size_t l = 1; l < f->liquids; l++)
        if (total_of(f->liquid[l], n) > 2.0 * total_of(f->liquid[0], n)) {
            double swap[DF_N];
            memcpy(swap, f->liquid[0], sizeof swap);
            memcpy(f->liquid[0], f->liquid[l], sizeof swap);
            memcpy(f->liquid[l], swap, sizeof swap);
        }
    for (size_t l = f->liquids; l-- > 1;) {
        double total = total_of(f->liquid[l], n), first = total_of(f->liquid[0], n), apart = 0.0;
        for (size_t i = 0; i < n; i++)
            apart = fmax(apart, fabs(f->liquid[l][i] / total - f->liquid[0][i] / first));
        if (total > 1e-12 * first && apart > 1e-4)
            continue;
        for (size_t i = 0; i < n; i++)
            f->liquid[0][i] += f->liquid[l][i];
        drop_liquid(f, l);
    }
}

/* Lowers the energy of phases that hold the mass balance until their potentials are nearly equal: Newton with the
 * amounts in all liquids but the first and the amounts of solids as unknowns, each scaled by what an ideal liquid
 * would ask for, shifted to be positive definite, and shortened until it descends. Phases that are used up go out.
 * Needs a liquid. The plane is that of the first liquid. False where it gets nowhere. */
static bool minimise(phases *f, const problem *p) {
    size_t n = p->n;
    double mu[DF_MAX_LIQUIDS][DF_N], trial[DF_MAX_LIQUIDS][DF_N], slope[DF_MAX_LIQUIDS][DF_N * DF_N];
    for (int step = 0; step < 100; step++) {
        order_liquids(f, n);
        potentials(mu, slope, p, f);
        memcpy(f->potential, mu[0], sizeof f->potential);
        for (size_t k = f->solids; k-- > 0;)
            if (f->amount[k] == 0.0 && solid_distance(p, f, k, f->potential) >= 0.0)
                drop_solid(f, k);
        size_t others = (f->liquids - 1) * n, m = others + f->solids;
        double g[MAX_UNKNOWNS], h[MAX_UNKNOWNS * MAX_UNKNOWNS], d[MAX_UNKNOWNS], scale[MAX_UNKNOWNS];
        const double *first = f->liquid[0], *h0 = slope[0];
        for (size_t u = 0; u < others; u++) {
            double there = f->liquid[u / n + 1][u % n];
            scale[u] = sqrt(first[u % n] * there / (first[u % n] + there));
            g[u] = (mu[0][u % n] - mu[u / n + 1][u % n]) * scale[u];
        }
        for (size_t k = 0; k < f->solids; k++) {
            const double *nu = p->formula[f->solid[k]];
            double curve = 0.0;
            for (size_t i = 0; i < n; i++)
                curve += nu[i] * nu[i] / first[i];
            scale[others + k] = 1.0 / sqrt(curve);
            g[others + k] = -solid_distance(p, f, k, f->potential) * scale[others + k];
        }
        double worst = 0.0, smallest = INFINITY; /* for one mole of the smallest liquid */
        for (size_t l = 0; l < f->liquids; l++)
            smallest = fmin(smallest, total_of(f->liquid[l], n));
        for (size_t u = 0; u < m; u++)
            worst = fmax(worst, fabs(g[u]) / sqrt(smallest));
        if (worst < 1e-6)
            return true;
        for (size_t u = 0; u < m; u++)
            for (size_t v = 0; v <= u; v++) {
                double value = 0.0;
                if (u < others) {
                    value = h0[(u % n) * n + v % n];
                    if (u / n == v / n)
                        value += slope[u / n + 1][(u % n) * n + v % n];
                } else
                    for (size_t i = 0; i < n; i++) {
                        double nu = p->formula[f->solid[u - others]][i];
                        if (nu == 0.0)
                            continue;
                        if (v < others)
                            value += nu * h0[i * n + v % n];
                        else
                            for (size_t j = 0; j < n; j++)
                                value += nu * h0[i * n + j] * p->formula[f->solid[v - others]][j];
                    }
                h[u * m + v] = value * scale[u] * scale[v];
            }
        double shift = 0.0;
        while (!solve_positive(d, h, g, shift, m)) {
            shift = shift == 0.0 ? 1e-3 : 10.0 * shift;
            if (!(shift < 1e12))
                return false;
        }
        /* What the first liquid gives up, how far all amounts stay positive, how steeply the energy falls. */
        double move[DF_N] = {0.0}, length = 1.0, steep = 0.0;
        size_t used_up = f->solids;
        for (size_t u = 0; u < m; u++) {
            steep += g[u] * d[u];
            d[u] *= scale[u];
        }
        for (size_t u = 0; u < others; u++) {
            move[u % n] -= d[u];
            if (d[u] < 0.0)
                length = fmin(length, -0.95 * f->liquid[u / n + 1][u % n] / d[u]);
        }
        for (size_t k = 0; k < f->solids; k++)
            for (size_t i = 0; i < n; i++)
                move[i] -= p->formula[f->solid[k]][i] * d[others + k];
        for (size_t i = 0; i < n; i++)
            if (move[i] < 0.0)
                length = fmin(length, -0.95 * first[i] / move[i]);
        for (size_t k = 0; k < f->solids; k++)
            if (f->amount[k] + length * d[others + k] <= 0.0) {
                length = f->amount[k] / -d[others + k];
                used_up = k;
            }
        phases next = *f;
        bool falls = false;
        double before = height(p, f, mu, f->potential), noise = 0.0;
        for (size_t l = 0; l < f->liquids; l++)
            for (size_t i = 0; i < n; i++)
                noise += 1e-15 * fabs(f->liquid[l][i] * mu[l][i]);
        for (int half = 0; half < 40 && !falls; half++) {
            for (size_t u = 0; u < others; u++)
                next.liquid[u / n + 1][u % n] = f->liquid[u / n + 1][u % n] + length * d[u];
            for (size_t i = 0; i < n; i++)
                next.liquid[0][i] = first[i] + length * move[i];
            for (size_t k = 0; k < f->solids; k++)
                next.amount[k] = f->amount[k] + length * d[others + k];
            potentials(trial, NULL, p, &next);
            falls = height(p, &next, trial, f->potential) <= before - 1e-4 * length * steep + noise;
            if (!falls) {
                length *= 0.4;
                used_up = f->solids;
            }
        }
        if (!falls)
            return worst < 1e-3; /* as near as rounding allows: the rest is for `polish` */
        *f = next;
        if (used_up < f->solids)
            drop_solid(f, used_up);
    }
    return false;
}

/* Shares of the solids that together make up a formula of solid `k`; false where they cannot. */
static bool made_of(double *share, const problem *p, const phases *f, int k) {
    size_t n = p->n, s = f->solids;
    double normal[DF_N * DF_N];
    for (size_t i = 0; i < s; i++) {
        const double *one = p->formula[f->solid[i]];
        share[i] = 0.0;
        for (size_t c = 0; c < n; c++)
            share[i] += one[c] * p->formula[k][c];
        for (size_t j = 0; j < s; j++) {
            normal[i * s + j] = 0.0;
            for (size_t c = 0; c < n; c++)
                normal[i * s + j] += one[c] * p->formula[f->solid[j]][c];
        }
    }
    if (s == 0 || !df_solve_linear(normal, share, s))
        return false;
    for (size_t c = 0; c < n; c++) {
        double left = p->formula[k][c];
        for (size_t i = 0; i < s; i++)
            left -= share[i] * p->formula[f->solid[i]][c];
        if (fabs(left) > 1e-9)
            return false;
    }
    return true;
}

/* Takes the candidate `in`, which lies under the plane, into the phases. Where those there can make it up it
 * enters at their cost, compositions kept, until one is used up; otherwise a solid enters with nothing of it, a
 * liquid with as much as lowers the energy. */
static bool take_in(phases *f, const problem *p, const column *in) {
    size_t n = p->n, there = f->solids + f->liquids, from = there;
    double share[DF_N], least = INFINITY;
    if (in->solid >= 0 && made_of(share, p, f, in->solid))
        from = f->solids;
    else if (there < n) {
        if (f->liquids == 0)
            return false;
        if (in->solid >= 0) {
            f->solid[f->solids] = in->solid;
            f->amount[f->solids++] = 0.0;
            return true;
        }
        if ((f->crowded = f->liquids == DF_MAX_LIQUIDS))
            return false;
        double mu[DF_MAX_LIQUIDS][DF_N], before, most = INFINITY;
        potentials(mu, NULL, p, f);
        before = height(p, f, mu, f->potential);
        size_t giver = 0;
        for (size_t l = 1; l < f->liquids; l++)
            if (total_of(f->liquid[l], n) > total_of(f->liquid[giver], n))
                giver = l;
        for (size_t i = 0; i < n; i++)
            most = fmin(most, f->liquid[giver][i] / in->a[i]);
        phases next;
        double part = 0.5;
        do {
            next = *f;
            for (size_t i = 0; i < n; i++) {
                next.liquid[f->liquids][i] = part * most * in->a[i];
                next.liquid[giver][i] -= part * most * in->a[i];
            }
            next.liquids++;
            potentials(mu, NULL, p, &next);
        } while (part * most > TRACE && height(p, &next, mu, f->potential) >= before && (part *= 0.3) > 1e-6);
        *f = next;
        return true;
    } else {
        double matrix[DF_N * DF_N];
        for (size_t i = 0; i < n; i++) {
            share[i] = in->solid >= 0 ? p->formula[in->solid][i] : in->a[i];
            for (size_t j = 0; j < n; j++)
                matrix[i * n + j] = j < f->solids ? p->formula[f->solid[j]][i] : f->liquid[j - f->solids][i];
        }
        if (there > n || !df_solve_linear(matrix, share, n))
            return false;
    }
    size_t leaves = from;
    for (size_t j = 0; j < from; j++) {
        double amount = j < f->solids ? f->amount[j] : 1.0;
        if (share[j] > 1e-13 && amount / share[j] < least) {
            least = amount / share[j];
            leaves = j;
        }
    }
    if (leaves == from || (f->crowded = in->solid < 0 && f->liquids == DF_MAX_LIQUIDS && leaves < f->solids))
        return false;
    for (size_t j = 0; j < from; j++)
        if (j < f->solids)
            f->amount[j] = fmax(0.0, f->amount[j] - least * share[j]);
        else
            for (size_t i = 0; i < n; i++)
                f->liquid[j - f->solids][i] *= fmax(0.0, 1.0 - least * share[j]);
    if (leaves < f->solids)
        drop_solid(f, leaves);
    else
        drop_liquid(f, leaves - f->solids);
    if (in->solid >= 0) {
        f->solid[f->solids] = in->solid;
        f->amount[f->solids++] = least;
    } else {
        for (size_t i = 0; i < n; i++)
            f->liquid[f->liquids][i] = least * in->a[i];
        f->liquids++;
    }
    return true;
}

/* The solid not yet there that lies furthest under the plane, for one mole of its parts; its distance, or 0 where
 * none lies under it by more than `tolerance`. */
static double lowest_solid(column *found, const problem *p, const phases *f, double tolerance) {
    double lowest = -tolerance;
    bool there[DF_MAX_SOLIDS] = {false};
    for (size_t k = 0; k < f->solids; k++)
        there[f->solid[k]] = true;
    found->solid = -1;
    for (size_t k = 0; k < p->solids; k++) {
        if (there[k])
            continue;
        double distance = p->constant[k];
        for (size_t i = 0; i < p->n; i++)
            distance -= p->formula[k][i] * f->potential[i];
        distance /= p->size[k];
        if (distance < lowest) {
            lowest = distance;
            found->solid = (int)k;
        }
    }
    if (found->solid < 0)
        return 0.0;
    for (size_t i = 0; i < p->n; i++)
        found->a[i] = p->formula[found->solid][i] / p->size[found->solid];
    found->cost = p->constant[found->solid] / p->size[found->solid];
    return lowest;
}

/* The candidate that lies furthest under the plane of `f`; false where none does: the phases are the stable ones. */
static bool below_plane(column *found, const problem *p, const phases *f) {
    double lowest = lowest_solid(found, p, f, 1e-10);
    if (lowest < 0.0)
        return true;
    double x[DF_N], mu[DF_N];
    if (lowest_liquid(x, p, f->potential, f, NULL, 0, 120) > -5e-10)
        return false;
    found->solid = -1;
    memcpy(found->a, x, sizeof x);
    found->cost = liquid_energy(mu, p, x);
    return true;
}

/* Newton with phases dropped as they vanish; true where a sound set was reached. */
static bool settle(phases *f, const problem *p) {
    for (int round = 0; round < 20; round++) {
        outcome o = polish(f, p);
        if (o == FAILED)
            return false;
        if (o == SOUND && !drop_negative(f))
            return true;
    }
    return false;
}

/* Lowers the energy with every solid that lies under the plane taken in; liquids do not become more. */
static bool lower(phases *f, const problem *p) {
    for (int round = 0; round < 40; round++) {
        column in;
        if (f->liquids > 0 ? !minimise(f, p) : f->solids < p->n || polish(f, p) != SOUND)
            return false;
        if (lowest_solid(&in, p, f, 1e-5) == 0.0)
            return true;
        if (!take_in(f, p, &in))
            return false;
    }
    return false;
}

/* Brings phases to equal potentials and takes in what lies under their plane until nothing does. */
static bool refine(phases *f, const problem *p) {
    for (int round = 0; round < 20; round++) {
        column in;
        if (!settle(f, p))
            return false;
        if (!below_plane(&in, p, f))
            return true;
        if (!take_in(f, p, &in))
            return false;
        /* the energy has no digits for a trace of a liquid: Newton alone finds its amount */
        bool trace = in.solid < 0 && total_of(f->liquid[f->liquids - 1], p->n) < TRACE;
        if (!trace && !lower(f, p))
            return false;
    }
    return false;
}

/* From one liquid, and where that gets stuck from the linear programme. */
static bool solve(phases *f, const problem *p) {
    memset(f, 0, sizeof *f);
    f->liquids = 1;
    memcpy(f->liquid[0], p->z, sizeof p->z);
    if (lower(f, p) && refine(f, p))
        return true;
    bool crowded = f->crowded;
    column basis[DF_N];
    double y[DF_N], potential[DF_N];
    memset(basis, 0, sizeof basis);
    for (size_t i = 0; i < p->n; i++) { /* the pure liquids are a first, feasible basis */
        basis[i].a[i] = 1.0;
        basis[i].solid = -1;
    }
    for (double tolerance = 1e-4; tolerance > 1e-11; tolerance *= 0.03) {
        if (!hull(p, basis, y, potential, tolerance))
            break;
        collect(f, p, basis, y, potential);
        if (refine(f, p))
            return true;
        crowded = crowded || f->crowded;
    }
    f->crowded = crowded;
    return false;
}

static void take_guess(phases *f, const problem *p, const df_assemblage *guess, const int *active) {
    memset(f, 0, sizeof *f);
    for (size_t k = 0; k < p->solids && f->solids < p->n; k++)
        if (guess->solid[p->solid[k]] > 0.0) {
            f->solid[f->solids] = (int)k;
            f->amount[f->solids++] = guess->solid[p->solid[k]];
        }
    f->liquids = guess->liquids < DF_MAX_LIQUIDS ? guess->liquids : DF_MAX_LIQUIDS;
    for (size_t l = 0; l < f->liquids; l++)
        for (size_t i = 0; i < p->n; i++)
            f->liquid[l][i] = guess->liquid[l][active[i]];
}

/* Pairs that may part into liquids, by their activity coefficients at infinite dilution in each other. */
static void find_unlike(problem *p) {
    p->pairs = 0;
    for (size_t i = 0; i < p->n; i++)
        for (size_t j = i + 1; j < p->n; j++) {
            const df_nrtl *m = &p->model;
            double in_j = m->tau[j][i] + m->tau[i][j] * m->g[i][j], in_i = m->tau[i][j] + m->tau[j][i] * m->g[j][i];
            for (int k = 0; k < DF_COLD_TERMS && m->corrected; k++) {
                in_j += k % 2 == 0 ? m->cold[i][j][k] : -m->cold[i][j][k];
                in_i += m->cold[i][j][k];
            }
            if (fmax(in_j, in_i) > UNLIKE) {
                p->pair[p->pairs][0] = i;
                p->pair[p->pairs++][1] = j;
            }
        }
}

typedef enum search {
    FROM_NOTHING,
    FROM_GUESS, /* what stands in `out`, verified */
    SAME_PHASES /* those in `out`, not verified */
} search;

static df_status find(df_context *ctx, df_assemblage *out, const df_mixture *mixture, double temperature,
                      const double *z, const bool *allowed, search how) {
    problem p;
    int active[DF_N];
    double total = 0.0;
    p.n = 0;
    if (!df_context_go_on(ctx))
        return df_fail(ctx, DF_E_STOPPED, "stopped");
    if (!(temperature > 20.0 && temperature < 2000.0))
        return df_fail(ctx, DF_E_INPUT, "a temperature of %g K is outside 20 K to 2000 K", temperature);
    for (size_t i = 0; i < mixture->n; i++) {
        if (!(z[i] >= 0.0) || !isfinite(z[i]))
            return df_fail(ctx, DF_E_INPUT, "the amount of %s is not a number of zero or more",
                           mixture->component[i]->name);
        total += z[i];
    }
    if (!(total > 0.0))
        return df_fail(ctx, DF_E_INPUT, "the mixture is empty");
    df_nrtl whole;
    df_nrtl_setup(&whole, mixture, temperature);
    for (size_t i = 0; i < mixture->n; i++)
        for (size_t j = 0; j < mixture->n; j++)
            if (z[i] > 0.0 && z[j] > 0.0 && !(isfinite(whole.tau[i][j]) && isfinite(whole.g[i][j])))
                return df_fail(ctx, DF_E_CONVERGENCE, "the activity of %s with %s is not a number at %.2f K",
                               mixture->component[i]->name, mixture->component[j]->name, temperature);
    for (size_t i = 0; i < mixture->n; i++)
        if (z[i] / total > ABSENT) {
            active[p.n] = (int)i;
            p.z[p.n++] = z[i] / total;
        }
    p.model.n = p.n;
    p.model.corrected = whole.corrected;
    for (size_t i = 0; i < p.n; i++)
        for (size_t j = 0; j < p.n; j++) {
            p.model.tau[i][j] = whole.tau[active[i]][active[j]];
            p.model.g[i][j] = whole.g[active[i]][active[j]];
            if (i < j)
                memcpy(p.model.cold[i][j], whole.cold[active[i]][active[j]], sizeof p.model.cold[i][j]);
        }
    find_unlike(&p);
    p.solids = 0;
    for (size_t k = 0; k < mixture->solids; k++) {
        if (allowed != NULL && !allowed[k])
            continue;
        double size = 0.0, inside = 0.0;
        for (size_t i = 0; i < mixture->n; i++)
            size += mixture->solid[k].formula[i];
        for (size_t i = 0; i < p.n; i++)
            inside += p.formula[p.solids][i] = mixture->solid[k].formula[active[i]];
        if (inside < size)
            continue; /* a part is absent */
        p.solid[p.solids] = (int)k;
        p.size[p.solids] = size;
        p.constant[p.solids++] = df_solid_constant_ln(mixture, k, temperature);
    }

    phases f;
    bool sound = false;
    if (how != FROM_NOTHING) {
        take_guess(&f, &p, out, active);
        sound = f.solids + f.liquids > 0 && (how == SAME_PHASES ? settle(&f, &p) : refine(&f, &p));
    }
    if (!sound && (how == SAME_PHASES || !solve(&f, &p))) {
        char state[512];
        size_t used = 0;
        for (size_t i = 0; i < p.n && used < sizeof state; i++)
            used += (size_t)snprintf(state + used, sizeof state - used, "%s%.4g %s", i > 0 ? ", " : "", p.z[i],
                                     mixture->component[active[i]]->name);
        const char *crowded = "more than %d liquids side by side at %.3f K (mole fractions %s)";
        const char *failed = "no equilibrium of up to %d liquids was found at %.3f K (mole fractions %s)";
        return df_fail(ctx, DF_E_CONVERGENCE, f.crowded ? crowded : failed, DF_MAX_LIQUIDS, temperature, state);
    }

    memset(out, 0, sizeof *out);
    out->temperature = temperature;
    for (size_t i = 0; i < mixture->n; i++)
        out->activity_ln[i] = -INFINITY;
    for (size_t i = 0; i < p.n; i++)
        out->activity_ln[active[i]] = f.potential[i];
    for (size_t k = 0; k < f.solids; k++)
        out->solid[p.solid[f.solid[k]]] = fmax(f.amount[k], 0.0); /* no -0 */
    out->liquids = f.liquids;
    for (size_t l = 0; l < f.liquids; l++)
        for (size_t i = 0; i < p.n; i++)
            out->liquid[l][active[i]] = f.liquid[l][i];
    return DF_OK;
}

df_status df_mixture_equilibrium(df_context *ctx, df_assemblage *assemblage, const df_mixture *mixture,
                                 double temperature, const double *z, const bool *allowed, bool warm) {
    return find(ctx, assemblage, mixture, temperature, z, allowed, warm ? FROM_GUESS : FROM_NOTHING);
}

df_status df_mixture_follow(df_context *ctx, df_assemblage *assemblage, const df_mixture *mixture, double temperature,
                            const double *z) {
    return find(ctx, assemblage, mixture, temperature, z, NULL, SAME_PHASES);
}

/* The same kinds of phases, and no liquid of quite another composition: Newton may have jumped from one to the other. */
static bool goes_on(const df_assemblage *a, const df_assemblage *before) {
    bool same = a->liquids == before->liquids;
    for (size_t k = 0; k < DF_MAX_SOLIDS && same; k++)
        same = (a->solid[k] > 0.0) == (before->solid[k] > 0.0);
    for (size_t l = 0; l < a->liquids && same; l++) {
        double now = total_of(a->liquid[l], DF_N), then = total_of(before->liquid[l], DF_N);
        for (size_t i = 0; i < DF_N; i++)
            same = same && fabs(a->liquid[l][i] / now - before->liquid[l][i] / then) < JUMP;
    }
    return same;
}

/* The same phases, in the same amounts but for rounding: not ice beside another liquid than before. */
static bool same_state(const df_assemblage *a, const df_assemblage *b) {
    bool same = a->liquids == b->liquids;
    for (size_t k = 0; k < DF_MAX_SOLIDS && same; k++)
        same = (a->solid[k] > 0.0) == (b->solid[k] > 0.0) && fabs(a->solid[k] - b->solid[k]) < SAME_AMOUNT;
    for (size_t l = 0; l < a->liquids && same; l++)
        for (size_t i = 0; i < DF_N; i++)
            same = same && fabs(a->liquid[l][i] - b->liquid[l][i]) < SAME_AMOUNT;
    return same;
}

df_status df_mixture_stride(df_context *ctx, df_assemblage *out, size_t *done, const df_assemblage *from,
                            const df_mixture *mixture, double first, double step, size_t n, const double *z,
                            const bool *allowed) {
    *done = 0;
    if (!df_context_go_on(ctx))
        return df_fail(ctx, DF_E_STOPPED, "stopped");
    bool same = n > 1;
    for (size_t i = 0; i < n && same; i++) {
        out[i] = i > 0 ? out[i - 1] : *from;
        same = find(NULL, &out[i], mixture, first + step * (double)i, z, allowed, SAME_PHASES) == DF_OK &&
               goes_on(&out[i], i > 0 ? &out[i - 1] : from);
    }
    if (same) {
        df_assemblage asked = out[n - 2];
        same = find(NULL, &asked, mixture, first + step * (double)(n - 1), z, allowed, FROM_GUESS) == DF_OK &&
               same_state(&asked, &out[n - 1]);
        out[n - 1] = asked;
    }
    *done = same ? n : 0;
    df_status status = DF_OK;
    while (*done < n && status == DF_OK) {
        size_t i = *done;
        out[i] = i > 0 ? out[i - 1] : *from;
        status = find(ctx, &out[i], mixture, first + step * (double)i, z, allowed, FROM_GUESS);
        *done += status == DF_OK;
    }
    return status;
}
