/* Strip distillation: a flask that boils down, and the azeotropes that bound it (docs/stripping.md). */
#include "base/solver.h"
#include "mixture/mixture.h"

#include <cvode/cvode.h>
#include <math.h>
#include <nvector/nvector_serial.h>
#include <stdlib.h>
#include <string.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>

#define REFERENCE_TEMPERATURE 293.15 /* K: volumes are of the liquids before mixing at 20 °C */
#define TOLERANCE 1e-10              /* of ln n */
#define HEAT_SCALE 4e4               /* J/mol: makes the heat a number near 1 */
#define MOST_CROSSINGS 40            /* of the border between one and two liquids; beyond it is not looked for */
#define PRESENT 1e-6                 /* mole fraction of a component that counts in an azeotrope */
#define COLDEST 120.0                /* K, that anything is taken to boil at */
#define HOTTEST 1000.0
#define NEAR_AZEOTROPE 0.002 /* mole fraction */

/* A boiling liquid: what is held, and what it is now. */
typedef struct still {
    df_context *ctx;
    const df_mixture *mixture;
    df_strip_hold hold;
    double held; /* Pa or K */
    df_assemblage liquid;
    bool warm;                    /* `liquid` is a neighbour */
    double temperature, pressure; /* K, Pa */
    double volatility[DF_N];      /* Pa of formula for each unit of mole fraction */
    double monomer[DF_N];         /* Pa */
    df_status status;
} still;

/* All at T for the mole fractions z: ln of the pressure. A component too rare for the equilibrium still has its
 * volatility, that at infinite dilution. */
static df_status boil_at(still *s, double *pressure_ln, double temperature, const double *z) {
    static const bool none[DF_MAX_SOLIDS] = {false};
    const df_mixture *m = s->mixture;
    double share[DF_N] = {0}, total = 0.0;
    df_status status = df_mixture_equilibrium(s->ctx, &s->liquid, m, temperature, z, none, s->warm);
    if (status != DF_OK)
        return status;
    s->warm = true;
    df_nrtl model;
    df_nrtl_setup(&model, m, temperature);
    for (size_t l = 0; l < s->liquid.liquids; l++) {
        double gamma[DF_N], amount = 0.0;
        df_nrtl_activity(gamma, NULL, &model, s->liquid.liquid[l]);
        for (size_t i = 0; i < m->n; i++)
            amount += s->liquid.liquid[l][i];
        for (size_t i = 0; i < m->n; i++)
            share[i] += amount * exp(-gamma[i]);
    }
    for (size_t i = 0; i < m->n; i++) {
        const df_substance *substance = m->component[i];
        double pure =
            df_monomer_pressure(substance, temperature, df_mixture_pure_pressure(m, i, temperature)) / share[i];
        double p1 = z[i] * pure, doubled = df_dimer_constant(substance, temperature) * p1;
        s->monomer[i] = p1;
        s->volatility[i] = pure * (1.0 + 2.0 * doubled);
        total += p1 * (1.0 + doubled);
    }
    s->temperature = temperature;
    s->pressure = total;
    *pressure_ln = log(total);
    return DF_OK;
}

/* d ln p/dT as if the activity coefficients stood still. */
static double pressure_slope(const still *s) {
    double sum = 0.0, t = s->temperature;
    for (size_t i = 0; i < s->mixture->n; i++) {
        const df_substance *substance = s->mixture->component[i];
        if (s->monomer[i] > 0.0)
            sum += s->monomer[i] * (1.0 + df_dimer_constant(substance, t) * s->monomer[i]) *
                   df_vaporisation_enthalpy(substance, t);
    }
    return sum / (s->pressure * DF_GAS_CONSTANT * t * t);
}

/* Temperature at which it would boil as an ideal mixture, to begin with. */
static double raoult(const df_mixture *m, double pressure, const double *z) {
    double low = COLDEST, high = HOTTEST;
    while (high - low > 0.5) {
        double t = 0.5 * (low + high), sum = 0.0;
        for (size_t i = 0; i < m->n; i++)
            if (z[i] > 0.0)
                sum += z[i] * df_liquid_pressure(m->component[i], t);
        *(sum < pressure ? &low : &high) = t;
    }
    return 0.5 * (low + high);
}

