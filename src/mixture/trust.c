/* How sure computed numbers are: spreads carried through from the pairs' parameters. */
#include "mixture/mixture.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define P DF_PAIR_PARAMETERS
#define FURTHEST 120.0 /* K that an appearance may move to be followed */

/* Standard deviation of tau without a fit of its own: `level` at the temperature `anchor`, and a slope that adds
 * `growth` (anchor/T - 1). From the errors that modified UNIFAC and published warm parameters make on the pairs that
 * were fitted to cold data (docs/trust.md). */
static const struct {
    double level, growth, anchor;
} stated[] = {
    [DF_PAIR_COLD] = {0.1, 0.5, 300.0},
    [DF_PAIR_WARM] = {0.05, 1.4, 350.0},
    [DF_PAIR_PREDICTED] = {0.3, 2.0, 300.0},
    [DF_PAIR_IDEAL] = {1.0, 2.0, 300.0},
};

/* The covariance that holds for a pair: its own, or (written to `room`) the one that goes with its grade. */
static const df_pair_covariance *pair_spread(df_pair_covariance *room, const df_nrtl_pair *pair) {
    if (pair->covariance != NULL)
        return pair->covariance;
    /* tau = v0 + v1 (t0/T - 1) = (level) + (growth) (anchor/T - 1): v1 = growth anchor/t0, v0 = level + growth
     * (...) */
    double level = stated[pair->grade].level, growth = stated[pair->grade].growth;
    double scale = stated[pair->grade].anchor / DF_ZERO_CELSIUS;
    memset(room, 0, sizeof *room);
    if (pair->anchor_x > 0.0) { /* a solute's Margules term is as sure as the ice point that fixes it */
        double x2 = pair->anchor_x * pair->anchor_x, ln_a = log1p(-pair->anchor_x) + (pair->a[0] + pair->a[1]) * x2;
        double sure = pair->grade == DF_PAIR_COLD ? 0.05 : 0.3; /* of the depression of that point, at most 3 K */
        double error = fmin(sure * fabs(ln_a), 3.0 * 0.0107);   /* ice: 6.0 kJ/mol over R T2 near 260 K */
        room->n = 2;
        room->parameter[1] = 2;
        room->column[0][0] = room->column[0][1] = 0.5 * error / x2;
        return room;
    }
    if (pair->alpha == 0.0 &&
        pair->a[0] > 0.0) { /* a solute beside an organic: as far as salts differ, 1 of ln gamma */
        room->n = 2;
        room->parameter[1] = 2;
        room->column[0][0] = room->column[0][1] = 0.5;
        return room;
    }
    if (pair->alpha == 0.0) { /* ln gamma = (tau_ij + tau_ji) x2: both share it */
        room->n = 4;
        for (int k = 0; k < 4; k++)
            room->parameter[k] = k;
        for (int k = 0; k < 2; k++) {
            room->column[0][2 * k] = 0.5 * level;
            room->column[1][2 * k] = 0.5 * growth * (scale - 1.0);
            room->column[1][2 * k + 1] = 0.5 * growth * scale;
        }
        return room;
    }
    room->n = 4;
    for (int k = 0; k < 4; k++)
        room->parameter[k] = k;
    for (int k = 0; k < 2; k++) {
        room->column[2 * k][2 * k] = level;
        room->column[2 * k + 1][2 * k] = growth * (scale - 1.0);
        room->column[2 * k + 1][2 * k + 1] = growth * scale;
    }
    return room;
}

static void renew_hydrate(df_mixture *m, size_t k) {
    double ln = df_hydrate_reference_ln(m, k);
    if (!isnan(ln))
        m->solid[k].reference_ln = ln;
}

void df_mixture_move_pair(df_mixture *m, size_t i, size_t j, const double *delta) {
    df_nrtl_pair *p = &m->pair[i][j];
    for (int k = 0; k < 2; k++) {
        int at = p->reversed ? 1 - k : k; /* v counts as the pair is listed */
        double c = delta[4 + k];
        p->a[at] += delta[2 * k] - delta[2 * k + 1] - c * log(DF_ZERO_CELSIUS);
        p->b[at] += delta[2 * k + 1] * DF_ZERO_CELSIUS;
        p->c[at] += c;
    }
    for (int k = 0; k < DF_COLD_TERMS; k++)
        p->cold[k] += p->reversed && k % 2 == 1 ? -delta[6 + k] : delta[6 + k];
    for (size_t k = 0; k < m->solids; k++)
        if (m->solid[k].component < 0)
            renew_hydrate(m, k);
}

