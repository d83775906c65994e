/* Model (a) as CVODE sees it: rates, their derivatives, how closely each state is followed, what is looked for on the way. */
#include "drying/system.h"

#include <cvode/cvode.h>
#include <math.h>
#include <nvector/nvector_serial.h>
#include <stdlib.h>
#include <string.h>

#define KELVIN_TOLERANCE 3e-3 /* K */
#define SKIN_TOLERANCE 3e-2   /* K, of a deposit's surface, which follows the rest within seconds */
#define GAS_TOLERANCE 0.02    /* Pa, of air */
#define VAPOUR_COARSE 10.0    /* times the relative tolerance for vapours: the rest hangs little on their amounts */
#define VAPOUR_LEAST 5.0      /* times GAS_TOLERANCE for them */
#define AIR_TOLERANCE                                                                                                \
    3e-5 /* relative tolerance from which on GAS_TOLERANCE grows with it where air is not bled in, up to */
#define AIR_LEAST 3.3      /* times */
#define KEPT_COARSE 3.0    /* times the relative tolerance for deposits, oil and air */
#define KEPT_SHARE 0.01    /* as LEAST_SHARE, for them */
#define LAST_SHARE 0.01    /* of a species' fill: the last of it is followed to */
#define LAST_COARSE 10.0   /* times the relative tolerance */
#define LOOSE 100.0        /* times more loosely gases and skin are followed while df_system.loose */
#define LEAST_SHARE 0.05   /* a species of less of the load is followed as finely as one of this much */
#define MOST_ORDER 3       /* of the formula: a higher one lets a single gas stray further within the same norm */
#define THROTTLE_BAND 1e-4 /* of the set point: finer than the band of a throttling controller */

/* ---- rates ---------------------------------------------------------------------------------------------------- */

double df_lowest_pressure(const df_system *s, const double *y) {
    double lowest = 0.0, p[GASES];
    for (size_t j = 0; j <= s->traps; j++) {
        df_gas_pressures(p, s, &y[j == 0 ? s->at_chamber : df_at_gas(s, j - 1)],
                         j == 0 ? s->dryer->chamber.volume : s->dryer->trap[j - 1].volume);
        for (size_t i = 0; i <= s->species; i++)
            lowest = fmin(lowest, p[i]);
    }
    return lowest;
}

static int derivative(realtype time, N_Vector state, N_Vector rate, void *data) {
    const df_system *s = data;
    const double *y = N_VGetArrayPointer(state);
    double *f = N_VGetArrayPointer(rate), chamber[GASES];
    memset(f, 0, s->states * sizeof *f);
    if (!(df_lowest_pressure(s, y) > s->least_pressure))
        return 1; /* no state of nature: a step too long, the integrator shortens it */
    df_gas_pressures(chamber, s, &y[s->at_chamber], s->dryer->chamber.volume);
    double total = df_sum(chamber, s->species + 1), shelf = df_shelf_at(s, time);
    for (size_t k = 0; k < s->bodies; k++) {
        const double *own = &y[s->shape.start[k]];
        df_inside in;
        if (!s->body[k].hung)
            continue;
        if (!df_body_inside(&in, &s->body[k], own))
            return 1;
        df_body_rates(&f[s->shape.start[k]], &f[s->at_chamber], &f[s->at_heat], s, &s->body[k], &in, own, chamber,
                      total, shelf);
    }
    df_plant_rates(&f[s->at_chamber], &f[s->at_exhaust], s, &y[s->at_chamber], df_wanted_at(s, time), time,
                   DF_PART_ALL);
    return 0;
}

/* What part of the plant state j of the core touches beside what df_plant_slopes gives, and whether it is a temperature. */
static unsigned touched(bool *kelvin, const df_system *s, size_t j) {
    size_t first = s->at_trap - s->at_chamber, gases = s->species + 1, end = first + s->traps * s->trap_stride;
    *kelvin = false;
    if (j < first)
        return 0;
    if (j >= end)
        return DF_PART_PUMP;
    size_t within = (j - first) % s->trap_stride;
    *kelvin = within + 2 >= s->trap_stride;
    return within >= gases ? DF_PART_TRAPS : j + s->trap_stride >= end ? DF_PART_PUMP : 0;
}