/* Boils z (which need not add up to 1) under what is held. */
static df_status boil(still *s, const double *amount) {
    const df_mixture *m = s->mixture;
    double z[DF_N], total = 0.0, p;
    for (size_t i = 0; i < m->n; i++)
        total += amount[i];
    for (size_t i = 0; i < m->n; i++)
        z[i] = amount[i] / total;
    if (s->hold == DF_STRIP_AT_TEMPERATURE)
        return boil_at(s, &p, s->held, z);
    double wanted = log(s->held), t = s->warm ? s->temperature : raoult(m, s->held, z), before = NAN,
           excess_before = NAN;
    double hottest = HOTTEST; /* nothing of which there is more than a trace begins above its critical temperature */
    for (size_t i = 0; i < m->n && !s->warm; i++)
        if (z[i] > 1e-3)
            hottest = fmin(hottest, m->component[i]->critical_temperature - 1.0);
    for (int step = 0; step < 60 && t > COLDEST && t < hottest; step++) { /* Newton, then secants */
        if (boil_at(s, &p, t, z) != DF_OK)
            break;
        double excess = p - wanted, slope = pressure_slope(s);
        if (fabs(excess) < 1e-12)
            return DF_OK;
        if (fabs(t - before) > 1e-7) {
            double secant = (excess - excess_before) / (t - before);
            if (secant > 0.3 * slope && secant < 3.0 * slope)
                slope = secant;
        }
        before = t;
        excess_before = excess;
        double change = fmin(fmax(-excess / slope, -10.0), 10.0);
        if (fabs(change) < 1e-10)
            return DF_OK;
        t += change;
    }
    double y[DF_N];
    df_status status = df_mixture_bubble_point(s->ctx, &t, y, m, s->held, z);
    if (status != DF_OK)
        return status;
    s->warm = false;
    return boil_at(s, &p, t, z);
}

/* Mole fractions of formula in the vapour. */
static void vapour_of(double *y, const still *s, const double *amount) {
    double sum = 0.0;
    for (size_t i = 0; i < s->mixture->n; i++)
        sum += y[i] = s->volatility[i] * amount[i];
    for (size_t i = 0; i < s->mixture->n; i++)
        y[i] /= sum;
}

/* Heat (J/mol of formula) that component i takes to evaporate from here. The tabled heat is to the pure saturated
 * vapour; in a mixture less of an acid is dimer, and the rest of the bond has to be paid. */
static double evaporation_heat(const still *s, size_t i) {
    const df_substance *substance = s->mixture->component[i];
    double t = s->temperature, h = df_vaporisation_enthalpy(substance, t), k = df_dimer_constant(substance, t);
    if (k == 0.0)
        return h;
    double pure = k * df_monomer_pressure(substance, t, df_liquid_pressure(substance, t)), here = k * s->monomer[i];
    return h + substance->dimer_enthalpy * (here / (1.0 + 2.0 * here) - pure / (1.0 + 2.0 * pure));
}

/* ---- azeotropes ----------------------------------------------------------------------------------------------- */

typedef struct pair_scan {
    still *still;
    size_t i, j;
} pair_scan;

/* ln of the volatility of i over j against ln(x/(1 - x)). */
static double advantage(double logit, void *data) {
    pair_scan *scan = data;
    double amount[DF_N] = {0};
    amount[scan->i] = 1.0 / (1.0 + exp(-logit));
    amount[scan->j] = 1.0 / (1.0 + exp(logit));
    df_status status = boil(scan->still, amount);
    if (status != DF_OK) {
        scan->still->status = status;
        return 0.0;
    }
    return log(scan->still->volatility[scan->i] / scan->still->volatility[scan->j]);
}

