/* Model (b): one container in one dimension, integrated by IDA. docs/transient.md. */
#include "base/solver.h"
#include "drying/border.h"
#include "drying/column.h"
#include "drying/material.h"
#include "drying/newton.h"

#include <ida/ida.h>
#include <nvector/nvector_serial.h>
#include <stdlib.h>
#include <string.h>

#define N DF_MAX_COMPONENTS
#define LEAST_HEAT                                                                                                   \
    1250.0 /* J/(m3 K) that a body without solutes keeps: no cell is ever empty of heat; 1e-3 of ice's */
#define LEAST_GLASS 1e-3 /* J/K: a wall without heat would keep the balance of heat no better than its own equation */
#define LEAST_SLOPE 200.0 /* J/(kg K) of a species in the body */
#define GONE 1e-5         /* share of a species left that counts as gone */
#define MOST_STEPS 200000

void df_transient_defaults(df_transient_options *o) {
    memset(o, 0, sizeof *o);
    o->dry_cells = o->frozen_cells = 60;
    o->tolerance = 1e-4;
    o->time_limit = 30.0 * 86400.0;
    o->pore_exponent = 1.5;
    o->pores = (df_pores){.radius = 3e-5, .openness = 0.6, .temperature = 245.0};
    o->dry_conductivity = DF_DRY_CONDUCTIVITY;
}

/* ---- the system as the integrator sees it ---------------------------------------------------------------------- */

/* Rates of what has one, residuals of what has none, at the located state. */
static void gather(const df_column *s, const double *y, double *out) {
    for (size_t j = 0; j < s->cells; j++) {
        out[s->q * j] = s->gain[j];
        if (s->q == 2)
            out[2 * j + 1] = j < s->dry ? s->wetting[j] : 0.0;
    }
    for (size_t i = 0; i < s->n; i++) {
        double flow = s->gone[i] ? 0.0 : y[s->at_flow + i];
        out[s->at_mass + i] = -flow;
        out[s->at_vapour + i] = flow;
        out[s->at_flow + i] = s->gap[i];
    }
    out[s->at_front] = s->balance;
    out[s->at_wall] = s->wall_gain;
    out[s->at_bound] = s->released;
    out[s->at_heat] = s->heat_wall;
    out[s->at_heat + 1] = s->heat_top;
    out[s->at_heat + 2] = s->heat_vapour;
}

/* What multiplies the derivative of an unknown: 0 for those that have none. */
static double inertia(const df_column *s, size_t k) {
    if (k == s->at_wall)
        return s->glass;
    return k >= s->at_flow && k <= s->at_front ? 0.0 : 1.0;
}

/* Whether a state can be one of nature: a step that leads elsewhere is too long. */
static bool physical(const df_column *s, const double *y) {
    for (size_t i = 0; i < s->n; i++)
        if (!(y[s->at_mass + i] > -0.01 * s->initial[i] && y[s->at_mass + i] < 1.01 * s->initial[i]))
            return false;
    return y[s->at_front] > 100.0 && y[s->at_front] < 400.0 && y[s->at_wall] > 100.0 && y[s->at_wall] < 500.0;
}

static bool sound(const df_column *s) {
    for (size_t j = 0; j < s->cells; j++)
        if (!(s->temperature[j] > 100.0 && s->temperature[j] < 500.0 && s->capacity[j] > 0.0))
            return false;
    return true;
}

static int residual(realtype time, N_Vector state, N_Vector slope, N_Vector rest, void *data) {
    df_column *s = data;
    const double *y = N_VGetArrayPointer(state), *yp = N_VGetArrayPointer(slope);
    double *r = N_VGetArrayPointer(rest);
    if (!physical(s, y))
        return 1;
    s->b->at(&s->around, time, s->b->data);
    df_column_locate(s, y);
    if (!sound(s))
        return 1;
    df_column_flows(s, y, false);
    gather(s, y, r);
    for (size_t k = 0; k < s->states; k++)
        r[k] = inertia(s, k) * yp[k] - r[k];
    return 0;
}

/* Column `c` of the border by a difference of the rates at a moved state. */
static void border_column(df_column *s, df_border *a, const double *out, const double *moved, double step, size_t c,
                          double *work) {
    gather(s, moved, work);
    for (size_t k = 0; k < a->shape.band; k++)
        a->right[c * a->shape.band + k] = -(work[k] - out[k]) / step;
    for (size_t r = 0; r < a->shape.border; r++)
        a->corner[r * a->shape.border + c] = -(work[a->shape.band + r] - out[a->shape.band + r]) / step;
}

/* Columns of the cells' unknown `kind` (0 enthalpy, 1 bound water), three sets of cells that do not touch one another.
 * Accounts take what the cells give, so that a Newton step keeps the balances. */