/* Whether state j of a class never changes, so that no Newton step asks for its column: what is gone, and what the cake holds
 * without known rates. */
static bool stays(const df_body *b, size_t j) {
    return j < b->n ? b->gone[j] : j < b->n + b->bound && !b->c->sorption[b->held[j - b->n]].known;
}

/* Difference quotients, block by block: a class acts on itself, the chamber and the heat accounts; the chamber's gases act
 * on every class; the core on itself and the accumulators. Each column is the difference of two sets of rates that obey the
 * balances, so that a Newton step keeps them. */
static void slopes(df_arrow *a, const df_system *s, double time, const double *y) {
    const df_arrow_shape *shape = &s->shape;
    size_t g = shape->gases, m = shape->core, tail = shape->tail;
    size_t gases = df_arrow_rows(g), core_rows = df_arrow_rows(m), tail_rows = df_arrow_rows(tail);
    double chamber[GASES], own0[DF_ARROW_SIDE], own1[DF_ARROW_SIDE], shifted[DF_ARROW_CORE];
    double gas0[GASES], gas1[GASES], heat0[2], heat1[2];
    memset(a->block, 0, a->numbers * sizeof a->block[0]);
    df_gas_pressures(chamber, s, &y[s->at_chamber], s->dryer->chamber.volume);
    double total = df_sum(chamber, g);
    double shelf = df_shelf_at(s, time);
    for (size_t k = 0; k < shape->classes; k++) {
        const df_body *b = &s->body[k];
        const double *own = &y[shape->start[k]];
        size_t q = shape->side[k], rows = df_arrow_rows(q);
        if (!b->hung)
            continue;
        memset(gas0, 0, sizeof gas0);
        memset(heat0, 0, sizeof heat0);
        df_inside in, moved_in;
        (void)df_body_inside(&in, b, own);
        df_body_rates(own0, gas0, heat0, s, b, &in, own, chamber, total, shelf);
        for (size_t j = 0; j < q + g; j++) {
            double moved[DF_ARROW_SIDE], around[GASES], sum_around = total, step;
            if (stays(b, j))
                continue;
            memcpy(moved, own, q * sizeof *moved);
            memcpy(around, chamber, g * sizeof *around);
            memset(gas1, 0, sizeof gas1);
            memset(heat1, 0, sizeof heat1);
            if (j < q) {
                step = 1e-7 * fmax(fabs(own[j]), 1e-9);
                moved[j] += step;
                step = moved[j] - own[j];
                (void)df_body_inside(&moved_in, b, moved);
            } else { /* a step of pressure, then per kg of gas */
                size_t i = j - q;
                double per_kg = DF_GAS_CONSTANT * s->gas_temperature / (s->molar_mass[i] * s->dryer->chamber.volume);
                double lift = 1e-6 * fmax(total, 1.0);
                around[i] += lift;
                sum_around += lift;
                step = lift / per_kg;
            }
            df_body_rates(own1, gas1, heat1, s, b, j < q ? &moved_in : &in, moved, around, sum_around, shelf);
            bool its = j < q; /* a column of the class, else of a gas of the chamber */
            double *own_column = its ? &a->part[k].own[j * rows] : &a->part[k].gas[(j - q) * rows];
            double *gas_column = its ? &a->part[k].back[j * gases] : &a->middle[(j - q) * core_rows];
            double *heat_column = its ? &a->part[k].heat[j * 2] : &a->end[(j - q) * tail_rows + tail - 2];
            double inverse = 1.0 / step;
            for (size_t i = 0; i < q; i++)
                own_column[i] = (own1[i] - own0[i]) * inverse;
            for (size_t i = 0; i < g; i++)
                gas_column[i] += (gas1[i] - gas0[i]) * inverse;
            for (size_t r = 0; r < 2; r++)
                heat_column[r] += (heat1[r] - heat0[r]) * inverse;
        }
    }
    double core0[DF_PART_PUMP + 1][DF_ARROW_CORE], end0[DF_PART_PUMP + 1][DF_ARROW_TAIL]; /* by parts, where needed */
    double core1[DF_ARROW_CORE], end1[DF_ARROW_TAIL];
    const double *core = &y[s->at_chamber];
    static const unsigned needed[] = {DF_PART_TRAPS, DF_PART_PUMP};
    for (size_t k = 0; k < sizeof needed / sizeof needed[0]; k++) {
        memset(core0[needed[k]], 0, m * sizeof core0[0][0]);
        memset(end0[needed[k]], 0, tail * sizeof end0[0][0]);
        df_plant_rates(core0[needed[k]], end0[needed[k]], s, core, 0.0, time, needed[k]);
    }
    memcpy(shifted, core, m * sizeof *shifted);
    for (size_t j = 0; j < m; j++) {
        bool kelvin;
        unsigned parts = touched(&kelvin, s, j);
        if (parts == 0)
            continue;
        double step = kelvin ? 1e-5 : 1e-7 * fmax(fabs(core[j]), 1e-6); /* K; kg */
        shifted[j] += step;
        step = shifted[j] - core[j];
        memset(core1, 0, m * sizeof *core1);
        memset(end1, 0, tail * sizeof *end1);
        df_plant_rates(core1, end1, s, shifted, 0.0, time, parts);
        shifted[j] = core[j];
        double inverse = 1.0 / step;
        for (size_t i = 0; i < m; i++)
            a->middle[j * core_rows + i] += (core1[i] - core0[parts][i]) * inverse;
        for (size_t i = 0; i + 2 < tail; i++)
            a->end[j * tail_rows + i] = (end1[i] - end0[parts][i]) * inverse;
    }
}