/* A move of a mixture by `size` standard deviations in one direction. */
typedef struct direction {
    enum { OF_PAIR, OF_HYDRATE, OF_PRESSURE } kind;
    size_t i, j; /* pair; the hydrate or the component in i */
    double delta[P];
} direction;

static void move(df_mixture *m, const direction *d, double size) {
    if (d->kind == OF_PRESSURE) {
        m->pressure_shift[d->i] += size;
        return;
    }
    if (d->kind == OF_HYDRATE) {
        m->solid[d->i].reference_temperature += size * m->solid[d->i].reference_sigma;
        renew_hydrate(m, d->i);
        return;
    }
    double delta[P];
    for (int k = 0; k < P; k++)
        delta[k] = size * d->delta[k];
    df_mixture_move_pair(m, d->i, d->j, delta);
}

#define MOST_DIRECTIONS (DF_N * (DF_N - 1) / 2 * P + DF_MAX_SOLIDS + DF_N)

static size_t list_directions(direction *list, const df_mixture *m, bool pressures) {
    size_t count = 0;
    for (size_t i = 0; i < m->n; i++)
        for (size_t j = i + 1; j < m->n; j++) {
            df_pair_covariance own;
            const df_pair_covariance *c = pair_spread(&own, &m->pair[i][j]);
            for (size_t column = 0; column < c->n; column++) {
                direction *d = &list[count++];
                bool any = false; /* a column of noughts moves nothing */
                *d = (direction){.kind = OF_PAIR, .i = i, .j = j};
                for (size_t k = 0; k < c->n; k++) {
                    d->delta[c->parameter[k]] = c->column[column][k];
                    any = any || c->column[column][k] != 0.0;
                }
                if (!any)
                    count--;
            }
        }
    for (size_t k = 0; k < m->solids; k++)
        if (m->solid[k].component < 0 && m->solid[k].reference_x > 0.0 && m->solid[k].reference_sigma > 0.0)
            list[count++] = (direction){.kind = OF_HYDRATE, .i = k};
    for (size_t i = 0; i < m->n && pressures; i++)
        if (!m->component[i]->is_involatile)
            list[count++] = (direction){.kind = OF_PRESSURE, .i = i};
    return count;
}

size_t df_mixture_directions(const df_mixture *m) {
    direction *list = malloc(MOST_DIRECTIONS * sizeof *list);
    size_t count = list != NULL ? list_directions(list, m, true) : 0;
    free(list);
    return count;
}

df_status df_mixture_move_all(df_context *ctx, df_mixture *m, const double *size) {
    direction *list = malloc(MOST_DIRECTIONS * sizeof *list);
    if (list == NULL)
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    size_t count = list_directions(list, m, true);
    for (size_t k = 0; k < count; k++)
        move(m, &list[k], size[k]);
    free(list);
    return DF_OK;
}

/* Whether direction k is the first of its unknown: the directions of a pair with a sample are one. */
static bool begins(const direction *list, size_t k, const df_mixture *m, const df_pair_covariance **sampled) {
    const direction *d = &list[k];
    const df_pair_covariance *c = d->kind == OF_PAIR ? m->pair[d->i][d->j].covariance : NULL;
    *sampled = c != NULL && c->draw != NULL ? c : NULL;
    return *sampled == NULL || k == 0 || list[k - 1].kind != OF_PAIR || list[k - 1].i != d->i ||
           list[k - 1].j != d->j;
}

size_t df_mixture_unknowns(const df_mixture *m) {
    direction *list = malloc(MOST_DIRECTIONS * sizeof *list);
    const df_pair_covariance *sampled;
    size_t count = list != NULL ? list_directions(list, m, true) : 0, unknowns = 0;
    for (size_t k = 0; k < count; k++)
        unknowns += begins(list, k, m, &sampled);
    free(list);
    return unknowns;
}