static void cell_columns(df_column *s, df_border *a, double *y, size_t kind, const double *gain,
                         const double *wetting, const double *base) {
    const df_border_shape *shape = &a->shape;
    size_t q = s->q, cells = s->cells, wide = 2 * shape->half + 1;
    double step[DF_COLUMN_CELLS], cooled[DF_COLUMN_CELLS], balance = base[0], wall = base[1], heat_top = base[2];
    for (size_t colour = 0; colour < 3; colour++) {
        for (size_t j = colour; j < cells; j += 3) {
            cooled[j] = s->temperature[j];
            if (kind == 0) {
                s->temperature[j] += 1e-3;
                step[j] = (s->temperature[j] - cooled[j]) * s->capacity[j];
            } else {
                step[j] = 1e-6 * fmax(s->bound * (s->face[j + 1] - s->face[j]), 1e-30);
                y[q * j + 1] += step[j];
                s->temperature[j] -=
                    df_table_in(s->bound_heat, df_spot_find(s->path, cooled[j])) * step[j] / s->capacity[j];
            }
        }
        df_column_flows(s, y, true);
        for (size_t j = colour; j < cells; j += 3) {
            size_t column_ = q * j + kind;
            double heat = 0.0, water = 0.0;
            for (size_t i = j > 0 ? j - 1 : 0; i <= j + 1 && i < cells; i++) {
                double slope = (s->gain[i] - gain[i]) / step[j];
                heat += slope;
                a->band[q * i * wide + shape->half + column_ - q * i] = -slope;
                if (q == 2 && i < s->dry) {
                    slope = (s->wetting[i] - wetting[i]) / step[j];
                    water += slope;
                    a->band[(2 * i + 1) * wide + shape->half + column_ - (2 * i + 1)] = -slope;
                }
            }
            double *low = &a->low[column_], top_slope = j == 0 ? (s->heat_top - heat_top) / step[j] : 0.0;
            double wall_slope = j + 1 == cells ? (s->wall_gain - wall) / step[j] : 0.0;
            if (j == s->dry || j + 1 == s->dry)
                low[(s->at_front - shape->band) * shape->band] = -(s->balance - balance) / step[j];
            low[(s->at_wall - shape->band) * shape->band] = -wall_slope;
            low[(s->at_heat + 1 - shape->band) * shape->band] = -top_slope;
            low[(s->at_heat + 2 - shape->band) * shape->band] = heat + wall_slope - top_slope;
            low[(s->at_bound - shape->band) * shape->band] = water;
            s->temperature[j] = cooled[j];
            if (kind == 1)
                y[q * j + 1] -= step[j];
        }
    }
}

static int jacobian(realtype time, realtype cj, N_Vector state, N_Vector slope, N_Vector rest, SUNMatrix matrix,
                    void *data, N_Vector t1, N_Vector t2, N_Vector t3) {
    df_column *s = data;
    df_border *a = df_border_content(matrix);
    const df_border_shape *shape = &a->shape;
    const double *y = N_VGetArrayPointer(state);
    double *out = N_VGetArrayPointer(t1), *work = N_VGetArrayPointer(t2), *moved = N_VGetArrayPointer(t3);
    (void)slope;
    (void)rest;
    SUNMatZero(matrix);
    s->factorings++;
    s->b->at(&s->around, time, s->b->data);
    memcpy(moved, y, s->states * sizeof *moved);
    df_column_locate(s, y);
    df_column_flows(s, y, false);
    gather(s, y, out);
    /* the fronts feel the temperature where their vapour comes from */
    double ts = y[s->at_front];
    for (size_t i = 0; i < s->n; i++) {
        if (s->gone[i] || i == s->w)
            continue;
        double seat = df_column_seat(s, i, ts), flow = y[s->at_flow + i];
        double feels = (df_column_gap(s, i, flow, seat + 1e-3) - df_column_gap(s, i, flow, seat)) / 1e-3;
        for (size_t j = 0; j < s->cells; j++)
            a->low[(s->at_flow + i - shape->band) * shape->band + s->q * j] =
                -feels * (s->below[i][j] - s->below[i][j + 1]) / s->capacity[j];
    }
    double base[3] = {s->balance, s->wall_gain, s->heat_top};
    double gain[DF_COLUMN_CELLS], wetting[DF_COLUMN_CELLS];
    memcpy(gain, s->gain, s->cells * sizeof *gain);
    if (s->q == 2)
        memcpy(wetting, s->wetting, s->cells * sizeof *wetting);
    for (size_t kind = 0; kind < s->q; kind++) {
        cell_columns(s, a, moved, kind, gain, wetting, base);
    }
    for (size_t i = 0; i < s->n; i++) {
        size_t k = s->at_flow + i;
        double step = 1e-6 * fmax(fabs(y[k]), 1.0 / s->cake[i]);
        moved[k] += step;
        df_column_flows(s, moved, false);
        border_column(s, a, out, moved, moved[k] - y[k], k - shape->band, work);
        moved[k] = y[k];
    }
    for (size_t k = s->at_front; k <= s->at_wall; k++) {
        moved[k] += 1e-3;
        df_column_flows(s, moved, false);
        border_column(s, a, out, moved, moved[k] - y[k], k - shape->band, work);
        moved[k] = y[k];
    }
    for (size_t i = 0; i < s->n; i++) {
        size_t k = s->at_mass + i;
        double step = -1e-7 * fmax(fabs(y[k]), 1e-3 * s->initial[i]);
        moved[k] += step;
        df_column_locate(s, moved);
        df_column_flows(s, moved, false);
        border_column(s, a, out, moved, moved[k] - y[k], k - shape->band, work);
        moved[k] = y[k];
    }
    for (size_t k = 0; k < shape->band; k++)
        a->band[k * (2 * shape->half + 1) + shape->half] += cj;
    for (size_t r = 0; r < shape->border; r++)
        a->corner[r * shape->border + r] += cj * inertia(s, shape->band + r);
    return 0;
}