df_status df_azeotropes_find(df_context *ctx, df_azeotrope azeotrope[DF_MAX_AZEOTROPES], size_t *count,
                             const df_mixture *m, size_t i, size_t j, double pressure, double temperature) {
    *count = 0;
    if (i >= m->n || j >= m->n || i == j)
        return df_fail(ctx, DF_E_INPUT, "a pair is two different components of the mixture");
    if (m->component[i]->is_involatile || m->component[j]->is_involatile)
        return DF_OK;
    bool at_pressure = isnan(temperature);
    double held = at_pressure ? pressure : temperature;
    if (isnan(pressure) == at_pressure || !(held > 0.0) || !isfinite(held))
        return df_fail(ctx, DF_E_INPUT,
                       "azeotropes are looked for at a pressure or at a temperature, a positive number");
    still s = {.ctx = ctx, .mixture = m, .held = held, .status = DF_OK};
    s.hold = at_pressure ? DF_STRIP_AT_PRESSURE : DF_STRIP_AT_TEMPERATURE;
    pair_scan scan = {.still = &s, .i = i, .j = j};
    double step = 0.125, end = 13.875, before = advantage(-end, &scan);
    for (double at = -end + step; s.status == DF_OK && at <= end + 1e-9; at += step) {
        double now = advantage(at, &scan);
        if (s.status == DF_OK && (before > 0.0) != (now > 0.0) && *count < DF_MAX_AZEOTROPES) {
            double root;
            df_find_root(&root, at - step, at, 1e-10, advantage, &scan);
            advantage(root, &scan);
            azeotrope[*count].x = 1.0 / (1.0 + exp(-root));
            azeotrope[*count].temperature = s.temperature;
            azeotrope[*count].pressure = s.pressure;
            azeotrope[*count].heterogeneous = s.liquid.liquids > 1;
            azeotrope[(*count)++].maximum = now > 0.0; /* what is rich in i loses i: back towards the azeotrope */
        }
        before = now;
    }
    if (s.status != DF_OK)
        *count = 0;
    return s.status;
}

/* An azeotrope to be found again in a slightly different mixture. */
typedef struct azeotrope_again {
    const df_azeotrope *from;
    bool at_pressure;
} azeotrope_again;

#define FURTHEST 4.0 /* in ln(x/(1 - x)) */

/* x, K and ln Pa of the azeotrope of the two components of m that is nearest to where it was. */
static df_status find_again(df_context *ctx, double *values, size_t n, const df_mixture *m, void *data) {
    const azeotrope_again *again = data;
    still s = {.ctx = ctx, .mixture = m, .status = DF_OK};
    s.hold = again->at_pressure ? DF_STRIP_AT_PRESSURE : DF_STRIP_AT_TEMPERATURE;
    s.held = again->at_pressure ? again->from->pressure : again->from->temperature;
    pair_scan scan = {.still = &s, .i = 0, .j = 1};
    double from = log(again->from->x / (1.0 - again->from->x)), step = 0.125, root = NAN;
    double side[2] = {advantage(from, &scan), 0.0};
    for (size_t i = 0; i < n; i++)
        values[i] = NAN;
    side[1] = side[0];
    for (double at = step; s.status == DF_OK && at < FURTHEST && isnan(root); at += step)
        for (int k = 0; k < 2 && s.status == DF_OK && isnan(root); k++) {
            double to = from + (k == 0 ? at : -at), now = advantage(to, &scan);
            if (s.status == DF_OK && (now > 0.0) != (side[k] > 0.0))
                df_find_root(&root, to, to + (k == 0 ? -step : step), 1e-9, advantage, &scan);
            side[k] = now;
        }
    if (s.status != DF_OK || isnan(root))
        return s.status;
    advantage(root, &scan);
    values[0] = 1.0 / (1.0 + exp(-root));
    values[1] = s.temperature;
    values[2] = log(s.pressure);
    return s.status;
}

df_status df_azeotrope_spread(df_context *ctx, double *x_sigma, double *temperature_sigma, double *pressure_sigma_ln,
                              const df_mixture *m, size_t i, size_t j, const df_azeotrope *azeotrope,
                              bool at_pressure) {
    df_mixture pair = {.n = 2, .component = {m->component[i], m->component[j]}};
    double value[3], sigma[3] = {NAN, NAN, NAN};
    azeotrope_again again = {azeotrope, at_pressure};
    if (i >= j || j >= m->n)
        return df_fail(ctx, DF_E_INPUT, "a pair is two components of the mixture in their order");
    pair.pair[0][1] = m->pair[i][j];
    df_status status = df_mixture_spread(ctx, value, sigma, 3, &pair, find_again, &again, true);
    *x_sigma = sigma[0];
    *temperature_sigma = sigma[1];
    *pressure_sigma_ln = sigma[2];
    return status;
}

/* Where y = x among the components `active`, from x: Newton in all but the last of them. */
typedef struct fixed_point {
    size_t n, active[DF_N];
    double x[DF_N]; /* of the mixture's components */
    double slope[DF_N * DF_N];
} fixed_point;