df_status df_mixture_draw(df_context *ctx, df_mixture **out, const df_mixture *mixture, const size_t *draw,
                          const double *size, double share) {
    direction *list = malloc(MOST_DIRECTIONS * sizeof *list);
    df_mixture *m = *out = malloc(sizeof *m);
    if (list == NULL || m == NULL) {
        free(list);
        free(m);
        *out = NULL;
        return df_fail(ctx, DF_E_MEMORY, "out of memory");
    }
    *m = *mixture;
    size_t count = list_directions(list, m, true), unknown = 0;
    for (size_t k = 0; k < count; k++) {
        const df_pair_covariance *sampled;
        if (!begins(list, k, m, &sampled))
            continue;
        if (sampled != NULL)
            memcpy(list[k].delta, sampled->draw[draw[unknown]], sizeof list[k].delta);
        move(m, &list[k], sampled != NULL ? share : share * size[unknown]);
        unknown++;
    }
    free(list);
    return DF_OK;
}

typedef struct spread {
    const df_mixture *mixture;
    const double *value;
    size_t n;
    df_mixture_quantity quantity;
    void *data;
} spread;

/* Half the difference between the two sides of one direction, for each number; NAN where neither side has it, however
 * near. A number that a full step loses (a phase that is gone) is looked for nearer by. `side` is room for 2 n. */
static df_status follow(double *difference, double *side, df_mixture *moved, const spread *s, const direction *d) {
    for (size_t i = 0; i < s->n; i++)
        difference[i] = isnan(s->value[i]) ? 0.0 : NAN;
    for (double size = 1.0; size > 0.01; size *= 0.2) {
        size_t missing = 0;
        for (size_t k = 0; k < 2; k++) {
            *moved = *s->mixture;
            move(moved, d, k == 0 ? size : -size);
            df_status status = s->quantity(NULL, side + k * s->n, s->n, moved, s->data);
            if (status == DF_E_MEMORY)
                return status;
            for (size_t i = 0; i < s->n && status < 0; i++)
                side[k * s->n + i] = NAN;
        }
        for (size_t i = 0; i < s->n; i++) {
            if (!isnan(difference[i]))
                continue;
            double up = side[i] - s->value[i], down = s->value[i] - side[s->n + i];
            difference[i] = (isnan(up) ? down : isnan(down) ? up : 0.5 * (up + down)) / size;
            missing += isnan(difference[i]) ? 1 : 0;
        }
        if (missing == 0)
            break;
    }
    return DF_OK;
}

/* Every direction of a mixture with what it does to each of n numbers: difference[k * n + i]. */
typedef struct gradient {
    direction *list;
    size_t count;
    double *difference;
} gradient;

static void gradient_free(gradient *g) {
    free(g->list);
    free(g->difference);
}

static df_status gradient_make(df_context *ctx, gradient *g, const spread *s, bool pressures) {
    df_status status = DF_OK;
    size_t n = s->n;
    g->list = malloc(MOST_DIRECTIONS * sizeof *g->list);
    size_t count = g->count = g->list != NULL ? list_directions(g->list, s->mixture, pressures) : 0;
    g->difference = malloc((count * n + 1) * sizeof *g->difference);
    if (g->list == NULL || g->difference == NULL)
        status = DF_E_MEMORY;
#pragma omp parallel if (status >= 0)
    {
        df_mixture *moved = malloc(sizeof *moved);
        double *side = malloc((2 * n + 1) * sizeof *side);
#pragma omp for schedule(dynamic)
        for (size_t k = 0; k < count; k++) {
            df_status own = moved == NULL || side == NULL || g->difference == NULL
                                ? DF_E_MEMORY
                                : follow(g->difference + k * n, side, moved, s, &g->list[k]);
#pragma omp critical(df_mixture_spread)
            if (own < 0)
                status = own;
        }
        free(moved);
        free(side);
    }
    return status < 0 ? df_fail(ctx, status, "out of memory") : DF_OK;
}

df_status df_mixture_spread(df_context *ctx, double *value, double *sigma, size_t n, const df_mixture *mixture,
                            df_mixture_quantity quantity, void *data, bool pressures) {
    df_status status = quantity(ctx, value, n, mixture, data);
    if (status < 0)
        return status;
    spread s = {mixture, value, n, quantity, data};
    gradient g;
    status = gradient_make(ctx, &g, &s, pressures);
    for (size_t i = 0; i < n && status >= 0; i++) { /* in this order whatever the threads did */
        double sum = isnan(value[i]) ? NAN : 0.0;
        for (size_t k = 0; k < g.count; k++)
            sum += g.difference[k * n + i] * g.difference[k * n + i];
        sigma[i] = sqrt(sum);
    }
    gradient_free(&g);
    return status;
}