/* The matrix of Newton's method, of slopes from before where they will do. */
static int newton_matrix(realtype time, N_Vector state, N_Vector rate, SUNMatrix matrix, booleantype will_do,
                         booleantype *fresh, realtype gamma, void *data, N_Vector t1, N_Vector t2, N_Vector t3) {
    const df_system *s = data;
    (void)rate;
    (void)t1;
    (void)t2;
    (void)t3;
    if (!will_do)
        slopes(s->slopes, s, time, N_VGetArrayPointer(state));
    *fresh = !will_do;
    df_arrow *a = df_arrow_content(matrix);
    df_arrow_newton(a, s->slopes, gamma);
    df_plant_slopes(a->middle, a->end, s, N_VGetArrayPointer(state) + s->at_chamber, df_wanted_at(s, time), time,
                    -gamma);
    return 0;
}

/* Weights of the integrator's norm. */
static int weigh(N_Vector state, N_Vector weight, void *data) {
    const df_system *s = data;
    const double *y = N_VGetArrayPointer(state);
    double *w = N_VGetArrayPointer(weight);
    for (size_t i = 0; i < s->states; i++) {
        const df_measure *m = &s->measure[i];
        double size = fabs(y[i]);
        w[i] = 1.0 / (m->relative * size + m->absolute + m->last * (size < m->small ? size : m->small));
    }
    if (!s->loose)
        return 0;
    for (size_t j = 0; j <= s->traps; j++) {
        double *gas = &w[j == 0 ? s->at_chamber : df_at_gas(s, j - 1)];
        for (size_t i = 0; i <= s->species; i++)
            gas[i] *= 1.0 / LOOSE;
        if (j > 0)
            w[df_at_coil(s, j - 1) + 1] *= 1.0 / LOOSE;
    }
    return 0;
}

static int events(realtype time, N_Vector state, realtype *g, void *data) {
    const df_system *s = data;
    const double *y = N_VGetArrayPointer(state);
    size_t e = 0;
    (void)time;
    for (size_t k = 0; k < s->bodies; k++) {
        const df_body *b = &s->body[k];
        const double *own = &y[s->shape.start[k]];
        for (size_t i = 0; i < b->n; i++)
            g[e++] = b->gone[i] ? 1.0 : own[i] / b->initial[i] - GONE;
        /* the last moment at which the framework's temperature counts is seen, as a rule its hottest */
        g[e++] = own[b->framework] / b->initial[b->framework] - 1.0001 * DF_LAST_FRAMEWORK;
        /* so is the last at which the solidus of the whole counts */
        g[e++] = b->n > 1 && !b->gone[b->framework]
                     ? df_body_others(b, own) - 0.5 * (1.0 + DF_SOLVENT_GONE) * s->setup->trace_liquid
                     : -1.0;
        for (size_t j = 0; j < b->bound; j++) { /* a target; its distance where there is none never changes sign */
            double target = s->setup->target[b->held[j]];
            g[e++] = target > 0.0 ? own[b->n + j] / (target * b->c->solids) - 1.0 : 1.0;
        }
    }
    for (size_t j = 0; j < s->traps; j++)
        g[e++] = s->dryer->trap[j].kind == DF_TRAP_FINGER && !s->empty[j]
                     ? 1.0 - (y[s->at_coolant + j] - s->refilled[j]) / s->dryer->trap[j].charge
                     : 1.0;
    return 0;
}

