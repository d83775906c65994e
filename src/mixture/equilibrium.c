/* Phases of least Gibbs energy: global search over candidate phases, then Newton.
 *
 * The global part is a linear programme: minimise sum_j y_j g_j over amounts y_j >= 0 of candidate phases j of
 * composition a_j and Gibbs energy g_j (per unit, pure liquids = 0) with sum_j y_j a_j = z. Its dual variables are the
 * ln of the activities. Solids are a fixed list; liquids are added where the tangent-plane distance below the present
 * plane is negative, until none is. The hull so found is the lowest, whatever the start. */
#include "mixture/mixture.h"

#include <math.h>
#include <string.h>

#define MAX_UNKNOWNS (DF_MAX_LIQUIDS * DF_N + DF_N)
#define SEPARATE 1e-10 /* rise of the tangent-plane distance between two points that makes them two liquids */

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
} problem;

typedef struct phases {
    size_t solids;
    int solid[DF_N]; /* index in problem */
    double amount[DF_N];
    size_t liquids;
    double liquid[DF_MAX_LIQUIDS][DF_N];
    double potential[DF_N]; /* ln activity */
} phases;

double df_solid_constant_ln(const df_mixture *mixture, size_t k, double temperature) {
    const df_solid *s = &mixture->solid[k];
    if (s->component >= 0)
        return df_solid_liquid_ratio_ln(mixture->component[s->component], temperature);
    return s->reference_ln - s->enthalpy / DF_GAS_CONSTANT * (1.0 / temperature - 1.0 / s->reference_temperature);
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

/* tm = 1 + sum X_i (ln X_i + ln gamma_i - potential_i - 1), Michelsen's unconstrained form: its stationary points are those
 * of the tangent-plane distance and the distance there is -ln sum X. With `d` (ln X + ln gamma - potential) on the way. */
static double modified_distance(double *d, double *slope, const problem *p, const double *x, const double *potential) {
    double gamma[DF_N], tm = 1.0;
    df_nrtl_activity(gamma, slope, &p->model, x);
    for (size_t i = 0; i < p->n; i++) {
        d[i] = log(x[i]) + gamma[i] - potential[i];
        tm += x[i] * (d[i] - 1.0);
    }
    return tm;
}

/* Solves (H + shift) s = r by Cholesky; false where the matrix is not positive definite. */
static bool solve_positive(double *s, const double *h, const double *r, double shift, size_t n) {
    double l[DF_N * DF_N];
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

/* Whether x has come close to one of the known liquids. */
static bool returns(const problem *p, const double *x, const phases *known) {
    double total = 0.0;
    for (size_t i = 0; i < p->n; i++)
        total += x[i];
    for (size_t l = 0; l < known->liquids; l++) {
        double there = 0.0, apart = 0.0;
        for (size_t i = 0; i < p->n; i++)
            there += known->liquid[l][i];
        for (size_t i = 0; i < p->n; i++)
            apart = fmax(apart, fabs(x[i] / total - known->liquid[l][i] / there));
        if (apart < 2e-3)
            return true;
    }
    return false;
}

/* From the start x goes down to a minimum of the tangent-plane distance: Newton in alpha_i = 2 sqrt(X_i), shifted to be
 * positive definite and shortened until it descends (Michelsen, Fluid Phase Equilib. 9 (1982) 1). x becomes the minimum's
 * composition; returns the distance. A clearly negative value ends the search early; so does coming back to a liquid that
 * is `known` (may be NULL) to touch the plane. */
static double descend(const problem *p, double *x, const double *potential, const phases *known, double enough, int steps) {
    size_t n = p->n;
    double d[DF_N], slope[DF_N * DF_N], h[DF_N * DF_N], r[DF_N], s[DF_N], root[DF_N];
    double tm = modified_distance(d, slope, p, x, potential);
    for (int step = 0; step < steps; step++) {
        double worst = 0.0;
        for (size_t i = 0; i < n; i++) {
            root[i] = sqrt(x[i]);
            r[i] = -root[i] * d[i];
            worst = fmax(worst, fabs(r[i]));
        }
        if (worst < 1e-9 || (tm < enough && worst < 1e-2) || (tm > 1e-4 && worst < 1e-3))
            break; /* settled, clearly below the plane, or on the way to a minimum clearly above it */
        if (known != NULL && returns(p, x, known))
            return 0.0;
        for (size_t i = 0; i < n; i++)
            for (size_t j = 0; j < n; j++)
                h[i * n + j] = (i == j ? 1.0 : 0.0) + root[i] * root[j] * slope[i * n + j];
        double shift = 0.0;
        while (!solve_positive(s, h, r, shift, n))
            shift = shift == 0.0 ? 0.3 : 3.0 * shift;
        double length = 1.0, next[DF_N], next_tm = INFINITY;
        for (int half = 0; half < 30; half++, length *= 0.5) {
            for (size_t i = 0; i < n; i++) {
                double a = root[i] + 0.5 * length * s[i]; /* sqrt(X) */
                a = fmin(fmax(a, 0.1 * root[i]), 10.0 * root[i]);
                next[i] = fmax(a * a, 1e-300);
            }
            next_tm = modified_distance(d, slope, p, next, potential);
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

/* The liquid lowest under the plane, from every corner and `extra` starts. */
static double lowest_liquid(double *best, const problem *p, const double *potential, const phases *known,
                            const double (*extra)[DF_N], size_t extras, int steps) {
    size_t n = p->n;
    double lowest = INFINITY;
    for (size_t start = 0; start < n + extras; start++) {
        double x[DF_N];
        if (start < n) {
            for (size_t i = 0; i < n; i++)
                x[i] = i == start ? 0.96 : 0.04 / (double)(n > 1 ? n - 1 : 1);
            if (n == 1)
                x[0] = 1.0;
        } else
            memcpy(x, extra[start - n], sizeof x);
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

typedef enum outcome { SOUND, DROPPED, FAILED } outcome;

/* Newton on amounts of solids and ln amounts in liquids: mass balances, equal potentials of liquids, saturation of
 * solids. DROPPED: a phase went away and was taken out; call again. */
static outcome polish(phases *f, const problem *p) {
    size_t n = p->n, liquids = f->liquids, solids = f->solids, unknowns = n * liquids + solids;
    if (liquids == 0) {
        if (solids < n) { /* a composition on a hydrate's own line: the plane may tilt; keep the programme's */
            for (size_t i = 0; i < n; i++) {
                double left = p->z[i];
                for (size_t k = 0; k < solids; k++)
                    left -= p->formula[f->solid[k]][i] * f->amount[k];
                if (fabs(left) > 1e-10)
                    return FAILED;
            }
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
            f->liquid[l][i] = fmax(f->liquid[l][i], 1e-12 * p->z[i]);
    double a[MAX_UNKNOWNS * MAX_UNKNOWNS], b[MAX_UNKNOWNS], mu[DF_MAX_LIQUIDS][DF_N], slope[DF_MAX_LIQUIDS][DF_N * DF_N];
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
            if (after < 1e-14 && after < before) { /* this liquid goes away */
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
    f->solids--;
    memmove(&f->solid[worst], &f->solid[worst + 1], (f->solids - worst) * sizeof f->solid[0]);
    memmove(&f->amount[worst], &f->amount[worst + 1], (f->solids - worst) * sizeof f->amount[0]);
    return true;
}

/* The candidate that lies furthest under the plane of `f`; false where none does: the phases are the stable ones. */
static bool below_plane(column *found, const problem *p, const phases *f) {
    double lowest = -1e-10;
    found->solid = -2;
    for (size_t k = 0; k < p->solids; k++) {
        double distance = p->constant[k];
        for (size_t i = 0; i < p->n; i++)
            distance -= p->formula[k][i] * f->potential[i];
        distance /= p->size[k];
        if (distance < lowest) {
            lowest = distance;
            found->solid = (int)k;
        }
    }
    double x[DF_N], distance = lowest_liquid(x, p, f->potential, f, NULL, 0, 120);
    if (distance < fmin(lowest, -1e-9)) {
        double mu[DF_N];
        found->solid = -1;
        memcpy(found->a, x, sizeof x);
        found->cost = liquid_energy(mu, p, x);
    } else if (found->solid >= 0) {
        for (size_t i = 0; i < p->n; i++)
            found->a[i] = p->formula[found->solid][i] / p->size[found->solid];
        found->cost = p->constant[found->solid] / p->size[found->solid];
    }
    return found->solid != -2;
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

/* Settles, takes in what still lies under the plane, and settles again; true where nothing lies under it. */
static bool refine(phases *f, const problem *p) {
    for (int round = 0; round < 6; round++) {
        column below;
        if (!settle(f, p))
            return false;
        if (!below_plane(&below, p, f))
            return true;
        if (below.solid >= 0 && f->solids < p->n) {
            f->solid[f->solids] = below.solid;
            f->amount[f->solids++] = 1e-6;
        } else if (below.solid < 0 && f->liquids < DF_MAX_LIQUIDS) {
            for (size_t i = 0; i < p->n; i++)
                f->liquid[f->liquids][i] = 1e-3 * below.a[i];
            f->liquids++;
        } else
            return false;
    }
    return false;
}

static bool solve(phases *f, const problem *p) {
    column basis[DF_N];
    double y[DF_N], potential[DF_N];
    memset(basis, 0, sizeof basis);
    for (size_t i = 0; i < p->n; i++) { /* the pure liquids are a first, feasible basis */
        basis[i].a[i] = 1.0;
        basis[i].solid = -1;
    }
    for (double tolerance = 1e-4; tolerance > 1e-11; tolerance *= 0.03) {
        if (!hull(p, basis, y, potential, tolerance))
            return false;
        collect(f, p, basis, y, potential);
        if (refine(f, p))
            return true;
    }
    return false;
}

static void take_guess(phases *f, const problem *p, const df_assemblage *guess, const int *active) {
    memset(f, 0, sizeof *f);
    for (size_t k = 0; k < p->solids && f->solids < p->n; k++)
        if (guess->solid[p->solid[k]] > 0.0) {
            f->solid[f->solids] = (int)k;
            f->amount[f->solids++] = guess->solid[p->solid[k]];
        }
    f->liquids = guess->liquids;
    for (size_t l = 0; l < f->liquids; l++)
        for (size_t i = 0; i < p->n; i++)
            f->liquid[l][i] = guess->liquid[l][active[i]];
}

df_status df_mixture_equilibrium(df_context *ctx, df_assemblage *out, const df_mixture *mixture, double temperature,
                                 const double *z, const bool *allowed, bool warm) {
    problem p;
    int active[DF_N];
    double total = 0.0;
    p.n = 0;
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
        if (z[i] / total > 1e-14) {
            active[p.n] = (int)i;
            p.z[p.n++] = z[i] / total;
        }
    p.model.n = p.n;
    p.model.corrected = whole.corrected;
    for (size_t i = 0; i < p.n; i++)
        for (size_t j = 0; j < p.n; j++) {
            p.model.tau[i][j] = whole.tau[active[i]][active[j]];
            p.model.g[i][j] = whole.g[active[i]][active[j]];
            memcpy(p.model.cold[i][j], whole.cold[active[i]][active[j]], sizeof p.model.cold[i][j]);
        }
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
    if (warm) {
        take_guess(&f, &p, out, active);
        sound = f.solids + f.liquids > 0 && refine(&f, &p);
    }
    if (!sound && !solve(&f, &p))
        return df_fail(ctx, DF_E_CONVERGENCE, "no equilibrium was found at %.2f K for a mixture of %zu components, %.4f %s",
                       temperature, p.n, p.z[0], mixture->component[active[0]]->name);

    memset(out, 0, sizeof *out);
    out->temperature = temperature;
    for (size_t i = 0; i < mixture->n; i++)
        out->activity_ln[i] = -INFINITY;
    for (size_t i = 0; i < p.n; i++)
        out->activity_ln[active[i]] = f.potential[i];
    for (size_t k = 0; k < f.solids; k++)
        out->solid[p.solid[f.solid[k]]] = f.amount[k];
    out->liquids = f.liquids;
    for (size_t l = 0; l < f.liquids; l++)
        for (size_t i = 0; i < p.n; i++)
            out->liquid[l][active[i]] = f.liquid[l][i];
    return DF_OK;
}