static int events(realtype time, N_Vector state, N_Vector slope, realtype *g, void *data) {
    const df_column *s = data;
    const double *y = N_VGetArrayPointer(state);
    (void)time;
    (void)slope;
    for (size_t i = 0; i < s->n; i++)
        g[i] = s->gone[i] ? 1.0 : y[s->at_mass + i] / s->initial[i] - GONE;
    return 0;
}

/* Weights of the errors: a cell's heat by its size, so that all cells are as exact in temperature. */
static int weights(N_Vector state, N_Vector weight, void *data) {
    const df_column *s = data;
    const double *y = N_VGetArrayPointer(state);
    double *w = N_VGetArrayPointer(weight), tolerance = s->o->tolerance, kelvin = 100.0 * tolerance;
    double front = DF_COLUMN_SKIN + (1.0 - DF_COLUMN_SKIN) *
                                        fmin(fmax(1.0 - y[s->at_mass + s->w] / s->initial[s->w], 0.0), 1.0 - 1e-9);
    double ice = s->heat, mass = 0.0;
    for (size_t i = 0; i < s->n; i++) {
        ice += 1800.0 * s->initial[i]; /* J/(kg K) */
        mass += s->initial[i];
        w[s->at_mass + i] = 1.0 / (tolerance * (fabs(y[s->at_mass + i]) + 1e-3 * s->initial[i]));
        w[s->at_vapour + i] = 1.0 / (tolerance * s->initial[i]);
        w[s->at_flow + i] = 1.0 / (tolerance * (fabs(y[s->at_flow + i]) + 10.0 / s->cake[i]));
    }
    for (size_t j = 0; j < s->cells; j++) {
        double wide = j < s->dry ? front / (double)s->dry : (1.0 - front) / (double)(s->cells - s->dry);
        w[s->q * j] = 1.0 / (kelvin * wide * (j < s->dry ? s->heat : ice));
        if (s->q == 2)
            w[2 * j + 1] = 1.0 / (10.0 * tolerance * wide * s->bound);
    }
    w[s->at_front] = w[s->at_wall] = 1.0 / kelvin;
    w[s->at_bound] = 1.0 / (tolerance * fmax(s->bound, 1e-3 * mass));
    for (size_t k = 0; k < 3; k++)
        w[s->at_heat + k] = 1.0 / (tolerance * 2.8e6 * mass);
    return 0;
}

/* Flows and front temperature that fit the rest of the state: Newton's method on them alone, shortened where it does not
 * improve. Then the derivatives. */