/* ---- setting up ------------------------------------------------------------------------------------------------- */

double df_filling(const df_system *s, double molar_mass, double pressure, double volume) {
    return pressure * molar_mass * volume / (DF_GAS_CONSTANT * s->gas_temperature);
}

static void start_state(double *y, df_system *s) {
    const df_setup *setup = s->setup;
    df_measure *measure = s->measure;
    double all = 0.0, relative = setup->tolerance;
    memset(y, 0, s->states * sizeof *y);
    for (size_t i = 0; i < s->states; i++)
        measure[i] = (df_measure){.relative = relative};
    for (size_t k = 0; k < s->bodies; k++) {
        const df_body *b = &s->body[k];
        double *own = &y[s->shape.start[k]];
        df_measure *to = &measure[s->shape.start[k]];
        for (size_t i = 0; i < b->n; i++) {
            own[i] = b->initial[i];
            to[i].last = (LAST_COARSE - 1.0) * relative;
            to[i].small = LAST_SHARE * b->initial[i];
            to[i].absolute = 3e-9 * b->initial[i]; /* well below GONE, so that the last of it is no noise */
        }
        for (size_t j = 0; j < b->bound; j++) {
            own[b->n + j] = b->caught[b->held[j]];
            to[b->n + j].absolute = 1e-5 * b->caught[b->held[j]];
        }
        own[b->side - 1] = df_body_enthalpy(b, own, b->c->start_temperature);
        to[b->side - 1].absolute = KELVIN_TOLERANCE * (b->rest + b->c->mass * 2000.0); /* about a millikelvin */
        all += (double)b->c->count * b->c->mass;
    }
    bool throttled = s->dryer->chamber.control == DF_CONTROL_THROTTLE;
    bool bled = s->dryer->chamber.control == DF_CONTROL_BLEED;
    double air_least = bled ? 1.0 : df_within(relative / AIR_TOLERANCE, 1.0, AIR_LEAST);
    double gas = GAS_TOLERANCE, pressure = setup->loading > 0.0 ? DF_ATMOSPHERE : setup->start_pressure;
    for (size_t i = 0; i < setup->recipe.n && throttled; i++)
        if (setup->recipe.pressure[i] > 0.0)
            gas = fmin(gas, THROTTLE_BAND * setup->recipe.pressure[i]);
    double load[SPECIES] = {0.0};
    for (size_t k = 0; k < s->bodies; k++)
        for (size_t i = 0; i < s->body[k].n; i++)
            load[s->body[k].map[i]] += (double)s->body[k].c->count * (s->body[k].initial[i] + s->body[k].caught[i]);
    for (size_t j = 0; j <= s->traps; j++) {
        size_t at = j == 0 ? s->at_chamber : df_at_gas(s, j - 1);
        double volume = j == 0 ? s->dryer->chamber.volume : s->dryer->trap[j - 1].volume;
        for (size_t i = 0; i <= s->species; i++) {
            bool vapour = i < s->species;
            double share = vapour ? fmax(load[i] / all, LEAST_SHARE) : 1.0;
            measure[at + i].absolute = df_filling(s, s->molar_mass[i], gas * share, volume);
            measure[at + i].relative = relative;
            if (throttled)
                continue;
            measure[at + i].relative *= vapour ? VAPOUR_COARSE : KEPT_COARSE;
            measure[at + i].absolute *= vapour ? VAPOUR_LEAST : air_least;
        }
        y[at + s->species] = df_filling(s, AIR_MOLAR_MASS, pressure, volume);
    }
    for (size_t i = 0; i < s->species; i++) {
        double least = 1e-6 * fmax(load[i], KEPT_SHARE * all);
        for (size_t j = 0; j < s->traps; j++) {
            measure[df_at_deposit(s, j) + i].relative = KEPT_COARSE * relative;
            measure[df_at_deposit(s, j) + i].absolute = KEPT_COARSE * least;
        }
        if (s->oil) {
            measure[s->at_oil + i].relative = KEPT_COARSE * relative;
            measure[s->at_oil + i].absolute = least;
        }
        measure[s->at_exhaust + i].absolute = 1e-6 * load[i];
    }
    for (size_t j = 0; j < s->traps; j++) {
        y[df_at_coil(s, j)] = y[df_at_coil(s, j) + 1] = df_trap_no_load(&s->dryer->trap[j]);
        measure[df_at_coil(s, j)].absolute = KELVIN_TOLERANCE;
        measure[df_at_coil(s, j) + 1].absolute = SKIN_TOLERANCE;
        measure[s->at_coolant + j].absolute = 1e-4 * fmax(s->dryer->trap[j].charge, 1.0);
    }
    measure[s->at_exhaust + s->species].absolute = measure[s->at_air].absolute =
        1e-4 * all + df_filling(s, AIR_MOLAR_MASS, 1e-4 * pressure, s->dryer->chamber.volume);
    measure[s->at_heat].absolute = measure[s->at_heat + 1].absolute = 1e-5 * all * 2.8e6;
}