static df_status away(double *r, still *s, const fixed_point *f, const double *x) {
    double y[DF_N];
    df_status status = boil(s, x);
    if (status != DF_OK)
        return status;
    vapour_of(y, s, x);
    for (size_t k = 0; k + 1 < f->n; k++)
        r[k] = y[f->active[k]] - x[f->active[k]];
    return DF_OK;
}

/* Moves a share of component k to or from the last one. */
static void shift(double *x, const fixed_point *f, size_t k, double by) {
    x[f->active[k]] += by;
    x[f->active[f->n - 1]] -= by;
}

/* `found` becomes false where Newton does not arrive inside the simplex. Its slope is d(y - x)/dx at the end. */
static df_status find_fixed_point(bool *found, still *s, fixed_point *f) {
    size_t n = f->n - 1;
    double r[DF_N], beside[DF_N], a[DF_N * DF_N];
    *found = false;
    for (int round = 0; round < 40; round++) {
        df_status status = away(r, s, f, f->x);
        if (status != DF_OK)
            return status;
        double worst = 0.0;
        for (size_t k = 0; k < n; k++)
            worst = fmax(worst, fabs(r[k]));
        for (size_t k = 0; k < n; k++) {
            double x[DF_N], by = 1e-6 * fmin(f->x[f->active[k]], f->x[f->active[n]]);
            memcpy(x, f->x, sizeof x);
            shift(x, f, k, by);
            status = away(beside, s, f, x);
            if (status != DF_OK)
                return status;
            for (size_t l = 0; l < n; l++)
                f->slope[l * n + k] = (beside[l] - r[l]) / by;
        }
        if (worst < 1e-9) {
            *found = true;
            return away(r, s, f, f->x);
        }
        memcpy(a, f->slope, n * n * sizeof *a);
        if (!df_solve_linear(a, r, n))
            return DF_OK;
        double shorten = 1.0,
               last = 0.0; /* x[k] falls by r[k], the last one by their negative sum: at most to half */
        for (size_t k = 0; k < n; k++) {
            last -= r[k];
            shorten = fmin(shorten, r[k] > 0.0 ? 0.5 * f->x[f->active[k]] / r[k] : 1.0);
        }
        shorten = fmin(shorten, last > 0.0 ? 0.5 * f->x[f->active[n]] / last : 1.0);
        for (size_t k = 0; k < n; k++)
            shift(f->x, f, k, -shorten * r[k]);
        for (size_t k = 0; k <= n; k++)
            if (f->x[f->active[k]] < 1e-7)
                return DF_OK; /* runs out to a pure substance or a smaller set */
    }
    return DF_OK;
}

/* Whether d x/d(-ln n) = x - y comes back to the fixed point: (1 + h slope)^-1 to the power of 2^40 vanishes. The
 * eigenvalues of residue curves at an azeotrope are real (Doherty & Perkins, Chem. Eng. Sci. 33 (1978) 281, from memory). */
static bool attracts(const fixed_point *f) {
    size_t n = f->n - 1;
    double size = 0.0, power[DF_N * DF_N], next[DF_N * DF_N];
    for (size_t k = 0; k < n * n; k++)
        size = fmax(size, fabs(f->slope[k]));
    if (size == 0.0)
        return false;
    for (size_t column = 0; column < n; column++) {
        double a[DF_N * DF_N], b[DF_N] = {0};
        for (size_t k = 0; k < n * n; k++)
            a[k] = 0.1 / ((double)n * size) * f->slope[k] + (k % (n + 1) == 0 ? 1.0 : 0.0);
        b[column] = 1.0;
        if (!df_solve_linear(a, b, n))
            return false;
        for (size_t row = 0; row < n; row++)
            power[row * n + column] = b[row];
    }
    for (int round = 0; round < 40; round++) {
        double most = 0.0;
        for (size_t i = 0; i < n; i++)
            for (size_t j = 0; j < n; j++) {
                next[i * n + j] = 0.0;
                for (size_t k = 0; k < n; k++)
                    next[i * n + j] += power[i * n + k] * power[k * n + j];
                most = fmax(most, fabs(next[i * n + j]));
            }
        if (!(most < 1e12))
            return false;
        if (most < 1e-12)
            return true;
        memcpy(power, next, n * n * sizeof *power);
    }
    return false;
}

/* ---- boiling down --------------------------------------------------------------------------------------------- */