static bool settle(df_column *s, double *y, double *yp, double *work, double time) {
    size_t m = s->n + 1;
    double a[(N + 1) * (N + 1)], r[N + 1], old[N + 1], scale[N + 1], before = INFINITY;
    s->b->at(&s->around, time, s->b->data);
    df_column_locate(s, y);
    if (!sound(s))
        return false;
    double size = s->k_frozen * s->area[s->dry] / s->thickness;
    for (size_t k = 0; k < m; k++)
        scale[k] = k < s->n ? 1.0 : 1.0 / size; /* Pa, K */
    double shrink = 1.0;
    for (int round = 0; round < 200; round++) {
        df_column_flows(s, y, false);
        double now = 0.0;
        for (size_t k = 0; k < m; k++) {
            r[k] = (k < s->n ? s->gap[k] : s->balance) * scale[k];
            now = fmax(now, fabs(r[k]));
        }
        if (now < 1e-9)
            break;
        if (!(now < before) && shrink > 1e-3 && round > 0) { /* half the way back */
            shrink *= 0.5;
            for (size_t k = 0; k < m; k++)
                y[s->at_flow + k] = 0.5 * (y[s->at_flow + k] + old[k]);
            continue;
        }
        before = now;
        shrink = 1.0;
        for (size_t c = 0; c < m; c++) {
            double *x = &y[s->at_flow + c], kept = *x;
            double step = c < s->n ? 1e-6 * fmax(fabs(kept), 1.0 / s->cake[c]) : 1e-4;
            *x = kept + step;
            df_column_flows(s, y, false);
            for (size_t k = 0; k < m; k++)
                a[k * m + c] = ((k < s->n ? s->gap[k] : s->balance) * scale[k] - r[k]) / (*x - kept);
            *x = kept;
        }
        memcpy(old, &y[s->at_flow], m * sizeof *old);
        if (!df_solve_linear(a, r, m))
            return false;
        for (size_t k = 0; k < m; k++)
            y[s->at_flow + k] -= k < s->n ? r[k] : fmin(fmax(r[k], -10.0), 10.0);
        if (now < 1e-6 && round > 100)
            break;
    }
    df_column_flows(s, y, false);
    double worst = fabs(s->balance) / size;
    for (size_t i = 0; i < s->n; i++)
        worst = fmax(worst, fabs(s->gap[i]));
    gather(s, y, work);
    for (size_t k = 0; k < s->states; k++)
        yp[k] = inertia(s, k) > 0.0 ? work[k] / inertia(s, k) : 0.0;
    for (size_t k = 0; k < s->states; k++)
        if (!isfinite(yp[k]) || !isfinite(y[k]))
            return false;
    return worst < 1e-2;
}

/* ---- setting up ------------------------------------------------------------------------------------------------ */

static df_status check(df_context *ctx, const df_class *c, const df_transient_options *o) {
    if ((c->shape.kind == DF_FLASK) != (c->shape.lie == DF_LIE_SHELL))
        return df_fail(ctx, DF_E_INPUT,
                       "no body of one dimension that this model knows: it takes a vial, tube or tray at rest, or "
                       "the shell of a flask");
    if (!(c->mass > 0.0) || c->path == NULL || c->path->n == 0)
        return df_fail(ctx, DF_E_INPUT, "there is nothing volatile to dry: the mass should be more than 0");
    if (o->dry_cells < 3 || o->frozen_cells < 3 || o->dry_cells + o->frozen_cells > DF_COLUMN_CELLS)
        return df_fail(ctx, DF_E_INPUT, "3 cells or more on either side of the front, %d in all, not %zu and %zu",
                       DF_COLUMN_CELLS, o->dry_cells, o->frozen_cells);
    if (!(o->tolerance > 0.0 && o->tolerance < 0.1) || !(o->dry_conductivity > 0.0) || !(o->pores.openness > 0.0) ||
        !(o->pores.radius >= 0.0 && o->pores.radius < 1.0) || !(c->cake.r0 >= 0.0) || !(c->cake.a1 >= 0.0) ||
        !(c->cake.r0 + c->cake.a1 > 0.0))
        return df_fail(ctx, DF_E_INPUT,
                       "tolerance, conductivity, pores and resistance of the dried layer should be "
                       "positive and finite");
    return DF_OK;
}