bool df_integrator_open(df_solver *v, df_system *s) {
    memset(v, 0, sizeof *v);
    sunindextype size = (sunindextype)s->states;
    if (SUNContext_Create(NULL, &v->context) != 0)
        return false;
    v->state = df_solver_vector(size, v->context);
    s->measure = malloc(s->states * sizeof *s->measure);
    if (v->state == NULL || s->measure == NULL)
        return false;
    start_state(N_VGetArrayPointer(v->state), s);
    s->slopes = df_arrow_make(&s->shape);
    v->matrix = df_arrow_matrix(&s->shape, v->context);
    v->linear = df_arrow_solver(&s->shape, v->context);
    v->cvode = CVodeCreate(CV_BDF, v->context);
    if (s->slopes == NULL || v->matrix == NULL || v->linear == NULL || v->cvode == NULL)
        return false;
    size_t events_count = s->traps;
    for (size_t k = 0; k < s->bodies; k++)
        events_count += s->body[k].n + 2 + s->body[k].bound;
    return CVodeInit(v->cvode, derivative, s->start, v->state) == CV_SUCCESS &&
           CVodeWFtolerances(v->cvode, weigh) == CV_SUCCESS && CVodeSetUserData(v->cvode, s) == CV_SUCCESS &&
           CVodeSetMaxOrd(v->cvode, MOST_ORDER) == CV_SUCCESS &&
           CVodeSetErrHandlerFn(v->cvode, df_solver_quiet, NULL) == CV_SUCCESS &&
           CVodeSetLinearSolver(v->cvode, v->linear, v->matrix) == CV_SUCCESS &&
           CVodeSetLinSysFn(v->cvode, newton_matrix) == CV_SUCCESS &&
           CVodeRootInit(v->cvode, (int)events_count, events) == CV_SUCCESS &&
           /* where vapour begins to condense the rate has a corner between slow and stiff: many cuts of one step */
           CVodeSetMaxErrTestFails(v->cvode, 40) == CV_SUCCESS && CVodeSetMaxConvFails(v->cvode, 40) == CV_SUCCESS &&
           CVodeSetNonlinConvCoef(v->cvode, 0.005) == CV_SUCCESS &&
           /* a step a fifth longer is worth new factors, a step half as long again or longer needs them */
           CVodeSetEtaFixedStepBounds(v->cvode, 0.0, 1.2) == CV_SUCCESS &&
           CVodeSetDeltaGammaMaxLSetup(v->cvode, 0.5) == CV_SUCCESS &&
           /* where Newton's method fails with old slopes, new factors of the same slopes fail again as a rule */
           CVodeSetDeltaGammaMaxBadJac(v->cvode, 10.0) == CV_SUCCESS &&
           CVodeSetLSetupFrequency(v->cvode, 20) == CV_SUCCESS && CVodeSetNoInactiveRootWarn(v->cvode) == CV_SUCCESS;
}