typedef struct descent {
    still still;
    const df_strip_task *task;
    size_t n, active[DF_N]; /* components that are there at all */
    double start;           /* moles put in */
    df_strip *out;
    size_t capacity;
    int crossings;
    bool extrapolated;
} descent;

/* State: ln(moles left / moles put in) of each active component, then the heat over HEAT_SCALE and moles put in. */
static void amounts(double *left, const descent *d, const double *state) {
    memset(left, 0, DF_N * sizeof *left);
    for (size_t k = 0; k < d->n; k++)
        left[d->active[k]] = d->task->amount[d->active[k]] * exp(state[k]);
}

/* The independent variable is -ln(moles left/moles put in). */
static int derivative(realtype gone, N_Vector state, N_Vector rate, void *data) {
    descent *d = data;
    double left[DF_N], y[DF_N], sum = 0.0, total = 0.0, heat = 0.0;
    double *f = N_VGetArrayPointer(rate);
    amounts(left, d, N_VGetArrayPointer(state));
    df_status status = boil(&d->still, left);
    if (status != DF_OK) {
        d->still.status = status;
        return status == DF_E_CONVERGENCE || status == DF_E_INPUT ? 1 : -1; /* a shorter step may do */
    }
    vapour_of(y, &d->still, left);
    for (size_t i = 0; i < d->still.mixture->n; i++) {
        total += left[i];
        sum += d->still.volatility[i] * left[i];
    }
    for (size_t k = 0; k < d->n; k++)
        f[k] = -d->still.volatility[d->active[k]] * total / sum;
    for (size_t k = 0; k < d->n; k++)
        heat += y[d->active[k]] * evaporation_heat(&d->still, d->active[k]);
    f[d->n] = exp(-gone) * heat / HEAT_SCALE;
    return 0;
}

static double strip_fraction(const df_strip_task *task, const df_mixture *m, const double *left, size_t component) {
    double sum = 0.0;
    for (size_t i = 0; i < m->n; i++)
        sum += task->measure[i] * left[i];
    return task->measure[component] * left[component] / sum;
}

/* How far the target still is: positive before it, 0 there. */
static double distance(const descent *d, const double *left) {
    const df_strip_task *task = d->task;
    if (task->aim == DF_STRIP_TO_FRACTION)
        return strip_fraction(task, d->still.mixture, left, task->component) - task->target;
    if (task->aim == DF_STRIP_TO_DRYNESS)
        return 1.0;
    double sum = 0.0;
    for (size_t i = 0; i < d->still.mixture->n; i++)
        sum += task->measure[i] * left[i];
    return sum / task->target - 1.0;
}

/* How far the bath's temperature or the pump's pressure still is; positive before it. */
static double room(const descent *d) {
    const df_strip_task *task = d->task;
    if (task->hold == DF_STRIP_AT_PRESSURE)
        return isnan(task->temperature) ? 1.0 : task->temperature - d->still.temperature;
    return isnan(task->pressure) ? 1.0 : log(d->still.pressure / task->pressure);
}

static int events(realtype gone, N_Vector state, realtype *g, void *data) {
    descent *d = data;
    double left[DF_N];
    (void)gone;
    amounts(left, d, N_VGetArrayPointer(state));
    df_status status = boil(&d->still, left);
    if (status != DF_OK) {
        d->still.status = status;
        return -1;
    }
    g[0] = distance(d, left);
    g[1] = room(d);
    g[2] = d->crossings >= MOST_CROSSINGS || d->still.liquid.liquids == 1 ? 1.0 : -1.0;
    return 0;
}