/* ---- a few joint moves ---------------------------------------------------------------------------------------- */

#define ENOUGH 0.99 /* share of the variance that is carried on */

df_status df_moves_make(df_context *ctx, df_moves *moves, const df_mixture *mixture, df_mixture_quantity quantity,
                        size_t n, void *data, const double *weight, size_t most) {
    memset(moves, 0, sizeof *moves);
    double *value = malloc((n + 1) * sizeof *value), *square = calloc(2 * n * n + 1, sizeof *square);
    gradient g = {NULL, 0, NULL};
    df_status status = DF_E_MEMORY;
    if (value != NULL && square != NULL)
        status = quantity(ctx, value, n, mixture, data);
    else
        status = df_fail(ctx, status, "out of memory");
    spread s = {mixture, value, n, quantity, data};
    if (status >= 0)
        status = gradient_make(ctx, &g, &s, true);
    double total = 0.0, *vector = square + n * n;
    for (size_t i = 0; i < n && status >= 0; i++) {
        double variance = 0.0, *d = g.difference + i;
        for (size_t k = 0; k < g.count; k++) {
            if (isnan(d[k * n])) /* what is not known in a direction does not count in it */
                d[k * n] = 0.0;
            variance += d[k * n] * d[k * n];
        }
        for (size_t k = 0; k < g.count && weight != NULL && variance > 0.0; k++)
            d[k * n] *= weight[i] / sqrt(variance);
        total += weight == NULL ? variance : variance > 0.0 ? weight[i] * weight[i] : 0.0;
    }
    for (size_t i = 0; i < n && status >= 0; i++)
        for (size_t j = 0; j < n; j++)
            for (size_t k = 0; k < g.count; k++)
                square[i * n + j] += g.difference[k * n + i] * g.difference[k * n + j];
    if (status >= 0 && total > 0.0)
        df_eigen_symmetric(square, vector, n);
    while (status >= 0 && moves->count < most && moves->count < DF_MOST_MOVES && moves->carried < ENOUGH * total) {
        size_t best = 0;
        for (size_t i = 1; i < n; i++)
            if (square[i * n + i] > square[best * n + best])
                best = i;
        double variance = square[best * n + best];
        if (!(variance > 1e-12 * total))
            break;
        df_mixture **pair = moves->moved[moves->count++];
        for (int side = 0; side < 2 && status >= 0; side++) {
            pair[side] = malloc(sizeof **pair);
            if (pair[side] == NULL) {
                status = df_fail(ctx, DF_E_MEMORY, "out of memory");
                break;
            }
            *pair[side] = *mixture;
            for (size_t k = 0; k < g.count; k++) {
                double size = 0.0;
                for (size_t i = 0; i < n; i++)
                    size += g.difference[k * n + i] * vector[i * n + best];
                move(pair[side], &g.list[k], (side == 0 ? size : -size) / sqrt(variance));
            }
        }
        moves->carried += variance;
        square[best * n + best] = 0.0;
    }
    moves->carried = total > 0.0 ? moves->carried / total : 1.0;
    gradient_free(&g);
    free(value);
    free(square);
    if (status < 0)
        df_moves_free(moves);
    return status;
}

void df_moves_free(df_moves *moves) {
    for (size_t k = 0; k < DF_MOST_MOVES; k++)
        for (int side = 0; side < 2; side++)
            free(moves->moved[k][side]);
    memset(moves, 0, sizeof *moves);
}

df_status df_moves_spread(df_context *ctx, double *sigma, double *sides, const double *value, size_t n,
                          const df_moves *moves, df_mixture_quantity quantity, void *data) {
    double *side = malloc((2 * moves->count * n + 1) * sizeof *side);
    df_status status = side != NULL ? DF_OK : DF_E_MEMORY;
#pragma omp parallel for schedule(dynamic, 1) if (status >= 0)
    for (size_t k = 0; k < 2 * moves->count; k++) {
        df_status own =
            side == NULL ? DF_E_MEMORY : quantity(NULL, side + k * n, n, moves->moved[k / 2][k % 2], data);
        for (size_t i = 0; i < n && own < 0 && side != NULL; i++)
            side[k * n + i] = NAN;
#pragma omp critical(df_moves_spread)
        if (own == DF_E_MEMORY)
            status = own;
    }
    for (size_t i = 0; i < n && status >= 0; i++) {
        double sum = isnan(value[i]) ? NAN : 0.0;
        for (size_t k = 0; k < moves->count; k++) {
            double up = side[2 * k * n + i] - value[i], down = value[i] - side[(2 * k + 1) * n + i];
            double half = isnan(up) ? down : isnan(down) ? up : 0.5 * (up + down);
            sum += half * half;
        }
        sigma[i] = sqrt(sum);
    }
    if (sides != NULL && status >= 0)
        memcpy(sides, side, 2 * moves->count * n * sizeof *side);
    free(side);
    return status < 0 ? df_fail(ctx, status, "out of memory") : DF_OK;
}