static df_status prepare(df_context *ctx, df_column *s, const df_class *c, const df_transient_boundary *b,
                         const df_transient_options *o) {
    const df_frozen_path *p = c->path;
    double fraction[N], log_conductivity = 0.0;
    df_gas gas[DF_MAX_GASES];
    memset(s, 0, sizeof *s);
    s->c = c;
    s->b = b;
    s->o = o;
    s->path = p;
    s->n = p->n;
    s->dry = o->dry_cells;
    s->cells = o->dry_cells + o->frozen_cells;
    s->volume = c->shape.volume;
    s->thickness = c->shape.thickness;
    s->side = sqrt(c->shape.free_area);
    s->flare = c->shape.lie == DF_LIE_SHELL ? (sqrt(c->shape.heated_area) - s->side) / s->thickness : 0.0;
    s->contact = c->shape.heated_area;
    s->room_area = b->room_area;
    s->solids = c->solids;
    s->heat = fmax(c->solids * DF_SOLUTE_HEAT, LEAST_HEAT * s->volume);
    s->glass = fmax(df_wetted_glass(&c->container, s->volume), LEAST_GLASS);
    df_composition_fractions(fraction, &c->composition, DF_BASIS_MASS);
    for (size_t i = 1; i < s->n; i++)
        if (p->volume_fraction[i] > p->volume_fraction[s->w])
            s->w = i;
    double whole = fmax(c->cake.r0 + c->cake.a1 * s->thickness / (1.0 + c->cake.a2 * s->thickness), 1.0);
    for (size_t i = 0; i < s->n; i++) {
        const df_substance *sub = c->composition.component[i];
        gas[i] = df_gas_of(sub);
        s->initial[i] = c->mass * fraction[i];
        s->share[i] = pow(p->volume_fraction[i], o->pore_exponent);
        s->port[i] = b->port_diameter > 0.0
                         ? 1.0 / df_port_conductance(b->port_diameter, 0.05, sub->molar_mass, b->room_temperature)
                         : 0.0;
        log_conductivity += p->volume_fraction[i] * log(df_solid_conductivity(sub));
        for (size_t k = 0; k < p->points; k++) {
            double t = p->lowest + p->step * (double)k;
            s->pure_ln[i][k] = df_condensed_ln(sub, t);
            s->condensed[i][k] = p->species_enthalpy[i][k];
            if (k > 0) /* a species that freezes while another melts would make a cell without that other ambiguous */
                s->condensed[i][k] = fmax(s->condensed[i][k], s->condensed[i][k - 1] + LEAST_SLOPE * p->step);
            s->vapour[i][k] =
                p->species_enthalpy[i][k] +
                (df_vaporisation_enthalpy(sub, t) + (1.0 - p->species_liquid[i][k]) * df_fusion_enthalpy(sub, t)) /
                    sub->molar_mass;
        }
    }
    s->k_frozen = c->conductivity > 0.0 ? c->conductivity : exp(log_conductivity);
    s->k_dry = o->dry_conductivity;
    gas[s->n] = df_gas_air();
    df_dusty_make(&s->dusty, gas, s->n + 1, &o->pores);
    df_dusty_make(&s->free_gas, gas, s->n + 1, &(df_pores){.openness = 1.0});
    for (size_t i = 0; i < s->n; i++)
        s->cake[i] = whole * s->dusty.root[i] / (c->shape.free_area * s->share[i]);
    for (size_t k = 0; k < p->points; k++)
        s->room_flux[k] = b->room_area > 0.0 ? df_room_heat_flux(b->room_temperature, p->lowest + p->step * (double)k,
                                                                 b->room_diameter, b->room_frost)
                                             : 0.0;
    const df_sorption *q = &c->sorption[s->w];
    s->q = 1;
    if (o->secondary && c->solids > 0.0 && q->known && (int)s->w == p->water) {
        s->q = 2;
        s->bound = fmin(q->bound * c->solids, DF_MOST_CAUGHT * s->initial[s->w]);
        s->initial[s->w] -= s->bound;
        for (size_t k = 0; k < p->points; k++) {
            const df_substance *water = c->composition.component[s->w];
            double t = p->lowest + p->step * (double)k;
            s->bound_heat[k] = df_liquid_enthalpy(water, t) / water->molar_mass - q->heat;
            s->bound_saturated[k] = df_liquid_pressure_ln(water, t);
        }
        if (!(s->bound > 0.0))
            s->q = 1;
    }
    s->at_mass = s->q * s->cells;
    s->at_flow = s->at_mass + s->n;
    s->at_front = s->at_flow + s->n;
    s->at_wall = s->at_front + 1;
    s->at_vapour = s->at_wall + 1;
    s->at_bound = s->at_vapour + s->n;
    s->at_heat = s->at_bound + 1;
    s->states = s->at_heat + 3;
    size_t faces = s->cells + 1;
    s->store = calloc(faces * (13 + 3 * s->n), sizeof *s->store);
    if (s->store == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    double **part[] = {&s->face,    &s->face_z, &s->area, &s->centre_z, &s->centre, &s->temperature, &s->capacity,
                       &s->release, &s->held,   &s->gain, &s->wetting,  &s->up,     &s->risen};
    double *next = s->store;
    for (size_t k = 0; k < sizeof part / sizeof part[0]; k++, next += faces)
        *part[k] = next;
    for (size_t i = 0; i < s->n; i++) {
        s->amount[i] = next;
        s->below[i] = next + faces;
        s->present[i] = next + 2 * faces;
        next += 3 * faces;
    }
    return DF_OK;
}

static void start(df_column *s, double *y) {
    const df_frozen_path *p = s->path;
    double t = s->c->start_temperature;
    df_spot_in at = df_spot_find(p, t);
    for (size_t i = 0; i < s->n; i++)
        y[s->at_mass + i] = s->initial[i];
    y[s->at_front] = y[s->at_wall] = t;
    df_column_locate(s, y); /* contents; the temperatures mean nothing yet */
    for (size_t j = 0; j < s->cells; j++) {
        double wide = s->face[j + 1] - s->face[j], bound = s->bound * wide;
        double sum = s->heat * wide * (t - p->lowest) + bound * df_table_in(s->bound_heat, at);
        for (size_t i = 0; i < s->n; i++)
            sum += s->amount[i][j] * df_table_in(s->condensed[i], at);
        y[s->q * j] = sum;
        if (s->q == 2 && j < s->dry)
            y[2 * j + 1] = bound;
    }
    for (size_t i = 0; i < s->n; i++) /* a guess */
        y[s->at_flow + i] = 0.1 / s->cake[i];
}

/* ---- what is kept ------------------------------------------------------------------------------------------------ */

static bool observe(df_transient *out, df_column *s, const double *y, double time, size_t *capacity) {
    if (out->moments == *capacity) {
        size_t more = *capacity == 0 ? 256 : 2 * *capacity;
        df_transient_moment *grown = realloc(out->moment, more * sizeof *grown);
        if (grown == NULL)
            return false;
        out->moment = grown;
        *capacity = more;
    }
    df_transient_moment *m = &out->moment[out->moments++];
    memset(m, 0, sizeof *m);
    s->b->at(&s->around, time, s->b->data);
    df_column_locate(s, y);
    df_column_flows(s, y, false);
    m->time = time;
    m->front = y[s->at_front];
    m->wall = y[s->at_wall];
    m->surface = s->surface;
    m->depth = s->depth;
    m->heat = s->heat_wall;
    m->top_heat = s->heat_top;
    m->hottest = fmax(m->front, m->wall);
    for (size_t j = s->dry; j < s->cells; j++)
        m->hottest = fmax(m->hottest, s->temperature[j]);
    double bound = 0.0;
    for (size_t j = 0; j < s->cells && s->q == 2; j++)
        bound += df_column_bound(s, y, j);
    m->bound = s->solids > 0.0 ? bound / s->solids : 0.0;
    for (size_t i = 0; i < s->n; i++) {
        m->left[i] = s->left[i];
        m->flow[i] = s->gone[i] ? 0.0 : y[s->at_flow + i];
    }
    if (!s->gone[s->w] && s->left[s->w] >= DF_LAST_FRAMEWORK && m->hottest > out->hottest) {
        out->hottest = m->hottest;
        out->hottest_time = time;
    }
    return true;
}

/* After observe, at the same state. */
static void draw_profile(df_transient *out, const df_column *s, const double *y, double time) {
    df_transient_profile *f = &out->profile[out->profiles++];
    double p[DF_MAX_GASES], open[DF_MAX_GASES], flow[DF_MAX_GASES] = {0.0};
    bool stopped[N] = {false};
    f->time = time;
    f->dry = s->dry;
    for (size_t i = 0; i < s->n; i++)
        flow[i] = s->gone[i] ? 0.0 : y[s->at_flow + i];
    df_column_under_surface(p, open, s, flow);
    double at = 0.0;
    for (size_t j = 0; j < s->cells; j++) {
        double wide = s->face[j + 1] - s->face[j];
        f->depth[j] = s->centre_z[j];
        f->temperature[j] = s->temperature[j];
        f->bound[j] = s->solids > 0.0 ? df_column_bound(s, y, j) / (s->solids * wide) : 0.0;
        if (j >= s->dry)
            continue;
        for (size_t i = 0; i < s->n; i++)
            if (i != s->w && !stopped[i] && s->place[i] <= s->centre[j]) {
                flow[i] = 0.0;
                stopped[i] = true;
            }
        df_column_climb(p, s, flow, open, at, s->centre[j], y[s->at_front]);
        at = s->centre[j];
        for (size_t i = 0; i <= s->n; i++)
            f->pressure[i][j] = p[i];
    }
}

static bool room_for_profiles(df_transient *out, const df_column *s) {
    size_t count = s->o->profiles, each = s->cells * (3 + s->n + 1);
    if (count == 0)
        return true;
    out->profile = calloc(count, sizeof *out->profile);
    out->profile_values = calloc(count * each, sizeof *out->profile_values);
    if (out->profile == NULL || out->profile_values == NULL)
        return false;
    double *next = out->profile_values;
    for (size_t k = 0; k < count; k++) {
        df_transient_profile *f = &out->profile[k];
        f->points = s->cells;
        f->depth = next;
        f->temperature = next + s->cells;
        f->bound = next + 2 * s->cells;
        next += 3 * s->cells;
        for (size_t i = 0; i <= s->n; i++, next += s->cells)
            f->pressure[i] = next;
    }
    return true;
}

static double heat_of(const df_column *s, const double *y) {
    double sum = s->glass * y[s->at_wall];
    for (size_t j = 0; j < s->cells; j++)
        sum += y[s->q * j];
    return sum;
}

static double bound_of(const df_column *s, const double *y) {
    double sum = 0.0;
    for (size_t j = 0; j < s->dry && s->q == 2; j++)
        sum += y[2 * j + 1];
    return s->q == 2 ? sum + s->bound * (1.0 - s->front) : 0.0;
}

/* ---- the run ----------------------------------------------------------------------------------------------------- */

typedef struct solver {
    SUNContext context;
    N_Vector state, slope, id, work;
    SUNMatrix matrix;
    SUNLinearSolver linear;
    SUNNonlinearSolver newton;
    void *ida;
} solver;

static void close_solver(solver *v) {
    if (v->ida != NULL)
        IDAFree(&v->ida);
    if (v->newton != NULL)
        SUNNonlinSolFree(v->newton);
    if (v->linear != NULL)
        SUNLinSolFree(v->linear);
    if (v->matrix != NULL)
        SUNMatDestroy(v->matrix);
    N_Vector vectors[] = {v->state, v->slope, v->id, v->work};
    for (size_t k = 0; k < sizeof vectors / sizeof vectors[0]; k++)
        if (vectors[k] != NULL)
            N_VDestroy(vectors[k]);
    if (v->context != NULL)
        SUNContext_Free(&v->context);
}

static bool open_solver(solver *v, df_column *s) {
    sunindextype size = (sunindextype)s->states;
    df_border_shape shape = {s->at_mass, 2 * s->q - 1, s->states - s->at_mass, 2 * s->n + 2};
    memset(v, 0, sizeof *v);
    if (SUNContext_Create(NULL, &v->context) != 0)
        return false;
    v->state = df_solver_vector(size, v->context);
    v->slope = df_solver_vector(size, v->context);
    v->id = df_solver_vector(size, v->context);
    v->work = df_solver_vector(size, v->context);
    if (v->state == NULL || v->slope == NULL || v->id == NULL || v->work == NULL)
        return false;
    N_VConst(0.0, v->state);
    N_VConst(0.0, v->slope);
    for (size_t k = 0; k < s->states; k++)
        N_VGetArrayPointer(v->id)[k] = inertia(s, k) > 0.0 ? 1.0 : 0.0;
    start(s, N_VGetArrayPointer(v->state));
    v->matrix = df_border_matrix(&shape, v->context);
    v->linear = df_border_solver(&shape, v->context);
    v->newton = df_newton_solver(v->state, v->context);
    v->ida = IDACreate(v->context);
    return v->newton != NULL && v->matrix != NULL && v->linear != NULL && v->ida != NULL &&
           IDAInit(v->ida, residual, 0.0, v->state, v->slope) == IDA_SUCCESS &&
           IDAWFtolerances(v->ida, weights) == IDA_SUCCESS && IDASetUserData(v->ida, s) == IDA_SUCCESS &&
           IDASetErrHandlerFn(v->ida, df_solver_quiet, NULL) == IDA_SUCCESS &&
           IDASetId(v->ida, v->id) == IDA_SUCCESS && IDASetSuppressAlg(v->ida, SUNTRUE) == IDA_SUCCESS &&
           IDASetLinearSolver(v->ida, v->linear, v->matrix) == IDA_SUCCESS &&
           IDASetNonlinearSolver(v->ida, v->newton) == IDA_SUCCESS && IDASetJacFn(v->ida, jacobian) == IDA_SUCCESS &&
           IDARootInit(v->ida, (int)s->n, events) == IDA_SUCCESS && IDASetNoInactiveRootWarn(v->ida) == IDA_SUCCESS &&
           IDASetMaxErrTestFails(v->ida, 40) == IDA_SUCCESS && IDASetMaxConvFails(v->ida, 40) == IDA_SUCCESS;
}

/* Brings the dry skin of the start to its front's temperature, which would else take the first steps. */
static bool even_out(df_column *s, solver *v) {
    double *y = N_VGetArrayPointer(v->state), kept = s->k_dry;
    s->k_dry = 1e-9 * kept; /* the front by itself */
    bool found = settle(s, y, N_VGetArrayPointer(v->slope), N_VGetArrayPointer(v->work), 0.0);
    s->k_dry = kept;
    for (size_t j = 0; j < s->dry; j++)
        y[s->q * j] += s->capacity[j] * (y[s->at_front] - s->temperature[j]);
    return found;
}

static bool anew(df_column *s, solver *v, double time) {
    return settle(s, N_VGetArrayPointer(v->state), N_VGetArrayPointer(v->slope), N_VGetArrayPointer(v->work), time) &&
           IDAReInit(v->ida, time, v->state, v->slope) == IDA_SUCCESS && IDASetInitStep(v->ida, 1e-3) == IDA_SUCCESS;
}

static void count_work(df_transient *out, const solver *v) {
    long steps = 0, evaluations = 0;
    IDAGetNumSteps(v->ida, &steps);
    IDAGetNumResEvals(v->ida, &evaluations);
    out->steps += steps;
    out->evaluations += evaluations;
}

static df_status march(df_context *ctx, df_transient *out, df_column *s, solver *v) {
    const df_transient_options *o = s->o;
    double *y = N_VGetArrayPointer(v->state), time = 0.0;
    size_t room = 0, corner = 0, profile = 0;
    if (!even_out(s, v) || !anew(s, v, time))
        return df_fail(ctx, DF_E_CONVERGENCE, "no flows and temperature of the front fit the state at the start");
    out->heat_stored = -heat_of(s, y); /* the end's is added */
    for (;;) {
        if (!observe(out, s, y, time, &room))
            return df_fail(ctx, DF_E_MEMORY, "out of memory");
        out->time = time;
        for (; profile < o->profiles && o->profile[profile] <= time * (1.0 + 1e-12); profile++)
            draw_profile(out, s, y, time);
        if (time >= o->time_limit) {
            out->end = DF_TRANSIENT_TIME_LIMIT;
            return DF_OK;
        }
        while (corner < s->b->corners && s->b->corner[corner] <= time * (1.0 + 1e-12))
            corner++;
        bool at_corner = corner < s->b->corners && s->b->corner[corner] < o->time_limit;
        double stop = at_corner ? s->b->corner[corner] : o->time_limit, reached = time;
        if (profile < o->profiles)
            stop = fmin(stop, o->profile[profile]);
        if (out->moments > MOST_STEPS)
            return df_fail(ctx, DF_E_CONVERGENCE, "the time integration got stuck at %.3f h", time / 3600.0);
        IDASetStopTime(v->ida, stop);
        int flag = IDASolve(v->ida, stop, &reached, v->state, v->slope, IDA_ONE_STEP);
        if (flag < 0)
            return df_fail(ctx, DF_E_CONVERGENCE, "the time integration stopped at %.3f h (integrator code %d)",
                           time / 3600.0, flag);
        time = reached;
        bool news = false, all = true;
        for (size_t i = 0; i < s->n; i++) {
            if (!s->gone[i] && y[s->at_mass + i] <= 1.0001 * GONE * s->initial[i]) {
                s->gone[i] = news = true;
                out->species_time[i] = out->time_dry = time;
                y[s->at_flow + i] = 0.0;
            }
            all = all && s->gone[i];
        }
        if (all && s->q == 1) {
            out->end = DF_TRANSIENT_DRY;
            out->time = time;
            return observe(out, s, y, time, &room) ? DF_OK : df_fail(ctx, DF_E_MEMORY, "out of memory");
        }
        if (news || (at_corner && time >= s->b->corner[corner])) {
            count_work(out, v);
            if (!anew(s, v, time))
                return df_fail(ctx, DF_E_CONVERGENCE, "the time integration could not be taken up again at %.3f h",
                               time / 3600.0);
        }
    }
}

static void finish(df_transient *out, df_column *s, const double *y) {
    df_column_locate(s, y);
    for (size_t i = 0; i < s->n; i++) {
        out->initial[i] = s->initial[i];
        out->product[i] = y[s->at_mass + i];
        out->vapour[i] = y[s->at_vapour + i];
    }
    out->bound_initial = s->bound;
    out->bound_product = bound_of(s, y);
    out->bound_vapour = y[s->at_bound];
    out->heat_wall = y[s->at_heat];
    out->heat_top = y[s->at_heat + 1];
    out->heat_vapour = y[s->at_heat + 2];
    out->heat_stored += heat_of(s, y);
    out->factorings = s->factorings;
}

df_status df_transient_run(df_context *ctx, df_transient *out, const df_class *class_,
                           const df_transient_boundary *boundary, const df_transient_options *options) {
    memset(out, 0, sizeof *out);
    df_status status = check(ctx, class_, options);
    if (status != DF_OK)
        return status;
    df_column *s = malloc(sizeof *s);
    if (s == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    status = prepare(ctx, s, class_, boundary, options);
    solver v = {0};
    if (status == DF_OK) {
        out->species = s->n;
        out->framework = s->w;
        out->time_dry = NAN;
        for (size_t i = 0; i < N; i++)
            out->species_time[i] = NAN;
        if (!room_for_profiles(out, s) || !open_solver(&v, s))
            status = df_fail(ctx, DF_E_MEMORY, "the time integration could not be set up");
    }
    if (status == DF_OK) {
        status = march(ctx, out, s, &v);
        count_work(out, &v);
        finish(out, s, N_VGetArrayPointer(v.state));
    }
    close_solver(&v);
    free(s->store);
    free(s);
    if (status != DF_OK)
        df_transient_free(out);
    return status;
}

void df_transient_free(df_transient *t) {
    if (t == NULL)
        return;
    free(t->moment);
    free(t->profile);
    free(t->profile_values);
    t->moment = NULL;
    t->profile = NULL;
    t->profile_values = NULL;
    t->moments = t->profiles = 0;
}