/* Keeps a point of the path. */
static df_status record(descent *d, const double *state) {
    df_strip *out = d->out;
    const df_mixture *m = d->still.mixture;
    const df_strip_task *task = d->task;
    if (out->points == d->capacity) {
        size_t capacity = d->capacity == 0 ? 64 : 2 * d->capacity;
        df_strip_point *more = realloc(out->point, capacity * sizeof *more);
        if (more == NULL)
            return df_fail(d->still.ctx, DF_E_MEMORY, "out of memory");
        out->point = more;
        d->capacity = capacity;
    }
    df_strip_point *p = &out->point[out->points];
    memset(p, 0, sizeof *p);
    amounts(p->left, d, state);
    df_status status = boil(&d->still, p->left);
    if (status != DF_OK)
        return status;
    vapour_of(p->vapour, &d->still, p->left);
    p->temperature = d->still.temperature;
    p->pressure = d->still.pressure;
    p->heat = state[d->n] * HEAT_SCALE * d->start;
    p->liquids = d->still.liquid.liquids;
    double total = 0.0;
    for (size_t i = 0; i < m->n; i++) {
        const df_substance *s = m->component[i];
        double mass = p->left[i] * s->molar_mass, all = task->amount[i] * s->molar_mass;
        double density = df_liquid_density(s, REFERENCE_TEMPERATURE);
        p->mass_left += mass;
        p->mass_taken += all - mass;
        p->volume_left += mass / density;
        p->volume_taken += (all - mass) / density;
        total += p->left[i];
    }
    for (size_t i = 0; i < m->n; i++)
        if (p->left[i] > 1e-3 * total && df_liquid_pressure_extrapolated(m->component[i], p->temperature))
            d->extrapolated = true;
    if (task->aim == DF_STRIP_TO_FRACTION) {
        double fraction = strip_fraction(task, m, p->left, task->component);
        if (isnan(out->lowest) || fraction < out->lowest) {
            out->lowest = fraction;
            out->lowest_left = total / d->start;
        }
    }
    out->points++;
    return DF_OK;
}

static bool open_solver(df_solver *v, descent *d) {
    sunindextype size = (sunindextype)d->n + 1;
    memset(v, 0, sizeof *v);
    if (SUNContext_Create(NULL, &v->context) != 0)
        return false;
    v->state = df_solver_vector(size, v->context);
    if (v->state == NULL)
        return false;
    N_VConst(0.0, v->state);
    v->matrix = SUNDenseMatrix(size, size, v->context);
    v->linear = v->matrix != NULL ? SUNLinSol_Dense(v->state, v->matrix, v->context) : NULL;
    v->cvode = CVodeCreate(CV_BDF, v->context);
    if (v->linear == NULL || v->cvode == NULL)
        return false;
    return CVodeInit(v->cvode, derivative, 0.0, v->state) == CV_SUCCESS &&
           CVodeSStolerances(v->cvode, TOLERANCE, TOLERANCE) == CV_SUCCESS &&
           CVodeSetUserData(v->cvode, d) == CV_SUCCESS &&
           CVodeSetErrHandlerFn(v->cvode, df_solver_quiet, NULL) == CV_SUCCESS &&
           CVodeSetLinearSolver(v->cvode, v->linear, v->matrix) == CV_SUCCESS &&
           CVodeRootInit(v->cvode, 3, events) == CV_SUCCESS && CVodeSetNoInactiveRootWarn(v->cvode) == CV_SUCCESS &&
           CVodeSetMaxErrTestFails(v->cvode, 40) == CV_SUCCESS && CVodeSetMaxConvFails(v->cvode, 40) == CV_SUCCESS;
}

/* The k-th place on the way where a point is kept: every hundredth of the moles, then evenly in their logarithm. */
static double place(size_t k) {
    return k < 100 ? -log1p(-0.01 * (double)k) : log(100.0) + 0.1 * (double)(k - 99);
}