void df_mixture_fix_traces(df_mixture *m, const double *z) {
    static const df_pair_covariance none = {.n = 0};
    for (size_t i = 0; i < m->n; i++)
        for (size_t j = i + 1; j < m->n; j++)
            if (z[i] * z[j] < DF_TRACE_PAIR)
                m->pair[i][j].covariance = &none;
}

/* ln of the activities of a solid's parts over its constant: 0 where it begins to form. */
static double oversaturation(const df_mixture *m, const df_assemblage *a, size_t solid) {
    double sum = -df_solid_constant_ln(m, solid, a->temperature);
    for (size_t i = 0; i < m->n; i++)
        if (m->solid[solid].formula[i] > 0.0)
            sum += m->solid[solid].formula[i] * a->activity_ln[i];
    return sum;
}

df_status df_mixture_appearing(df_context *ctx, df_appearance *out, const df_mixture *m, const double *z,
                               const bool *allowed, size_t solid, double temperature) {
    bool others[DF_MAX_SOLIDS];
    memcpy(others, allowed, sizeof others);
    others[solid] = false;
    out->solid = solid;
    df_status status = df_mixture_equilibrium(ctx, &out->without, m, temperature, z, others, false);
    df_assemblage near = out->without;
    if (status >= 0)
        status = df_mixture_follow(ctx, &near, m, temperature - 0.1, z);
    if (status < 0)
        return status;
    out->slope = (oversaturation(m, &out->without, solid) - oversaturation(m, &near, solid)) / 0.1;
    return out->slope < 0.0 ? DF_OK
                            : df_fail(ctx, DF_E_CONVERGENCE, "%s does not begin to form on cooling through %.2f K",
                                      m->solid[solid].name, temperature);
}

df_status df_mixture_appearance(df_context *ctx, double *temperature, const df_mixture *m, const double *z,
                                const df_appearance *start) {
    df_assemblage a = start->without;
    double from = a.temperature, t = from, slope = start->slope, before = NAN, last = NAN;
    *temperature = NAN;
    for (int step = 0; step < 10; step++) {
        df_status status = df_mixture_follow(ctx, &a, m, t, z);
        if (status < 0)
            return status;
        double f = oversaturation(m, &a, start->solid);
        if (step > 0 && fabs(f - before) > 1e-12)
            slope = (f - before) / (t - last);
        double next = t - f / slope;
        if (!(fabs(next - from) < FURTHEST))
            return DF_OK;
        if (fabs(next - t) < 1e-3) {
            *temperature = next;
            return DF_OK;
        }
        before = f;
        last = t;
        t = next;
    }
    return DF_OK;
}

double df_pressure_sigma_ln(const df_substance *s, double temperature, bool crystal) {
    static const double inside[] = {[DF_GRADE_MEASURED] = 0.01,
                                    [DF_GRADE_CORRELATION] = 0.02,
                                    [DF_GRADE_ESTIMATED] = 0.05,
                                    [DF_GRADE_MEMORY] = 0.1};
    if (s->is_water) /* IAPWS R14-08 states 0.1 % and 0.5 % at the cold end; SR1-86 0.02 % */
        return crystal ? 0.003 : temperature < s->melting_temperature ? 0.01 : 0.001;
    const df_correlation *c = &s->vapour_pressure;
    double edge = fmin(fmax(temperature, c->lowest), c->highest);
    double beyond =
        0.02 * df_vaporisation_enthalpy(s, temperature) / DF_GAS_CONSTANT * (1.0 / temperature - 1.0 / edge);
    double fusion = crystal ? 0.02 * df_solid_liquid_ratio_ln(s, temperature) : 0.0;
    return sqrt(inside[c->grade] * inside[c->grade] + beyond * beyond + fusion * fusion);
}