static df_status march(descent *d, df_solver *v) {
    df_context *ctx = d->still.ctx;
    const double end = -log(DF_STRIP_DRY);
    double *state = N_VGetArrayPointer(v->state), gone = 0.0;
    df_status status = record(d, state);
    if (status != DF_OK)
        return status;
    d->out->stop = DF_STRIP_REACHED;
    if (distance(d, d->out->point[0].left) <= 0.0)
        return DF_OK;
    d->out->stop = DF_STRIP_LIMIT;
    if (room(d) < 0.0)
        return DF_OK;
    CVodeSetStopTime(v->cvode, end);
    N_Vector between = N_VClone(v->state);
    if (between == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    size_t next = 1;
    for (long step = 0;; step++) {
        d->still.status = DF_OK;
        int flag = CVode(v->cvode, end, v->state, &gone, CV_ONE_STEP);
        if (flag < 0 || step > 20000) {
            char reason[512];
            strncpy(reason, d->still.status != DF_OK ? df_context_message(ctx) : "the steps became too short",
                    sizeof reason - 1);
            reason[sizeof reason - 1] = '\0';
            status =
                df_fail(ctx, DF_E_CONVERGENCE, "the boiling could not be followed below %.4g %% of the liquid: %s",
                        100.0 * exp(-gone), reason);
            break;
        }
        while (status == DF_OK && place(next) < gone - 1e-9) {
            if (CVodeGetDky(v->cvode, place(next), 0, between) == CV_SUCCESS) /* not before the last restart */
                status = record(d, N_VGetArrayPointer(between));
            next++;
        }
        if (status != DF_OK)
            break;
        if (flag == CV_ROOT_RETURN) {
            int which[3];
            CVodeGetRootInfo(v->cvode, which);
            status = record(d, state);
            if (status != DF_OK)
                break;
            if (which[0] != 0 || which[1] != 0) {
                d->out->stop = which[0] != 0 ? DF_STRIP_REACHED : DF_STRIP_LIMIT;
                break;
            }
            d->crossings++; /* a corner in the volatilities: start afresh */
            if (CVodeReInit(v->cvode, gone, v->state) != CV_SUCCESS) {
                status = df_fail(ctx, DF_E_INTERNAL, "the integrator could not be started again");
                break;
            }
            CVodeSetStopTime(v->cvode, end);
        } else if (flag == CV_TSTOP_RETURN || gone >= end - 1e-12) {
            status = record(d, state);
            d->out->stop = d->task->aim == DF_STRIP_TO_DRYNESS ? DF_STRIP_REACHED : DF_STRIP_EMPTY;
            break;
        }
    }
    N_VDestroy(between);
    return status;
}

static double apart(const double *a, const double *b, size_t n) {
    double sum_a = 0.0, sum_b = 0.0, most = 0.0;
    for (size_t i = 0; i < n; i++) {
        sum_a += a[i];
        sum_b += b[i];
    }
    for (size_t i = 0; i < n; i++)
        most = fmax(most, fabs(a[i] / sum_a - b[i] / sum_b));
    return most;
}

/* Whether the content ended at an azeotrope, or has been at one all the time. */
static df_status look_for_azeotrope(descent *d) {
    df_strip *out = d->out;
    const df_mixture *m = d->still.mixture;
    const df_strip_point *last = &out->point[out->points - 1];
    fixed_point f = {.n = 0};
    double total = 0.0, sum = 0.0;
    bool found = false;
    for (size_t i = 0; i < m->n; i++)
        total += last->left[i];
    for (size_t i = 0; i < m->n; i++)
        if (last->left[i] > PRESENT * total) {
            f.active[f.n++] = i;
            sum += f.x[i] = last->left[i];
        }
    if (f.n < 2)
        return DF_OK;
    for (size_t i = 0; i < m->n; i++)
        f.x[i] /= sum;
    df_status status = find_fixed_point(&found, &d->still, &f);
    if (status != DF_OK || !found)
        return DF_OK; /* only a remark is lost */
    double there = apart(f.x, last->left, m->n), then = apart(f.x, out->point[0].left, m->n);
    bool stable = attracts(&f);
    double span = out->stop == DF_STRIP_EMPTY ? 0.3 : 0.02; /* stopped on the way, it may have been bound elsewhere */
    if (stable ? there > fmax(then, 1e-6) || there > span : there > 0.02 || then > 0.02)
        return DF_OK;
    out->azeotrope = true;
    out->azeotrope_stable = stable;
    out->azeotrope_heterogeneous = d->still.liquid.liquids > 1;
    memcpy(out->azeotrope_x, f.x, sizeof out->azeotrope_x);
    out->azeotrope_temperature = d->still.temperature;
    out->azeotrope_pressure = d->still.pressure;
    if (d->task->aim == DF_STRIP_TO_FRACTION)
        out->azeotrope_fraction = strip_fraction(d->task, m, f.x, d->task->component);
    for (size_t k = out->points; k-- > 0 && apart(f.x, out->point[k].left, m->n) < NEAR_AZEOTROPE;) {
        double left = 0.0;
        for (size_t i = 0; i < m->n; i++)
            left += out->point[k].left[i];
        out->settled_left = left / d->start;
    }
    if (out->stop == DF_STRIP_EMPTY && d->task->aim == DF_STRIP_TO_FRACTION &&
        out->azeotrope_fraction > d->task->target)
        out->stop = DF_STRIP_AZEOTROPE;
    return DF_OK;
}

static df_status check_task(df_context *ctx, const df_strip_task *task, const df_mixture *m) {
    double total = 0.0;
    for (size_t i = 0; i < m->n; i++) {
        if (!(task->amount[i] >= 0.0) || !isfinite(task->amount[i]))
            return df_fail(ctx, DF_E_INPUT, "the amount of %s is not a number of zero or more",
                           m->component[i]->name);
        if (task->aim != DF_STRIP_TO_DRYNESS && !(task->measure[i] > 0.0 && isfinite(task->measure[i])))
            return df_fail(ctx, DF_E_INPUT, "what a mole of %s counts is not a positive number",
                           m->component[i]->name);
        if (task->amount[i] > 0.0 && m->component[i]->is_involatile)
            return df_fail(ctx, DF_E_INPUT, "%s has no vapour; boil down the liquids without it",
                           m->component[i]->name);
        total += task->amount[i];
    }
    if (!(total > 0.0))
        return df_fail(ctx, DF_E_INPUT, "the flask is empty");
    bool pressure_held = task->hold == DF_STRIP_AT_PRESSURE;
    if (pressure_held ? !(task->pressure > 0.0) : !isnan(task->pressure) && !(task->pressure > 0.0))
        return df_fail(ctx, DF_E_INPUT, "a pressure of %g Pa is not a positive number", task->pressure);
    if (pressure_held ? !isnan(task->temperature) && !(task->temperature > 0.0) : !(task->temperature > 0.0))
        return df_fail(ctx, DF_E_INPUT, "a bath of %g K is not a temperature above absolute zero", task->temperature);
    for (size_t i = 0; i < m->n && !pressure_held; i++)
        if (task->amount[i] > 0.0 && task->temperature > m->component[i]->critical_temperature)
            return df_fail(ctx, DF_E_INPUT, "a bath of %.1f °C is above the critical temperature of %s, %.1f °C",
                           task->temperature - DF_ZERO_CELSIUS, m->component[i]->name,
                           m->component[i]->critical_temperature - DF_ZERO_CELSIUS);
    if (task->aim == DF_STRIP_TO_DRYNESS)
        return DF_OK;
    if (task->aim == DF_STRIP_TO_FRACTION && task->component >= m->n)
        return df_fail(ctx, DF_E_INPUT, "the target is not a component of the mixture");
    if (!(task->target > 0.0) || !isfinite(task->target) ||
        (task->aim == DF_STRIP_TO_FRACTION && task->target >= 1.0))
        return df_fail(ctx, DF_E_INPUT,
                       "boiling down needs a target above nought%s: the last trace of anything never leaves",
                       task->aim == DF_STRIP_TO_FRACTION ? " and below 100 %" : "");
    return DF_OK;
}

void df_strip_free(df_strip *strip) {
    free(strip->point);
    memset(strip, 0, sizeof *strip);
}

df_status df_strip_run(df_context *ctx, df_strip *out, const df_mixture *m, const df_strip_task *task) {
    memset(out, 0, sizeof *out);
    out->lowest = out->lowest_left = out->azeotrope_fraction = out->settled_left = NAN;
    out->azeotrope_temperature = out->azeotrope_pressure = NAN;
    df_context *own = NULL; /* the last failure's sentence is needed even where the caller keeps none */
    df_status status = check_task(ctx, task, m);
    if (status != DF_OK)
        return status;
    if (ctx == NULL && (status = df_context_create(&own)) != DF_OK)
        return status;
    descent d = {.task = task, .out = out};
    d.still.ctx = ctx != NULL ? ctx : own;
    d.still.mixture = m;
    d.still.hold = task->hold;
    d.still.held = task->hold == DF_STRIP_AT_PRESSURE ? task->pressure : task->temperature;
    for (size_t i = 0; i < m->n; i++)
        if (task->amount[i] > 0.0) {
            d.active[d.n++] = i;
            d.start += task->amount[i];
        }
    df_solver v;
    if (open_solver(&v, &d))
        status = march(&d, &v);
    else
        status = df_fail(ctx, DF_E_MEMORY, "out of memory");
    df_solver_close(&v);
    if (status == DF_OK && (out->stop == DF_STRIP_EMPTY || task->aim != DF_STRIP_TO_FRACTION))
        status = look_for_azeotrope(&d);
    if (status != DF_OK)
        df_strip_free(out);
    else if (d.extrapolated)
        status = df_fail(ctx, DF_EXTRAPOLATED, "a vapour pressure was needed outside the range of its source");
    df_context_destroy(own);
    return status;
}
